//! Which blade carries a sensor of its own, where several sensors are read at one bench.

use super::datum::Spot;
use super::place::{BladeName, PlaceError};
use crate::units::{LAST_BLADE, as_text};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A blade that carries a sensor of its own: a main blade by its letter, or the tail.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "String", into = "String")]
#[schemars(extend("pattern" = format!("^([A-{LAST_BLADE}]|tail)$")))]
pub enum Carrier {
    /// This main blade.
    Main(BladeName),
    /// A tail blade.
    Tail,
}

impl Carrier {
    /// The one that a sensor for this place sits on.
    #[must_use]
    pub const fn of(blade: BladeName, spot: Spot) -> Self {
        match spot {
            Spot::Main(_) => Self::Main(blade),
            Spot::Tail(_) => Self::Tail,
        }
    }

    /// As it is said to a person: "blade A", "the tail".
    #[must_use]
    pub fn said(self) -> String {
        match self {
            Self::Main(blade) => format!("blade {blade}"),
            Self::Tail => "the tail".to_owned(),
        }
    }
}

impl fmt::Display for Carrier {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Main(blade) => write!(f, "{blade}"),
            Self::Tail => f.write_str("tail"),
        }
    }
}

impl FromStr for Carrier {
    type Err = PlaceError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if text.trim().eq_ignore_ascii_case("tail") { Ok(Self::Tail) } else { text.parse().map(Self::Main) }
    }
}

as_text!(Carrier);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_carrier_is_a_blades_letter_or_the_tail() {
        for text in ["A", "B", "E", "tail"] {
            assert_eq!(text.parse::<Carrier>().unwrap().to_string(), text);
        }
        assert_eq!("b".parse::<Carrier>(), Ok(Carrier::Main(BladeName::from_index(1).unwrap())));
        for wrong in ["", "AB", "tails", "9"] {
            assert!(wrong.parse::<Carrier>().is_err(), "{wrong}");
        }
    }
}
