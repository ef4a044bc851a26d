//! The tail at stick centre, and its blades against each other.
//!
//! *Tail neutral*: the pitch at stick centre as it stands, positive toward the side that holds the torque of the main rotor:
//! nose right under a clockwise rotor, nose left under an anticlockwise one. Owed where the head's description wants it.
//! *Tail split*: two blades with one leading edge at one position of the rudder; the roll of the model drops out.

use super::cell::{Basis, Cell, CellName, Value, Verdict};
use super::finding::{CellFinding, Undecided};
use super::head::Head;
use super::limit_cell::judge;
use super::setup::Entry;
use super::sweep::rudder_sign;
use super::tail_stand::{KnownFrom, Stands, split, stands, with_other_edge};
use super::timeline::{Dated, Timeline, best, each_once};
use super::trade;
use crate::rotor::{Axis, BladeName, Datum, LeadingEdge, Rotation};
use crate::uncertainty::Target;
use crate::units::Angle;

/// +1 where a tail pitch that reads positive holds the torque of the main rotor, −1 where the other one does; none where
/// nobody has said, and no capture shows, which way the rudder moves the blades.
#[must_use]
pub fn torque_side(head: &Head, entries: &[Entry]) -> Option<f64> {
    let right = [LeadingEdge::Up, LeadingEdge::Down].into_iter().find_map(|edge| rudder_sign(head, entries, edge))?;
    Some(match head.rotation {
        Rotation::Clockwise => right,
        Rotation::Anticlockwise => -right,
    })
}

/// The cell of the tail's neutral; none where the description does not want it and nothing was captured.
pub(super) fn neutral_cell(head: &Head, timeline: &Timeline<'_>, entries: &[Entry]) -> Option<Cell> {
    let wanted = head.targets.tail_neutral;
    // Without a target of its own it is bounded as the ends are.
    let target = wanted.unwrap_or(head.targets.tail);
    let mut cell = Cell::missing(CellName::TailNeutral, target);
    let tells = |d: &&Dated<'_>| !matches!(d.capture.datum.datum, Datum::Neutral { .. });
    let Some(newest) = best(timeline.of(trade::neutral(Axis::Rudder)).filter(tells)) else {
        cell.consequence = Some(CellFinding::TailNeutralNotRead);
        return wanted.map(|_| cell);
    };
    let side = torque_side(head, entries);
    let found = stands(timeline, newest, target, side.unwrap_or(1.0))?;
    let value = value(&found, side.unwrap_or(1.0));
    cell.verdict = match (side, target) {
        (None, Target::Band { .. }) => Verdict::Undecided { by: Undecided::TorqueSideUnknown },
        _ => with_other_edge(judge(target, &value, false, false), found.known_from),
    };
    if found.known_from == KnownFrom::OneEdge
        && let Some(leading_edge) = newest.subject().leading_edge()
    {
        cell.remarks.push(CellFinding::OneLeadingEdge { leading_edge });
    }
    cell.value = Some(value);
    cell.stands = Some(found);
    cell.consequence = cell.plain_consequence();
    cell.make_stale(&newest.stale_by);
    Some(cell)
}

/// `sense` turned the pitch toward the side that holds the torque.
fn value(found: &Stands, sense: f64) -> Value {
    Value {
        angle: found.angle,
        expanded: found.expanded,
        basis: Basis::Absolute,
        as_read: found.angle * sense,
        budget: found.budget.clone(),
        captures: found.captures.clone(),
    }
}

/// The cell of the split between the tail blades; none where no two were read side by side.
pub(super) fn split_cell(head: &Head, timeline: &Timeline<'_>) -> Option<Cell> {
    let target = head.targets.tail_split;
    let others =
        || timeline.all().filter(|d| d.subject().leading_edge().is_some() && d.subject().blade() != BladeName::A);
    // The newest reading of every other blade that has one of blade A beside it.
    let mut found: Vec<(Value, Vec<super::Adjustment>)> = Vec::new();
    for blade in head.tail.blades.names().skip(1) {
        let of_blade = others().filter(|d| d.subject().blade() == blade);
        let pairs: Vec<_> = of_blade.rev().filter_map(|d| split(timeline, d).map(|pair| (d, pair))).collect();
        let holds = |(other, (reference, _)): &&(&Dated<'_>, (&Dated<'_>, _))| other.is_fresh() && reference.is_fresh();
        let Some((other, (reference, budget))) = pairs.iter().find(holds).or_else(|| pairs.first()) else { continue };
        let value = Value {
            angle: other.capture.reading.angle - reference.capture.reading.angle,
            expanded: budget.expanded().expanded,
            basis: Basis::Split,
            as_read: other.capture.reading.angle,
            budget: budget.clone(),
            captures: vec![reference.capture.id, other.capture.id],
        };
        found.push((value, each_once(reference.stale_by.iter().chain(&other.stale_by))));
    }
    let reach = |value: &Value| (value.angle.abs() + value.expanded).degrees();
    let (value, stale_by) = found
        .into_iter()
        .max_by(|a, b| a.1.is_empty().cmp(&b.1.is_empty()).then(reach(&a.0).total_cmp(&reach(&b.0))))?;
    let mut cell = Cell::missing(CellName::TailSplit, target);
    cell.judge_at_will(value, &stale_by);
    Some(cell)
}

/// The travel of the slider toward an end, in pitch arms: z/r = sin p_end − sin p_neutral. Equal slider travel is unequal in
/// degrees about a neutral that is not zero.
#[must_use]
pub fn slider_travel(end: Angle, neutral: Angle) -> f64 {
    end.radians().sin() - neutral.radians().sin()
}
