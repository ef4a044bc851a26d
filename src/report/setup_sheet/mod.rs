//! The setup sheet: everything that is handed over with a model, as a page to print, as plain text, and as a document.

mod card;
mod paper;
mod text;

use super::pictures;
use crate::record::{
    Adjustment, Advice, Advised, Cell, CollectiveSurvey, Entry, LimitRecord, RotorSurvey, Setup, Verdict, adjustments,
    remedy,
};
use crate::words::workshop::sheet_bar;
use crate::words::{self, Face, Say, sheet, table};
use askama::Template;
pub use card::Card;
use paper::Paper;
use serde::Serialize;

/// Fewer places round the turn make no picture.
const FEWEST_STATIONS: usize = 3;

/// One line of the record.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Cell, value, what is wanted, verdict.
    #[serde(flatten)]
    pub line: table::Row,
    /// What it means, what to know, what to turn.
    pub notes: Vec<String>,
    /// The same, each with the cell's name in it.
    #[serde(skip)]
    named_notes: Vec<String>,
    #[serde(skip)]
    verdict: Verdict,
}

impl Row {
    fn new(setup: &Setup, entries: &[Entry], record: &LimitRecord, cell: &Cell) -> Self {
        let name = cell.name;
        let question = cell.question.as_ref().map(|question| question.say(Face::Paper));
        let consequence = words::record::consequence(cell, Face::Paper).filter(|_| question.is_none());
        let (mut notes, mut named_notes): (Vec<String>, Vec<String>) =
            question.into_iter().chain(consequence).map(|said| (said.clone(), said)).unzip();
        let remedy = remedy(&setup.head, entries, record, cell).map(|remedy| {
            // It begins with the name of its axis.
            let is_named = matches!(remedy, Advice::Balance(_));
            (remedy.say(Face::Paper), is_named)
        });
        for (note, is_named) in
            remedy.into_iter().chain(words::record::remarks(cell).into_iter().map(|note| (note, false)))
        {
            named_notes.push(if is_named { note.clone() } else { format!("{name}: {note}") });
            notes.push(note);
        }
        Self { line: table::Row::of(cell), notes, named_notes, verdict: cell.verdict.clone() }
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
            facts: sheet::facts(setup, entries),
            rows: record.cells.iter().map(|cell| Row::new(setup, entries, &record, cell)).collect(),
            outcome: words::record::outcome(&record),
            symmetry: record.asymmetries.iter().map(|a| a.say(Face::Paper)).collect(),
            once_more: record.swept.iter().map(|end| end.say(Face::Paper)).collect(),
            turned: turned(setup, entries),
            not_measured: sheet::not_measured(&record),
            questions: record.questions().map(|(_, question)| question.say(Face::Paper)).collect(),
            pictures: drawn(setup, entries),
            card: Card::new(setup, &record, before),
            no_certificate: sheet::NO_CERTIFICATE,
        }
    }

    /// The page: one self-contained HTML document.
    ///
    /// # Errors
    /// Never in fact: the template asks for nothing that can fail.
    pub fn html(&self) -> Result<String, askama::Error> {
        Page::new(Paper::new(self), None).render()
    }

    /// The same with a bar above it, which is not printed.
    ///
    /// # Errors
    /// Never in fact, as [`Self::html`].
    pub fn with_bar(&self, bar: Bar) -> Result<String, askama::Error> {
        Page::new(Paper::new(self), Some(bar)).render()
    }
}

/// What stands above a sheet on the screen.
#[derive(Debug, Clone)]
pub struct Bar {
    /// The setup's number.
    pub number: u32,
    /// The verdict in a headline.
    pub verdict: String,
    /// What is left to do.
    pub todo: Option<String>,
    /// Whether the setup is closed.
    pub closed: bool,
    /// Whether the pilot's card is shown alone.
    pub card: bool,
    /// Whether it is printed on US Letter and not on A4.
    pub letter: bool,
}

/// The sheet as a page.
#[derive(Template)]
#[template(path = "setup_sheet.html", config = "askama.toml")]
struct Page {
    sheet: SetupSheet,
    columns: Vec<Vec<Row>>,
    to_know: Vec<String>,
    long: bool,
    bar: Option<Bar>,
}

impl Page {
    fn new(paper: Paper, bar: Option<Bar>) -> Self {
        let long = paper.is_long();
        let Paper { sheet, columns, to_know } = paper;
        Self { sheet, columns, to_know, long, bar }
    }
}

fn turned(setup: &Setup, entries: &[Entry]) -> Vec<String> {
    let told = |(adjustment, note, advised): (Adjustment, Option<String>, Option<Advised>)| {
        sheet::turned(&adjustment, note.as_deref(), advised.as_ref())
    };
    adjustments(&setup.head, entries).into_iter().map(told).collect()
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
