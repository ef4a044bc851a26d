//! What the pilot takes along.

use crate::record::{Cell, Comparison, LimitRecord, Setup, Verdict};
use crate::words::{self, Face, Say, sheet};
use serde::Serialize;

/// What the pilot takes along.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Card {
    /// Against which setup it is.
    pub against: Option<u32>,
    /// The cells that have changed since.
    pub changed: Vec<String>,
    /// What stands in their place, where nothing has changed or nothing can be compared.
    pub unchanged: Option<&'static str>,
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
    /// Cells in which no value holds, with the note of those that were left out.
    pub unknown: Vec<String>,
    /// What to look at before and on the first flight.
    pub first_flight: Vec<&'static str>,
}

impl Card {
    pub(super) fn new(setup: &Setup, record: &LimitRecord, before: Option<(&Setup, &LimitRecord)>) -> Self {
        let comparison = before.map(|before| Comparison::of_setups(before, (setup, record)));
        let of = |wanted: fn(&Cell) -> bool| record.cells.iter().filter(move |cell| wanted(cell));
        let not_held = of(|cell| {
            let asked = cell.is_owed() || cell.left_out.is_some();
            asked && !cell.verdict.is_captured() && !matches!(cell.verdict, Verdict::InQuestion { .. })
        });
        Self {
            against: before.map(|(before, _)| before.number),
            changed: comparison.iter().flat_map(Comparison::changed).filter_map(sheet::changed).collect(),
            unchanged: comparison.as_ref().and_then(|comparison| match comparison.changed().next() {
                Some(_) => None,
                None if comparison.is_possible() => Some(sheet::UNCHANGED),
                None => Some(sheet::NOTHING_COMPARABLE),
            }),
            suggests: comparison
                .iter()
                .flat_map(|comparison| {
                    let provisos = comparison.provisos.iter().map(|proviso| proviso.say(Face::Paper));
                    provisos.chain(comparison.patterns.iter().map(|pattern| pattern.say(Face::Paper)))
                })
                .collect(),
            outside: of(|cell| cell.verdict == Verdict::Outside).map(sheet::outside).collect(),
            undecided: of(|cell| matches!(cell.verdict, Verdict::Undecided { .. } | Verdict::InQuestion { .. }))
                .map(sheet::undecided)
                .collect(),
            bound: of(|cell| cell.verdict == Verdict::Bound)
                .filter_map(|cell| words::record::consequence(cell, Face::Paper))
                .collect(),
            moved: record.swept.iter().filter_map(sheet::moved).collect(),
            unknown: not_held.map(sheet::unknown).collect(),
            first_flight: sheet::FIRST_FLIGHT.to_vec(),
        }
    }
}
