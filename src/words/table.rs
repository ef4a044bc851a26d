//! The one table of the record: its rows for `check`, `watch` and the sheet, and the whole record as text for a terminal.

use super::one_line;
use super::{Face, Say, record, with_uncertainty};
use clinoblade_record::{Cell, CellName, LimitRecord};
use clinoblade_units::Angle;
use serde::Serialize;

/// One row: a cell, its value, what is wanted of it, and the verdict.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Row {
    /// The cell's name.
    pub cell: String,
    /// Its value with U, empty where there is none.
    pub value: String,
    /// What is wanted.
    pub target: String,
    /// The verdict in one word.
    pub verdict: String,
    /// Its mark.
    pub mark: char,
}

/// What stands above the rows.
#[must_use]
pub fn heading() -> String {
    format!("  {:<15}  {:<17}  {:<14}  verdict", "cell", "value", "wanted")
}

impl Row {
    /// The row of a cell of the record.
    #[must_use]
    pub fn of(cell: &Cell) -> Self {
        let value = cell.judged();
        Self::new(&cell.name.to_string(), value, &wanted(cell), cell.verdict.word(), cell.verdict.mark())
    }

    /// A row of these figures, the value with its U.
    #[must_use]
    pub fn new(cell: &str, value: Option<(Angle, Angle)>, target: &str, verdict: &str, mark: char) -> Self {
        Self {
            cell: cell.to_owned(),
            value: value.map_or_else(String::new, |(angle, expanded)| with_uncertainty(angle, expanded)),
            target: target.to_owned(),
            verdict: verdict.to_owned(),
            mark,
        }
    }

    /// The row in columns, without a line break.
    #[must_use]
    pub fn line(&self) -> String {
        let value = if self.value.is_empty() { "-" } else { &self.value };
        format!("{} {:<15}  {value:<17}  {:<14}  {}", self.mark, self.cell, self.target, self.verdict)
    }
}

/// What is wanted of a cell, with its unit.
#[must_use]
pub fn wanted(cell: &Cell) -> String {
    // What a corner is held against is known only once its parts were read.
    if matches!((cell.name, &cell.value), (CellName::Corner(_), None)) {
        return "sum of parts".to_owned();
    }
    super::wanted(cell.target)
}

/// Title of what is to be turned.
pub const TO_TURN: &str = "To turn";

/// A title with its lines, each indented; nothing where there are none.
#[must_use]
pub fn section(title: &str, lines: &[String]) -> String {
    match lines {
        [] => String::new(),
        lines => format!("\n{title}\n{}", lines.iter().map(|line| format!("  {line}\n")).collect::<String>()),
    }
}

/// The whole record as text: the table, and below it what it means and what to do.
#[must_use]
pub fn text(limits: &LimitRecord, face: Face) -> String {
    let rows: String = limits.cells.iter().map(|cell| Row::of(cell).line() + "\n").collect();
    let each = |of: &dyn Fn(&Cell) -> Vec<String>| limits.cells.iter().flat_map(of).collect::<Vec<_>>();
    let mut remarks = each(&|cell| record::consequence(cell, face).into_iter().collect());
    remarks
        .extend(each(&|cell| record::remarks(cell).iter().map(|remark| format!("{}: {remark}", cell.name)).collect()));
    let questions = limits.questions().map(|(_, question)| question.say(face)).collect::<Vec<_>>();
    let sections = [
        ("Symmetry", limits.asymmetries.iter().map(|asymmetry| asymmetry.say(face)).collect()),
        ("Sweep", limits.swept.iter().map(|end| end.say(face)).collect()),
        ("Questions", questions),
        ("Remarks", remarks),
        ("To measure", record::to_measure(limits, face)),
    ];
    let sections: String = sections.iter().map(|(title, lines): &(&str, Vec<String>)| section(title, lines)).collect();
    format!(
        "Limit record of {}\n\n{}\n{rows}{sections}\n{}\n",
        one_line(&limits.head),
        heading(),
        record::outcome(limits)
    )
}
