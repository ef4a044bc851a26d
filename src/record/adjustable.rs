//! Whether a head can have been adjusted so: what it has not, and sizes that cannot be, are refused before they are recorded.
//!
//! An adjustment that was recorded by an earlier version is read as it is; this is asked when one is recorded.

use super::adjustment::Adjustment;
use super::head::Head;
use crate::rotor::BladeName;
use crate::units::Percent;

/// A rod or link that has been turned by more is another rod: ten turns are 4 to 5 mm of an M2 or M2.5 thread, about what is in an
/// eye. [common practice, no source]
pub const MOST_HALF_TURNS: i32 = 20;
/// A swashplate has at most so many servos. [common practice, no source]
pub const MOST_SERVOS: u8 = 4;
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
    #[error("{0} half-turns")]
    TooManyHalfTurns(i32),
    /// No swashplate has such a servo.
    #[error("no servo {0}")]
    NoSuchServo(u8),
    /// A sub-trim beyond what a transmitter sets.
    #[error("sub-trim {0}")]
    SubTrim(Percent),
}

impl Adjustment {
    /// Whether this head can have been adjusted so.
    ///
    /// # Errors
    /// When it has no such blade or servo, or when the size cannot be.
    pub fn possible_on(self, head: &Head) -> Result<(), AdjustmentRefusal> {
        if let Self::Link { blade, .. } = self
            && !head.blades.names().any(|name| name == blade)
        {
            return Err(AdjustmentRefusal::NoSuchBlade { blade, blades: head.blades.names().count() });
        }
        if let Self::SwashLink { servo, .. } | Self::ServoArm { servo } | Self::SubTrim { servo, .. } = self
            && !(1..=MOST_SERVOS).contains(&servo)
        {
            return Err(AdjustmentRefusal::NoSuchServo(servo));
        }
        match self {
            Self::Link { half_turns, .. } | Self::SwashLink { half_turns, .. } | Self::TailRod { half_turns }
                if half_turns.unsigned_abs() > MOST_HALF_TURNS.unsigned_abs() =>
            {
                Err(AdjustmentRefusal::TooManyHalfTurns(half_turns))
            }
            Self::SubTrim { output, .. } if output.value().abs() > MOST_SUB_TRIM.value() => {
                Err(AdjustmentRefusal::SubTrim(output))
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
        assert_eq!(asked("link B +40"), Err(AdjustmentRefusal::TooManyHalfTurns(40)));
        assert_eq!(asked("swash link 1 -21"), Err(AdjustmentRefusal::TooManyHalfTurns(-21)));
        assert_eq!(asked("tail rod +40"), Err(AdjustmentRefusal::TooManyHalfTurns(40)));
        assert_eq!(asked("servo arm 9"), Err(AdjustmentRefusal::NoSuchServo(9)));
        assert_eq!(asked("sub-trim 2 250"), Err(AdjustmentRefusal::SubTrim(Percent::new(250.0))));
        for usual in
            ["link B -20", "link A +1", "swash link 3 +2", "tail rod -4", "servo arm 1", "sub-trim 2 -30", "phase 5"]
        {
            assert_eq!(asked(usual), Ok(()), "{usual}");
        }
    }
}
