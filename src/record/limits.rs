//! The limit record: every cell that a head must have, worked out from the entries of a setup.
//!
//! Every axis needs both its directions; the order in which they were captured does not matter. A cell that was
//! redone shows the newest capture that still holds and keeps the earlier ones. What was turned after a capture and
//! can have moved it makes its cell stale. (Common practice, no source.)

use super::cable::cable_cell;
use super::capture::Capture;
use super::cell::{Basis, Cell, CellName, Earlier, Value, Verdict};
use super::collective::Standings;
use super::corner_cell::{corner_cells, missing_parts};
use super::droop::droop_cell;
use super::finding::{CellFinding, Question};
use super::head::Head;
use super::in_question;
use super::limit_cell::limit_cell;
use super::owed::{self, Check};
use super::plan;
use super::remeasure::{Wanted, remeasure};
use super::setup::{Entry, Event};
use super::slop_cell::slop_cell;
use super::spindle::spindle_cell;
use super::swash_level::swash_level_cell;
use super::sweep::{Reach, SweptEnd, swept};
use super::tail_cells::{neutral_cell, split_cell};
use super::timeline::Timeline;
use super::trade;
use super::zero_cell::{track_cell, zero_cell};
use crate::rotor::{Axis, Deflection};
use crate::uncertainty::Budget;
use crate::units::Angle;
use serde::Serialize;

/// How much further an axis goes one way than the other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Asymmetry {
    /// The axis.
    pub axis: Axis,
    /// What the difference is wanted to be: zero, unless the description wants the ends unequal; none where it sets ceilings
    /// that differ, of which nothing follows.
    #[serde(rename = "wanted_deg")]
    pub wanted: Option<Angle>,
    /// Travel up less travel down, or left less right; on the collective the sum of both ends' signed pitch.
    #[serde(rename = "asymmetry_deg")]
    pub difference: Angle,
    /// U for 95 %.
    #[serde(rename = "expanded_uncertainty_deg")]
    pub expanded: Angle,
    /// Whether the difference is off what is wanted by more than its uncertainty.
    pub significant: bool,
}

/// What is known about a head's limits.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LimitRecord {
    /// What the head is called.
    pub head: String,
    /// Every cell: zeros, track, both directions of every axis; lost motion and spindle where they were measured.
    pub cells: Vec<Cell>,
    /// One way against the other, for each axis with two travels.
    pub asymmetries: Vec<Asymmetry>,
    /// Whether every cell that is owed holds a value that is not stale. What was left out on purpose is not owed.
    pub complete: bool,
    /// Whether every cell is inside what is wanted, or bound with a stick that stops there, and none was left out.
    pub good: bool,
    /// Every direction that was moved once more since anything was turned.
    pub swept: Vec<SweptEnd>,
    /// The shortest list of captures that would make the record complete.
    pub to_measure: Vec<Wanted>,
    /// What it takes besides, after a crash or where parts were replaced.
    pub to_check: Vec<Check>,
}

impl LimitRecord {
    /// Works the record out from a head and what happened in its setup, in order.
    #[must_use]
    pub fn new(head: &Head, entries: &[Entry]) -> Self {
        let timeline = Timeline::on(head, entries);
        let standings = Standings::new(head, entries, &timeline);
        let zeros = head.blades.names().map(|blade| zero_cell(head, &timeline, &standings, blade));
        let tracks = head.blades.names().skip(1).map(|blade| track_cell(head, &timeline, blade));
        let ends = plan::ends(head).map(|(end, target)| limit_cell(head, &timeline, &standings, end, target));
        let slops = head.blades.names().filter_map(|blade| slop_cell(head, &timeline, blade));
        let spindles = head.blades.names().filter_map(|blade| spindle_cell(head, entries, &standings, blade));
        let droops = head.blades.names().skip(1).filter_map(|blade| droop_cell(head, &timeline, &standings, blade));
        let mut cells: Vec<Cell> = zeros.chain(tracks).chain(ends).collect();
        let corners = corner_cells(head, &timeline, &cells);
        let level = swash_level_cell(head, &standings);
        let besides = level
            .into_iter()
            .chain(droops)
            .chain(slops)
            .chain(spindles)
            .chain(cable_cell(head, entries))
            .chain(corners);
        let tail = neutral_cell(head, &timeline, entries).into_iter().chain(split_cell(head, &timeline));
        cells.extend(tail.chain(besides));
        remember_withdrawn(&mut cells, entries);
        in_question::by_captures(head, &timeline, entries, &mut cells);
        in_question::by_phase(head, entries, &mut cells);
        let swept = swept(head, &cells, &timeline, entries);
        in_question::by_sweeps(head, &timeline, entries, &swept, &mut cells);
        owed::by_play(head, &swept, &mut cells);
        owed::settle(head, entries, &mut cells);
        let sweeps_owed = owed::sweeps(entries, &swept);
        Self {
            head: head.name.clone(),
            asymmetries: asymmetries(&cells),
            complete: sweeps_owed.is_empty() && cells.iter().all(|c| c.verdict.is_captured() || !c.is_owed()),
            good: sweeps_owed.is_empty()
                && cells.iter().all(|c| {
                    let nobody_owes_it = !c.is_owed() && matches!(c.verdict, Verdict::Missing | Verdict::Stale { .. });
                    c.left_out.is_none() && !goes_further(c, &swept) && (c.verdict.is_good() || nobody_owes_it)
                }),
            swept,
            to_measure: remeasure(head, &timeline, &cells),
            to_check: owed::checks(&cells, &sweeps_owed),
            cells,
        }
    }

    /// What a captured corner still needs before it can be judged: neutral and parts on its blade at its station.
    #[must_use]
    pub fn corner_needs(head: &Head, entries: &[Entry], corner: &Capture) -> Vec<Deflection> {
        missing_parts(head, &Timeline::on(head, entries), corner.subject)
    }

    /// The cell of this name, where the head has one.
    #[must_use]
    pub fn cell(&self, name: CellName) -> Option<&Cell> {
        self.cells.iter().find(|cell| cell.name == name)
    }

    /// The questions that contradictory readings ask.
    pub fn questions(&self) -> impl Iterator<Item = (&Cell, &Question)> {
        self.cells.iter().filter_map(|cell| Some((cell, cell.question.as_ref()?)))
    }

    /// The shortest list of captures that would make the record complete, in an order that spares the clip.
    #[must_use]
    pub fn shortest_remeasure(&self) -> &[Wanted] {
        &self.to_measure
    }
}

/// Whether full stick still goes into the bind that bounds an end, for all that is known: it was backed off by hand, and no sweep
/// has shown since that the stick stops there.
fn goes_further(cell: &Cell, swept: &[SweptEnd]) -> bool {
    let stops = |end: &SweptEnd| {
        CellName::Limit(end.deflection) == cell.name && end.reach == Reach::AsRecorded && !end.buzzes && !end.is_older
    };
    // A corner has no end point of its own that would stop the stick there.
    let backed_off = matches!(cell.name, CellName::Corner(_))
        || matches!(cell.consequence, Some(CellFinding::BackedOff { .. } | CellFinding::StickGoesFurther { .. }));
    cell.verdict == Verdict::Bound && backed_off && !swept.iter().any(stops)
}

/// What was taken back as wrong stays to be seen beside the cell that it stood in.
fn remember_withdrawn(cells: &mut [Cell], entries: &[Entry]) {
    let captures = || {
        entries.iter().filter_map(|entry| match &entry.event {
            Event::Capture(capture) => Some(capture.as_ref()),
            _ => None,
        })
    };
    // The order in which they were recorded: a clock may have been set back in between.
    let order = |id| captures().position(|c| c.id == id);
    for entry in entries {
        let Event::Withdrawn { capture, .. } = &entry.event else { continue };
        let Some(capture) = captures().find(|c| c.id == *capture) else { continue };
        let home = CellName::of(capture.subject);
        if let Some(cell) = cells.iter_mut().find(|cell| cell.name == home) {
            cell.history.push(Earlier { withdrawn: true, ..Earlier::of(capture) });
            cell.history.sort_by_key(|earlier| order(earlier.id));
        }
    }
}

/// What is held against the other end: of the collective the pitch, which is what its description asks for; else the travel.
fn compared<'c>(travel: &'c Value, cell: &'c Cell) -> (Angle, &'c Budget) {
    match &cell.stands {
        Some(stands) if !cell.is_rudder() => (stands.angle, &stands.budget),
        _ => (travel.angle, &travel.budget),
    }
}

fn asymmetries(cells: &[Cell]) -> Vec<Asymmetry> {
    let travel = |end: Deflection| {
        let cell = cells.iter().find(|c| c.name == CellName::Limit(end) && c.verdict.is_captured())?;
        cell.value.as_ref().filter(|v| v.basis == Basis::Travel && cell.question.is_none()).map(|v| (v, cell))
    };
    let axes = trade::SWEPT.into_iter().chain([Axis::Collective]);
    axes.filter_map(trade::ends)
        .filter_map(|[first, second]| {
            let ((one, asked), (other, beside)) = (travel(first)?, travel(second)?);
            // The ends of the collective keep the sign of the pitch: there it is their sum that would be zero.
            let sign = if first.axis() == Axis::Collective { 1.0 } else { -1.0 };
            let ((a, of_a), (b, of_b)) = (compared(one, asked), compared(other, beside));
            let budget = Budget::combination(&[(1.0, of_a), (sign, of_b)]);
            let (difference, expanded) = (a + b * sign, budget.expanded().expanded);
            let wanted = super::balance::wanted_of(asked, beside, -sign);
            let significant = wanted.is_some_and(|wanted| (difference - wanted).abs() > expanded);
            Some(Asymmetry { axis: first.axis(), wanted, difference, expanded, significant })
        })
        .collect()
}
