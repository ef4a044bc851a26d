//! Droop of two blades at one station: the difference of their span slopes.
//!
//! Lean of the shaft and one clip's span offset are in both slopes and drop out. What remains is each reading's scatter and seat of
//! the clip, how far from its station the blade stood, and the clip's turn from square, which lets a part of the pitch into the slope.
//! Links, trims and servos do not change it, so that it does not become stale with them.
//!
//! The cell is there only where both blades were read by one clip, sitting one way round, with a sensor that shows the span.

use super::capture::Capture;
use super::cell::{Basis, Cell, CellName, Value};
use super::collective::Standings;
use super::head::Head;
use super::limit_cell::judge;
use super::spindle::off_its_station;
use super::survey::YAW_DEGREES;
use super::timeline::Timeline;
use super::travel::own_budget;
use super::zero_cell::pair_that;
use crate::rotor::BladeName;
use crate::uncertainty::{Budget, Component, Contribution, Remedy, Source};
use crate::units::Angle;

/// The cell of a blade's droop less that of blade A, tip up positive.
pub(super) fn droop_cell(
    head: &Head,
    timeline: &Timeline<'_>,
    standings: &Standings<'_, '_>,
    blade: BladeName,
) -> Option<Cell> {
    // One clip, sitting one way round; a sensor that sends angles alone shows no span.
    let tells = |a: &Capture, b: &Capture| {
        let one_clip = a.sensor.carrier == b.sensor.carrier && a.clip == b.clip;
        one_clip && [a, b].iter().all(|capture| capture.reading.shows_the_span())
    };
    let (reference, other) = pair_that(timeline, blade, |a, b| tells(a.capture, b.capture))?;
    let (a, b) = (reference.capture, other.capture);
    let off = off_its_station(head, standings);
    let budget = slope_budget(b, off).difference(&slope_budget(a, off));
    let value = Value {
        angle: b.reading.span_inclination - a.reading.span_inclination,
        expanded: budget.expanded().expanded,
        basis: Basis::Split,
        as_read: b.reading.span_inclination,
        budget,
        captures: vec![a.id, b.id],
    };
    let mut cell = Cell::missing(CellName::Droop(blade), head.targets.droop);
    cell.verdict = judge(cell.target, &value, false, false);
    cell.value = Some(value);
    cell.consequence = cell.plain_consequence();
    Some(cell)
}

/// What makes a span slope uncertain against another of the same clip: as its pitch by scatter, seat, calibration and temperature.
fn slope_budget(capture: &Capture, (off, assumed): (Angle, bool)) -> Budget {
    let alike = [Component::Repeat, Component::Clip, Component::Calibration, Component::Temperature];
    let own = own_budget(capture);
    let of_pitch = own.contributions().iter().filter(|c| alike.contains(&c.component)).cloned();
    let azimuth = Contribution::new(Component::Azimuth, off).shrunk_by(Remedy::LevelModel);
    let azimuth = if assumed { azimuth.assumed() } else { azimuth };
    let yaw = capture.reading.apparent_pitch * (YAW_DEGREES.to_radians() / 3f64.sqrt());
    let skew = Contribution::new(Component::Skew, yaw).assumed().shared(Source::seat(capture.seat));
    Budget::new(of_pitch.chain([azimuth, skew]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::comparison::{Change, Comparison};
    use crate::limits::LimitRecord;
    use crate::setup::{Entry, Event};
    use jiff::Timestamp;
    use uuid::Uuid;

    fn captured(seat: u32, blade: &str, slope: f64, change: impl FnOnce(&mut Capture)) -> Entry {
        let id = Uuid::from_u128(u128::from(seat));
        let span = slope.to_radians().sin();
        let mut capture: Capture = serde_json::from_value(serde_json::json!({
            "id": id, "taken_at": "2026-11-25T10:00:00Z",
            "axis": "collective", "direction": "mid", "blade": blade, "station_deg": 90.0,
            "clip": "forward", "seat": seat, "stick_percent": 50.0, "limited_by": "end_point", "approach": null,
            "angle_deg": 0.1, "apparent_pitch_deg": 0.1, "span_inclination_deg": slope,
            "up_g": {"span": span, "chord": 0.002, "normal": span.asin().cos()}, "budget": [],
            "samples": 100, "effective_samples": 90.0, "dropped_samples": 0, "damaged_frames": 0, "lost_samples": 0,
            "settled_at_s": 1.0, "finished_at_s": 2.0, "steady": true, "ended_by": "want", "observability": 1.0,
            "temperature_c": null,
            "datum": {"id": Uuid::nil(), "set_at": "2026-11-25T09:00:00Z", "kind": "gravity"},
            "sensor": {"profile": "sentence", "port": "bench", "calibration": null},
        }))
        .unwrap();
        for component in [Component::Repeat, Component::Clip] {
            let u = Contribution::new(component, Angle::from_degrees(0.02));
            capture.reading.budget = capture.reading.budget.with(u);
        }
        change(&mut capture);
        Entry { id, at: Timestamp::UNIX_EPOCH, event: Event::Capture(Box::new(capture)) }
    }

    /// Blades that droop by so much, on a model that leans and with a clip that has a span offset, both as one sum.
    fn setup(a: f64, b: f64, of_both: f64) -> Vec<Entry> {
        vec![captured(1, "A", a + of_both, |_| {}), captured(2, "B", b + of_both, |_| {})]
    }

    fn head() -> Head {
        Head::from_toml(&Head::template("Club trainer")).unwrap()
    }

    fn b() -> BladeName {
        "B".parse().unwrap()
    }

    fn cell(entries: &[Entry]) -> Option<Cell> {
        LimitRecord::new(&head(), entries).cell(CellName::Droop(b())).cloned()
    }

    #[test]
    fn the_droop_of_two_blades_is_told_apart_from_what_both_have() {
        let alike = cell(&setup(-1.0, -1.1, 2.3)).unwrap();
        let value = alike.value.as_ref().unwrap();
        assert!((value.angle.degrees() + 0.1).abs() < 1e-9, "{value:?}");
        assert_eq!(alike.verdict.word(), "inside");
        // Two stations at 2°/√3·5° of lean that nobody measured, two repeats and two seats of 0.02°, and next to no skew.
        let u = value.budget.standard().degrees();
        assert!((u - (2.0 * (0.1008f64.powi(2) + 2.0 * 0.02f64.powi(2))).sqrt()).abs() < 2e-3, "{u}");
        assert_eq!(cell(&setup(-1.0, -2.6, 2.3)).unwrap().verdict.word(), "outside");
    }

    #[test]
    fn a_blade_that_droops_by_a_degree_more_has_changed_and_a_model_that_leans_otherwise_has_not() {
        let record = |entries: &[Entry]| LimitRecord::new(&head(), entries);
        let first = record(&setup(-1.0, -1.0, 0.0));
        let change = |second: &LimitRecord| {
            let comparison = Comparison::new(&first, second, &head());
            comparison.cells.iter().find(|cell| cell.cell == CellName::Droop(b())).unwrap().change
        };
        assert_eq!(change(&record(&setup(-1.0, -2.0, 0.0))), Change::Changed);
        assert_ne!(change(&record(&setup(-1.0, -1.0, 2.0))), Change::Changed);
    }

    #[test]
    fn there_is_no_cell_where_the_record_does_not_hold_the_slopes_of_one_clip() {
        let with = |change: fn(&mut Capture)| cell(&[captured(1, "A", 1.0, |_| {}), captured(2, "B", 1.0, change)]);
        assert!(with(|_| {}).is_some());
        assert_eq!(with(|capture| capture.reading.up.span = 0.0), None);
        assert_eq!(with(|capture| capture.clip = crate::rotor::Clip::Reversed), None);
        assert_eq!(with(|capture| capture.sensor.carrier = Some("B".parse().unwrap())), None);
        assert_eq!(cell(&[captured(1, "A", 1.0, |_| {})]), None);
    }
}
