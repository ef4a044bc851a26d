//! The job as data: what a setup holds, what is owed, where each thing is read and in which order.
//!
//! All blades at mid stick, the pull of the cable, the cyclic ends, the ends of the collective where the head wants them, the
//! tail with both leading edges; each axis once more before its blade is left for good. The blade that is read last at mid
//! stick stays for the rest, so that the clip moves as little as can be. (Common practice, no source.)

use super::cell::CellName;
use super::head::Head;
use super::limits::LimitRecord;
use super::setup::Entry;
use super::subject::Subject;
use super::timeline::{Timeline, same_place};
use super::trade;
use crate::rotor::{Axis, BladeName, Carrier, Collective, Deflection, LeadingEdge, Spot};
use crate::uncertainty::Target;
use serde::{Deserialize, Serialize};

/// Where the clip sits for a task.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Seat {
    /// The blade that carries it.
    pub blade: BladeName,
    /// Where that blade stands.
    pub spot: Spot,
}

impl Seat {
    /// The blade that carries the sensor, as one of several is named.
    #[must_use]
    pub const fn carrier(self) -> Carrier {
        Carrier::of(self.blade, self.spot)
    }
}

/// One thing to do at a seat.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Task {
    /// One axis direction is captured.
    Capture(Deflection),
    /// The cable is lifted and let go, to see whether it pulls.
    Cable,
    /// An axis is moved to both its ends once more.
    OnceMore(Axis),
}

/// One line of the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planned {
    /// What is done.
    pub task: Task,
    /// Where.
    pub seat: Seat,
    /// Whether the setup holds it already, and nothing was turned since.
    pub held: bool,
}

/// The ends that a record of this head has, in the order in which they are shown: those of the collective only where the
/// head asks for them.
pub fn ends(head: &Head) -> impl Iterator<Item = (Deflection, Target)> {
    let axes = trade::SWEPT.into_iter().chain([Axis::Collective]);
    axes.filter_map(trade::ends).flatten().filter_map(|end| Some((end, head.target(end)?)))
}

/// The plan of a head, with what its setup holds.
#[must_use]
pub fn plan(head: &Head, entries: &[Entry]) -> Vec<Planned> {
    let (timeline, record) = (Timeline::on(head, entries), LimitRecord::new(head, entries));
    let planned = |(task, seat)| Planned { task, seat, held: is_held(&timeline, &record, task, seat) };
    job(head).into_iter().map(planned).collect()
}

fn job(head: &Head) -> Vec<(Task, Seat)> {
    let mid = trade::neutral(Axis::Collective);
    let square = trade::own_station(head, trade::neutral(Axis::Elevator));
    let along = trade::own_station(head, trade::neutral(Axis::Aileron));
    let blades: Vec<BladeName> = head.blades.names().collect();
    let zero = |&blade: &BladeName| (Task::Capture(mid), Seat { blade, spot: Spot::Main(square) });
    let mut lines: Vec<(Task, Seat)> = blades.iter().rev().map(zero).collect();
    let mut on_a = |spot: Spot, tasks: &[Task]| {
        lines.extend(tasks.iter().map(|&task| (task, Seat { blade: BladeName::A, spot })));
    };
    let wanted = |axis| ends(head).map(|(end, _)| end).filter(move |end| end.axis() == axis).map(Task::Capture);
    let with_neutral =
        |axis| std::iter::once(Task::Capture(trade::neutral(axis))).chain(wanted(axis)).collect::<Vec<_>>();
    on_a(Spot::Main(square), &[Task::Cable]);
    on_a(Spot::Main(square), &wanted(Axis::Elevator).chain(wanted(Axis::Collective)).collect::<Vec<_>>());
    on_a(Spot::Main(along), &with_neutral(Axis::Aileron));
    on_a(Spot::Main(along), &[Task::OnceMore(Axis::Aileron)]);
    on_a(Spot::Main(square), &[Task::OnceMore(Axis::Elevator)]);
    for edge in [LeadingEdge::Up, LeadingEdge::Down] {
        on_a(Spot::Tail(edge), &with_neutral(Axis::Rudder));
    }
    on_a(Spot::Tail(LeadingEdge::Down), &[Task::OnceMore(Axis::Rudder)]);
    lines
}

/// A main blade's cell may have been captured anywhere; a tail end counts with its own leading edge, and a neutral at its own
/// place, because it belongs to the ends that are read there.
fn is_held(timeline: &Timeline<'_>, record: &LimitRecord, task: Task, seat: Seat) -> bool {
    let captured = |name| record.cell(name).is_some_and(|cell| cell.verdict.is_captured());
    match (task, seat.spot) {
        (Task::Cable, _) => captured(CellName::Cable),
        (Task::OnceMore(axis), _) => record.swept.iter().any(|end| end.deflection.axis() == axis),
        (Task::Capture(Deflection::Collective(Collective::Mid)), _) => captured(CellName::Zero(seat.blade)),
        (Task::Capture(end), Spot::Main(_)) if !end.is_neutral() => captured(CellName::Limit(end)),
        (Task::Capture(deflection), spot) => {
            let Ok(here) = Subject::new(deflection, seat.blade, spot) else { return false };
            let at_end = |d: &&super::timeline::Dated<'_>| deflection.is_neutral() || d.capture.reaches_the_end();
            let fresh = timeline.of(deflection).filter(at_end).filter(|d| d.is_fresh());
            fresh.into_iter().any(|d| same_place(d.subject(), here))
        }
    }
}
