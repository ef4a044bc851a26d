//! The job as a list of lines, which the person may change.

use crate::record::{CellName, Head};
use crate::rotor::{
    Aileron, Axis, BladeName, Carrier, Collective, Deflection, Elevator, LeadingEdge, Rudder, Spot, Station,
};
use crate::units::Angle;

/// Where the clip is to be for a line.
#[derive(Debug, Clone, Copy, PartialEq)]
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

/// How a line stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineState {
    /// To come.
    Later,
    /// Captured.
    Captured,
    /// Left out for now.
    Skipped,
}

/// What a line of the job is about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Task {
    /// One axis direction is captured.
    Capture(Deflection),
    /// The cable is lifted and let go, to see whether it pulls.
    Cable,
    /// An axis is moved to both its ends once more.
    OnceMore(Axis),
}

/// One line of the job.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Stays when the line moves.
    pub id: u32,
    /// What is done.
    pub task: Task,
    /// Where.
    pub seat: Seat,
    /// How it stands.
    pub state: LineState,
}

impl Line {
    /// What it is called: as the cell that it fills, where it fills one by itself.
    #[must_use]
    pub fn label(&self) -> String {
        match (self.task, self.seat.spot) {
            (Task::Cable, _) => CellName::Cable.to_string(),
            (Task::OnceMore(axis), _) => format!("{axis} once more"),
            (Task::Capture(Deflection::Collective(Collective::Mid)), _) => CellName::Zero(self.seat.blade).to_string(),
            (Task::Capture(deflection), Spot::Tail(LeadingEdge::Down)) => format!("{deflection}, leading edge down"),
            (Task::Capture(deflection), _) => deflection.to_string(),
        }
    }

    /// What is deflected while it is captured: the neutral of its place where nothing is.
    #[must_use]
    pub const fn deflection(&self) -> Deflection {
        match self.task {
            Task::Capture(deflection) => deflection,
            Task::Cable => Deflection::Collective(Collective::Mid),
            Task::OnceMore(axis) => neutral_at(self.seat, axis),
        }
    }
}

/// Both blades at mid stick, the pull of the cable, the cyclic ends, the ends of the collective where the head wants them,
/// the tail with both leading edges; each axis once more before its blade is left for good. The blade that is read last at
/// mid stick stays for the rest, so that the clip moves as little as can be.
pub(super) fn job(head: &Head) -> Vec<Line> {
    let station = |degrees: f64| Station::from_degrees(degrees).ok().map(Spot::Main);
    let (Some(square), Some(along)) = (station(90.0), station(0.0)) else { return Vec::new() };
    let mut lines: Vec<(Task, Seat)> = Vec::new();
    let blades: Vec<BladeName> = head.blades.names().collect();
    let mid = Task::Capture(Deflection::Collective(Collective::Mid));
    lines.extend(blades.iter().rev().map(|&blade| (mid, Seat { blade, spot: square })));
    let mut on_a = |spot: Spot, tasks: &[Task]| {
        lines.extend(tasks.iter().map(|&task| (task, Seat { blade: BladeName::A, spot })));
    };
    on_a(square, &[Task::Cable]);
    on_a(square, &[Elevator::Up, Elevator::Down].map(|way| Task::Capture(Deflection::Elevator(way))));
    for end in [Deflection::Collective(Collective::Low), Deflection::Collective(Collective::High)] {
        if head.target(end).is_some() {
            on_a(square, &[Task::Capture(end)]);
        }
    }
    let aileron = [Aileron::Neutral, Aileron::Left, Aileron::Right].map(|way| Task::Capture(Deflection::Aileron(way)));
    on_a(along, &aileron);
    on_a(along, &[Task::OnceMore(Axis::Aileron)]);
    on_a(square, &[Task::OnceMore(Axis::Elevator)]);
    let rudder = [Rudder::Neutral, Rudder::Left, Rudder::Right].map(|way| Task::Capture(Deflection::Rudder(way)));
    for edge in [LeadingEdge::Up, LeadingEdge::Down] {
        on_a(Spot::Tail(edge), &rudder);
    }
    on_a(Spot::Tail(LeadingEdge::Down), &[Task::OnceMore(Axis::Rudder)]);
    let numbered = lines.into_iter().zip(1..);
    numbered.map(|((task, seat), id)| Line { id, task, seat, state: LineState::Later }).collect()
}

/// What is captured with every stick centred at a seat.
pub(super) const fn neutral_at(seat: Seat, axis: Axis) -> Deflection {
    match (seat.spot, axis) {
        (Spot::Tail(_), _) => Deflection::Rudder(Rudder::Neutral),
        (Spot::Main(_), Axis::Aileron) => Deflection::Aileron(Aileron::Neutral),
        (Spot::Main(_), _) => Deflection::Elevator(Elevator::Neutral),
    }
}

/// How far the head is to be turned to bring a seat in the place of another, the shorter way: positive in the direction of
/// rotation.
pub(super) fn turn(from: Seat, to: Seat, blades: u8) -> Option<Angle> {
    let azimuth = |seat: Seat| match seat.spot {
        Spot::Main(station) => Some(f64::from(station) - 360.0 * seat.blade.index() as f64 / f64::from(blades)),
        Spot::Tail(_) => None,
    };
    let by = (azimuth(to)? - azimuth(from)?).rem_euclid(360.0);
    Some(Angle::from_degrees(if by > 180.5 { by - 360.0 } else { by }))
}
