//! The setup sheet: everything that is handed over with a model, as a page to print, as plain text, and as a document.

mod card;
mod facts;
mod paper;
mod text;

use super::pictures;
use crate::record::{
    Adjustment, Advised, Cell, CellName, CollectiveSurvey, Entry, Event, LimitRecord, RotorSurvey, Setup, Verdict,
    adjustments, remedy,
};
use crate::rotor::Axis;
use crate::words::{Face, Say};
use askama::Template;
pub use card::Card;
use paper::Paper;
use serde::Serialize;

/// Fewer places round the turn make no picture.
const FEWEST_STATIONS: usize = 3;

/// What stands on every sheet.
const NO_CERTIFICATE: &str = "This sheet says what was measured. It certifies nothing: the model's own manual, the \
controller's manual and the national rules override every number on it.";

/// One line of the record.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// The cell.
    pub cell: String,
    /// Its value with U, empty where there is none.
    pub value: String,
    /// What is wanted.
    pub target: String,
    /// The verdict in one word.
    pub verdict: String,
    /// Its mark.
    pub mark: char,
    /// What it means, what to know, what to turn.
    pub notes: Vec<String>,
}

impl Row {
    /// Its notes, each with the cell's name in it.
    fn named_notes(&self) -> Vec<String> {
        let named = |note: &String| match note.starts_with(&self.cell) {
            true => note.clone(),
            false => format!("{}: {note}", self.cell),
        };
        self.notes.iter().map(named).collect()
    }
}

/// The sheet of one setup.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetupSheet {
    /// The head's name.
    pub head: String,
    /// The setup's number.
    pub number: u32,
    /// What is known of it: name and value.
    pub facts: Vec<(&'static str, String)>,
    /// Every cell of the record.
    pub rows: Vec<Row>,
    /// The whole in one sentence.
    pub outcome: String,
    /// One direction against the other.
    pub symmetry: Vec<String>,
    /// What every direction reached when it was moved once more.
    pub once_more: Vec<String>,
    /// What was turned and set, in order, and whether it had been advised.
    pub turned: Vec<String>,
    /// What was not measured, and what was left out and why.
    pub not_measured: Vec<String>,
    /// Questions that readings have left open.
    pub questions: Vec<String>,
    /// Pictures as SVG.
    pub pictures: Vec<String>,
    /// What the pilot takes along.
    pub card: Card,
    /// What the sheet is not.
    pub no_certificate: &'static str,
}

impl SetupSheet {
    /// The sheet of a setup; `before` is the setup with which it is compared, and its record.
    #[must_use]
    pub fn new(setup: &Setup, entries: &[Entry], before: Option<(&Setup, &LimitRecord)>) -> Self {
        let record = LimitRecord::new(&setup.head, entries);
        Self {
            head: setup.head.name.clone(),
            number: setup.number,
            facts: facts::facts(setup, entries),
            rows: record.cells.iter().map(|cell| row(setup, entries, &record, cell)).collect(),
            outcome: record.outcome(),
            symmetry: record.asymmetries.iter().map(|a| words(&a.to_string())).collect(),
            once_more: record.swept.iter().map(ToString::to_string).collect(),
            turned: turned(setup, entries),
            not_measured: not_measured(&record, entries),
            questions: record.questions().map(str::to_owned).collect(),
            pictures: drawn(setup, entries),
            card: Card::new(setup, entries, &record, before),
            no_certificate: NO_CERTIFICATE,
        }
    }

    /// The page: one self-contained HTML document.
    ///
    /// # Errors
    /// Never in fact: the template asks for nothing that can fail.
    pub fn html(&self) -> Result<String, askama::Error> {
        Page::new(Paper::new(self)).render()
    }
}

/// The sheet as a page.
#[derive(Template)]
#[template(path = "setup_sheet.html", config = "askama.toml")]
struct Page {
    sheet: SetupSheet,
    columns: Vec<Vec<Row>>,
    to_know: Vec<String>,
    long: bool,
}

impl Page {
    fn new(paper: Paper) -> Self {
        let long = paper.is_long();
        let Paper { sheet, columns, to_know } = paper;
        Self { sheet, columns, to_know, long }
    }
}

/// A table's padding taken out.
fn words(line: &str) -> String {
    line.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn row(setup: &Setup, entries: &[Entry], record: &LimitRecord, cell: &Cell) -> Row {
    let mut notes: Vec<String> = Vec::new();
    notes.extend(cell.question.clone());
    notes.extend(Some(cell.consequence.clone()).filter(|text| !text.is_empty() && cell.question.is_none()));
    notes.extend(remedy(&setup.head, entries, record, cell).map(|advice| advice.say(Face::Paper)));
    notes.extend(cell.remarks.iter().cloned());
    Row {
        cell: cell.name.to_string(),
        value: cell.value.as_ref().map_or_else(String::new, ToString::to_string),
        target: format!("{}°", cell.target),
        verdict: cell.verdict.word().to_owned(),
        mark: cell.verdict.mark(),
        notes,
    }
}

fn turned(setup: &Setup, entries: &[Entry]) -> Vec<String> {
    let told = |(adjustment, note, advised): (Adjustment, Option<String>, Option<Advised>)| {
        let note = note.map_or_else(String::new, |note| format!(" ({note})"));
        let advised = advised.map_or_else(String::new, |advised| format!(", {}", advised.say(Face::Paper)));
        format!("{adjustment}{advised}{note}")
    };
    adjustments(&setup.head, entries).into_iter().map(told).collect()
}

/// What nobody owes a record, and is told where it was not measured.
const BESIDES: [&str; 4] = ["corners", "lost motion", "bend of the spindle", "pull of the cable"];

const fn besides(name: CellName) -> Option<&'static str> {
    match name {
        CellName::Corner(_) => Some(BESIDES[0]),
        CellName::Slop(_) => Some(BESIDES[1]),
        CellName::Spindle(_) => Some(BESIDES[2]),
        CellName::Cable => Some(BESIDES[3]),
        CellName::Zero(_) | CellName::Track(_) | CellName::Limit(_) => None,
    }
}

fn not_measured(record: &LimitRecord, entries: &[Entry]) -> Vec<String> {
    let reason = |end| {
        entries.iter().rev().find_map(|entry| match &entry.event {
            Event::Skipped { deflection, reason } if *deflection == end => Some(reason),
            _ => None,
        })
    };
    let owed = record.cells.iter().filter(|cell| cell.is_owed() && !cell.verdict.is_captured());
    let owed = owed.map(|cell| match (&cell.verdict, cell.name) {
        (Verdict::Stale { .. }, name) => format!("{name} (before something was turned)"),
        (_, CellName::Limit(end)) => {
            reason(end).map_or_else(|| end.to_string(), |reason| format!("{end}, left out: {reason}"))
        }
        (_, name) => name.to_string(),
    });
    let filled: Vec<&str> =
        record.cells.iter().filter(|cell| cell.value.is_some()).filter_map(|cell| besides(cell.name)).collect();
    let besides = BESIDES.iter().filter(|what| !filled.contains(what)).map(|what| (*what).to_owned());
    owed.chain(besides).chain(not_once_more(record)).collect()
}

/// The axes that were not moved to their ends once more after the limits were set.
fn not_once_more(record: &LimitRecord) -> Option<String> {
    let moved = |axis: &Axis| record.swept.iter().any(|end| end.deflection.axis() == *axis);
    let still: Vec<String> = [Axis::Elevator, Axis::Aileron, Axis::Rudder]
        .iter()
        .filter(|axis| !moved(axis))
        .map(ToString::to_string)
        .collect();
    (!still.is_empty()).then(|| format!("everything moved once more: {}", still.join(", ")))
}

/// At how many places round the turn the blades were read.
fn stations(survey: &RotorSurvey) -> usize {
    let mut places: Vec<i64> =
        survey.readings.iter().map(|reading| f64::from(reading.station).round() as i64).collect();
    places.sort_unstable();
    places.dedup();
    places.len()
}

fn drawn(setup: &Setup, entries: &[Entry]) -> Vec<String> {
    let head = &setup.head;
    let round = RotorSurvey::new(head, entries, None).ok().filter(|survey| stations(survey) >= FEWEST_STATIONS);
    let round = round.map(|s| pictures::azimuth(&s.readings, &s.solution, |blade| blade.to_string()).svg());
    let collective = CollectiveSurvey::new(head, entries, None).ok().map(|s| pictures::collective(&s, head).svg());
    round.into_iter().chain(collective).collect()
}
