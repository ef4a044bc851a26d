//! What was turned between two captures, and which captures it can have made stale.

use super::head::Head;
use super::subject::Subject;
use crate::rotor::{Axis, BladeName, Collective, Deflection};
use crate::units::{Angle, HalfTurns, LAST_BLADE, Percent, as_text};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// Which ends of an axis an end point belongs to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ends {
    /// Both ends of the axis at once.
    Both(Axis),
    /// The end in one direction.
    One(Deflection),
}

impl Ends {
    /// The axis.
    #[must_use]
    pub const fn axis(self) -> Axis {
        match self {
            Self::Both(axis) => axis,
            Self::One(deflection) => deflection.axis(),
        }
    }
}

impl fmt::Display for Ends {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Both(axis) => axis.fmt(f),
            Self::One(deflection) => deflection.fmt(f),
        }
    }
}

/// A swashplate has three servos or four: the fourth may as well be the tail's.
const FOURTH: u8 = 4;

/// So many teeth on a servo's spline, positive up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Teeth(i32);

impl Teeth {
    /// So many.
    #[must_use]
    pub const fn new(teeth: i32) -> Self {
        Self(teeth)
    }

    /// The bare number.
    #[must_use]
    pub const fn value(self) -> i32 {
        self.0
    }
}

impl fmt::Display for Teeth {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:+} {}", self.0, if self.0.abs() == 1 { "tooth" } else { "teeth" })
    }
}

/// One thing that was turned or set, written as text such as `link B +1 half-turn` or `elevator up end point 95 %`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "String", into = "String")]
#[schemars(extend("pattern" = pattern()))]
pub enum Adjustment {
    /// The pitch link of one main blade, in half-turns; positive lengthens it.
    Link {
        /// The blade.
        blade: BladeName,
        /// Half-turns, positive longer.
        half_turns: HalfTurns,
    },
    /// An end point in the transmitter or flight controller, in percent of output.
    EndPoint {
        /// Which end.
        ends: Ends,
        /// The output it was set to.
        output: Percent,
    },
    /// A link between a servo and the swashplate, in half-turns; positive lengthens it.
    SwashLink {
        /// The servo's number.
        servo: u8,
        /// Half-turns, positive longer.
        half_turns: HalfTurns,
    },
    /// A swashplate servo's arm was moved on its spline.
    ServoArm {
        /// The servo's number.
        servo: u8,
        /// By so many teeth, where that was said.
        teeth: Option<Teeth>,
    },
    /// A swashplate servo was replaced.
    Servo {
        /// Its number.
        servo: u8,
    },
    /// A swashplate servo's sub-trim.
    SubTrim {
        /// The servo's number.
        servo: u8,
        /// What it was set to.
        output: Percent,
    },
    /// The control phase angle in the mixing was set.
    Phase(Angle),
    /// The amount of collective in the mixing was set.
    CollectiveRange(Percent),
    /// The amount of cyclic in the mixing was set.
    CyclicRange(Percent),
    /// The direction of an axis was reversed.
    Reverse(Axis),
    /// The rod to the tail slider, in half-turns; positive lengthens it.
    TailRod {
        /// Half-turns, positive longer.
        half_turns: HalfTurns,
    },
    /// The tail servo's arm was moved on its spline.
    TailServoArm {
        /// By so many teeth, where that was said.
        teeth: Option<Teeth>,
    },
    /// The tail's servo was replaced.
    TailServo,
    /// The tail servo's sub-trim.
    TailSubTrim {
        /// What it was set to.
        output: Percent,
    },
    /// The trim of an axis in the transmitter.
    Trim {
        /// The axis.
        axis: Axis,
        /// What it was set to.
        output: Percent,
    },
    /// Anything else in the mixing.
    Mixing,
    /// The spindle was replaced.
    Spindle,
    /// The main shaft was replaced.
    Shaft,
    /// The grip of one main blade was replaced.
    Grip {
        /// The blade.
        blade: BladeName,
    },
    /// One main blade was replaced.
    Blade {
        /// The blade.
        blade: BladeName,
    },
    /// All main blades were replaced.
    Blades,
    /// Two main blades changed places.
    Exchanged {
        /// One of them.
        one: BladeName,
        /// The other.
        other: BladeName,
    },
    /// The tail blades were replaced.
    TailBlades,
    /// The helicopter crashed, or hit something.
    Crash,
    /// Parts were replaced, and nobody has said which.
    Parts,
}

/// Every form in which [`Adjustment`] is written.
fn pattern() -> String {
    let blade = format!("[A-{LAST_BLADE}]");
    format!(
        "^((link {blade}|swash link [0-9]+|tail rod) [+-][0-9]+(\\.[0-9]+)? half-turns?\
         |((elevator( (up|down))?|(aileron|rudder)( (left|right))?|collective( (low|high))?) end point\
         |sub-trim [0-9]+|(collective|cyclic) range) -?[0-9]+(\\.[0-9]+)? %\
         |tail sub-trim -?[0-9]+(\\.[0-9]+)? %|phase -?[0-9]+(\\.[0-9]+)?°|reverse (elevator|aileron|rudder|collective)\
         |(servo arm [0-9]+|tail servo arm)( [+-][0-9]+ (tooth|teeth))?|(elevator|aileron|rudder|collective) trim -?[0-9]+(\\.[0-9]+)? %\
         |(servo [0-9]+|tail servo|spindle|shaft|grip {blade}|blade {blade}|blades|tail blades|parts) replaced\
         |blades {blade} and {blade} exchanged|mixing changed|crash)$"
    )
}

impl Adjustment {
    /// The same with a servo that the head's description calls the tail's by its own name.
    #[must_use]
    pub fn of_head(self, head: &Head) -> Self {
        let is_tail = |servo| head.tail.servo == Some(servo);
        match self {
            Self::SubTrim { servo, output } if is_tail(servo) => Self::TailSubTrim { output },
            Self::ServoArm { servo, teeth } if is_tail(servo) => Self::TailServoArm { teeth },
            Self::Servo { servo } if is_tail(servo) => Self::TailServo,
            _ => self,
        }
    }

    /// Whether this can have changed what a capture of `subject` on this head read. (Common practice, no source.)
    ///
    /// The fourth servo is the swashplate's or the tail's: where the description does not say which, it can have moved either.
    /// An end point can move the other end of its axis too, because mixing, servo geometry and a shared rod tie
    /// the two together; so both ends count as moved. A blade's own link moves that blade alone.
    #[must_use]
    pub fn can_move(self, head: &Head, subject: Subject) -> bool {
        let deflection = subject.deflection();
        let is_main = subject.station().is_some();
        let is_swash = |servo| is_main || (servo == FOURTH && head.tail.servo.is_none());
        match self.of_head(head) {
            Self::Link { blade, .. } | Self::Grip { blade } | Self::Blade { blade } => {
                is_main && subject.blade() == blade
            }
            Self::Exchanged { one, other } => is_main && [one, other].contains(&subject.blade()),
            Self::Spindle | Self::Shaft | Self::Blades => is_main,
            // The mixing may take the collective to the tail.
            Self::Mixing | Self::Crash | Self::Parts => true,
            Self::Trim { axis, .. } => is_main != (axis == Axis::Rudder),
            Self::EndPoint { ends, .. } => deflection.deflects(ends.axis()),
            Self::Reverse(axis) => deflection.deflects(axis),
            Self::ServoArm { servo, .. } | Self::Servo { servo } | Self::SubTrim { servo, .. } => is_swash(servo),
            Self::SwashLink { .. } => is_main,
            Self::Phase(_) | Self::CyclicRange(_) => {
                deflection.deflects(Axis::Elevator) || deflection.deflects(Axis::Aileron)
            }
            Self::CollectiveRange(_) => deflection.deflects(Axis::Collective),
            Self::TailRod { .. }
            | Self::TailServoArm { .. }
            | Self::TailServo
            | Self::TailSubTrim { .. }
            | Self::TailBlades => !is_main,
        }
    }

    /// Whether a check of the spindle on this blade before it says nothing about the spindle after it.
    #[must_use]
    pub fn renews_spindle(self, blade: BladeName) -> bool {
        match self {
            Self::Spindle | Self::Shaft | Self::Crash | Self::Parts => true,
            Self::Grip { blade: of } => of == blade,
            _ => false,
        }
    }

    /// Whether this can have changed how far a blade droops against blade A: links, trims and servos do not.
    #[must_use]
    pub fn can_move_droop(self, blade: BladeName) -> bool {
        let either = |of| of == blade || of == BladeName::A;
        match self {
            Self::Spindle | Self::Shaft | Self::Blades | Self::Crash | Self::Parts => true,
            Self::Grip { blade: of } | Self::Blade { blade: of } => either(of),
            Self::Exchanged { one, other } => either(one) || either(other),
            _ => false,
        }
    }

    /// Whether it makes everything owed that is otherwise measured at will: spindle, droop, lost motion, corners, both tail blades
    /// and a sweep.
    #[must_use]
    pub const fn makes_all_owed(self) -> bool {
        matches!(self, Self::Crash | Self::Parts)
    }
}

/// Why a text names no adjustment.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no adjustment: {0}")]
pub struct AdjustmentError(pub String);

impl FromStr for Adjustment {
    type Err = AdjustmentError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let plain = text.to_lowercase().replace('−', "-").replace([',', '%', '°'], " ").replace(" of a half-turn", "");
        let said: Vec<&str> = plain.split_whitespace().filter(|word| !word.starts_with("half-turn")).collect();
        // As advice has it: so many half-turns longer or shorter.
        let (words, sense) = match said.as_slice() {
            [words @ .., "longer"] => (words, 1.0),
            [words @ .., "shorter"] => (words, -1.0),
            words => (words, 0.0),
        };
        parse(words, sense).ok_or_else(|| AdjustmentError(text.to_owned()))
    }
}

/// `sense` is +1 where it was said to be longer, −1 where shorter, 0 where the number's own sign says it.
fn parse(words: &[&str], sense: f64) -> Option<Adjustment> {
    let turns = |word: &str| {
        let signed = word.starts_with(['+', '-']);
        let number = word.parse().ok().filter(|n: &f64| n.is_finite() && *n != 0.0)?;
        match sense {
            0.0 => Some(HalfTurns::new(number)),
            sense => (!signed).then_some(HalfTurns::new(number * sense)),
        }
    };
    // Only a link or rod is longer or shorter.
    if sense != 0.0 && !matches!(words, ["link", ..] | ["swash", "link", ..] | ["tail", "rod" | "link", ..]) {
        return None;
    }
    let teeth = |word: &str| word.parse().ok().filter(|n: &i32| *n != 0).map(Teeth::new);
    let percent = |word: &str| word.parse().ok().filter(|p: &f64| p.is_finite()).map(Percent::new);
    // The size of an end, which has no sign: a transmitter knows no end point of nothing, and none beyond 200 %.
    let end_point = |word: &str| percent(word).filter(|p| (1.0..=200.0).contains(&p.value()));
    Some(match words {
        ["link", blade, n] => Adjustment::Link { blade: blade.parse().ok()?, half_turns: turns(n)? },
        ["swash", "link", servo, n] => Adjustment::SwashLink { servo: servo.parse().ok()?, half_turns: turns(n)? },
        ["servo", "arm" | "horn", servo] => Adjustment::ServoArm { servo: servo.parse().ok()?, teeth: None },
        ["servo", "arm" | "horn", servo, n, "tooth" | "teeth"] => {
            Adjustment::ServoArm { servo: servo.parse().ok()?, teeth: Some(teeth(n)?) }
        }
        ["servo", servo, "replaced"] => Adjustment::Servo { servo: servo.parse().ok()? },
        ["sub-trim", servo, p] => Adjustment::SubTrim { servo: servo.parse().ok()?, output: percent(p)? },
        ["phase", angle] => Adjustment::Phase(angle.parse().ok()?),
        ["collective", "range", p] => Adjustment::CollectiveRange(percent(p)?),
        ["cyclic", "range", p] => Adjustment::CyclicRange(percent(p)?),
        ["reverse", axis] => Adjustment::Reverse(one_axis(axis)?),
        ["tail", "rod" | "link", n] => Adjustment::TailRod { half_turns: turns(n)? },
        ["tail", "sub-trim", p] => Adjustment::TailSubTrim { output: percent(p)? },
        ["tail", "servo", "arm" | "horn"] | ["tail", "horn"] => Adjustment::TailServoArm { teeth: None },
        ["tail", "servo", "arm" | "horn", n, "tooth" | "teeth"] | ["tail", "horn", n, "tooth" | "teeth"] => {
            Adjustment::TailServoArm { teeth: Some(teeth(n)?) }
        }
        ["tail", "servo", "replaced"] => Adjustment::TailServo,
        ["tail", "blades", "replaced"] => Adjustment::TailBlades,
        [axis, "trim", p] => Adjustment::Trim { axis: one_axis(axis)?, output: percent(p)? },
        ["mixing"] | ["mixing", "changed"] => Adjustment::Mixing,
        ["spindle", "replaced"] => Adjustment::Spindle,
        ["shaft", "replaced"] | ["main", "shaft", "replaced"] => Adjustment::Shaft,
        ["grip", blade, "replaced"] => Adjustment::Grip { blade: blade.parse().ok()? },
        ["blade", blade, "replaced"] => Adjustment::Blade { blade: blade.parse().ok()? },
        ["blades", "replaced"] => Adjustment::Blades,
        ["blades" | "blade", one, "and" | "with", other, "exchanged"] => exchanged(one, other)?,
        ["crash"] => Adjustment::Crash,
        ["parts", "replaced"] => Adjustment::Parts,
        [axis, "end", "point", p] => Adjustment::EndPoint { ends: Ends::Both(one_axis(axis)?), output: end_point(p)? },
        [axis, direction, "end", "point", p] => {
            Adjustment::EndPoint { ends: Ends::One(end_of(axis, direction)?), output: end_point(p)? }
        }
        _ => return None,
    })
}

/// Two blades, in the order of their letters: it is one exchange whichever is named first.
fn exchanged(one: &str, other: &str) -> Option<Adjustment> {
    let (one, other): (BladeName, BladeName) = (one.parse().ok()?, other.parse().ok()?);
    let (one, other) = if one.index() <= other.index() { (one, other) } else { (other, one) };
    (one != other).then_some(Adjustment::Exchanged { one, other })
}

/// An axis with ends of its own: a corner has those of its axes.
fn one_axis(axis: &str) -> Option<Axis> {
    axis.parse().ok().filter(|axis| *axis != Axis::Corner)
}

/// An end of an axis: a place between the ends, or the middle, has no end point.
fn end_of(axis: &str, direction: &str) -> Option<Deflection> {
    let end = Deflection::new(one_axis(axis)?, direction).ok()?;
    let between = matches!(end, Deflection::Collective(Collective::At(_)));
    (!end.is_neutral() && !between).then_some(end)
}

impl fmt::Display for Adjustment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&match self {
            Self::Link { blade, half_turns: n } => format!("link {blade} {n}"),
            Self::EndPoint { ends: of, output: to } => format!("{of} end point {to}"),
            Self::SwashLink { servo, half_turns: n } => format!("swash link {servo} {n}"),
            Self::ServoArm { servo, teeth: None } => format!("servo arm {servo}"),
            Self::ServoArm { servo, teeth: Some(n) } => format!("servo arm {servo} {n}"),
            Self::Servo { servo } => format!("servo {servo} replaced"),
            Self::SubTrim { servo, output: p } => format!("sub-trim {servo} {p}"),
            Self::Phase(angle) => format!("phase {}°", angle.degrees_to(6)),
            Self::CollectiveRange(amount) => format!("collective range {amount}"),
            Self::CyclicRange(amount) => format!("cyclic range {amount}"),
            Self::Reverse(axis) => format!("reverse {axis}"),
            Self::TailRod { half_turns: n } => format!("tail rod {n}"),
            Self::TailServoArm { teeth: None } => "tail servo arm".to_owned(),
            Self::TailServoArm { teeth: Some(n) } => format!("tail servo arm {n}"),
            Self::TailServo => "tail servo replaced".to_owned(),
            Self::Trim { axis, output } => format!("{axis} trim {output}"),
            Self::Mixing => "mixing changed".to_owned(),
            Self::Spindle => "spindle replaced".to_owned(),
            Self::Shaft => "shaft replaced".to_owned(),
            Self::Grip { blade } => format!("grip {blade} replaced"),
            Self::Blade { blade } => format!("blade {blade} replaced"),
            Self::Blades => "blades replaced".to_owned(),
            Self::Exchanged { one: a, other: b } => format!("blades {a} and {b} exchanged"),
            Self::TailBlades => "tail blades replaced".to_owned(),
            Self::Crash => "crash".to_owned(),
            Self::Parts => "parts replaced".to_owned(),
            Self::TailSubTrim { output: p } => format!("tail sub-trim {p}"),
        })
    }
}

as_text!(Adjustment);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn is_read_as_a_person_says_it_and_written_one_way() {
        for (said, written) in [
            ("link B, +1 half-turn", "link B +1 half-turn"),
            ("Link b −2 half-turns", "link B -2 half-turns"),
            ("elevator end point 95 %", "elevator end point 95 %"),
            ("aileron left end point 87.5%", "aileron left end point 87.5 %"),
            ("swash link 2 -1 half-turn", "swash link 2 -1 half-turn"),
            ("servo arm 1", "servo arm 1"),
            ("sub-trim 3 -5%", "sub-trim 3 -5 %"),
            ("phase 5°", "phase 5°"),
            ("collective range 60%", "collective range 60 %"),
            ("cyclic range 80", "cyclic range 80 %"),
            ("reverse aileron", "reverse aileron"),
            ("tail rod +2 half-turns", "tail rod +2 half-turns"),
            ("tail servo arm", "tail servo arm"),
            ("tail sub-trim -4%", "tail sub-trim -4 %"),
            ("link A 0.5", "link A +0.5 half-turns"),
            ("link B +0.64", "link B +0.64 half-turns"),
            ("link B 0.64 of a half-turn shorter", "link B -0.64 half-turns"),
            ("link A 1 half-turn longer", "link A +1 half-turn"),
            ("swash link 3 +0.5 half-turns", "swash link 3 +0.5 half-turns"),
            ("tail link +1.5", "tail rod +1.5 half-turns"),
            ("servo arm 2 +1 tooth", "servo arm 2 +1 tooth"),
            ("servo horn 2 -2 teeth", "servo arm 2 -2 teeth"),
            ("tail horn", "tail servo arm"),
            ("tail servo arm 1 tooth", "tail servo arm +1 tooth"),
            ("servo 3 replaced", "servo 3 replaced"),
            ("tail servo replaced", "tail servo replaced"),
            ("elevator trim +3 %", "elevator trim 3 %"),
            ("mixing", "mixing changed"),
            ("spindle replaced", "spindle replaced"),
            ("main shaft replaced", "shaft replaced"),
            ("grip b replaced", "grip B replaced"),
            ("blade B replaced", "blade B replaced"),
            ("blades replaced", "blades replaced"),
            ("blades B and A exchanged", "blades A and B exchanged"),
            ("blade A with B exchanged", "blades A and B exchanged"),
            ("tail blades replaced", "tail blades replaced"),
            ("crash", "crash"),
            ("parts replaced", "parts replaced"),
        ] {
            let adjustment: Adjustment = said.parse().unwrap();
            assert_eq!(adjustment.to_string(), written);
            assert_eq!(written.parse::<Adjustment>(), Ok(adjustment));
        }
    }

    #[test]
    fn what_is_no_adjustment_is_refused() {
        for text in [
            "",
            "link",
            "link Z +1",
            "link B 0",
            "link B 0.0",
            "link B nan",
            "link B +1 shorter",
            "sub-trim 1 3 longer",
            "servo arm 2 0 teeth",
            "servo arm 2 0.5 teeth",
            "blades A and A exchanged",
            "corner trim 3",
            "grip replaced",
            "elevator left end point 90 %",
            "elevator neutral end point 90 %",
            "rudder end point",
            "collective 25% end point 90",
            "reverse corner",
            "corner end point 90",
        ] {
            assert_eq!(text.parse::<Adjustment>(), Err(AdjustmentError(text.to_owned())));
        }
    }
}
