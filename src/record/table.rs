//! The limit record as text for a terminal: a table with marks and words, and below it what it means.

use super::cell::{Cell, Value};
use super::limits::{Asymmetry, LimitRecord};
use crate::rotor::Axis;
use crate::units::Angle;
use std::fmt;

impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} ± {:.2}°", self.angle, self.expanded.degrees()))
    }
}

impl fmt::Display for Asymmetry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (one, other) = match self.axis {
            Axis::Elevator => ("up", "down"),
            Axis::Collective => ("the high end", "the low end"),
            _ => ("left", "right"),
        };
        let further = match self.wanted {
            None => "under ceilings that differ".to_owned(),
            Some(_) if !self.significant => "as wanted, within the uncertainty".to_owned(),
            Some(wanted) => {
                let (far, near) = if self.difference > wanted { (one, other) } else { (other, one) };
                let asked = if wanted == Angle::ZERO { String::new() } else { format!(" ({wanted} is wanted)") };
                format!("{far} goes further than {near}{asked}")
            }
        };
        write!(f, "{:<15}  {} ± {:.2}°: {further}", self.axis, self.difference, self.expanded.degrees())
    }
}

fn row(cell: &Cell) -> String {
    let value = cell.value.as_ref().map_or_else(|| "-".to_owned(), ToString::to_string);
    format!("{} {:<15}  {value:<17}  {:<14}  {}", cell.verdict.mark(), cell.name, cell.target, cell.verdict.word())
}

fn section(f: &mut fmt::Formatter<'_>, title: &str, lines: &[String]) -> fmt::Result {
    if lines.is_empty() {
        return Ok(());
    }
    writeln!(f, "\n{title}")?;
    lines.iter().try_for_each(|line| writeln!(f, "  {line}"))
}

impl fmt::Display for LimitRecord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Limit record of {}\n", self.head)?;
        writeln!(f, "  {:<15}  {:<17}  {:<14}  verdict", "cell", "value", "wanted")?;
        self.cells.iter().try_for_each(|cell| writeln!(f, "{}", row(cell)))?;
        let lines = |of: &dyn Fn(&Cell) -> Vec<String>| self.cells.iter().flat_map(of).collect::<Vec<_>>();
        section(f, "One way against the other", &self.asymmetries.iter().map(ToString::to_string).collect::<Vec<_>>())?;
        section(f, "Moved once more", &self.swept.iter().map(ToString::to_string).collect::<Vec<_>>())?;
        section(f, "Questions", &lines(&|c| c.question.iter().cloned().collect()))?;
        section(
            f,
            "What this means",
            &lines(&|c| Some(&c.consequence).filter(|text| !text.is_empty()).into_iter().cloned().collect()),
        )?;
        section(f, "To know", &lines(&|c| c.remarks.iter().map(|r| format!("{}: {r}", c.name)).collect()))?;
        section(f, "To measure, in this order", &self.to_measure.iter().map(ToString::to_string).collect::<Vec<_>>())?;
        writeln!(f, "\n{}", self.outcome())
    }
}

impl LimitRecord {
    /// The whole in one sentence.
    #[must_use]
    pub fn outcome(&self) -> String {
        let good = self.cells.iter().filter(|c| c.verdict.is_good()).count();
        let captured = self.cells.iter().filter(|c| c.verdict.is_captured()).count();
        let all = self.cells.len();
        match (self.complete, self.good) {
            (_, true) => "Complete, and every cell is inside or bound. This measures; it certifies nothing.".to_owned(),
            (true, false) => format!("Complete, but only {good} of {all} cells are inside or bound."),
            (false, false) => {
                format!("Not complete: {captured} of {all} cells hold a valid value, {good} are inside or bound.")
            }
        }
    }
}
