//! What was turned between two captures, and which captures it can have made stale.

use super::head::Head;
use super::subject::Subject;
use crate::rotor::{Axis, BladeName, Collective, Deflection};
use crate::units::{Angle, LAST_BLADE, Percent, as_text};
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
        half_turns: i32,
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
        half_turns: i32,
    },
    /// A swashplate servo's arm was moved on its spline.
    ServoArm {
        /// The servo's number.
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
        half_turns: i32,
    },
    /// The tail servo's arm was moved on its spline.
    TailServoArm,
    /// The tail servo's sub-trim.
    TailSubTrim {
        /// What it was set to.
        output: Percent,
    },
}

/// Every form in which [`Adjustment`] is written.
fn pattern() -> String {
    format!(
        "^((link [A-{LAST_BLADE}]|swash link [0-9]+|tail rod) [+-][0-9]+ half-turns?\
         |((elevator( (up|down))?|(aileron|rudder)( (left|right))?|collective( (low|high))?) end point\
         |sub-trim [0-9]+|(collective|cyclic) range) -?[0-9]+(\\.[0-9]+)? %\
         |tail sub-trim -?[0-9]+(\\.[0-9]+)? %|phase -?[0-9]+(\\.[0-9]+)?°|reverse (elevator|aileron|rudder|collective)|servo arm [0-9]+|tail servo arm)$"
    )
}

impl Adjustment {
    /// The same with a servo that the head's description calls the tail's by its own name.
    #[must_use]
    pub fn of_head(self, head: &Head) -> Self {
        let is_tail = |servo| head.tail.servo == Some(servo);
        match self {
            Self::SubTrim { servo, output } if is_tail(servo) => Self::TailSubTrim { output },
            Self::ServoArm { servo } if is_tail(servo) => Self::TailServoArm,
            _ => self,
        }
    }

    /// Whether this can have changed what a capture of `subject` read. (Common practice, no source.)
    ///
    /// An end point can move the other end of its axis too, because mixing, servo geometry and a shared rod tie
    /// the two together; so both ends count as moved. A blade's own link moves that blade alone.
    #[must_use]
    pub fn can_move(self, subject: Subject) -> bool {
        let deflection = subject.deflection();
        let is_main = subject.station().is_some();
        match self {
            Self::Link { blade, .. } => is_main && subject.blade() == blade,
            Self::EndPoint { ends, .. } => deflection.deflects(ends.axis()),
            Self::Reverse(axis) => deflection.deflects(axis),
            Self::SwashLink { .. } | Self::ServoArm { .. } | Self::SubTrim { .. } => is_main,
            Self::Phase(_) | Self::CyclicRange(_) => {
                deflection.deflects(Axis::Elevator) || deflection.deflects(Axis::Aileron)
            }
            Self::CollectiveRange(_) => deflection.deflects(Axis::Collective),
            Self::TailRod { .. } | Self::TailServoArm | Self::TailSubTrim { .. } => !is_main,
        }
    }
}

/// Why a text names no adjustment.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no adjustment: {0}")]
pub struct AdjustmentError(pub String);

impl FromStr for Adjustment {
    type Err = AdjustmentError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let plain = text.to_lowercase().replace('−', "-").replace([',', '%', '°'], " ");
        let words: Vec<&str> = plain.split_whitespace().filter(|w| !w.starts_with("half-turn")).collect();
        parse(&words).ok_or_else(|| AdjustmentError(text.to_owned()))
    }
}

fn parse(words: &[&str]) -> Option<Adjustment> {
    let turns = |word: &str| word.parse().ok().filter(|&n: &i32| n != 0);
    let percent = |word: &str| word.parse().ok().filter(|p: &f64| p.is_finite()).map(Percent::new);
    // The size of an end, which has no sign: a transmitter knows no end point of nothing, and none beyond 200 %.
    let end_point = |word: &str| percent(word).filter(|p| (1.0..=200.0).contains(&p.value()));
    Some(match words {
        ["link", blade, n] => Adjustment::Link { blade: blade.parse().ok()?, half_turns: turns(n)? },
        ["swash", "link", servo, n] => Adjustment::SwashLink { servo: servo.parse().ok()?, half_turns: turns(n)? },
        ["servo", "arm", servo] => Adjustment::ServoArm { servo: servo.parse().ok()? },
        ["sub-trim", servo, p] => Adjustment::SubTrim { servo: servo.parse().ok()?, output: percent(p)? },
        ["phase", angle] => Adjustment::Phase(angle.parse().ok()?),
        ["collective", "range", p] => Adjustment::CollectiveRange(percent(p)?),
        ["cyclic", "range", p] => Adjustment::CyclicRange(percent(p)?),
        ["reverse", axis] => Adjustment::Reverse(one_axis(axis)?),
        ["tail", "rod", n] => Adjustment::TailRod { half_turns: turns(n)? },
        ["tail", "sub-trim", p] => Adjustment::TailSubTrim { output: percent(p)? },
        ["tail", "servo", "arm"] => Adjustment::TailServoArm,
        [axis, "end", "point", p] => Adjustment::EndPoint { ends: Ends::Both(one_axis(axis)?), output: end_point(p)? },
        [axis, direction, "end", "point", p] => {
            Adjustment::EndPoint { ends: Ends::One(end_of(axis, direction)?), output: end_point(p)? }
        }
        _ => return None,
    })
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
            Self::Link { blade, half_turns } => format!("link {blade} {}", turned(*half_turns)),
            Self::EndPoint { ends, output } => format!("{ends} end point {output}"),
            Self::SwashLink { servo, half_turns } => format!("swash link {servo} {}", turned(*half_turns)),
            Self::ServoArm { servo } => format!("servo arm {servo}"),
            Self::SubTrim { servo, output } => format!("sub-trim {servo} {output}"),
            Self::Phase(angle) => format!("phase {}°", angle.degrees_to(6)),
            Self::CollectiveRange(amount) => format!("collective range {amount}"),
            Self::CyclicRange(amount) => format!("cyclic range {amount}"),
            Self::Reverse(axis) => format!("reverse {axis}"),
            Self::TailRod { half_turns } => format!("tail rod {}", turned(*half_turns)),
            Self::TailServoArm => "tail servo arm".to_owned(),
            Self::TailSubTrim { output } => format!("tail sub-trim {output}"),
        })
    }
}

fn turned(half_turns: i32) -> String {
    let plural = if half_turns.abs() == 1 { "" } else { "s" };
    format!("{half_turns:+} half-turn{plural}")
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
