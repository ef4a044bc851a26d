//! Which of the sensor's axes lies along the blade's chord, and which stands out of its upper surface.

use super::{BladeVector, SensorVector};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// One axis of the sensor with a sense, written `+x`, `-z` and so on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct SensorAxis {
    index: usize,
    negative: bool,
}

/// Why a text or a pair of axes makes no map.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AxisMapError {
    /// Not one of the six axis names.
    #[error("no axis: '{0}' (+x -x +y -y +z -z)")]
    NoAxis(String),
    /// Chord and normal along the same sensor axis.
    #[error("same axis twice: {0}")]
    SameAxis(char),
}

impl SensorAxis {
    /// The component of `vector` along this axis, in its sense.
    #[must_use]
    pub fn of(self, vector: SensorVector) -> f64 {
        let value = vector.0[self.index];
        if self.negative { -value } else { value }
    }

    /// The unit vector of this axis in the sensor's axes.
    #[must_use]
    pub fn unit(self) -> [f64; 3] {
        let mut unit = [0.0; 3];
        unit[self.index] = if self.negative { -1.0 } else { 1.0 };
        unit
    }

    const fn letter(self) -> char {
        ['x', 'y', 'z'][self.index]
    }
}

impl FromStr for SensorAxis {
    type Err = AxisMapError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let (sign, letter) = match text.trim() {
            t if t.starts_with('-') => (true, &t[1..]),
            t => (false, t.trim_start_matches('+')),
        };
        let index = match letter {
            "x" | "X" => 0,
            "y" | "Y" => 1,
            "z" | "Z" => 2,
            _ => return Err(AxisMapError::NoAxis(text.to_owned())),
        };
        Ok(Self { index, negative: sign })
    }
}

crate::as_text!(SensorAxis);

impl fmt::Display for SensorAxis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", if self.negative { '-' } else { '+' }, self.letter())
    }
}

/// How the sensor sits in its clip: the sensor axis along the chord and the one along the normal.
///
/// The span axis follows from the two and the rotor's direction of rotation: chord × normal on a rotor that
/// turns anticlockwise seen from above, normal × chord on a clockwise one, so that span always points outward.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "AxisPair", into = "AxisPair")]
pub struct AxisMap {
    chord: SensorAxis,
    normal: SensorAxis,
}

#[derive(Serialize, Deserialize)]
struct AxisPair {
    chord: SensorAxis,
    normal: SensorAxis,
}

impl TryFrom<AxisPair> for AxisMap {
    type Error = AxisMapError;
    fn try_from(pair: AxisPair) -> Result<Self, Self::Error> {
        Self::new(pair.chord, pair.normal)
    }
}

impl From<AxisMap> for AxisPair {
    fn from(map: AxisMap) -> Self {
        Self { chord: map.chord, normal: map.normal }
    }
}

impl Default for AxisMap {
    /// Chord along +x, normal along +z.
    fn default() -> Self {
        Self { chord: SensorAxis { index: 0, negative: false }, normal: SensorAxis { index: 2, negative: false } }
    }
}

impl AxisMap {
    /// The map with the given chord and normal.
    ///
    /// # Errors
    /// When both lie along the same sensor axis.
    pub fn new(chord: SensorAxis, normal: SensorAxis) -> Result<Self, AxisMapError> {
        if chord.index == normal.index {
            return Err(AxisMapError::SameAxis(chord.letter()));
        }
        Ok(Self { chord, normal })
    }

    /// The sensor axis along the chord, toward the leading edge.
    #[must_use]
    pub const fn chord(self) -> SensorAxis {
        self.chord
    }

    /// The sensor axis out of the upper surface.
    #[must_use]
    pub const fn normal(self) -> SensorAxis {
        self.normal
    }

    /// Turns a force in the sensor's axes into the blade's. `anticlockwise` is the rotor's direction of rotation.
    #[must_use]
    pub fn apply(self, force: SensorVector, anticlockwise: bool) -> BladeVector {
        let cross = cross(self.chord.unit(), self.normal.unit());
        let along: f64 = cross.iter().zip(force.0).map(|(c, f)| c * f).sum();
        BladeVector {
            span: if anticlockwise { along } else { -along },
            chord: self.chord.of(force),
            normal: self.normal.of(force),
        }
    }
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn default_reads_chord_x_and_normal_z() {
        let blade = AxisMap::default().apply(SensorVector([0.2, 0.3, 0.9]), true);
        // x × z = −y: with the sensor's x forward and z up, y points to the root of an anticlockwise blade.
        assert_eq!((blade.chord, blade.normal, blade.span), (0.2, 0.9, -0.3));
        let mirrored = AxisMap::default().apply(SensorVector([0.2, 0.3, 0.9]), false);
        assert_eq!(mirrored.span, 0.3);
    }

    #[test]
    fn one_axis_cannot_be_both() {
        let chord = "-y".parse().unwrap();
        assert!(matches!(AxisMap::new(chord, "y".parse().unwrap()), Err(AxisMapError::SameAxis('y'))));
        assert!("w".parse::<SensorAxis>().is_err());
        assert_eq!(chord.to_string(), "-y");
    }
}
