//! Where a blade stands and how the clip sits on it.

use crate::units::{Angle, LAST_BLADE, MOST_BLADES, as_text, blade_index, blade_letter};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt::{self, Write as _};
use std::str::FromStr;

/// The main rotor's direction of rotation, seen from above.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Rotation {
    /// Clockwise from above.
    Clockwise,
    /// Anticlockwise from above.
    Anticlockwise,
}

impl Rotation {
    /// Whether the rotor turns anticlockwise seen from above.
    #[must_use]
    pub const fn is_anticlockwise(self) -> bool {
        matches!(self, Self::Anticlockwise)
    }
}

/// A blade's place in its turn, degrees: 0° over the tail boom, growing in the direction of rotation, 0° ≤ station < 360°.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "f64", into = "f64")]
#[schemars(extend("minimum" = 0, "maximum" = 360))]
pub struct Station(Angle);

impl Station {
    /// Over the tail boom, 0°.
    pub const BOOM: Self = Self(Angle::ZERO);

    /// The station so many degrees from the boom, brought into one turn.
    ///
    /// # Errors
    /// When the number is not finite.
    pub fn from_degrees(degrees: f64) -> Result<Self, PlaceError> {
        if !degrees.is_finite() {
            return Err(PlaceError::Station(degrees.to_string()));
        }
        let turned = degrees.rem_euclid(360.0);
        Ok(Self(Angle::from_degrees(if turned >= 360.0 { 0.0 } else { turned })))
    }

    /// The azimuth from the boom in the direction of rotation.
    #[must_use]
    pub const fn azimuth(self) -> Angle {
        self.0
    }

    /// How far apart two stations are, 0° to 180°.
    #[must_use]
    pub fn distance(self, other: Self) -> Angle {
        (self.0 - other.0).wrapped().abs()
    }
}

impl TryFrom<f64> for Station {
    type Error = PlaceError;
    fn try_from(degrees: f64) -> Result<Self, Self::Error> {
        Self::from_degrees(degrees)
    }
}

impl From<Station> for f64 {
    fn from(station: Station) -> Self {
        // Degrees that were written as a round number come back as one.
        (station.0.degrees() * 1e9).round() / 1e9
    }
}

impl FromStr for Station {
    type Err = PlaceError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let degrees = text.trim().trim_end_matches('°').parse().map_err(|_| PlaceError::Station(text.to_owned()))?;
        Self::from_degrees(degrees)
    }
}

impl fmt::Display for Station {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}°", f64::from(*self))
    }
}

/// A blade's name: one letter, A for the reference blade, then B and so on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "String", into = "String")]
#[schemars(extend("pattern" = format!("^[A-{LAST_BLADE}]$")))]
pub struct BladeName(u8);

impl BladeName {
    /// The reference blade.
    pub const A: Self = Self(0);

    /// The most blades that a head can have here.
    pub const MOST: usize = MOST_BLADES;

    /// The blade at `index`, 0 for A.
    #[must_use]
    pub fn from_index(index: usize) -> Option<Self> {
        u8::try_from(index).ok().filter(|&i| usize::from(i) < Self::MOST).map(Self)
    }

    /// Its place in the order of blades, 0 for A.
    #[must_use]
    pub const fn index(self) -> usize {
        self.0 as usize
    }
}

impl fmt::Display for BladeName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_char(blade_letter(self.index()).unwrap_or('A'))
    }
}

impl FromStr for BladeName {
    type Err = PlaceError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        blade_index(text.trim()).and_then(Self::from_index).ok_or_else(|| PlaceError::Blade(text.to_owned()))
    }
}

as_text!(BladeName);

/// Which way the clip sits on the blade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Clip {
    /// As the profile describes it: the sensor's chord axis toward the leading edge.
    #[default]
    Forward,
    /// Put on end for end: chord and span negated.
    Reversed,
}

/// Which way the leading edge of a tail blade points while its span is level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum LeadingEdge {
    /// Up.
    Up,
    /// Down.
    Down,
}

/// Why a text names no place.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PlaceError {
    /// No station.
    #[error("no station: {0}")]
    Station(String),
    /// No blade.
    #[error("no blade: {0}")]
    Blade(String),
    /// No direction of rotation, clip or leading edge.
    #[error("unknown: {given}")]
    Word {
        /// What was written.
        given: String,
        /// What may be written.
        choices: &'static str,
    },
}

macro_rules! words {
    ($type:ident, $choices:literal, $($word:literal => $variant:ident),+) => {
        impl FromStr for $type {
            type Err = PlaceError;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                match text.trim().to_lowercase().as_str() {
                    $($word => Ok(Self::$variant),)+
                    _ => Err(PlaceError::Word { given: text.to_owned(), choices: $choices }),
                }
            }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(match self { $(Self::$variant => $word),+ })
            }
        }
    };
}

words!(Rotation, "clockwise, anticlockwise", "clockwise" => Clockwise, "anticlockwise" => Anticlockwise);
words!(Clip, "forward, reversed", "forward" => Forward, "reversed" => Reversed);
words!(LeadingEdge, "up, down", "up" => Up, "down" => Down);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stations_live_in_one_turn() {
        assert_eq!(f64::from(Station::from_degrees(-90.0).unwrap()), 270.0);
        assert_eq!(f64::from(Station::from_degrees(360.0).unwrap()), 0.0);
        assert!(Station::from_degrees(f64::NAN).is_err());
        let (a, b) = (Station::from_degrees(350.0).unwrap(), Station::from_degrees(10.0).unwrap());
        assert!((a.distance(b).degrees() - 20.0).abs() < 1e-9);
    }

    #[test]
    fn blades_are_letters() {
        assert_eq!("b".parse::<BladeName>().unwrap().index(), 1);
        assert!("I".parse::<BladeName>().is_err());
        assert!("AB".parse::<BladeName>().is_err());
        assert_eq!(BladeName::from_index(9), None);
    }
}
