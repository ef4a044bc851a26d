//! The job as a list of lines, which the person may change.

use crate::record::{CellName, Planned, Seat, Task, trade};
use crate::rotor::{Axis, Carrier, Collective, Deflection, LeadingEdge, Spot};
use crate::units::Angle;
use serde::{Deserialize, Serialize};
use std::fmt;

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

/// What a line is about, and where. Displayed as the cell that it fills by itself, where it fills one; a blade's zero with its
/// station.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Item {
    /// What is done.
    pub task: Task,
    /// Where.
    pub seat: Seat,
}

impl Line {
    /// What it is about, and where.
    #[must_use]
    pub const fn item(&self) -> Item {
        Item { task: self.task, seat: self.seat }
    }

    /// What is deflected while it is captured: the neutral of its place where nothing is.
    #[must_use]
    pub const fn deflection(&self) -> Deflection {
        match self.task {
            Task::Capture(deflection) => deflection,
            Task::Cable => trade::neutral(Axis::Collective),
            Task::OnceMore(axis) => trade::neutral(axis),
        }
    }

    /// The cell that it fills, alone or together with another line; a neutral and a sweep fill none.
    #[must_use]
    pub const fn cell(&self) -> Option<CellName> {
        match self.task {
            Task::Cable => Some(CellName::Cable),
            Task::Capture(Deflection::Collective(Collective::Mid)) => Some(CellName::Zero(self.seat.blade)),
            Task::Capture(end) if !end.is_neutral() => Some(CellName::Limit(end)),
            Task::Capture(_) | Task::OnceMore(_) => None,
        }
    }
}

impl fmt::Display for Item {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.task, self.seat.spot) {
            (Task::Cable, _) => f.pad(&CellName::Cable.to_string()),
            (Task::OnceMore(axis), _) => f.pad(&format!("{axis} once more")),
            (Task::Capture(Deflection::Collective(Collective::Mid)), _) => {
                let zero = CellName::Zero(self.seat.blade);
                match self.seat.spot {
                    // Two readings half a turn apart make one cell.
                    Spot::Main(station) => f.pad(&format!("{zero} at {station}")),
                    Spot::Tail(_) => f.pad(&zero.to_string()),
                }
            }
            (Task::Capture(deflection), Spot::Tail(LeadingEdge::Down)) => {
                f.pad(&format!("{deflection}, leading edge down"))
            }
            (Task::Capture(deflection), _) => f.pad(&deflection.to_string()),
        }
    }
}

/// The lines of a plan.
pub(super) fn lines(plan: &[Planned], carriers: &[Carrier]) -> Vec<Line> {
    let mut lines = Vec::new();
    reopen(&mut lines, plan, carriers);
    lines
}

/// Opens the lines again that a plan does not hold though they were captured, and adds those that are new in it.
pub(super) fn reopen(lines: &mut Vec<Line>, plan: &[Planned], carriers: &[Carrier]) {
    let mut next = lines.iter().map(|line| line.id).max().unwrap_or_default() + 1;
    let mut after = 0;
    for planned in plan {
        let known = lines.iter().position(|line| (line.task, line.seat) == (planned.task, planned.seat));
        if let Some(at) = known {
            let line = &mut lines[at];
            if !planned.held && !planned.blocked && line.state == LineState::Captured {
                line.state = LineState::Later;
            }
            after = at + 1;
        } else {
            let state = state(planned, carriers);
            lines.insert(after, Line { id: next, task: planned.task, seat: planned.seat, state });
            (next, after) = (next + 1, after + 1);
        }
    }
}

/// What is held, or waits for an end point only, is captured, and what no sensor can read is left out.
fn state(planned: &Planned, carriers: &[Carrier]) -> LineState {
    match planned {
        Planned { held: true, .. } | Planned { blocked: true, .. } => LineState::Captured,
        Planned { seat, .. } if !carriers.is_empty() && !carriers.contains(&seat.carrier()) => LineState::Skipped,
        _ => LineState::Later,
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
