//! What a value is wanted to be: a band about a target, or a ceiling.

use crate::units::{Angle, ParseAngleError, as_text};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// What is wanted, in degrees: a band about a target, written `0 ± 0.5`, or a ceiling, written `at most 12`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "String", into = "String")]
#[schemars(extend("pattern" = "^(at most [0-9]+(\\.[0-9]+)?|-?[0-9]+(\\.[0-9]+)? ± [0-9]+(\\.[0-9]+)?)$"))]
pub enum Target {
    /// Within `tolerance` of `target`.
    Band {
        /// The wanted value.
        target: Angle,
        /// How far from it is allowed; more than zero.
        tolerance: Angle,
    },
    /// No more than this.
    AtMost(Angle),
}

/// Why a text is no target.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TargetError {
    /// Neither of the two forms.
    #[error("no target: {0}")]
    Form(String),
    /// One of the numbers cannot be read.
    #[error("no target: {text}")]
    Number {
        /// The whole text.
        text: String,
        /// What is wrong with the number.
        source: ParseAngleError,
    },
    /// A tolerance of zero or less.
    #[error("no tolerance: {0}")]
    Tolerance(String),
    /// A ceiling of zero or less.
    #[error("no ceiling: {0}")]
    Ceiling(String),
    /// More than any blade can turn.
    #[error("target too large: {0}")]
    TooLarge(String),
}

/// The largest angle that is taken, with room for whoever wants no limit. A larger one would not be written as it was read.
const LARGEST_DEGREES: f64 = 1000.0;

impl Target {
    /// The value in the middle of what is wanted: the target, or the ceiling.
    #[must_use]
    pub const fn value(self) -> Angle {
        match self {
            Self::Band { target, .. } => target,
            Self::AtMost(ceiling) => ceiling,
        }
    }

    /// The tolerance, where there is one.
    #[must_use]
    pub const fn tolerance(self) -> Option<Angle> {
        match self {
            Self::Band { tolerance, .. } => Some(tolerance),
            Self::AtMost(_) => None,
        }
    }

    /// How far `value` is on the right side of the nearest limit; negative when it is past it.
    #[must_use]
    pub fn margin(self, value: Angle) -> Angle {
        match self {
            Self::Band { target, tolerance } => tolerance - (value - target).abs(),
            Self::AtMost(ceiling) => ceiling - value,
        }
    }
}

/// A band may be written `0 +- 0.5` too.
impl FromStr for Target {
    type Err = TargetError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let number = |part: &str| {
            let number: Angle = part.parse().map_err(|source| TargetError::Number { text: text.to_owned(), source })?;
            let means_something = number.abs().degrees() <= LARGEST_DEGREES;
            // As it is written, so it is meant.
            let written = Angle::from_degrees(number.degrees_to(6));
            if means_something { Ok(written) } else { Err(TargetError::TooLarge(text.to_owned())) }
        };
        let plain = text.trim().to_lowercase();
        if let Some(ceiling) = plain.strip_prefix("at most") {
            let ceiling = number(ceiling)?;
            return if ceiling > Angle::ZERO {
                Ok(Self::AtMost(ceiling))
            } else {
                Err(TargetError::Ceiling(text.to_owned()))
            };
        }
        let (target, tolerance) = ["±", "+-", "+/-"]
            .iter()
            .find_map(|sign| plain.split_once(sign))
            .ok_or_else(|| TargetError::Form(text.to_owned()))?;
        let (target, tolerance) = (number(target)?, number(tolerance)?);
        if tolerance > Angle::ZERO {
            Ok(Self::Band { target, tolerance })
        } else {
            Err(TargetError::Tolerance(text.to_owned()))
        }
    }
}

impl fmt::Display for Target {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Band { target, tolerance } => f.pad(&format!("{} ± {}", plain(*target), plain(*tolerance))),
            Self::AtMost(ceiling) => f.pad(&format!("at most {}", plain(*ceiling))),
        }
    }
}

/// Degrees as a person writes them: no more decimals than needed, at most six.
fn plain(angle: Angle) -> String {
    // Adding zero turns −0 into 0.
    (angle.degrees_to(6) + 0.0).to_string()
}

as_text!(Target);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn is_read_as_a_person_writes_it_and_written_the_same() {
        for (text, shown) in [
            ("0 ± 0.5", "0 ± 0.5"),
            ("0 +- 0.5", "0 ± 0.5"),
            ("-10+/-0.3", "-10 ± 0.3"),
            ("8° ± 0.25°", "8 ± 0.25"),
            ("at most 12", "at most 12"),
            ("At most 12.5°", "at most 12.5"),
        ] {
            let target: Target = text.parse().unwrap();
            assert_eq!(target.to_string(), shown);
            assert_eq!(shown.parse::<Target>().unwrap().to_string(), shown);
        }
    }

    #[test]
    fn what_cannot_be_decided_is_refused() {
        let error = |text: &str| text.parse::<Target>().unwrap_err();
        assert_eq!(error("12"), TargetError::Form("12".into()));
        for text in ["0 ± 0", "0 ± -1"] {
            assert_eq!(error(text), TargetError::Tolerance(text.into()));
        }
        assert_eq!(error("at most 0"), TargetError::Ceiling("at most 0".into()));
        for text in ["at most 1001", "2000 ± 1", "0 ± 18446744073709551616"] {
            assert_eq!(error(text), TargetError::TooLarge(text.into()));
        }
        assert!(matches!(error("x ± 1"), TargetError::Number { text, .. } if text == "x ± 1"));
    }
}
