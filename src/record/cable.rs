//! What the cable does to the reading: the blade at mid stick with the cable lifted off it, and with the cable hanging.
//!
//! The clip stays where it sits and nothing else moves, so that only both readings' scatter is left in the difference. A
//! cable that bends the blade or turns the clip shows here, and is in every other reading of that seat.
//! (Common practice, no source.)

use super::cell::{Basis, Cell, CellName, Value};
use super::finding::CellFinding;
use super::head::Head;
use super::limit_cell::judge;
use super::setup::{Entry, Event};
use crate::rotor::{BladeName, Station};
use crate::uncertainty::{Budget, Component, Contribution};
use crate::units::Angle;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One blade with the cable lifted, and with the cable hanging.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CableCheck {
    /// The blade that carries the clip.
    pub blade: BladeName,
    /// Where it stood, both times.
    #[serde(rename = "station_deg")]
    pub station: Station,
    /// Blade angle with the cable lifted so that it pulls at nothing.
    #[serde(rename = "lifted_deg")]
    pub lifted: Angle,
    /// Blade angle with the cable hanging as it does.
    #[serde(rename = "slack_deg")]
    pub slack: Angle,
    /// Standard uncertainty of the difference from the scatter of both readings.
    #[serde(rename = "u_repeat_deg")]
    pub u_repeat: Angle,
}

impl CableCheck {
    /// By how much the hanging cable turns the reading.
    #[must_use]
    pub fn pull(&self) -> Angle {
        self.slack - self.lifted
    }
}

/// The cell of the newest check of the cable.
pub(super) fn cable_cell(head: &Head, entries: &[Entry]) -> Option<Cell> {
    let (id, check) = entries.iter().rev().find_map(|entry| match &entry.event {
        Event::Cable { check } => Some((entry.id, check)),
        _ => None,
    })?;
    let budget = Budget::new([Contribution::new(Component::Repeat, check.u_repeat)]);
    let value = Value {
        angle: check.pull(),
        expanded: budget.expanded().expanded,
        basis: Basis::Lifted,
        as_read: check.slack,
        budget,
        captures: vec![id],
    };
    let mut cell = Cell::missing(CellName::Cable, head.targets.cable);
    cell.verdict = judge(cell.target, &value, false, false);
    cell.value = Some(value);
    cell.consequence = (!cell.verdict.is_good()).then_some(CellFinding::CablePulls);
    Some(cell)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;
    use uuid::Uuid;

    fn cell_of(lifted: f64, slack: f64) -> Cell {
        let check = CableCheck {
            blade: BladeName::A,
            station: Station::from_degrees(90.0).unwrap(),
            lifted: Angle::from_degrees(lifted),
            slack: Angle::from_degrees(slack),
            u_repeat: Angle::from_degrees(0.01),
        };
        let head = Head::from_toml(&Head::template("Club trainer")).unwrap();
        let entry = Entry { id: Uuid::nil(), at: Timestamp::UNIX_EPOCH, event: Event::Cable { check } };
        cable_cell(&head, &[entry]).unwrap()
    }

    #[test]
    fn a_cable_that_pulls_is_named_with_what_to_do() {
        assert_eq!(cell_of(0.30, 0.33).verdict.word(), "inside");
        let pulls = cell_of(0.30, 0.75);
        assert_eq!(pulls.verdict.word(), "outside");
        assert!((pulls.value.as_ref().unwrap().angle.degrees() - 0.45).abs() < 1e-12);
        assert_eq!(pulls.consequence, Some(CellFinding::CablePulls));
        // Two readings of 0.01° together, k = 1.96.
        assert!((pulls.value.as_ref().unwrap().expanded.degrees() - 0.0196).abs() < 1e-4);
    }
}
