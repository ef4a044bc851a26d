//! The sheet as plain text, for mail.

use super::SetupSheet;
use std::fmt;

impl fmt::Display for SetupSheet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "SETUP SHEET NO. {}  {}\n", self.number, self.head)?;
        self.facts.iter().try_for_each(|(name, value)| writeln!(f, "  {name:<12} {value}"))?;
        writeln!(f, "\n  {:<16}  {:<17}  {:<14}  verdict", "cell", "value", "wanted")?;
        for row in &self.rows {
            let value = if row.value.is_empty() { "-" } else { &row.value };
            writeln!(f, "{} {:<16}  {value:<17}  {:<14}  {}", row.mark, row.cell, row.target, row.verdict)?;
        }
        writeln!(f, "\n{}", self.outcome)?;
        let notes: Vec<String> = self.rows.iter().flat_map(super::Row::named_notes).collect();
        section(f, "Notes", &notes)?;
        section(f, "One way against the other", &self.symmetry)?;
        section(f, "Moved once more", &self.once_more)?;
        section(f, "Turned and set", &self.turned)?;
        section(f, "Not measured", &self.not_measured)?;
        writeln!(f, "\nFOR THE PILOT")?;
        let card = &self.card;
        let against = card.against.map_or_else(String::new, |number| format!(" since setup {number}"));
        let mut changed = card.changed.clone();
        if changed.is_empty() && card.against.is_some() {
            changed.push("nothing beyond its uncertainty".to_owned());
        }
        changed.extend(card.suggests.iter().cloned());
        section(f, &format!("Changed{against}"), &changed)?;
        section(f, "Not as it should be", &card.outside)?;
        section(f, "Undecided", &card.undecided)?;
        section(f, "Bound", &card.bound)?;
        section(f, "Moved once more, otherwise than recorded", &card.moved)?;
        section(f, "Not known", &card.unknown)?;
        let checks: Vec<String> = card.first_flight.iter().map(|line| format!("[ ] {line}")).collect();
        section(f, "Before and on the first flight", &checks)?;
        writeln!(f, "\n{}", self.no_certificate)
    }
}

fn section(f: &mut fmt::Formatter<'_>, title: &str, lines: &[String]) -> fmt::Result {
    if lines.is_empty() {
        return Ok(());
    }
    writeln!(f, "\n{title}")?;
    lines.iter().try_for_each(|line| writeln!(f, "  {line}"))
}
