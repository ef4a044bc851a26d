//! Half-turns of a link or rod.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// So many half-turns. A link that is snapped on seats at whole ones; a turnbuckle takes any fraction.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct HalfTurns(f64);

impl HalfTurns {
    /// None at all.
    pub const ZERO: Self = Self(0.0);

    /// So many, whole or not.
    #[must_use]
    pub const fn new(half_turns: f64) -> Self {
        Self(half_turns)
    }

    /// So many whole ones.
    #[must_use]
    pub fn whole(half_turns: i32) -> Self {
        Self(f64::from(half_turns))
    }

    /// The bare number.
    #[must_use]
    pub const fn value(self) -> f64 {
        self.0
    }

    /// Whether nothing is turned.
    #[must_use]
    pub fn is_zero(self) -> bool {
        self.0 == 0.0
    }

    /// Without the sign.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }

    /// Whether a link that seats once in `seat` half-turns can be turned by so many.
    #[must_use]
    pub fn is_multiple_of(self, seat: u8) -> bool {
        self.0 % f64::from(seat) == 0.0
    }

    /// To the hundredth, the finest that anyone can turn and tell apart.
    #[must_use]
    pub fn rounded(self) -> Self {
        Self((self.0 * 100.0).round() / 100.0 + 0.0)
    }
}

impl std::ops::Neg for HalfTurns {
    type Output = Self;
    fn neg(self) -> Self {
        // No negative zero: it would be written with a sign.
        Self(0.0 - self.0)
    }
}

impl std::ops::Add for HalfTurns {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl std::ops::Sub for HalfTurns {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl std::iter::Sum for HalfTurns {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::ZERO, |sum, one| sum + one)
    }
}

/// With its sign and its noun: `+1 half-turn`, `-0.64 half-turns`.
impl fmt::Display for HalfTurns {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plural = if self.0.abs() == 1.0 { "" } else { "s" };
        write!(f, "{:+} half-turn{plural}", self.0)
    }
}

/// A whole number stands in a document as it did when there were no others.
impl Serialize for HalfTurns {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let whole = self.0 as i64;
        if whole as f64 == self.0 { serializer.serialize_i64(whole) } else { serializer.serialize_f64(self.0) }
    }
}

impl<'de> Deserialize<'de> for HalfTurns {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        f64::deserialize(deserializer).map(Self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_numbers_are_written_as_ever_and_fractions_as_they_are() {
        for (half_turns, text, json) in [
            (1.0, "+1 half-turn", "1"),
            (-1.0, "-1 half-turn", "-1"),
            (-2.0, "-2 half-turns", "-2"),
            (0.64, "+0.64 half-turns", "0.64"),
            (-1.5, "-1.5 half-turns", "-1.5"),
        ] {
            let turned = HalfTurns::new(half_turns);
            assert_eq!(turned.to_string(), text);
            assert_eq!(serde_json::to_string(&turned).unwrap(), json);
            assert_eq!(serde_json::from_str::<HalfTurns>(json).unwrap(), turned);
        }
        assert_eq!((-HalfTurns::ZERO).to_string(), "+0 half-turns");
    }

    #[test]
    fn a_seat_takes_multiples_of_itself_alone() {
        for (half_turns, seat, fits) in
            [(2.0, 1, true), (2.0, 2, true), (3.0, 2, false), (0.5, 1, false), (-4.0, 2, true)]
        {
            assert_eq!(HalfTurns::new(half_turns).is_multiple_of(seat), fits, "{half_turns} in {seat}");
        }
    }
}
