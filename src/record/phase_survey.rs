//! The phase of the cyclic axes from the captures of a setup: full stick at several stations, each with its neutral.
//!
//! A travel's own uncertainty is that of the difference; its station, set by eye, adds A·|cos|·u(ψ), most where the
//! pattern crosses zero, which is where a phase shows. Captures at one station share its error, so that it is made
//! larger by the root of their number and does not average away.
//!
//! Left out: ends short of a bind, whose travel is not that of a full stick.

use super::capture::LimitedBy;
use super::head::Head;
use super::setup::Entry;
use super::timeline::{Dated, Timeline};
use super::trade;
use super::travel::{neutral_for, own_budget};
use crate::rotor::{Axis, AxisPhase, CyclicTravel, PhaseError, PhasePair, axis_phase, factor};
use crate::units::Angle;

/// No travel is known better than this: it keeps the weights finite. [common practice, no source]
const LEAST_DEGREES: f64 = 0.005;

/// Both cyclic axes, as far as the captures show them.
#[derive(Debug, Clone, PartialEq)]
pub struct PhaseSurvey {
    /// Elevator.
    pub elevator: Result<AxisPhase, PhaseError>,
    /// Aileron.
    pub aileron: Result<AxisPhase, PhaseError>,
    /// Both together, where both are known.
    pub pair: Option<PhasePair>,
}

impl PhaseSurvey {
    /// Works out both axes from what happened in a setup.
    #[must_use]
    pub fn new(head: &Head, entries: &[Entry]) -> Self {
        let timeline = Timeline::on(head, entries);
        let (elevator, aileron) = (phase(head, &timeline, Axis::Elevator), phase(head, &timeline, Axis::Aileron));
        let pair = elevator.as_ref().ok().zip(aileron.as_ref().ok()).map(|(elevator, aileron)| PhasePair {
            elevator: *elevator,
            aileron: *aileron,
            // A description without a phase does not say that the arm is plain.
            arm_lead: (head.control_phase != Angle::ZERO).then(|| Angle::from_degrees(90.0) - head.control_phase),
        });
        Self { elevator, aileron, pair }
    }
}

fn phase(head: &Head, timeline: &Timeline<'_>, axis: Axis) -> Result<AxisPhase, PhaseError> {
    let plain: Vec<CyclicTravel> = timeline.on_main_rotor().filter_map(|dated| travel(timeline, dated, axis)).collect();
    let first = axis_phase(axis, &plain, head.rotation)?;
    let with_station: Vec<CyclicTravel> = plain
        .iter()
        .map(|travel| {
            let share = factor(travel.deflection, travel.station, head.rotation, first.phase).unwrap_or(0.0);
            let slope = (1.0 - share * share).max(0.0).sqrt();
            let together = plain.iter().filter(|other| other.station.distance(travel.station).degrees() < 0.5).count();
            let u_station = head.station_error / 3f64.sqrt() * (together as f64).sqrt();
            let by_station = Angle::from_radians(first.amplitude.radians() * slope * u_station.radians());
            CyclicTravel { u: travel.u.hypot(by_station), ..*travel }
        })
        .collect();
    axis_phase(axis, &with_station, head.rotation)
}

fn travel<'a>(timeline: &Timeline<'a>, dated: &Dated<'a>, axis: Axis) -> Option<CyclicTravel> {
    let capture = dated.capture;
    let deflection = capture.subject.deflection();
    let full = capture.stick.value().abs() >= trade::FULL_PERCENT && capture.limited_by == LimitedBy::EndPoint;
    if deflection.axis() != axis || deflection.is_neutral() || !full || !dated.is_fresh() {
        return None;
    }
    let neutral = neutral_for(timeline, dated).filter(|neutral| neutral.captures.iter().all(Dated::is_fresh))?;
    let budget = own_budget(capture).difference(&neutral.budget);
    Some(CyclicTravel {
        deflection,
        station: capture.subject.station()?,
        travel: capture.reading.angle - neutral.angle,
        u: budget.standard().hypot(Angle::from_degrees(LEAST_DEGREES)),
    })
}
