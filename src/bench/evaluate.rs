//! From a steady force to a reading: the blade angle against a datum, and what makes it uncertain.
//!
//! | component | from |
//! | --- | --- |
//! | repeat | scatter of the samples, and counts too coarse for the noise to blur |
//! | calibration | the calibration's covariance, less what the datum shares with the reading |
//! | datum | how well the zero itself was read |
//! | clip | how the clip sits on the blade: a stated default until a re-seat study replaces it |
//! | skew | a clip not square to the blade, which sees a part of the span's slope |
//! | temperature | what the sensor warmed up or cooled down since the datum |
//!
//! What depends on the other captures of a record (azimuth, the model's roll on the tail, closure) is added there.

use super::{Instrument, Taken};
use crate::record::{Asked, Reading};
use crate::rotor::{
    BladeName, Clip, Datum, DatumError, LeadingEdge, Place, SpanTooSteep, Spot, TailError, Visibility, tail_pitch,
};
use crate::sensor::{Model, temperature_effects};
use crate::uncertainty::{Budget, Component, Contribution, Freedom, Remedy, Source};
use crate::units::{Angle, BladeVector, Celsius};

/// The slow noise of a cheap sensor that nobody has checked at rest, one standard uncertainty: 1/f noise of 0.35 mg, which does not show
/// within a hold. [common practice, no source]
const FLOOR_DEGREES: f64 = 0.0125;

/// How far a clip that is put on again may sit from where it sat, one standard uncertainty. [common practice, no source]
const CLIP_RESEAT_DEGREES: f64 = 0.1;

/// How far a clip set by eye may stand from square to the blade, about normal and chord, evenly likely inside. [common practice, no source]
const CLIP_SKEW_DEGREES: f64 = 2.0;

/// How the bottom of a sensor's case lies on the blade that its clip holds, evenly likely within 2°, one standard uncertainty.
/// [common practice, no source]
const CLIP_ON_ITS_CASE: Angle = Angle::from_radians(2.0 * std::f64::consts::PI / 180.0 / 1.732_050_807_568_877_2);

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
    /// Whether the clip sits as it did when the datum was read on this blade.
    pub on_the_datums_seat: bool,
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
    #[error("place not named")]
    NoPlace,
    /// The head has no such blade.
    #[error("no blade {blade} of {blades}")]
    NoBlade {
        /// The head's name.
        head: String,
        /// The blade.
        blade: BladeName,
        /// How many the rotor has.
        blades: u8,
    },
    /// The leading edge points the other way.
    #[error("leading edge not {said}")]
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
        (None, datum) => datum.zero_at_any_place(at.clip).ok_or(EvaluateError::NoPlace)?,
    };
    Ok(Reading {
        angle: zero.apply(apparent),
        apparent_pitch: apparent,
        span_inclination: up.span_inclination(),
        up,
        budget: budget(taken, instrument, at, up, zero.u),
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
        vibration: steady.vibration,
        temperature: taken.temperature,
        asked: Some(Asked {
            want: steady.asked.want,
            within: steady.asked.within,
            at_least: steady.asked.at_least,
            floor: steady.asked.floor,
        }),
    })
}

/// The vertical of a tail blade of this pitch, its span level.
fn tail_vertical(pitch: Angle, edge: LeadingEdge) -> BladeVector {
    let (sin, cos) = (pitch.sin(), pitch.cos());
    match edge {
        LeadingEdge::Up => BladeVector { span: 0.0, chord: cos, normal: -sin },
        LeadingEdge::Down => BladeVector { span: 0.0, chord: -cos, normal: sin },
    }
}

fn tail(up: BladeVector, said: LeadingEdge) -> Result<Angle, EvaluateError> {
    let reading = tail_pitch(up)?;
    if reading.leading_edge == said {
        Ok(reading.pitch)
    } else {
        Err(EvaluateError::LeadingEdge { said, seen: reading.leading_edge })
    }
}

fn budget(taken: &Taken, instrument: &Instrument, at: &Circumstances, up: BladeVector, u_zero: Angle) -> Budget {
    let clip = at.place.map_or(at.clip, |place| place.clip);
    let steady = &taken.steady;
    let mut repeat =
        Contribution::new(Component::Repeat, steady.repeat).with_freedom(Freedom::new(steady.effective_samples - 1.0));
    // The larger part of it is the sensor's step, which no waiting makes smaller.
    if steady.undithered > steady.repeat / std::f64::consts::SQRT_2 {
        repeat = repeat.shrunk_by(Remedy::FinerSensor);
    }
    let mut budget = Budget::new([repeat, calibration(steady.mean, instrument, at, clip)]);
    // What a check has shown is in the scatter already.
    if instrument.floor.is_none() {
        budget = budget.with(Contribution::new(Component::Floor, Angle::from_degrees(FLOOR_DEGREES)).assumed());
    }
    if u_zero > Angle::ZERO {
        budget = budget.with(Contribution::new(Component::Datum, u_zero).shrunk_by(closer_zero(at.datum)));
    }
    // Where the neutral was read on this very seat, what the clip adds is in both and drops out.
    let drops_out = matches!(at.datum, Datum::Neutral { .. }) && at.on_the_datums_seat;
    if at.place.is_some() && !drops_out {
        budget = budget.with(seat(instrument)).with(skew(up, own_slope(at, clip)));
    }
    if let (Some(now), Some(then)) = (taken.temperature, at.datum_temperature.or(instrument.calibration.temperature)) {
        budget = budget.with(temperature(steady.mean, instrument, clip, now - then));
    }
    budget
}

/// What the sensor's offsets may have drifted since the datum: as the drift per degree is the sensor's, shared by all of
/// its readings.
fn temperature(mean: BladeVector, instrument: &Instrument, clip: Clip, change: Celsius) -> Contribution {
    let effects = temperature_effects(mean, instrument.mounting, change).map(|effect| effect * clip.sign());
    // Two sensors that nobody calibrated are still two.
    let whose = match (instrument.calibration.is_calibrated(), instrument.carrier) {
        (false, Some(carrier)) => carrier.said(),
        _ => instrument.calibration.sensor.clone(),
    };
    let source = Source::new(format!("drift of {whose}"));
    Contribution::new(Component::Temperature, Angle::ZERO).shared_effects(source, effects.to_vec()).assumed()
}

/// A clip turned from square by κ about the blade's normal moves the angle by κ·s·n/(c² + n²), one turned about its chord
/// by κ·s·c/(c² + n²): κ times the slope of the span, the first on a blade in its plane, the second on one across it.
/// Both are the same at one seat while the blade does not move.
fn skew(up: BladeVector, own_slope: Angle) -> Contribution {
    let span = up.span - own_slope.sin();
    let across = up.chord * up.chord + up.normal * up.normal;
    let u = Angle::from_degrees(CLIP_SKEW_DEGREES / 3f64.sqrt());
    let effects = [up.normal, up.chord].map(|along| u * (span * along / across));
    Contribution { effects: effects.to_vec(), ..Contribution::new(Component::Skew, Angle::ZERO) }.assumed()
}

/// What the clip adds to the slope of the span, where a reversal has shown it.
fn own_slope(at: &Circumstances, clip: Clip) -> Angle {
    at.datum.instrument().map_or(Angle::ZERO, |own| own.span * clip.sign())
}

/// What putting the clip on again does: as the re-seat study found it, else a stated default.
pub(super) fn seat(instrument: &Instrument) -> Contribution {
    match instrument.reseat {
        Some(study) => {
            Contribution::new(Component::Clip, study.u).with_freedom(study.freedom).shrunk_by(Remedy::LeaveClip)
        }
        None => Contribution::new(Component::Clip, Angle::from_degrees(CLIP_RESEAT_DEGREES)).assumed(),
    }
}

/// The calibration's part, cause by cause: the reading's effects less those that the zero already carries.
fn calibration(mean: BladeVector, instrument: &Instrument, at: &Circumstances, clip: Clip) -> Contribution {
    let of_the_zero = zero_readings(at, clip).into_iter().map(|(weight, up)| (-weight, up));
    let readings: Vec<(f64, BladeVector)> = std::iter::once((clip.sign(), mean)).chain(of_the_zero).collect();
    let mut effects = instrument.calibration.effects(&readings, instrument.mounting);
    effects.push(case_rotation(instrument, at) * clip.sign());
    let calibration = &instrument.calibration;
    let contribution = Contribution::new(Component::Calibration, Angle::ZERO)
        .shrunk_by(closer_calibration(calibration.model, &effects))
        .shared_effects(Source::calibration(instrument.calibration_identity()), effects);
    if calibration.is_calibrated() { contribution } else { contribution.assumed() }
}

/// What would make the calibration's part smaller: what is the largest of it, the last effect being how the sensor sits in
/// its case.
fn closer_calibration(model: Model, effects: &[Angle]) -> Remedy {
    let case = effects.last().map_or(Angle::ZERO, |effect| effect.abs());
    let rest = effects.iter().rev().skip(1).fold(Angle::ZERO, |sum, effect| sum.hypot(*effect));
    match model {
        Model::Nominal => Remedy::Calibrate,
        _ if case > rest => Remedy::CaseTurn,
        Model::OffsetsAndScales => Remedy::NinePoses,
        Model::Full | Model::Faces => Remedy::MorePoses,
    }
}

/// What would make the zero better known.
const fn closer_zero(datum: Datum) -> Remedy {
    match datum {
        Datum::Reversal { .. } => Remedy::LongerReversal,
        Datum::Surface { .. } => Remedy::Reversal,
        Datum::Neutral { .. } => Remedy::LongerNeutral,
        Datum::Gravity | Datum::Shaft { .. } => Remedy::MoreStations,
    }
}

/// How the sensor's axes sit in their case, and the case on the blade by its clip, turns every angle about the span alike. It is in
/// every zero that was read with the sensor, and drops out against it; against gravity alone it stays. A calibration on the faces of
/// the case knows both: the clip holds one of these faces on the blade.
fn case_rotation(instrument: &Instrument, at: &Circumstances) -> Angle {
    let of_the_case = instrument.calibration.u_case_rotation();
    let on_a_blade = at.place.is_some() && of_the_case > Angle::ZERO;
    let of_the_clip = if on_a_blade { CLIP_ON_ITS_CASE } else { Angle::ZERO };
    match at.datum {
        Datum::Gravity | Datum::Shaft { clip_offset: None, .. } => of_the_case.hypot(of_the_clip),
        Datum::Shaft { .. } | Datum::Surface { .. } | Datum::Reversal { .. } | Datum::Neutral { .. } => Angle::ZERO,
    }
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
            let blade = match place.spot {
                Spot::Main(_) => crate::rotor::up_from_reading(apparent, Angle::ZERO),
                Spot::Tail(edge) => tail_vertical(apparent, edge),
            };
            vec![(place.clip.sign(), place.clip.turn(blade))]
        }
    }
}

/// What other files of this room need to test their arithmetic.
#[cfg(test)]
pub(super) mod test_kit {
    use super::*;
    use crate::filter::{Dropped, EndedBy, SteadyReading, SteadySettings};
    use crate::rotor::Rotation;
    use crate::sensor::Calibration;
    use crate::stream::{Counters, Profile};
    use crate::units::Seconds;

    /// A steady reading of this force.
    pub fn taken(up: BladeVector) -> Taken {
        let steady = SteadyReading {
            mean: up,
            repeat: Angle::from_degrees(0.01),
            span_repeat: Angle::from_degrees(0.01),
            undithered: Angle::ZERO,
            samples: 200,
            effective_samples: 200.0,
            dropped: Dropped::default(),
            lost_samples: 0,
            settled_at: Seconds::new(0.0),
            finished_at: Seconds::new(1.0),
            steady: true,
            stuck: false,
            ended_by: EndedBy::Want,
            vibration: None,
            asked: SteadySettings::default(),
        };
        Taken { steady, counters: Counters::default(), temperature: None, samples: Vec::new() }
    }

    /// A sensor that a tumble has calibrated: how it sits in its case stays unknown to 1.15°.
    pub fn instrument() -> Instrument {
        let mut calibration = Calibration::nominal(16384.0);
        calibration.model = crate::sensor::Model::Full;
        calibration.covariance *= 1e-6;
        calibration.case_rotation = Angle::from_degrees(1.15);
        Instrument::new(Profile::sentence(), Some(calibration), Rotation::Clockwise)
    }
}

#[cfg(test)]
mod tests {
    use super::test_kit::{instrument as tumbled, taken};
    use super::*;
    use crate::rotor::{InstrumentError, Station, up_from_reading};

    fn deg(degrees: f64) -> Angle {
        Angle::from_degrees(degrees)
    }

    fn place(spot: Spot) -> Place {
        Place { blade: BladeName::A, spot, clip: Clip::Forward }
    }

    fn square() -> Place {
        place(Spot::Main(Station::from_degrees(90.0).unwrap()))
    }

    fn read(up: BladeVector, place: Place, datum: Datum, on_the_datums_seat: bool) -> Reading {
        let at =
            Circumstances { place: Some(place), clip: place.clip, datum, datum_temperature: None, on_the_datums_seat };
        evaluate(&taken(up), &tumbled(), &at).unwrap()
    }

    fn component(reading: &Reading, component: Component) -> f64 {
        reading.budget.components().get(&component).map_or(0.0, |u| u.degrees())
    }

    #[test]
    fn where_the_sensors_step_is_most_of_the_scatter_a_finer_sensor_is_the_remedy() {
        let instrument = tumbled();
        let at = Circumstances {
            place: None,
            clip: Clip::Forward,
            datum: Datum::Gravity,
            datum_temperature: None,
            on_the_datums_seat: false,
        };
        let remedy = |undithered: f64| {
            let mut taken = taken(up_from_reading(deg(0.3), deg(0.0)));
            taken.steady.undithered = deg(undithered);
            let reading = evaluate(&taken, &instrument, &at).unwrap();
            let shares = reading.budget.shares();
            shares.iter().find(|share| share.component == Component::Repeat).unwrap().shrink.clone()
        };
        assert_eq!(remedy(0.003), Component::Repeat.remedy());
        assert_eq!(remedy(0.009), Remedy::FinerSensor);
    }

    #[test]
    fn what_is_the_largest_part_of_a_budget_names_what_would_shrink_it() {
        let largest = |instrument: &Instrument, datum: Datum| {
            let at = Circumstances {
                place: Some(square()),
                clip: Clip::Forward,
                datum,
                datum_temperature: None,
                on_the_datums_seat: true,
            };
            let reading = evaluate(&taken(up_from_reading(deg(0.3), deg(-1.0))), instrument, &at).unwrap();
            reading.budget.largest().unwrap().shrink
        };
        // A good tumble leaves the turn in the case, which no better tumble finds.
        assert_eq!(largest(&tumbled(), Datum::Gravity), Remedy::CaseTurn);
        let bare = Instrument::new(crate::stream::Profile::sentence(), None, crate::rotor::Rotation::Clockwise);
        assert_eq!(largest(&bare, Datum::Gravity), Remedy::Calibrate);
        let error = InstrumentError { chord: deg(0.4), span: deg(0.0) };
        let reversed = Datum::Reversal { instrument: error, slope: deg(0.5), u: deg(0.5) };
        assert_eq!(largest(&tumbled(), reversed), Remedy::LongerReversal);
        let mut few = tumbled();
        few.calibration.model = Model::OffsetsAndScales;
        few.calibration.covariance *= 1e6;
        few.calibration.case_rotation = deg(0.01);
        assert_eq!(largest(&few, Datum::Gravity), Remedy::NinePoses);
    }

    #[test]
    fn against_gravity_alone_the_sensors_place_in_its_case_stays_in_the_budget() {
        let level = up_from_reading(deg(0.3), deg(-1.0));
        let against_gravity = read(level, square(), Datum::Gravity, false);
        // The case on the blade by as much again.
        assert!((component(&against_gravity, Component::Calibration) - 1.155 * 2f64.sqrt()).abs() < 0.01);
        let instrument = InstrumentError { chord: deg(0.4), span: deg(0.0) };
        let reversed = Datum::Reversal { instrument, slope: deg(0.5), u: deg(0.02) };
        // What is left is the turn about the other axes, on a span that droops by 1°: 1.15° · sin 1°.
        assert!(component(&read(level, square(), reversed, false), Component::Calibration) < 0.025);
    }

    #[test]
    fn the_sensors_place_in_its_case_drops_out_of_a_travel() {
        let neutral = read(up_from_reading(deg(0.3), deg(-1.0)), square(), Datum::Gravity, false);
        let up = read(up_from_reading(deg(11.3), deg(-1.0)), square(), Datum::Gravity, false);
        let travel = up.budget.difference(&neutral.budget);
        let left = travel.components().get(&Component::Calibration).map_or(0.0, |u| u.degrees());
        assert!(left < 0.01, "{left}");
    }

    #[test]
    fn a_neutral_read_again_shares_all_but_its_scatter_also_on_the_tail() {
        for edge in [LeadingEdge::Up, LeadingEdge::Down] {
            let up = tail_vertical(deg(9.0), edge);
            let place = place(Spot::Tail(edge));
            let datum = Datum::Neutral { apparent: deg(9.0), place, u: deg(0.01) };
            let reading = read(up, place, datum, true);
            assert!(reading.angle.abs().degrees() < 1e-9, "{edge}: {}", reading.angle);
            assert!(component(&reading, Component::Calibration) < 1e-6, "{edge}");
        }
    }

    #[test]
    fn a_clip_put_on_again_is_back_in_the_budget() {
        let datum = Datum::Neutral { apparent: deg(0.3), place: square(), u: deg(0.01) };
        let level = up_from_reading(deg(0.3), deg(0.0));
        assert_eq!(component(&read(level, square(), datum, true), Component::Clip), 0.0);
        assert!(component(&read(level, square(), datum, false), Component::Clip) > 0.05);
    }
}
