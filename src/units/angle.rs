//! An angle: radians inside, degrees wherever a person or a document reads it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};
use std::str::FromStr;

/// A plane angle, written as a number of degrees. The name of a field that holds one ends in `_deg`.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, JsonSchema)]
#[schemars(with = "f64")]
pub struct Angle(f64);

impl Angle {
    /// No angle at all.
    pub const ZERO: Self = Self(0.0);

    /// An angle of so many degrees.
    #[must_use]
    pub fn from_degrees(degrees: f64) -> Self {
        Self(degrees.to_radians())
    }

    /// An angle of so many radians.
    #[must_use]
    pub const fn from_radians(radians: f64) -> Self {
        Self(radians)
    }

    /// The angle whose tangent is `y / x`, in the quadrant of the point (x, y), within ±180°.
    #[must_use]
    pub fn atan2(y: f64, x: f64) -> Self {
        Self(y.atan2(x))
    }

    /// In degrees.
    #[must_use]
    pub fn degrees(self) -> f64 {
        self.0.to_degrees()
    }

    /// In degrees, with no more than so many decimals and no more digits than survive a way through radians: read from
    /// there again and rounded again, it is the same number.
    #[must_use]
    pub fn degrees_to(self, decimals: i32) -> f64 {
        let degrees = self.degrees();
        let scale = 10f64.powi(decimals);
        if degrees.abs() * scale < 1e15 {
            (degrees * scale).round() / scale
        } else {
            format!("{degrees:.13e}").parse().unwrap_or(degrees)
        }
    }

    /// In radians.
    #[must_use]
    pub const fn radians(self) -> f64 {
        self.0
    }

    /// Sine.
    #[must_use]
    pub fn sin(self) -> f64 {
        self.0.sin()
    }

    /// Cosine.
    #[must_use]
    pub fn cos(self) -> f64 {
        self.0.cos()
    }

    /// Without its sign.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }

    /// The same direction, brought into −180° < angle ≤ 180°.
    #[must_use]
    pub fn wrapped(self) -> Self {
        let turn = std::f64::consts::TAU;
        let mut within = self.0.rem_euclid(turn);
        if within > std::f64::consts::PI {
            within -= turn;
        }
        Self(within)
    }

    /// Whether the angle is a finite number.
    #[must_use]
    pub const fn is_finite(self) -> bool {
        self.0.is_finite()
    }

    /// Root of the sum of squares: how independent standard uncertainties add.
    #[must_use]
    pub fn hypot(self, other: Self) -> Self {
        Self(self.0.hypot(other.0))
    }
}

/// Why a text is no angle.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{}' is no angle", .text)]
pub struct ParseAngleError {
    /// The text.
    pub text: String,
}

impl FromStr for Angle {
    type Err = ParseAngleError;

    /// Reads degrees, with or without the sign `°` behind them; a typographic minus is a minus.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let plain = text.trim().trim_end_matches('°').trim_end().replace('−', "-");
        match plain.parse::<f64>() {
            Ok(degrees) if degrees.is_finite() => Ok(Self::from_degrees(degrees)),
            _ => Err(ParseAngleError { text: text.to_owned() }),
        }
    }
}

/// In degrees with a sign and two decimals (`+11.86°`); a precision changes the decimals.
impl fmt::Display for Angle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let decimals = f.precision().unwrap_or(2);
        let degrees = self.degrees();
        // A value that rounds to zero is printed without a sign: −0.00° reads as if it meant something.
        let shown = if degrees.abs() < 0.5 * 10f64.powi(-(decimals as i32)) { 0.0 } else { degrees };
        if shown == 0.0 { write!(f, "{shown:.decimals$}°") } else { write!(f, "{shown:+.decimals$}°") }
    }
}

impl Serialize for Angle {
    /// Degrees to twelve decimals, so that what was written as 3 comes back as 3 and a document that is read and
    /// written again stays the same.
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(self.degrees_to(12))
    }
}

impl<'de> Deserialize<'de> for Angle {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let degrees = f64::deserialize(deserializer)?;
        // What a double cannot hold in full does not come back from radians as the same degrees, and is no angle.
        Ok(if degrees.abs() < f64::MIN_POSITIVE * 1e3 { Self::ZERO } else { Self::from_degrees(degrees) })
    }
}

impl Add for Angle {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl AddAssign for Angle {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sub for Angle {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl SubAssign for Angle {
    fn sub_assign(&mut self, other: Self) {
        self.0 -= other.0;
    }
}

impl Neg for Angle {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<f64> for Angle {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}

impl Div<f64> for Angle {
    type Output = Self;
    fn div(self, divisor: f64) -> Self {
        Self(self.0 / divisor)
    }
}

impl Div for Angle {
    type Output = f64;
    fn div(self, other: Self) -> f64 {
        self.0 / other.0
    }
}

impl Sum for Angle {
    fn sum<I: Iterator<Item = Self>>(angles: I) -> Self {
        angles.fold(Self::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn is_written_in_degrees_with_its_sign() {
        assert_eq!(Angle::from_degrees(11.861).to_string(), "+11.86°");
        assert_eq!(Angle::from_degrees(-0.5).to_string(), "-0.50°");
        assert_eq!(Angle::from_degrees(-0.001).to_string(), "0.00°");
        assert_eq!(format!("{:.1}", Angle::from_degrees(3.0)), "+3.0°");
    }

    #[test]
    fn is_read_as_a_person_writes_it() {
        for text in ["12", " 12.0° ", "1.2e1"] {
            assert!((text.parse::<Angle>().unwrap().degrees() - 12.0).abs() < 1e-12, "{text}");
        }
        assert!(("−3".parse::<Angle>().unwrap().degrees() + 3.0).abs() < 1e-12);
        for text in ["", "up", "nan", "inf", "12°°x"] {
            assert!(text.parse::<Angle>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_document_stays_the_same_when_it_is_read_and_written_again() {
        for text in ["3.0", "-8.15", "0.05", "179.99", "1e-11", "999.123456789012", "1234.5678901234", "1.7e+300"] {
            let angle: Angle = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&angle).unwrap(), text);
        }
    }

    #[test]
    fn wraps_to_half_a_turn_either_way() {
        assert!((Angle::from_degrees(270.0).wrapped().degrees() + 90.0).abs() < 1e-9);
        assert!((Angle::from_degrees(-180.0).wrapped().degrees() - 180.0).abs() < 1e-9);
        assert!((Angle::from_degrees(725.0).wrapped().degrees() - 5.0).abs() < 1e-9);
    }
}
