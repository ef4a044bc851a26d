//! What a record owes besides what every record owes, what was left out of it on purpose, and what a new part or a crash takes from
//! the cells that nothing else can move.
//!
//! Spindle, droop, lost motion, corners, the tail's split and a sweep are measured at will. After a crash, or where parts were
//! replaced, they are owed. (Common practice, no source.)

use super::adjustment::Adjustment;
use super::capture::Capture;
use super::cell::{Cell, CellName};
use super::corner_cell::ARCS_DEGREES;
use super::finding::CellFinding;
use super::head::Head;
use super::setup::{Entry, Event, turned, withdrawn};
use super::sweep::SweptEnd;
use super::trade;
use crate::rotor::{Axis, BladeName, Corner, CornerCollective, Deflection, FullCyclic};
use crate::uncertainty::Target;
use crate::units::Angle;
use serde::Serialize;
use uuid::Uuid;

/// Where the swashplate is taken furthest.
const DIAGONALS: [FullCyclic; 4] =
    [FullCyclic::UpRight, FullCyclic::DownRight, FullCyclic::DownLeft, FullCyclic::UpLeft];

/// Something owed that is no capture of one place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "check", rename_all = "snake_case")]
pub enum Check {
    /// The spindle turned in its grips, by quarters.
    Spindle {
        /// The blade that carries the clip.
        blade: BladeName,
    },
    /// One stick position approached from below and from above.
    Slop {
        /// The blade.
        blade: BladeName,
    },
    /// An axis moved to both its ends once more.
    Sweep {
        /// The axis.
        axis: Axis,
    },
}

/// Whether this setup owes everything that is otherwise measured at will.
fn all_is_owed(entries: &[Entry]) -> bool {
    turned(entries).any(|(_, adjustment)| adjustment.makes_all_owed())
}

/// Settles what is owed, stale or left out once every cell is judged.
pub(super) fn settle(head: &Head, entries: &[Entry], cells: &mut Vec<Cell>) {
    for cell in cells.iter_mut() {
        renew(entries, cell);
    }
    if all_is_owed(entries) {
        owe(head, entries, cells);
    }
    for cell in cells.iter_mut().filter(|cell| !cell.verdict.is_captured()) {
        cell.left_out = left_out(entries, cell.name).map(str::to_owned);
        match (&mut cell.consequence, &cell.left_out) {
            // A missing end says so itself.
            (Some(CellFinding::NotCaptured { left_out }), reason) => left_out.clone_from(reason),
            (_, Some(reason)) => cell.remarks.push(CellFinding::LeftOut { reason: reason.clone() }),
            (_, None) => {}
        }
    }
}

/// Spindle and droop outlive what makes other cells stale, but no new spindle, shaft, grip or blade.
fn renew(entries: &[Entry], cell: &mut Cell) {
    let order = |id: &Uuid| entries.iter().position(|entry| entry.id == *id);
    let orders = || cell.value.iter().flat_map(|value| value.captures.iter().filter_map(order));
    // A pool of checks holds as long as its newest does; of two blades the older reading is what was moved.
    let (since, moves): (Option<usize>, &dyn Fn(Adjustment) -> bool) = match cell.name {
        CellName::Spindle(blade) => (orders().max(), &move |by: Adjustment| by.renews_spindle(blade)),
        CellName::Droop(blade) => (orders().min(), &move |by: Adjustment| by.can_move_droop(blade)),
        _ => return,
    };
    let Some(since) = since else { return };
    let later = turned(entries).filter(|(at, by)| *at > since && moves(*by));
    let by: Vec<Adjustment> = later.map(|(_, adjustment)| adjustment).collect();
    cell.make_stale(&by);
}

fn owe(head: &Head, entries: &[Entry], cells: &mut Vec<Cell>) {
    let targets = &head.targets;
    let blades = || head.blades.names();
    let corner = Target::AtMost(Angle::from_degrees(ARCS_DEGREES));
    let corners = [CornerCollective::High, CornerCollective::Low]
        .into_iter()
        .flat_map(|collective| DIAGONALS.map(|cyclic| (CellName::Corner(Corner { collective, cyclic }), corner)));
    let owed = std::iter::once((CellName::TailSplit, targets.tail_split))
        .chain(blades().skip(1).map(|blade| (CellName::Droop(blade), targets.droop)))
        .chain(blades().map(|blade| (CellName::Slop(blade), targets.slop)))
        .chain(blades().map(|blade| (CellName::Spindle(blade), targets.spindle)))
        .chain(corners);
    for (name, target) in owed {
        match cells.iter_mut().find(|cell| cell.name == name) {
            Some(cell) => cell.owed = true,
            None => cells.push(Cell { owed: true, ..Cell::missing(name, target) }),
        }
    }
    // No reading of a sensor of one angle fills it.
    for cell in cells.iter_mut().filter(|cell| matches!(cell.name, CellName::Droop(_)) && cell.value.is_none()) {
        if is_blind(entries) {
            cell.consequence = Some(CellFinding::SpanUnseen);
        }
    }
}

/// The lost motion of every blade that rested apart at centre when an axis was moved once more: watched in passing it shows that there
/// is some, and is measured on purpose before it is judged.
pub(super) fn by_play(head: &Head, swept: &[SweptEnd], cells: &mut Vec<Cell>) {
    let mut loose: Vec<BladeName> = swept.iter().filter_map(SweptEnd::loose_blade).collect();
    loose.dedup();
    for name in loose.into_iter().map(CellName::Slop) {
        match cells.iter_mut().find(|cell| cell.name == name) {
            Some(cell) => cell.owed |= !cell.verdict.is_captured(),
            None => cells.push(Cell { owed: true, ..Cell::missing(name, head.targets.slop) }),
        }
    }
}

/// Whether the main blades were read, and only by sensors that send one angle and do not show how the span slopes.
fn is_blind(entries: &[Entry]) -> bool {
    let on_main = || {
        entries.iter().filter_map(|entry| match &entry.event {
            Event::Capture(capture) if capture.subject.station().is_some() => Some(capture),
            _ => None,
        })
    };
    on_main().next().is_some() && !on_main().any(|capture| capture.reading.shows_the_span())
}

/// The axes that are still to be moved to both their ends once more, but for those left out; none where nobody owes a sweep.
pub(super) fn sweeps(entries: &[Entry], swept: &[SweptEnd]) -> Vec<Axis> {
    let left_out = |end: Deflection| left_out(entries, CellName::Limit(end)).is_some();
    let still =
        |axis: &Axis| !is_swept(swept, *axis) && trade::ends(*axis).is_some_and(|ends| !ends.into_iter().all(left_out));
    trade::SWEPT.into_iter().filter(still).filter(|_| all_is_owed(entries)).collect()
}

/// Whether both ends of an axis were moved to once more.
pub(super) fn is_swept(swept: &[SweptEnd], axis: Axis) -> bool {
    let is_there = |end| swept.iter().any(|swept| swept.deflection == end);
    trade::ends(axis).is_some_and(|ends| ends.into_iter().all(is_there))
}

/// What is owed besides captures of one place each.
pub(super) fn checks(cells: &[Cell], sweeps: &[Axis]) -> Vec<Check> {
    let open = cells.iter().filter(|cell| cell.is_owed() && !cell.verdict.is_captured());
    let of_cell = |cell: &Cell| match cell.name {
        CellName::Spindle(blade) => Some(Check::Spindle { blade }),
        CellName::Slop(blade) => Some(Check::Slop { blade }),
        _ => None,
    };
    open.filter_map(of_cell).chain(sweeps.iter().map(|&axis| Check::Sweep { axis })).collect()
}

/// Why this cell was left out on purpose, as it was said last; none where that was taken back, or the cell was captured since.
pub(super) fn left_out(entries: &[Entry], cell: CellName) -> Option<&str> {
    let gone = withdrawn(entries);
    let counts = |entry: &&Entry| !gone.contains(&entry.id);
    let skipped = entries.iter().enumerate().rev().filter(|(_, entry)| counts(entry)).find_map(|(at, entry)| {
        match &entry.event {
            Event::Skipped { cell: what, reason } if *what == cell => Some((at, reason.as_str())),
            _ => None,
        }
    });
    let (at, reason) = skipped?;
    let since = entries.get(at..)?.iter().filter(counts).any(|entry| fills(&entry.event, cell));
    (!since).then_some(reason)
}

/// Whether this was done for the cell.
fn fills(event: &Event, cell: CellName) -> bool {
    match event {
        Event::Capture(capture) => is_for(capture, cell),
        Event::Spindle { check } => cell == CellName::Spindle(check.blade),
        Event::Cable { .. } => cell == CellName::Cable,
        _ => false,
    }
}

fn is_for(capture: &Capture, cell: CellName) -> bool {
    let subject = capture.subject;
    let of_blade = |blade: BladeName| subject.station().is_some() && subject.blade() == blade;
    match cell {
        CellName::Track(blade) | CellName::Droop(blade) => CellName::of(subject) == CellName::Zero(blade),
        CellName::Slop(blade) => of_blade(blade) && capture.approach.is_some(),
        CellName::TailSplit => subject.leading_edge().is_some() && subject.blade() != BladeName::A,
        CellName::Limit(_) => CellName::of(subject) == cell && capture.reaches_the_end(),
        _ => CellName::of(subject) == cell,
    }
}
