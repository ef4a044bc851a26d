//! From a steady force to a reading: the blade angle against a datum, and what makes it uncertain.
//!
//! | component | from |
//! | --- | --- |
//! | repeat | scatter of the samples, and counts too coarse for the noise to blur |
//! | calibration | the calibration's covariance, less what the datum shares with the reading |
//! | datum | how well the zero itself was read |
//! | clip | how the clip sits on the blade: a stated default until a re-seat study replaces it |
//! | temperature | what the sensor warmed up or cooled down since the datum |
//!
//! What depends on the other captures of a record (azimuth, the model's roll on the tail, closure) is added there.

use super::{Instrument, Taken};
use crate::record::Reading;
use crate::rotor::{
    Clip, Datum, DatumError, LeadingEdge, Place, SpanTooSteep, Spot, TailError, Visibility, tail_pitch,
};
use crate::sensor::u_temperature;
use crate::uncertainty::{Budget, Component, Contribution, Freedom, Source};
use crate::units::{Angle, BladeVector, Celsius};

/// How far a clip that is put on again may sit from where it sat, one standard uncertainty. [common practice, no source]
const CLIP_RESEAT_DEGREES: f64 = 0.1;

/// Where and against what a force was read.
#[derive(Debug, Clone, Copy)]
pub struct Circumstances {
    /// Blade, place and clip; none for a bare sensor, of which nothing but its angle is claimed.
    pub place: Option<Place>,
    /// Which way the clip sits when there is no place.
    pub clip: Clip,
    /// What zero means.
    pub datum: Datum,
    /// The sensor's temperature when the datum was set, where it told.
    pub datum_temperature: Option<Celsius>,
}

/// Why a force gives no blade angle.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EvaluateError {
    /// The span stands too steep.
    #[error(transparent)]
    Span(#[from] SpanTooSteep),
    /// The tail blade stands wrong.
    #[error(transparent)]
    Tail(#[from] TailError),
    /// The datum does not hold here.
    #[error(transparent)]
    Datum(#[from] DatumError),
    /// The datum asks for a place that was not named.
    #[error("this datum holds at one place only: name the blade and its station (--blade A --station 90)")]
    NoPlace,
    /// The leading edge points the other way.
    #[error(
        "the tail blade's leading edge points {seen}, not {said}: is it the other blade, or does the clip sit the other \
         way round? Turn the tail rotor, or name the leading edge as it stands (--leading-edge {seen})"
    )]
    LeadingEdge {
        /// What the person said.
        said: LeadingEdge,
        /// What gravity says.
        seen: LeadingEdge,
    },
}

/// Turns what was taken into a reading.
///
/// # Errors
/// When gravity cannot show the angle, the datum does not hold at the place, or the tail blade stands the other way.
pub fn evaluate(taken: &Taken, instrument: &Instrument, at: &Circumstances) -> Result<Reading, EvaluateError> {
    let steady = &taken.steady;
    let clip = at.place.map_or(at.clip, |place| place.clip);
    let up = clip.turn(steady.mean);
    let apparent = match at.place.map(|place| place.spot) {
        Some(Spot::Tail(said)) => tail(up, said)?,
        _ => {
            Visibility::of(up)?;
            up.apparent_pitch()
        }
    };
    let zero = match (at.place, at.datum) {
        (Some(place), datum) => datum.zero(place)?,
        (None, Datum::Gravity) => crate::rotor::Zero::default(),
        (None, _) => return Err(EvaluateError::NoPlace),
    };
    Ok(Reading {
        angle: zero.apply(apparent),
        apparent_pitch: apparent,
        span_inclination: up.span_inclination(),
        up,
        budget: budget(taken, instrument, at, clip, zero.u),
        samples: steady.samples,
        effective_samples: steady.effective_samples,
        dropped_samples: steady.dropped.total(),
        damaged_frames: taken.counters.damaged(),
        lost_samples: taken.counters.lost,
        settled_at: steady.settled_at,
        finished_at: steady.finished_at,
        steady: steady.steady,
        ended_by: steady.ended_by,
        observability: steady.observability(),
        temperature: taken.temperature,
    })
}

fn tail(up: BladeVector, said: LeadingEdge) -> Result<Angle, EvaluateError> {
    let reading = tail_pitch(up)?;
    if reading.leading_edge == said {
        Ok(reading.pitch)
    } else {
        Err(EvaluateError::LeadingEdge { said, seen: reading.leading_edge })
    }
}

fn budget(taken: &Taken, instrument: &Instrument, at: &Circumstances, clip: Clip, u_zero: Angle) -> Budget {
    let steady = &taken.steady;
    let repeat =
        Contribution::new(Component::Repeat, steady.repeat).with_freedom(Freedom::new(steady.effective_samples - 1.0));
    let mut budget = Budget::new([repeat, calibration(steady.mean, instrument, at, clip)]);
    if u_zero > Angle::ZERO {
        budget = budget.with(Contribution::new(Component::Datum, u_zero));
    }
    // A neutral was read on this very seat: what the clip adds is in both and drops out.
    if at.place.is_some() && !matches!(at.datum, Datum::Neutral { .. }) {
        budget = budget.with(Contribution::new(Component::Clip, Angle::from_degrees(CLIP_RESEAT_DEGREES)).assumed());
    }
    if let (Some(now), Some(then)) = (taken.temperature, at.datum_temperature.or(instrument.calibration.temperature)) {
        let u = u_temperature(now - then, steady.observability());
        if u > Angle::ZERO {
            budget = budget.with(Contribution::new(Component::Temperature, u).assumed());
        }
    }
    budget
}

/// The calibration's part, cause by cause: the reading's effects less those that the zero already carries.
fn calibration(mean: BladeVector, instrument: &Instrument, at: &Circumstances, clip: Clip) -> Contribution {
    let of_the_zero = zero_readings(at, clip).into_iter().map(|(weight, up)| (-weight, up));
    let readings: Vec<(f64, BladeVector)> = std::iter::once((clip.sign(), mean)).chain(of_the_zero).collect();
    let effects = instrument.calibration.effects(&readings, instrument.mounting);
    let calibration = &instrument.calibration;
    let contribution = Contribution::new(Component::Calibration, Angle::ZERO)
        .shared_effects(Source::calibration(&calibration.name), effects);
    if calibration.is_calibrated() { contribution } else { contribution.assumed() }
}

/// The verticals, as the sensor saw them, whose pitches make up the zero, each with its weight.
fn zero_readings(at: &Circumstances, clip: Clip) -> Vec<(f64, BladeVector)> {
    let sign = clip.sign();
    match at.datum {
        Datum::Gravity | Datum::Shaft { .. } => Vec::new(),
        Datum::Surface { up, .. } => vec![(sign, up)],
        Datum::Reversal { instrument, slope, .. } => [slope, -slope]
            .map(|slope| (sign / 2.0, crate::rotor::up_from_reading(instrument.chord + slope, instrument.span)))
            .to_vec(),
        Datum::Neutral { apparent, place, .. } => {
            let blade = crate::rotor::up_from_reading(apparent, Angle::ZERO);
            vec![(place.clip.sign(), place.clip.turn(blade))]
        }
    }
}
