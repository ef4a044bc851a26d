//! Lost motion: the same stick position approached from below and from above, read on one seat of the clip.
//!
//! The cell is there only where both were captured. Once something was turned that can have changed it, it is owed where it was
//! too much.

use super::capture::Approach;
use super::cell::{Basis, Cell, CellName, Value};
use super::head::Head;
use super::timeline::{Dated, Timeline, each_once, same_place};
use super::travel::own_budget;
use crate::rotor::BladeName;

/// The cell of one main blade's lost motion, from its newest pair of approaches.
pub(super) fn slop_cell(head: &Head, timeline: &Timeline<'_>, blade: BladeName) -> Option<Cell> {
    let (below, above) = pair(timeline, blade)?;
    let stale_by = each_once(below.stale_by.iter().chain(&above.stale_by));
    let (below, above) = (below.capture, above.capture);
    let budget = own_budget(above).difference(&own_budget(below));
    let value = Value {
        angle: above.reading.angle - below.reading.angle,
        expanded: budget.expanded().expanded,
        basis: Basis::Approach,
        as_read: above.reading.angle,
        budget,
        captures: vec![below.id, above.id],
    };
    let mut cell = Cell::missing(CellName::Slop(blade), head.targets.slop);
    cell.judge_at_will(value, &stale_by);
    Some(cell)
}

fn pair<'t, 'a>(timeline: &'t Timeline<'a>, blade: BladeName) -> Option<(&'t Dated<'a>, &'t Dated<'a>)> {
    let approached = |from| timeline.on_main_blade(blade).rev().filter(move |d| d.capture.approach == Some(from));
    approached(Approach::Below)
        .flat_map(|below| approached(Approach::Above).map(move |above| (below, above)))
        .filter(|(below, above)| {
            let (b, a) = (below.capture, above.capture);
            b.subject.deflection() == a.subject.deflection()
                && (b.stick, b.seat, b.clip, b.datum.id) == (a.stick, a.seat, a.clip, a.datum.id)
                && same_place(b.subject, a.subject)
        })
        .max_by_key(|(below, above)| {
            let holds = below.is_fresh() && above.is_fresh();
            (holds, below.order.min(above.order), below.order.max(above.order))
        })
}
