//! The sensor's own health, from a record of it at rest.
//!
//! | figure | how |
//! | --- | --- |
//! | noise density | median of the power spectrum over the upper band; µg/√Hz along each axis, °/√Hz across the vertical |
//! | Allan deviation | overlapping estimator on the angle; the floor is where it stops falling |
//! | rate, jitter | mean and standard deviation of the intervals on the stream's own clock |
//! | lost, damaged | the stream's counters |
//! | gravity | length of the mean force: 1 g with a good calibration |
//! | stuck | an axis that does not change for a second while the noise of the others would move it |
//! | saturated | samples at the end of the range |
//! | vibration | the strongest line of the spectrum |
//!
//! The angle is that about the clip's span, for a level span (another adds 1/cos of its slope). Lost samples are bridged
//! by straight lines, and single spikes taken out, before anything is averaged.
//!
//! Assumed: the sensor rested. That it did is checked (a mean direction of each second within half a degree of the
//! whole); a slower or smaller creep passes for the sensor's own drift.

mod series;
mod signs;

use super::Calibration;
use super::verdict::{Finding, findings};
use crate::stats::moments::standard_deviation;
use crate::stats::spectrum::{Spectrum, spectrum};
use crate::stream::Counters;
use crate::units::{Angle, AxisMap, Celsius, Gravities, Hertz, Sample, Seconds};
use nalgebra::Vector3;
use serde::Serialize;
use series::{Series, Timing};
use signs::{at_the_end, curve, drift, floor, shaking, stuck};

/// The shortest record of which anything is said.
pub const SHORTEST_RECORD: Seconds = Seconds::new(2.0);

/// A mean direction of one second that is further off the whole's is a motion, unless noise alone scatters such means by a fifth of it.
const MOVED_DEGREES: f64 = 0.5;
const MOVED_SIGMAS: f64 = 5.0;

/// A record of a sensor at rest.
#[derive(Debug, Clone, Copy)]
pub struct RestRecord<'a> {
    /// Every sample that came, in order.
    pub samples: &'a [Sample],
    /// What the stream counted meanwhile.
    pub counters: Counters,
    /// From counts to g.
    pub calibration: &'a Calibration,
    /// How the sensor sits in its clip.
    pub axes: AxisMap,
    /// The count at which an axis is at its end, where that is known.
    pub full_scale: Option<f64>,
    /// The rate that the sensor should have, where that is known.
    pub nominal_rate: Option<Hertz>,
    /// Whether the times are the sensor's own: without, rate and jitter cannot be told.
    pub has_clock: bool,
}

/// Why a record tells nothing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum HealthError {
    /// Too short.
    #[error("too short: {0}")]
    TooShort(Seconds),
    /// Not a force at all.
    #[error("no gravity")]
    NoGravity,
    /// Every axis sends zero.
    #[error("dead")]
    Dead,
}

/// What stands in the three axes of a sensor.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PerAxis<T> {
    /// The sensor's x axis.
    pub x: T,
    /// The sensor's y axis.
    pub y: T,
    /// The sensor's z axis.
    pub z: T,
}

impl<T> PerAxis<T> {
    fn from_fn(of: impl FnMut(usize) -> T) -> Self {
        let [x, y, z] = std::array::from_fn(of);
        Self { x, y, z }
    }

    /// The three with their names.
    pub fn named(&self) -> [(char, &T); 3] {
        [('x', &self.x), ('y', &self.y), ('z', &self.z)]
    }
}

/// One point of the Allan curve of the angle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Averaging time.
    pub averaging_s: Seconds,
    /// Allan deviation of the angle.
    pub deviation_deg: Angle,
    /// Relative standard uncertainty of that, were the noise white.
    pub relative_uncertainty: f64,
}

/// Where the Allan curve stops falling.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Floor {
    /// The least Allan deviation: no mean of neighbouring readings is better.
    pub deviation_deg: Angle,
    /// The averaging time that reaches it; waiting longer brings nothing.
    pub averaging_s: Seconds,
}

/// A vibration that stands out of the noise.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Shaking {
    /// Its frequency.
    pub frequency_hz: Hertz,
    /// Its amplitude, all three axes together.
    pub amplitude_g: Gravities,
    /// Its amplitude in the angle.
    pub amplitude_deg: Angle,
}

/// A steady change of what a resting sensor shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drift {
    /// By how much its direction changed over the record.
    pub change_deg: Angle,
    /// By how much it warmed meanwhile, where the change goes with its temperature.
    pub warmed_c: Option<Celsius>,
}

/// What a resting record says about its sensor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Health {
    /// Length of the record.
    pub length_s: Seconds,
    /// Samples in it.
    pub samples: usize,
    /// Samples a second.
    pub rate_hz: Hertz,
    /// Whether rate and jitter are measured, or taken from the sensor's description.
    pub rate_is_measured: bool,
    /// The rate that the sensor's description states.
    pub nominal_rate_hz: Option<Hertz>,
    /// Standard deviation of the interval between two samples.
    pub jitter_s: Seconds,
    /// Whole frames, repeated ones included.
    pub good_frames: u64,
    /// Damaged frames.
    pub damaged_frames: u64,
    /// Samples lost, by the stream's own counter.
    pub lost_samples: u64,
    /// How often the sensor began anew.
    pub restarts: u64,
    /// Faults that the sensor reported of itself.
    pub sensor_faults: u64,
    /// Single stray samples.
    pub spikes: usize,
    /// Samples at the end of the range.
    pub saturated: PerAxis<usize>,
    /// Axes that stood still while the noise should have moved them.
    pub stuck: PerAxis<bool>,
    /// No axis changed over the whole record.
    pub frozen: bool,
    /// The largest turn of a one-second mean direction against the whole.
    pub wander_deg: Angle,
    /// Whether that is a motion.
    pub moved: bool,
    /// Whether it is a drift instead.
    pub drift: Option<Drift>,
    /// Length of the mean force.
    pub gravity_g: Gravities,
    /// Whether the sensor is calibrated.
    pub calibrated: bool,
    /// White noise along each axis, g/√Hz.
    pub noise_density_g_rthz: PerAxis<f64>,
    /// White noise of the angle, degrees/√Hz.
    pub noise_density_deg_rthz: f64,
    /// Standard deviation of a single angle.
    pub noise_deg: Angle,
    /// Allan deviation of the angle.
    pub allan: Vec<CurvePoint>,
    /// Where it stops falling, if it does within the record.
    pub floor: Option<Floor>,
    /// The strongest vibration.
    pub vibration: Option<Shaking>,
    /// Temperature at the end, where the stream carries one.
    pub temperature: Option<Celsius>,
    /// What it all means; whoever writes the figures out writes these with their sentences.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

impl Health {
    /// Looks at a record.
    ///
    /// # Errors
    /// When it is too short, or shows no gravity.
    pub fn of(record: &RestRecord) -> Result<Self, HealthError> {
        let samples = record.samples;
        let length = match (samples.first(), samples.last()) {
            (Some(first), Some(last)) => last.clock - first.clock,
            _ => Seconds::default(),
        };
        if length.value().is_nan() || length < SHORTEST_RECORD {
            return Err(HealthError::TooShort(length));
        }
        if samples.iter().all(|sample| sample.counts == [0.0; 3]) {
            return Err(HealthError::Dead);
        }
        let timing = Timing::of(samples);
        let series = Series::of(record);
        let centre = series.centre().ok_or(HealthError::NoGravity)?;
        let across = across(centre, record.axes);
        let angle = series.along(across, centre.norm());
        let rate = timing.rate;
        let spectra: Vec<Spectrum> = series.axes().iter().filter_map(|axis| spectrum(axis, rate)).collect();
        let of_angle = spectrum(&angle, rate);
        let white = |spectrum: Option<&Spectrum>| spectrum.and_then(Spectrum::white).unwrap_or(0.0).sqrt();
        let density = white(of_angle.as_ref());
        let allan = curve(&angle, rate);
        let noise = [0, 1, 2].map(|axis| white(spectra.get(axis)) * (rate / 2.0).sqrt());
        let wander = series.wander(centre, rate);
        let drift = drift(record, &series, centre, across);
        // The mean of a second of white noise.
        let by_noise = Angle::from_radians(MOVED_SIGMAS * density / 2f64.sqrt()).degrees();
        let mut health = Self {
            length_s: length,
            samples: samples.len(),
            rate_hz: Hertz::new(rate),
            rate_is_measured: record.has_clock,
            nominal_rate_hz: record.nominal_rate,
            jitter_s: Seconds::new(timing.jitter),
            good_frames: record.counters.good,
            damaged_frames: record.counters.damaged(),
            lost_samples: record.counters.lost,
            restarts: record.counters.restarts,
            sensor_faults: record.counters.faults,
            spikes: series.spikes,
            saturated: PerAxis::from_fn(|axis| at_the_end(record, axis)),
            stuck: stuck(record, noise, rate),
            frozen: samples.windows(2).all(|pair| matches!(pair, [a, b] if a.counts == b.counts)),
            wander_deg: wander,
            moved: drift.is_none() && wander.degrees() > MOVED_DEGREES.max(by_noise),
            drift,
            gravity_g: Gravities::new(centre.norm()),
            calibrated: record.calibration.is_calibrated(),
            noise_density_g_rthz: PerAxis::from_fn(|axis| white(spectra.get(axis))),
            noise_density_deg_rthz: density.to_degrees(),
            noise_deg: Angle::from_radians(standard_deviation(&angle).unwrap_or(0.0)),
            floor: floor(&allan, density),
            allan: allan.into_iter().map(CurvePoint::from).collect(),
            vibration: shaking(&spectra, of_angle.as_ref()),
            temperature: samples.iter().rev().find_map(|sample| sample.temperature),
            findings: Vec::new(),
        };
        health.findings = findings(&health);
        Ok(health)
    }

    /// The standard uncertainty of an angle that is averaged for so long: what white noise leaves, and never below the
    /// floor.
    #[must_use]
    pub fn u_after(&self, time: Seconds) -> Angle {
        let white = Angle::from_degrees(self.noise_density_deg_rthz / (2.0 * time.value()).sqrt());
        match self.floor {
            Some(floor) if floor.deviation_deg > white => floor.deviation_deg,
            _ => white,
        }
    }
}

/// The direction in which the force moves when the clip turns about its span: across the span and the vertical. Where the
/// span stands steep, about the normal instead.
fn across(centre: Vector3<f64>, axes: AxisMap) -> Vector3<f64> {
    let (chord, normal) = (Vector3::from(axes.chord().unit()), Vector3::from(axes.normal().unit()));
    let about_span = chord.cross(&normal).cross(&centre);
    if about_span.norm() > 0.5 * centre.norm() { about_span.normalize() } else { normal.cross(&centre).normalize() }
}
