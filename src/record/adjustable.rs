//! Whether a head can have been adjusted so: what it has not, and sizes that cannot be, are refused before they are recorded.
//!
//! An adjustment that was recorded by an earlier version is read as it is; this is asked when one is recorded.

use super::adjustment::{Adjustment, Teeth};
use super::head::Head;
use super::link_survey::seating;
use crate::advice::Seating;
use crate::rotor::BladeName;
use crate::units::{HalfTurns, Percent};

/// A rod or link that has been turned by more is another rod: ten turns are 4 to 5 mm of an M2 or M2.5 thread, about what is in an
/// eye. [common practice, no source]
pub const MOST_HALF_TURNS: u8 = 20;
/// A swashplate has at most so many servos. [common practice, no source]
pub const MOST_SERVOS: u8 = 4;
/// Half of a servo's spline: beyond that it would be less the other way. [common practice, no source]
pub const MOST_TEETH: u32 = 12;
/// No transmitter trims a servo by more, percent. [common practice, no source]
pub const MOST_SUB_TRIM: Percent = Percent::new(100.0);

/// Why a head cannot have been adjusted so.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum AdjustmentRefusal {
    /// The head has no such blade.
    #[error("no blade {blade}")]
    NoSuchBlade {
        /// The blade.
        blade: BladeName,
        /// How many blades there are.
        blades: usize,
    },
    /// More half-turns than a link or rod has thread.
    #[error("{0}")]
    TooManyHalfTurns(HalfTurns),
    /// No swashplate has such a servo.
    #[error("no servo {0}")]
    NoSuchServo(u8),
    /// A trim beyond what a transmitter sets.
    #[error("trim {0}")]
    SubTrim(Percent),
    /// More teeth than half a spline has.
    #[error("{0}")]
    TooManyTeeth(Teeth),
}

impl Adjustment {
    /// Whether a link or rod was turned to where it does not seat, by the head's description: it is a turnbuckle, or was not turned
    /// so.
    #[must_use]
    pub fn is_between_seats(self, head: &Head) -> bool {
        let seating = seating(head.link.seats, head.link.turnbuckle);
        match (self, seating) {
            (Self::Link { half_turns, .. }, Seating::Every(seat)) => !half_turns.is_multiple_of(seat),
            _ => false,
        }
    }

    /// Whether this head can have been adjusted so.
    ///
    /// # Errors
    /// When it has no such blade or servo, or when the size cannot be.
    pub fn possible_on(self, head: &Head) -> Result<(), AdjustmentRefusal> {
        let this = self.of_head(head);
        let named = match this {
            Self::Link { blade, .. } | Self::Grip { blade } | Self::Blade { blade } => [Some(blade), None],
            Self::Exchanged { one, other } => [Some(one), Some(other)],
            _ => [None, None],
        };
        let has = |blade: &BladeName| head.blades.names().any(|name| name == *blade);
        if let Some(blade) = named.into_iter().flatten().find(|blade| !has(blade)) {
            return Err(AdjustmentRefusal::NoSuchBlade { blade, blades: head.blades.names().count() });
        }
        if let Self::SwashLink { servo, .. }
        | Self::ServoArm { servo, .. }
        | Self::Servo { servo }
        | Self::SubTrim { servo, .. } = this
            && !(1..=MOST_SERVOS).contains(&servo)
        {
            return Err(AdjustmentRefusal::NoSuchServo(servo));
        }
        match this {
            Self::Link { half_turns, .. } | Self::SwashLink { half_turns, .. } | Self::TailRod { half_turns }
                if half_turns.value().abs() > f64::from(MOST_HALF_TURNS) =>
            {
                Err(AdjustmentRefusal::TooManyHalfTurns(half_turns))
            }
            Self::SubTrim { output, .. } | Self::TailSubTrim { output } | Self::Trim { output, .. }
                if output.value().abs() > MOST_SUB_TRIM.value() =>
            {
                Err(AdjustmentRefusal::SubTrim(output))
            }
            Self::ServoArm { teeth: Some(teeth), .. } | Self::TailServoArm { teeth: Some(teeth) }
                if teeth.value().unsigned_abs() > MOST_TEETH =>
            {
                Err(AdjustmentRefusal::TooManyTeeth(teeth))
            }
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_head_has_not_and_sizes_that_cannot_be_are_refused() {
        let head = Head::from_toml(&Head::template("Club trainer")).unwrap();
        let asked = |text: &str| text.parse::<Adjustment>().unwrap().possible_on(&head);
        let c: BladeName = "C".parse().unwrap();
        assert_eq!(asked("link C +1"), Err(AdjustmentRefusal::NoSuchBlade { blade: c, blades: 2 }));
        assert_eq!(asked("link B +40"), Err(AdjustmentRefusal::TooManyHalfTurns(HalfTurns::whole(40))));
        assert_eq!(asked("swash link 1 -21"), Err(AdjustmentRefusal::TooManyHalfTurns(HalfTurns::whole(-21))));
        assert_eq!(asked("tail rod +40"), Err(AdjustmentRefusal::TooManyHalfTurns(HalfTurns::whole(40))));
        assert_eq!(asked("servo arm 9"), Err(AdjustmentRefusal::NoSuchServo(9)));
        assert_eq!(asked("sub-trim 2 250"), Err(AdjustmentRefusal::SubTrim(Percent::new(250.0))));
        assert_eq!(asked("link B 20.5"), Err(AdjustmentRefusal::TooManyHalfTurns(HalfTurns::new(20.5))));
        assert_eq!(asked("grip C replaced"), Err(AdjustmentRefusal::NoSuchBlade { blade: c, blades: 2 }));
        assert_eq!(asked("blades A and C exchanged"), Err(AdjustmentRefusal::NoSuchBlade { blade: c, blades: 2 }));
        assert_eq!(asked("servo 9 replaced"), Err(AdjustmentRefusal::NoSuchServo(9)));
        assert_eq!(asked("servo arm 1 +13 teeth"), Err(AdjustmentRefusal::TooManyTeeth(Teeth::new(13))));
        assert_eq!(asked("tail sub-trim 250"), Err(AdjustmentRefusal::SubTrim(Percent::new(250.0))));
        assert_eq!(asked("elevator trim 250"), Err(AdjustmentRefusal::SubTrim(Percent::new(250.0))));
        for usual in [
            "link B -20",
            "link A +1",
            "link A 0.5",
            "swash link 3 +2",
            "tail rod -4",
            "servo arm 1",
            "sub-trim 2 -30",
            "phase 5",
            "servo arm 2 -1 tooth",
            "blades A and B exchanged",
            "crash",
        ] {
            assert_eq!(asked(usual), Ok(()), "{usual}");
        }
    }

    #[test]
    fn the_tails_servo_is_the_one_that_the_description_names() {
        let described = |servo: &str| Head::from_toml(&Head::template("Club trainer").replace("# servo = 4", servo));
        let fifth = described("servo = 5").unwrap();
        let asked = |head: &Head, text: &str| text.parse::<Adjustment>().unwrap().possible_on(head);
        for tails in ["servo arm 5", "sub-trim 5 -4", "servo 5 replaced", "servo arm 5 +1 tooth"] {
            assert_eq!(asked(&fifth, tails), Ok(()), "{tails}");
        }
        // Another head's fifth servo is nobody's, and no link between it and the swashplate is to be had either way.
        assert_eq!(asked(&described("").unwrap(), "servo arm 5"), Err(AdjustmentRefusal::NoSuchServo(5)));
        assert_eq!(asked(&fifth, "swash link 5 +1"), Err(AdjustmentRefusal::NoSuchServo(5)));
    }

    #[test]
    fn a_snap_on_link_is_between_its_seats_and_a_turnbuckle_never() {
        let template = Head::template("Club trainer");
        let asked = |from: &str, to: &str, text: &str| {
            let head = Head::from_toml(&template.replace(from, to)).unwrap();
            text.parse::<Adjustment>().unwrap().is_between_seats(&head)
        };
        assert!(asked("", "", "link B 0.5"));
        assert!(!asked("", "", "link B -3"));
        assert!(asked("\"half turn\"\n", "\"full turn\"\n", "link B -3"));
        assert!(!asked("turnbuckle = false", "turnbuckle = true", "link B 0.64"));
        assert!(!asked("", "", "tail rod 0.5"));
    }
}
