//! The setup sheet: everything that is handed over with a model, as a page to print, as plain text, and as a document.

use super::pictures;
use crate::record::{
    Blades, Cell, CellName, CollectiveSurvey, Comparison, Entry, Event, LimitRecord, LinkSurvey, RotorSurvey, Setup,
    Verdict, remedy,
};
use askama::Template;
use jiff::Timestamp;
use serde::Serialize;
use std::fmt;

/// Fewer readings round the turn make no picture.
const FEWEST_READINGS: usize = 3;

/// What the pilot does before and on the first flight. (Common practice, no source.)
const FIRST_FLIGHT: [&str; 7] = [
    "Clip and cable are off the model; every link that was turned is snapped on and moves freely.",
    "The stabilising controller is out of its setup mode, and its own limits are as it was told.",
    "Motor still disconnected: every stick once more, each surface the right way, nothing buzzing at an end.",
    "The tail answers a turn by hand the right way.",
    "Blade bolts, main and tail, as the model's manual says; nothing in the disc, nobody in its plane.",
    "First run-up short and at a distance: vibration or a split in the blades' track ends it.",
    "After the first flight: links, bolts and temperatures, then the record is compared.",
];

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

/// What the pilot takes along.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Card {
    /// Against which setup it is.
    pub against: Option<u32>,
    /// What has changed since.
    pub changed: Vec<String>,
    /// Cells that nobody can decide yet, with what would.
    pub undecided: Vec<String>,
    /// Cells that a bind limits.
    pub bound: Vec<String>,
    /// What to look at before and on the first flight.
    pub first_flight: Vec<&'static str>,
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
    /// What was turned and set, in order.
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
    /// The sheet of a setup; `before` is the setup of the same head with which it is compared.
    #[must_use]
    pub fn new(setup: &Setup, entries: &[Entry], before: Option<(u32, &LimitRecord)>) -> Self {
        let record = LimitRecord::new(&setup.head, entries);
        Self {
            head: setup.head.name.clone(),
            number: setup.number,
            facts: facts(setup, entries),
            rows: record.cells.iter().map(|cell| row(setup, entries, &record, cell)).collect(),
            outcome: record.outcome(),
            symmetry: record.asymmetries.iter().map(|a| words(&a.to_string())).collect(),
            once_more: record.swept.iter().map(ToString::to_string).collect(),
            turned: turned(entries),
            not_measured: not_measured(&record, entries),
            questions: record.questions().map(str::to_owned).collect(),
            pictures: drawn(setup, entries),
            card: card(setup, &record, before),
            no_certificate: NO_CERTIFICATE,
        }
    }

    /// The page: one self-contained HTML document.
    ///
    /// # Errors
    /// Never in fact: the template asks for nothing that can fail.
    pub fn html(&self) -> Result<String, askama::Error> {
        Page { sheet: self }.render()
    }
}

/// The sheet as a page.
#[derive(Template)]
#[template(path = "setup_sheet.html", config = "src/report/askama.toml")]
struct Page<'a> {
    sheet: &'a SetupSheet,
}

fn day(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M UTC").to_string()
}

/// A table's padding taken out.
fn words(line: &str) -> String {
    line.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn facts(setup: &Setup, entries: &[Entry]) -> Vec<(&'static str, String)> {
    let head = &setup.head;
    let said = |text: &Option<String>| text.clone().unwrap_or_default();
    let facts = [
        ("setup", format!("no. {}", setup.number)),
        ("begun", day(setup.started_at)),
        ("closed", setup.closed_at.map(day).unwrap_or_default()),
        ("reason", setup.reason.clone()),
        ("measured by", said(&setup.measured_by)),
        ("checked by", said(&setup.checked_by)),
        ("rotor", format!("{} blades, {} seen from above", head.blades.get(), head.rotation)),
        (
            "blades",
            if setup.blades == Blades::On { "on".to_owned() } else { "off: the clip sat on the grips".to_owned() },
        ),
        ("workshop", setup.temperature.map(|t| format!("{:.1} °C", t.value())).unwrap_or_default()),
        ("sensor", sensors(entries)),
        ("zero", datums(entries)),
        ("a half-turn", half_turn(setup, entries)),
        (
            "cautions",
            setup
                .cautions_acknowledged_at
                .map_or_else(|| "not acknowledged".to_owned(), |at| format!("acknowledged {}", day(at))),
        ),
    ];
    facts.into_iter().filter(|(_, value)| !value.is_empty()).collect()
}

/// Each of these once, in order.
fn each_once(words: impl Iterator<Item = String>) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for word in words {
        if !all.contains(&word) {
            all.push(word);
        }
    }
    all
}

fn sensors(entries: &[Entry]) -> String {
    let used = entries.iter().filter_map(|entry| match &entry.event {
        Event::Capture(capture) => {
            let sensor = &capture.sensor;
            let calibrated = sensor
                .calibration
                .as_ref()
                .map_or_else(|| "not calibrated".to_owned(), |name| format!("calibration {name}"));
            Some(format!("{}, {calibrated}", sensor.profile))
        }
        _ => None,
    });
    each_once(used).join("; ")
}

fn datums(entries: &[Entry]) -> String {
    let used = entries.iter().filter_map(|entry| match &entry.event {
        Event::Capture(capture) => Some(capture.datum.kind().to_owned()),
        _ => None,
    });
    each_once(used).join(", then ")
}

/// What a half-turn of a link was seen to do.
fn half_turn(setup: &Setup, entries: &[Entry]) -> String {
    let measured = LinkSurvey::new(&setup.head, entries, None, None).ok().and_then(|survey| survey.geometry.measured);
    measured
        .map_or_else(String::new, |m| format!("{:.2}° ± {:.2}°, as measured", m.raises.degrees(), 2.0 * m.u.degrees()))
}

fn row(setup: &Setup, entries: &[Entry], record: &LimitRecord, cell: &Cell) -> Row {
    let mut notes: Vec<String> = Vec::new();
    notes.extend(cell.question.clone());
    notes.extend(Some(cell.consequence.clone()).filter(|text| !text.is_empty() && cell.question.is_none()));
    notes.extend(remedy(&setup.head, entries, record, cell));
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

fn turned(entries: &[Entry]) -> Vec<String> {
    let told = |entry: &Entry| match &entry.event {
        Event::Adjustment { adjustment, note } => {
            let note = note.as_ref().map_or_else(String::new, |note| format!(" ({note})"));
            Some(format!("{adjustment}{note}"))
        }
        _ => None,
    };
    entries.iter().filter_map(told).collect()
}

fn not_measured(record: &LimitRecord, entries: &[Entry]) -> Vec<String> {
    let missing = record.cells.iter().filter(|cell| cell.is_owed() && !cell.verdict.is_captured());
    let missing = missing.map(|cell| match cell.verdict {
        Verdict::Stale { .. } => format!("{} (measured before something was turned)", cell.name),
        _ => cell.name.to_string(),
    });
    let has = |end| record.cell(CellName::Limit(end)).is_some_and(|cell| cell.verdict.is_captured());
    let left_out = entries.iter().filter_map(|entry| match &entry.event {
        Event::Skipped { deflection, reason } if !has(*deflection) => Some(format!("{deflection}, left out: {reason}")),
        _ => None,
    });
    missing.chain(left_out).collect()
}

fn drawn(setup: &Setup, entries: &[Entry]) -> Vec<String> {
    let head = &setup.head;
    let round = RotorSurvey::new(head, entries, None).ok().filter(|survey| survey.readings.len() >= FEWEST_READINGS);
    let round = round.map(|s| pictures::azimuth(&s.readings, &s.solution, |blade| blade.to_string()).svg());
    let collective = CollectiveSurvey::new(head, entries, None).ok().map(|s| pictures::collective(&s, head).svg());
    round.into_iter().chain(collective).collect()
}

fn card(setup: &Setup, record: &LimitRecord, before: Option<(u32, &LimitRecord)>) -> Card {
    let comparison = before.map(|(_, before)| Comparison::new(before, record, &setup.head));
    let changed = comparison.iter().flat_map(|comparison| {
        let cells = comparison.changed().filter_map(|cell| {
            let (d, u) = (cell.difference?, cell.expanded?);
            Some(format!("{}: {d} ± {:.2}°, now {}", cell.cell, u.degrees(), cell.second?))
        });
        cells.chain(comparison.suggests.iter().cloned()).collect::<Vec<_>>()
    });
    let of = |wanted: fn(&Verdict) -> bool| record.cells.iter().filter(move |cell| wanted(&cell.verdict));
    Card {
        against: before.map(|(number, _)| number),
        changed: changed.collect(),
        undecided: of(|v| matches!(v, Verdict::Undecided { .. })).map(|c| c.consequence.clone()).collect(),
        bound: of(|v| matches!(v, Verdict::Bound)).map(|c| format!("{}: do not raise its end point", c.name)).collect(),
        first_flight: FIRST_FLIGHT.to_vec(),
    }
}

impl fmt::Display for SetupSheet {
    /// The sheet as plain text, for mail.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "SETUP SHEET  {}\n", self.head)?;
        self.facts.iter().try_for_each(|(name, value)| writeln!(f, "  {name:<12} {value}"))?;
        writeln!(f, "\n  {:<16}  {:<17}  {:<12}  verdict", "cell", "value", "wanted")?;
        for row in &self.rows {
            let value = if row.value.is_empty() { "-" } else { &row.value };
            writeln!(f, "{} {:<16}  {value:<17}  {:<12}  {}", row.mark, row.cell, row.target, row.verdict)?;
        }
        writeln!(f, "\n{}", self.outcome)?;
        let named = |row: &Row, note: &String| match note.starts_with(&row.cell) {
            true => note.clone(),
            false => format!("{}: {note}", row.cell),
        };
        let notes = |row: &Row| row.notes.iter().map(|note| named(row, note)).collect::<Vec<_>>();
        let notes: Vec<String> = self.rows.iter().flat_map(notes).collect();
        section(f, "Notes", &notes)?;
        section(f, "One way against the other", &self.symmetry)?;
        section(f, "Moved once more", &self.once_more)?;
        section(f, "Turned and set", &self.turned)?;
        section(f, "Not measured", &self.not_measured)?;
        writeln!(f, "\nFOR THE PILOT")?;
        let against = self.card.against.map_or_else(String::new, |number| format!(" since setup {number}"));
        let nothing = [String::from("nothing beyond its uncertainty")];
        let changed = if self.card.changed.is_empty() && self.card.against.is_some() {
            &nothing
        } else {
            self.card.changed.as_slice()
        };
        section(f, &format!("Changed{against}"), changed)?;
        section(f, "Undecided", &self.card.undecided)?;
        section(f, "Bound", &self.card.bound)?;
        let checks: Vec<String> = self.card.first_flight.iter().map(|line| format!("[ ] {line}")).collect();
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
