//! The spindle bend check: a blade's span slope before and after the spindle is turned half round in its grips, links
//! off, the blade at the same station.
//!
//! A straight spindle leaves the slope as it is. A bent one lifts the grip by as much as it lowered it before: the bend is
//! half the change, (after − before)/2. The readings round the turn cannot tell it, since a bend turns with the head and
//! shows as a constant split and unequal droop at every azimuth. (Common practice, no source.)
//!
//! Clip, calibration and lean of the shaft are in both readings and drop out. What remains is each reading's own scatter,
//! and the blade's station: where the shaft leans by λ, a blade that stands δ off reads up to λ·δ otherwise.
//!
//! Assumed: the clip stays where it sits. A clip that is taken off in between adds its seat.

use super::cell::{Basis, Cell, CellName, Value};
use super::head::Head;
use super::limit_cell::judge;
use super::setup::{Entry, Event};
use super::survey::RotorSurvey;
use crate::rotor::{BladeName, Station};
use crate::uncertainty::{Budget, Component, Contribution, Remedy};
use crate::units::Angle;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// How far a helicopter on a bench leans while nobody has measured it. [common practice, no source]
const UNKNOWN_LEAN_DEGREES: f64 = 2.0;

/// One blade's span slope before and after the spindle was turned.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SpindleCheck {
    /// The blade that carries the clip.
    pub blade: BladeName,
    /// Where it stood, both times.
    #[serde(rename = "station_deg")]
    pub station: Station,
    /// Span slope before, tip up positive.
    #[serde(rename = "before_deg")]
    pub before: Angle,
    /// Span slope after.
    #[serde(rename = "after_deg")]
    pub after: Angle,
    /// Standard uncertainty of the change from the scatter of both readings.
    #[serde(rename = "u_repeat_deg")]
    pub u_repeat: Angle,
}

impl SpindleCheck {
    /// How far the spindle is bent, with the sign of the reading after the turn.
    #[must_use]
    pub fn bend(&self) -> Angle {
        (self.after - self.before) / 2.0
    }

    fn budget(&self, head: &Head, entries: &[Entry]) -> Budget {
        let solved = RotorSurvey::new(head, entries, None).ok().and_then(|survey| survey.solution.shaft_tilt());
        let lean = solved.map(|tilt| tilt.nose.hypot(tilt.left));
        let u_station = head.station_error.radians() / 3f64.sqrt();
        // Two stations, each off on its own, and half their difference.
        let off = lean.unwrap_or(Angle::from_degrees(UNKNOWN_LEAN_DEGREES)) * (u_station / std::f64::consts::SQRT_2);
        let azimuth = Contribution::new(Component::Azimuth, off);
        let azimuth = if lean.is_none() { azimuth.assumed() } else { azimuth }.shrunk_by(Remedy::LevelModel);
        Budget::new([Contribution::new(Component::Repeat, self.u_repeat / 2.0), azimuth])
    }
}

/// The cell of one blade's spindle, from its newest check.
pub(super) fn spindle_cell(head: &Head, entries: &[Entry], blade: BladeName) -> Option<Cell> {
    let (id, check): (Uuid, &SpindleCheck) = entries.iter().rev().find_map(|entry| match &entry.event {
        Event::Spindle { check } if check.blade == blade => Some((entry.id, check)),
        _ => None,
    })?;
    let budget = check.budget(head, entries);
    let value = Value {
        angle: check.bend(),
        expanded: budget.expanded().expanded,
        basis: Basis::Turned,
        as_read: check.after,
        budget,
        captures: vec![id],
    };
    let mut cell = Cell::missing(CellName::Spindle(blade), head.targets.spindle);
    cell.verdict = judge(cell.target, &value, false, false);
    cell.value = Some(value);
    cell.consequence = cell.plain_consequence();
    Some(cell)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;

    fn cell_of(before: f64, after: f64) -> Cell {
        let check = SpindleCheck {
            blade: BladeName::A,
            station: Station::from_degrees(90.0).unwrap(),
            before: Angle::from_degrees(before),
            after: Angle::from_degrees(after),
            u_repeat: Angle::from_degrees(0.01),
        };
        let head = Head::from_toml(&Head::template("Club trainer")).unwrap();
        let entry = Entry { id: Uuid::nil(), at: Timestamp::UNIX_EPOCH, event: Event::Spindle { check } };
        spindle_cell(&head, &[entry], BladeName::A).unwrap()
    }

    #[test]
    fn a_straight_spindle_is_inside_and_half_the_change_of_a_bent_one_is_its_bend() {
        assert_eq!(cell_of(-2.0, -2.02).verdict.word(), "inside");
        let bent = cell_of(-2.0, -0.8);
        assert!((bent.value.as_ref().unwrap().angle.degrees() - 0.6).abs() < 1e-12);
        assert_eq!(bent.verdict.word(), "outside");
        // Two degrees of lean that nobody measured, five degrees of station: u = 2·(5/√3·π/180)/√2 = 0.0713°.
        let u = bent.value.as_ref().unwrap().budget.standard().degrees();
        assert!((u - 0.0713f64.hypot(0.005)).abs() < 1e-4, "{u}");
        assert_eq!(cell_of(-2.0, -1.7).verdict.word(), "undecided");
    }
}
