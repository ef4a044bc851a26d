//! The four control axes, each with its own directions and no other's, and the corners where several stand at their ends.

use super::Corner;
use crate::units::{Percent, as_text};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// Elevator (longitudinal cyclic). Up is the nose-up command.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Elevator {
    /// Nose up.
    Up,
    /// Stick at centre.
    Neutral,
    /// Nose down.
    Down,
}

/// Aileron (lateral cyclic). Right is the right-side-down command.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Aileron {
    /// Left side down.
    Left,
    /// Stick at centre.
    Neutral,
    /// Right side down.
    Right,
}

/// Rudder (tail pitch). Right is the nose-right command.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Rudder {
    /// Nose left.
    Left,
    /// Stick at centre.
    Neutral,
    /// Nose right.
    Right,
}

/// Collective: the stick's low end, middle, high end, or a place between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Collective {
    /// The low end, 0 %.
    Low,
    /// Mid stick, 50 %, where both blades are brought to zero.
    Mid,
    /// The high end, 100 %.
    High,
    /// Another stick position, 0 to 100 %.
    At(Percent),
}

impl Collective {
    /// The stick position, 0 % low to 100 % high.
    #[must_use]
    pub const fn stick(self) -> Percent {
        match self {
            Self::Low => Percent::new(0.0),
            Self::Mid => Percent::new(50.0),
            Self::High => Percent::new(100.0),
            Self::At(percent) => percent,
        }
    }
}

/// A control axis without a direction, or several at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Axis {
    /// Longitudinal cyclic.
    Elevator,
    /// Lateral cyclic.
    Aileron,
    /// Tail pitch.
    Rudder,
    /// Collective pitch.
    Collective,
    /// Collective and cyclic at once.
    Corner,
}

impl Axis {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Elevator, Self::Aileron, Self::Rudder, Self::Collective, Self::Corner];

    /// The axis' own directions as a document writes them: a regular expression for a JSON Schema.
    #[must_use]
    pub const fn directions(self) -> &'static str {
        match self {
            Self::Elevator => "up|down|neutral",
            Self::Aileron | Self::Rudder => "left|right|neutral",
            Self::Collective => "low|mid|high|[0-9]+(\\.[0-9]+)?%",
            Self::Corner => "(low|mid|high) (up|down|left|right|(up|down)-(left|right))",
        }
    }
}

/// Every axis with its own directions.
fn pattern() -> String {
    let axes = Axis::ALL.map(|axis| format!("{axis} ({})", axis.directions()));
    format!("^({})$", axes.join("|"))
}

/// One axis deflected in one of its own directions: what a capture is a capture of.
///
/// Written `elevator up`, `rudder neutral`, `collective 25%`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "String", into = "String")]
#[schemars(extend("pattern" = pattern()))]
pub enum Deflection {
    /// Longitudinal cyclic.
    Elevator(Elevator),
    /// Lateral cyclic.
    Aileron(Aileron),
    /// Tail pitch.
    Rudder(Rudder),
    /// Collective pitch.
    Collective(Collective),
    /// Collective and full cyclic at once.
    Corner(Corner),
}

impl Deflection {
    /// The axis that is deflected.
    #[must_use]
    pub const fn axis(self) -> Axis {
        match self {
            Self::Elevator(_) => Axis::Elevator,
            Self::Aileron(_) => Axis::Aileron,
            Self::Rudder(_) => Axis::Rudder,
            Self::Collective(_) => Axis::Collective,
            Self::Corner(_) => Axis::Corner,
        }
    }

    /// The end or the centre of the stick's way, up and right positive; of a corner, of its full cyclic.
    #[must_use]
    pub const fn full_stick(self) -> Percent {
        match self {
            Self::Elevator(Elevator::Up) | Self::Aileron(Aileron::Right) | Self::Rudder(Rudder::Right) => {
                Percent::new(100.0)
            }
            Self::Elevator(Elevator::Down) | Self::Aileron(Aileron::Left) | Self::Rudder(Rudder::Left) => {
                Percent::new(-100.0)
            }
            Self::Elevator(Elevator::Neutral) | Self::Aileron(Aileron::Neutral) | Self::Rudder(Rudder::Neutral) => {
                Percent::new(0.0)
            }
            Self::Collective(collective) => collective.stick(),
            Self::Corner(_) => Percent::new(100.0),
        }
    }

    /// Whether every stick that moves this rotor stands at its centre.
    #[must_use]
    pub const fn is_neutral(self) -> bool {
        matches!(
            self,
            Self::Elevator(Elevator::Neutral)
                | Self::Aileron(Aileron::Neutral)
                | Self::Rudder(Rudder::Neutral)
                | Self::Collective(Collective::Mid)
        )
    }

    /// Whether the stick of this axis is away from its centre.
    #[must_use]
    pub fn deflects(self, axis: Axis) -> bool {
        match self {
            Self::Corner(corner) => corner.deflects(axis),
            one => one.axis() == axis && !one.is_neutral(),
        }
    }

    /// The name of the direction alone: `up`, `neutral`, `mid`, `25%`, `high up-right`.
    #[must_use]
    pub fn direction(self) -> String {
        match self {
            Self::Elevator(Elevator::Up) => "up".into(),
            Self::Elevator(Elevator::Down) => "down".into(),
            Self::Aileron(Aileron::Left) | Self::Rudder(Rudder::Left) => "left".into(),
            Self::Aileron(Aileron::Right) | Self::Rudder(Rudder::Right) => "right".into(),
            Self::Elevator(Elevator::Neutral) | Self::Aileron(Aileron::Neutral) | Self::Rudder(Rudder::Neutral) => {
                "neutral".into()
            }
            Self::Collective(Collective::Low) => "low".into(),
            Self::Collective(Collective::Mid) => "mid".into(),
            Self::Collective(Collective::High) => "high".into(),
            Self::Collective(Collective::At(percent)) => format!("{}%", percent.value()),
            Self::Corner(corner) => corner.to_string(),
        }
    }

    /// Puts an axis and a direction together.
    ///
    /// # Errors
    /// When the direction is not one of that axis's own.
    pub fn new(axis: Axis, direction: &str) -> Result<Self, ParseDeflectionError> {
        let word = direction.trim().to_lowercase();
        match axis {
            Axis::Elevator => match word.as_str() {
                "up" => Some(Self::Elevator(Elevator::Up)),
                "down" => Some(Self::Elevator(Elevator::Down)),
                "neutral" => Some(Self::Elevator(Elevator::Neutral)),
                _ => None,
            },
            Axis::Aileron => match word.as_str() {
                "left" => Some(Self::Aileron(Aileron::Left)),
                "right" => Some(Self::Aileron(Aileron::Right)),
                "neutral" => Some(Self::Aileron(Aileron::Neutral)),
                _ => None,
            },
            Axis::Rudder => match word.as_str() {
                "left" => Some(Self::Rudder(Rudder::Left)),
                "right" => Some(Self::Rudder(Rudder::Right)),
                "neutral" => Some(Self::Rudder(Rudder::Neutral)),
                _ => None,
            },
            Axis::Collective => match word.as_str() {
                "low" => Some(Collective::Low),
                "mid" => Some(Collective::Mid),
                "high" => Some(Collective::High),
                other => stick_position(other),
            }
            .map(Self::Collective),
            Axis::Corner => word.parse().ok().map(Self::Corner),
        }
        .ok_or_else(|| ParseDeflectionError::Direction { axis, direction: direction.to_owned() })
    }
}

fn stick_position(word: &str) -> Option<Collective> {
    let percent: f64 = word.strip_suffix('%').unwrap_or(word).trim().parse().ok()?;
    match percent {
        // The three named positions have one name each, however they are written.
        0.0 => Some(Collective::Low),
        50.0 => Some(Collective::Mid),
        100.0 => Some(Collective::High),
        p if (0.0..=100.0).contains(&p) => Some(Collective::At(Percent::new(p))),
        _ => None,
    }
}

/// Why a text names no axis direction.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseDeflectionError {
    /// No such axis.
    #[error("no axis: {0}")]
    Axis(String),
    /// The axis has no such direction.
    #[error("no {axis} {direction}")]
    Direction {
        /// The axis asked for.
        axis: Axis,
        /// What was written.
        direction: String,
    },
}

impl fmt::Display for Axis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Elevator => "elevator",
            Self::Aileron => "aileron",
            Self::Rudder => "rudder",
            Self::Collective => "collective",
            Self::Corner => "corner",
        })
    }
}

impl FromStr for Axis {
    type Err = ParseDeflectionError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text.trim().to_lowercase().as_str() {
            "elevator" => Ok(Self::Elevator),
            "aileron" => Ok(Self::Aileron),
            "rudder" => Ok(Self::Rudder),
            "collective" => Ok(Self::Collective),
            "corner" => Ok(Self::Corner),
            _ => Err(ParseDeflectionError::Axis(text.to_owned())),
        }
    }
}

impl fmt::Display for Deflection {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} {}", self.axis(), self.direction()))
    }
}

impl FromStr for Deflection {
    type Err = ParseDeflectionError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let (axis, direction) = text.trim().split_once(char::is_whitespace).unwrap_or((text.trim(), ""));
        Self::new(axis.parse()?, direction)
    }
}

as_text!(Deflection);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_takes_its_own_directions_only() {
        assert_eq!("elevator up".parse(), Ok(Deflection::Elevator(Elevator::Up)));
        assert_eq!("collective 25%".parse(), Ok(Deflection::Collective(Collective::At(Percent::new(25.0)))));
        assert_eq!("collective 100%".parse(), Ok(Deflection::Collective(Collective::High)));
        for wrong in ["elevator left", "aileron up", "rudder mid", "collective 101%", "throttle up", "elevator"] {
            assert!(wrong.parse::<Deflection>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_wrong_direction_is_named_with_its_axis() {
        let error = "aileron up".parse::<Deflection>().unwrap_err();
        assert_eq!(error, ParseDeflectionError::Direction { axis: Axis::Aileron, direction: "up".to_owned() });
    }

    #[test]
    fn text_round_trips() {
        for text in ["elevator down", "aileron left", "rudder neutral", "collective mid", "collective 25%"] {
            assert_eq!(text.parse::<Deflection>().unwrap().to_string(), text);
        }
    }
}
