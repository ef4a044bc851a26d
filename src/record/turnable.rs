//! What can have been turned or set where a cell comes out as it does: the few adjustments that make sense for it.

use super::adjustment::{Adjustment, Ends, Teeth};
use super::cell::{CellName, Verdict};
use super::head::Head;
use super::limits::LimitRecord;
use super::setup::{Entry, Event};
use crate::rotor::{Axis, BladeName, Deflection};
use crate::units::{HalfTurns, Percent};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// By what an adjustment is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Amount {
    /// Half-turns, longer or shorter.
    HalfTurns,
    /// Teeth of a spline.
    Teeth,
    /// What it is set to, percent.
    Percent,
    /// It was done, or it was not.
    Done,
}

/// One thing that can have been turned.
#[derive(Debug, Clone, PartialEq)]
pub struct Turnable {
    /// The adjustment, by some amount.
    pub what: Adjustment,
    /// By what it is counted.
    pub amount: Amount,
    /// The cells that hold a value now and would not any more.
    pub stale: Vec<CellName>,
}

impl Adjustment {
    /// By what it is counted.
    #[must_use]
    pub const fn amount(self) -> Amount {
        match self {
            Self::Link { .. } | Self::SwashLink { .. } | Self::TailRod { .. } => Amount::HalfTurns,
            Self::ServoArm { .. } | Self::TailServoArm { .. } => Amount::Teeth,
            Self::EndPoint { .. }
            | Self::SubTrim { .. }
            | Self::TailSubTrim { .. }
            | Self::CollectiveRange(_)
            | Self::CyclicRange(_)
            | Self::Trim { .. } => Amount::Percent,
            _ => Amount::Done,
        }
    }
}

/// What can have been turned for this cell, likeliest first; without a cell what can have been turned at all.
#[must_use]
pub fn turnables(head: &Head, entries: &[Entry], record: &LimitRecord, cell: Option<CellName>) -> Vec<Turnable> {
    let sensible = |adjustment: &Adjustment| adjustment.possible_on(head).is_ok();
    let with_stale =
        |what: Adjustment| Turnable { what, amount: what.amount(), stale: made_stale(head, entries, record, what) };
    let all = cell.map_or_else(|| anything(head), |cell| for_cell(head, cell));
    let mut found: Vec<Adjustment> = Vec::new();
    for adjustment in all.into_iter().chain([Adjustment::Mixing, Adjustment::Parts, Adjustment::Crash]) {
        if sensible(&adjustment) && !found.contains(&adjustment) {
            found.push(adjustment);
        }
    }
    found.into_iter().map(with_stale).collect()
}

/// The cells that hold a value and would not any more once this was turned.
#[must_use]
pub fn made_stale(head: &Head, entries: &[Entry], record: &LimitRecord, what: Adjustment) -> Vec<CellName> {
    let event = Event::Adjustment { adjustment: what, note: None };
    let entry = Entry { id: Uuid::nil(), at: Timestamp::UNIX_EPOCH, event };
    let entries: Vec<Entry> = entries.iter().cloned().chain(std::iter::once(entry)).collect();
    let after = LimitRecord::new(head, &entries);
    let stale =
        |cell: Option<&super::cell::Cell>| cell.is_some_and(|cell| matches!(cell.verdict, Verdict::Stale { .. }));
    let newly = after.cells.iter().filter(|cell| stale(Some(cell)) && !stale(record.cell(cell.name)));
    newly.map(|cell| cell.name).collect()
}

const ONE: HalfTurns = HalfTurns::new(1.0);
const FULL: Percent = Percent::new(100.0);
const NO_TRIM: Percent = Percent::new(0.0);
/// The servos of a swashplate. [common practice: three at 120°]
const SERVOS: [u8; 3] = [1, 2, 3];

fn link(blade: BladeName) -> Adjustment {
    Adjustment::Link { blade, half_turns: ONE }
}

fn servos() -> Vec<Adjustment> {
    let links = SERVOS.map(|servo| Adjustment::SwashLink { servo, half_turns: ONE });
    let arms = SERVOS.map(|servo| Adjustment::ServoArm { servo, teeth: Some(Teeth::new(1)) });
    let trims = SERVOS.map(|servo| Adjustment::SubTrim { servo, output: NO_TRIM });
    links.into_iter().chain(trims).chain(arms).collect()
}

fn tail() -> Vec<Adjustment> {
    vec![
        Adjustment::TailRod { half_turns: ONE },
        Adjustment::TailSubTrim { output: NO_TRIM },
        Adjustment::TailServoArm { teeth: Some(Teeth::new(1)) },
    ]
}

fn end_points(end: Deflection) -> Vec<Adjustment> {
    let (one, both) = (Ends::One(end), Ends::Both(end.axis()));
    [one, both].map(|ends| Adjustment::EndPoint { ends, output: FULL }).to_vec()
}

fn for_cell(head: &Head, cell: CellName) -> Vec<Adjustment> {
    match cell {
        CellName::Zero(blade) => std::iter::once(link(blade)).chain(servos()).collect(),
        CellName::Track(blade) => vec![link(blade), link(BladeName::A), Adjustment::Blades],
        CellName::Droop(blade) | CellName::Slop(blade) => {
            vec![link(blade), Adjustment::Blade { blade }, Adjustment::Grip { blade }, Adjustment::Spindle]
        }
        CellName::Spindle(blade) => vec![Adjustment::Spindle, Adjustment::Shaft, Adjustment::Grip { blade }],
        CellName::SwashLevel => servos(),
        CellName::Limit(end) if end.axis() == Axis::Rudder => end_points(end).into_iter().chain(tail()).collect(),
        CellName::Limit(end) => {
            let range = if end.axis() == Axis::Collective {
                Adjustment::CollectiveRange(FULL)
            } else {
                Adjustment::CyclicRange(FULL)
            };
            let trim = Adjustment::Trim { axis: end.axis(), output: NO_TRIM };
            end_points(end).into_iter().chain([range, trim]).collect()
        }
        CellName::Corner(_) => vec![Adjustment::CyclicRange(FULL)],
        CellName::TailNeutral => tail(),
        CellName::TailSplit => vec![Adjustment::TailBlades],
        CellName::Cable => anything(head),
    }
}

fn anything(head: &Head) -> Vec<Adjustment> {
    let ends = ["elevator up", "elevator down", "aileron left", "aileron right", "rudder left", "rudder right"];
    let ends = ends.into_iter().filter_map(|end| end.parse().ok());
    let points = ends.map(|end| Adjustment::EndPoint { ends: Ends::One(end), output: FULL });
    head.blades
        .names()
        .map(link)
        .chain(points)
        .chain(servos())
        .chain(tail())
        .chain([
            Adjustment::CollectiveRange(FULL),
            Adjustment::CyclicRange(FULL),
            Adjustment::Spindle,
            Adjustment::Blades,
        ])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn head() -> Head {
        Head::from_toml(&Head::template("Club trainer")).unwrap()
    }

    fn said(cell: Option<&str>) -> Vec<String> {
        let (head, cell) = (head(), cell.map(|name| name.parse().unwrap()));
        let record = LimitRecord::new(&head, &[]);
        turnables(&head, &[], &record, cell).iter().map(|one| one.what.to_string()).collect()
    }

    #[test]
    fn a_cell_has_the_few_things_that_move_it() {
        assert_eq!(said(Some("blade B zero"))[0], "link B +1 half-turn");
        assert_eq!(said(Some("elevator up"))[..2], ["elevator up end point 100 %", "elevator end point 100 %"]);
        assert!(said(Some("rudder left")).contains(&"tail rod +1 half-turn".to_owned()));
        assert!(!said(Some("rudder left")).iter().any(|one| one.starts_with("link")));
        for cell in [None, Some("blade B zero"), Some("elevator up"), Some("swash level"), Some("tail neutral")] {
            assert!(
                said(cell).len() >= 6 && said(cell).ends_with(&["parts replaced".into(), "crash".into()]),
                "{cell:?}"
            );
        }
    }

    #[test]
    fn each_is_written_as_it_is_read() {
        for text in said(None) {
            assert_eq!(text.parse::<Adjustment>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn nothing_that_was_never_read_becomes_stale() {
        let head = head();
        let record = LimitRecord::new(&head, &[]);
        assert!(turnables(&head, &[], &record, None).iter().all(|one| one.stale.is_empty()));
    }
}
