//! The sheet as plain text, for mail.

use super::SetupSheet;
use crate::words::table::{self, section};
use crate::words::{one_line, sheet};
use std::fmt;

impl fmt::Display for SetupSheet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "SETUP SHEET NO. {}  {}\n", self.number, one_line(&self.head))?;
        self.facts.iter().try_for_each(|(name, value)| writeln!(f, "  {name:<12} {value}"))?;
        writeln!(f, "\n{}", table::heading())?;
        self.rows.iter().try_for_each(|row| writeln!(f, "{}", row.line.line()))?;
        writeln!(f, "\n{}", self.outcome)?;
        let notes: Vec<String> = self.rows.iter().flat_map(|row| row.named_notes.clone()).collect();
        f.write_str(&section("Notes", &notes))?;
        f.write_str(&section("Symmetry", &self.symmetry))?;
        f.write_str(&section("Sweep", &self.once_more))?;
        f.write_str(&section("Turned and set", &self.turned))?;
        f.write_str(&section("Not measured", &self.not_measured))?;
        writeln!(f, "\nFOR THE PILOT")?;
        let card = &self.card;
        let against = card.against.map_or_else(String::new, |number| format!(" since setup {number}"));
        let mut changed = card.changed.clone();
        changed.extend(card.unchanged.map(ToOwned::to_owned));
        changed.extend(card.suggests.iter().cloned());
        f.write_str(&section(&format!("Changed{against}"), &changed))?;
        f.write_str(&section("Not as wanted", &card.outside))?;
        f.write_str(&section("Undecided", &card.undecided))?;
        f.write_str(&section("Bound", &card.bound))?;
        f.write_str(&section(sheet::SWEPT_OTHERWISE, &card.moved))?;
        f.write_str(&section("Not known", &card.unknown))?;
        let checks: Vec<String> = card.first_flight.iter().map(|line| format!("[ ] {line}")).collect();
        f.write_str(&section(sheet::BEFORE_FLIGHT, &checks))?;
        writeln!(f, "\n{}", self.no_certificate)
    }
}
