//! A cell's name read back from the text that stands for it.

use super::cell::CellName;
use crate::rotor::{Axis, BladeName, Deflection};
use crate::units::LAST_BLADE;
use std::str::FromStr;

/// Every form in which a cell's name is written.
pub(super) fn pattern() -> String {
    let blade = format!("[A-{LAST_BLADE}]");
    let axes = Axis::ALL.map(|axis| format!("{axis} ({})", axis.directions()));
    format!(
        "^(blade {blade} (zero|slop|spindle)|(track|droop) {blade} - A|swash level|cable|tail (neutral|split)|{})$",
        axes.join("|")
    )
}

/// No cell is called so.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no cell: {0}")]
pub struct CellNameError(pub String);

impl FromStr for CellName {
    type Err = CellNameError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let blade = |letter: &str| letter.parse::<BladeName>().ok();
        let name = match words.as_slice() {
            ["blade", letter, "zero"] => blade(letter).map(Self::Zero),
            ["blade", letter, "slop"] => blade(letter).map(Self::Slop),
            ["blade", letter, "spindle"] => blade(letter).map(Self::Spindle),
            ["track", letter, "-", "A"] => blade(letter).map(Self::Track),
            ["droop", letter, "-", "A"] => blade(letter).map(Self::Droop),
            ["swash", "level"] => Some(Self::SwashLevel),
            ["cable"] => Some(Self::Cable),
            ["tail", "neutral"] => Some(Self::TailNeutral),
            ["tail", "split"] => Some(Self::TailSplit),
            _ => text.parse().ok().map(|deflection| match deflection {
                Deflection::Corner(corner) => Self::Corner(corner),
                end => Self::Limit(end),
            }),
        };
        name.ok_or_else(|| CellNameError(text.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_is_read_as_it_is_written() {
        for text in [
            "blade A zero",
            "blade C slop",
            "blade B spindle",
            "track B - A",
            "droop C - A",
            "cable",
            "tail neutral",
            "tail split",
            "swash level",
            "elevator up",
            "collective 25%",
            "corner high up-right",
        ] {
            assert_eq!(text.parse::<CellName>().map(|name| name.to_string()).as_deref(), Ok(text));
        }
        for wrong in ["", "blade Z zero", "track B", "elevator left"] {
            assert_eq!(wrong.parse::<CellName>(), Err(CellNameError(wrong.to_owned())));
        }
    }
}
