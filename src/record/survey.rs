//! The rotor as the captures of a setup show it: main blades read round the turn with the sticks in one position.
//!
//! Every capture that still holds gives one reading, apparent pitch and span slope; where one place was read more than
//! once, the newest. What the sensor's own error is known to be (`datum reversal`) is taken off. Then the rotor
//! is solved by generalised least squares: weighed by what each reading is uncertain by itself, and by what several share.
//!
//! * *Each reading's own*: repeat, and the blade's station, set by eye: `u(ψ)·dφ/dψ`, from a first solution.
//! * *Shared*: the clip's seat (one offset and one yaw from square for every seat), the calibration, the sensor's own error.
//!   Each cause moves all its readings at once, which is their covariance (JCGM 100:2008, 5.2). So a seat that is off goes into
//!   a collective and not into the lean of the shaft, and a calibration drops out of the split.
//!
//! Assumed: a clip sits square within 2°, evenly likely; the sensor's error about its chord is as large as that about its
//! span. The model stood still while it was read: if not, the residuals show it.

use super::capture::Capture;
use super::collective::tells_the_rotor;
use super::head::Head;
use super::setup::{Entry, Event};
use super::timeline::{Dated, Timeline, same_station};
use super::travel::own_budget;
use crate::rotor::{
    BladeName, Carrier, Clip, Datum, Deflection, InstrumentError, ReadingUncertainty, RotorReading, RotorSolution,
    SharedCause, SolutionError, Station, solve_sharing, with_stations,
};
use crate::uncertainty::{Component, Contribution};
use crate::units::Angle;
use std::collections::BTreeMap;
use uuid::Uuid;

/// A clip put on by eye is square to the span within this, evenly likely. [common practice, no source]
pub(super) const YAW_DEGREES: f64 = 2.0;

/// No single reading is better than this: it keeps the weights finite. [common practice, no source]
const LEAST_DEGREES: f64 = 0.005;

/// A rotor is solved from at least so many stations of one blade.
const FEWEST_STATIONS: usize = 3;

/// Readings of one blade closer than this stand at one place.
const SAME_PLACE_DEGREES: f64 = 0.5;

/// The rotor from the captures of a setup.
#[derive(Debug, Clone)]
pub struct RotorSurvey {
    /// What was read, the sensor's own error taken off.
    pub readings: Vec<RotorReading>,
    /// The captures it was read from, in the same order.
    pub captures: Vec<Uuid>,
    /// The solution; its standard errors hold what the readings share.
    pub solution: RotorSolution,
    /// The sensors it was read with, each with what is known of its own error, which was taken off.
    pub sensors: Vec<SensorError>,
    /// Whether the model was moved, or the sensor changed, since it was read: then the shaft leans otherwise now.
    pub moved_since: bool,
}

/// A sensor among those of a survey.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorError {
    /// The blade on which it stays; none where one clip goes from blade to blade.
    pub carrier: Option<Carrier>,
    /// Its own error and how well that is known, where it is.
    pub own: Option<(InstrumentError, Angle)>,
}

/// Why captures give no rotor.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SurveyError {
    /// Nothing to solve, with the sticks so; without a position, with every stick at its centre.
    #[error("no captures")]
    NoCaptures(Option<Deflection>),
    /// A sensor that sends one angle does not tell the lean of the shaft from the tilt of the swashplate.
    #[error("no span slope")]
    NoSpan,
    /// Every zero leaves the sensor's own error in the readings, as one of a surface or of a blade's neutral does.
    #[error("sensor error unknown")]
    SensorUnknown,
    /// One offset cannot stand for several clips.
    #[error("reversed clips")]
    ReversedClips,
    /// No solution.
    #[error(transparent)]
    Solution(#[from] SolutionError),
}

impl RotorSurvey {
    /// Solves the rotor from the captures with the sticks at `stick`; without one, every stick at its centre. They are those that
    /// tell of the rotor, all of one stand of the model: the newest in which they are enough, else the newest of all.
    ///
    /// # Errors
    /// When there is no such capture, or the readings follow no rotor.
    pub fn new(head: &Head, entries: &[Entry], stick: Option<Deflection>) -> Result<Self, SurveyError> {
        let timeline = Timeline::on(head, entries);
        let wanted = |dated: &Dated<'_>| {
            let deflection = dated.subject().deflection();
            stick.map_or_else(|| deflection.is_neutral(), |stick| deflection == stick)
        };
        let stands = by_stand(&timeline, wanted);
        let enough = stands.iter().find(|(_, of_stand)| is_enough(head, of_stand));
        let Some((stand, of_stand)) = enough.or(stands.first()) else {
            let held = || timeline.on_main_rotor().filter(|dated| dated.is_fresh() && wanted(dated));
            return Err(match held().next() {
                None => SurveyError::NoCaptures(stick),
                Some(_) if held().any(|dated| dated.capture.reading.shows_the_span()) => SurveyError::SensorUnknown,
                Some(_) => SurveyError::NoSpan,
            });
        };
        let survey = Self::of(head, entries, &newest_at_each_place(of_stand.iter().copied()))?;
        Ok(Self { moved_since: *stand != timeline.stand(), ..survey })
    }

    /// The rotor from these captures, all with the sticks in one position and of one stand of the model.
    pub(super) fn of(head: &Head, entries: &[Entry], captures: &[&Capture]) -> Result<Self, SurveyError> {
        let known = |carrier: Option<Carrier>| {
            entries.iter().rev().find_map(|entry| match &entry.event {
                Event::Datum { datum } if datum.carrier == carrier => own_error(datum.datum),
                _ => None,
            })
        };
        let errors: Vec<Option<(InstrumentError, Angle)>> = captures
            .iter()
            .map(|capture| own_error(capture.datum.datum).or_else(|| known(capture.sensor.carrier)))
            .collect();
        let u_station = head.station_error / 3f64.sqrt();
        let told = captures.iter().zip(&errors);
        let readings: Vec<RotorReading> =
            told.filter_map(|(capture, error)| reading(capture, error.map(|e| e.0), u_station)).collect();
        let readings = with_stations(&readings, head.rotation)?;
        let solution = solve_sharing(&readings, head.rotation, &shared_causes(captures, &readings, &errors))?;
        let mut sensors: Vec<SensorError> = Vec::new();
        for (capture, own) in captures.iter().zip(&errors).rev() {
            let carrier = capture.sensor.carrier;
            match sensors.iter_mut().find(|sensor| sensor.carrier == carrier) {
                Some(sensor) => sensor.own = sensor.own.or(*own),
                None => sensors.push(SensorError { carrier, own: *own }),
            }
        }
        if sensors.len() > 1 && captures.iter().any(|capture| capture.clip == Clip::Reversed) {
            return Err(SurveyError::ReversedClips);
        }
        let captures = captures.iter().map(|capture| capture.id).collect();
        Ok(Self { readings, captures, solution, sensors, moved_since: false })
    }

    /// The shaft as a datum for one of the sensors, with its own error in it; none where the readings do not tell the lean.
    #[must_use]
    pub fn datum(&self, sensor: &SensorError) -> Option<Datum> {
        let Datum::Shaft { tilt, rotation, clip_offset, u } = self.solution.datum()? else { return None };
        let own = sensor.own.map(|(error, _)| error.chord);
        let u_own = sensor.own.map_or(Angle::ZERO, |(_, u)| u);
        let clip_offset = match (clip_offset, own) {
            (None, None) => None,
            (one, other) => Some(one.unwrap_or_default() + other.unwrap_or_default()),
        };
        Some(Datum::Shaft { tilt, rotation, clip_offset, u: u.hypot(u_own) })
    }
}

/// What a datum knows of the sensor's own error, and how well.
fn own_error(datum: Datum) -> Option<(InstrumentError, Angle)> {
    match datum {
        Datum::Reversal { instrument, u, .. } => Some((instrument, u)),
        Datum::Surface { instrument: Some(instrument), u, .. } => Some((instrument, u)),
        // Only the part about the span is kept with a shaft; the other one is then part of every droop.
        Datum::Shaft { clip_offset: Some(chord), u, .. } => Some((InstrumentError { chord, span: Angle::ZERO }, u)),
        _ => None,
    }
}

/// The captures of the main rotor that hold, are `wanted` and tell of the rotor, by the stand of the model: the newest stand first,
/// in each the oldest capture first. Readings of two stands lean differently and make no one rotor.
pub(super) fn by_stand<'t, 'a>(
    timeline: &'t Timeline<'a>,
    wanted: impl Fn(&Dated<'a>) -> bool,
) -> Vec<(u32, Vec<&'t Dated<'a>>)> {
    let mut stands: BTreeMap<u32, Vec<&Dated<'a>>> = BTreeMap::new();
    let tells = |dated: &&Dated<'a>| dated.is_fresh() && wanted(dated) && tells_the_rotor(dated.capture);
    for dated in timeline.on_main_rotor().filter(tells) {
        stands.entry(dated.stand).or_default().push(dated);
    }
    stands.into_iter().rev().collect()
}

/// Whether one blade was read at so many stations that a rotor follows.
pub(super) fn is_enough(head: &Head, captures: &[&Dated<'_>]) -> bool {
    head.blades.names().any(|blade| stations(captures, blade) >= FEWEST_STATIONS)
}

/// How many stations of a blade there are.
fn stations(captures: &[&Dated<'_>], blade: BladeName) -> usize {
    let mut found: Vec<Station> = Vec::new();
    for at in captures.iter().filter(|d| d.subject().blade() == blade).filter_map(|d| d.subject().station()) {
        if found.iter().all(|seen| seen.distance(at) > same_station()) {
            found.push(at);
        }
    }
    found.len()
}

/// Of captures, oldest first, the newest of each place.
pub(super) fn newest_at_each_place<'t, 'a: 't>(
    captures: impl DoubleEndedIterator<Item = &'t Dated<'a>>,
) -> Vec<&'a Capture> {
    let mut found: Vec<&'a Capture> = Vec::new();
    for dated in captures.rev() {
        let capture = dated.capture;
        if !found.iter().any(|newer| is_same_place(newer, capture)) {
            found.push(capture);
        }
    }
    found.reverse();
    found
}

fn is_same_place(one: &Capture, other: &Capture) -> bool {
    let near = |a: Station, b: Station| a.distance(b).degrees() < SAME_PLACE_DEGREES;
    one.subject.blade() == other.subject.blade()
        && one.clip == other.clip
        && one.subject.station().zip(other.subject.station()).is_some_and(|(a, b)| near(a, b))
}

fn reading(capture: &Capture, error: Option<InstrumentError>, u_station: Angle) -> Option<RotorReading> {
    let error = error.unwrap_or_default();
    let repeat = capture.reading.budget.components().get(&Component::Repeat).copied().unwrap_or_default();
    let u = repeat.hypot(Angle::from_degrees(LEAST_DEGREES));
    Some(RotorReading {
        blade: capture.subject.blade(),
        station: capture.subject.station()?,
        clip: capture.clip,
        apparent: capture.reading.apparent_pitch - error.chord * capture.clip.sign(),
        span: capture.reading.span_inclination - error.span * capture.clip.sign(),
        u: Some(ReadingUncertainty { apparent: u, span: u, station: u_station }),
    })
}

fn shared_causes(
    captures: &[&Capture],
    readings: &[RotorReading],
    errors: &[Option<(InstrumentError, Angle)>],
) -> Vec<SharedCause> {
    let nothing = vec![(Angle::ZERO, Angle::ZERO); readings.len()];
    let mut causes: BTreeMap<(Component, String, usize), SharedCause> = BTreeMap::new();
    let mut move_by = |key: (Component, String, usize), place: usize, by: (Angle, Angle)| {
        let cause = causes.entry(key).or_insert_with(|| nothing.clone());
        if let Some(moved) = cause.get_mut(place) {
            *moved = (moved.0 + by.0, moved.1 + by.1);
        }
    };
    for (place, (capture, reading)) in captures.iter().zip(readings).enumerate() {
        let way = capture.clip.sign();
        let budget = own_budget(capture);
        for contribution in budget.contributions().iter().filter(|c| is_shared(c)) {
            let source = contribution.source.as_ref().map(ToString::to_string).unwrap_or_default();
            for (index, effect) in contribution.effects.iter().enumerate() {
                move_by((contribution.component, source.clone(), index), place, (*effect, Angle::ZERO));
            }
            // The same about the chord, which the budget of a pitch does not know.
            let size = contribution.standard() * way;
            move_by((contribution.component, source, usize::MAX), place, (Angle::ZERO, size));
        }
        let yaw = (YAW_DEGREES / 3f64.sqrt()).to_radians();
        let seat = (Component::Clip, format!("yaw of seat {}", capture.seat), 0);
        move_by(seat, place, (reading.span * (yaw * way), reading.apparent * (-yaw * way)));
        if let Some(Some((_, u))) = errors.get(place) {
            let whose = capture.sensor.carrier.map_or_else(|| "the sensor".to_owned(), Carrier::said);
            move_by((Component::Datum, whose.clone(), 0), place, (*u * way, Angle::ZERO));
            move_by((Component::Datum, whose, 1), place, (Angle::ZERO, *u * way));
        }
    }
    causes.into_values().collect()
}

/// The station and the scatter are each reading's own; a datum is not in an apparent pitch, and no tail is here.
const fn is_shared(contribution: &Contribution) -> bool {
    matches!(contribution.component, Component::Clip | Component::Calibration | Component::Temperature)
}
