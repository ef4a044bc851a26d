//! What the pilot takes along.

use crate::record::{Cell, CellName, Comparison, Entry, LimitRecord, Reach, Setup, SweptEnd, Verdict, left_out};
use crate::words::{Face, Say};
use serde::Serialize;

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

/// What the pilot takes along.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Card {
    /// Against which setup it is.
    pub against: Option<u32>,
    /// The cells that have changed since.
    pub changed: Vec<String>,
    /// What to know about the two setups, and what a pattern in the changes suggests.
    pub suggests: Vec<String>,
    /// Cells that are not as they should be.
    pub outside: Vec<String>,
    /// Cells that nobody can decide yet, with what would.
    pub undecided: Vec<String>,
    /// Cells that a bind limits.
    pub bound: Vec<String>,
    /// Directions that did not come to where they were recorded when everything was moved once more.
    pub moved: Vec<String>,
    /// Cells in which no value holds, with the reason of those that were left out.
    pub unknown: Vec<String>,
    /// What to look at before and on the first flight.
    pub first_flight: Vec<&'static str>,
}

/// A cell that is not as it should be: what it is, and what was asked.
fn outside(cell: &Cell) -> String {
    let value = cell.value.as_ref().map_or_else(String::new, |value| format!(" {value},"));
    format!("{}:{value} asked {}°", cell.name, cell.target)
}

/// A cell that nobody can decide yet: what is open about it, in no words of the program.
fn undecided(cell: &Cell) -> String {
    let open = match cell.name {
        CellName::Corner(_) => "short of the sum of its parts, and nobody has said whether it binds",
        _ if cell.question.is_some() => "it moved otherwise than expected, and nobody has answered for it",
        _ => "too uncertain to tell",
    };
    format!("{}: {open}", outside(cell))
}

/// A direction that did otherwise than recorded when it was moved once more.
fn moved(end: &SweptEnd) -> Option<String> {
    let SweptEnd { deflection, reached, recorded, .. } = end;
    let recorded = recorded.map_or_else(String::new, |recorded| format!(", recorded {recorded}"));
    if end.buzzes {
        return Some(format!("{deflection}: a servo buzzes at its end{recorded}"));
    }
    match end.reach {
        Reach::StandsStill => Some(format!("{deflection}: does not move{recorded}")),
        Reach::Short => Some(format!("{deflection}: reaches only {reached}{recorded}")),
        Reach::Beyond => Some(format!("{deflection}: goes on to {reached}{recorded}")),
        Reach::AsRecorded | Reach::NotRecorded => None,
    }
}

/// A cell in which no value holds.
fn unknown(cell: &Cell, entries: &[Entry]) -> String {
    let reason = match cell.name {
        CellName::Limit(end) if cell.verdict == Verdict::Missing => left_out(entries, end),
        _ => None,
    };
    let reason = reason.map_or_else(String::new, |reason| format!(", left out: {reason}"));
    format!("{}: {}{reason}", cell.name, cell.verdict.word())
}

impl Card {
    pub(super) fn new(
        setup: &Setup,
        entries: &[Entry],
        record: &LimitRecord,
        before: Option<(&Setup, &LimitRecord)>,
    ) -> Self {
        let comparison = before.map(|before| Comparison::of_setups(before, (setup, record)));
        let changed = comparison.iter().flat_map(Comparison::changed).filter_map(|cell| {
            let (d, u) = (cell.difference?, cell.expanded?);
            Some(format!("{}: {d} ± {:.2}°, now {}", cell.cell, u.degrees(), cell.second?))
        });
        let of = |wanted: fn(&Cell) -> bool| record.cells.iter().filter(move |cell| wanted(cell));
        let not_held = of(|cell| cell.is_owed() && !cell.verdict.is_captured());
        Self {
            against: before.map(|(before, _)| before.number),
            changed: changed.collect(),
            suggests: comparison
                .iter()
                .flat_map(|comparison| {
                    let provisos = comparison.provisos.iter().map(|proviso| proviso.say(Face::Paper));
                    provisos.chain(comparison.patterns.iter().map(|pattern| pattern.say(Face::Paper)))
                })
                .collect(),
            outside: of(|cell| cell.verdict == Verdict::Outside).map(outside).collect(),
            undecided: of(|cell| matches!(cell.verdict, Verdict::Undecided { .. })).map(undecided).collect(),
            bound: of(|cell| matches!(cell.verdict, Verdict::Bound)).map(|cell| cell.consequence.clone()).collect(),
            moved: record.swept.iter().filter_map(moved).collect(),
            unknown: not_held.map(|cell| unknown(cell, entries)).collect(),
            first_flight: FIRST_FLIGHT.to_vec(),
        }
    }
}
