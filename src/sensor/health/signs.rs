//! Single signs of a sensor's state: axes that stand or are at their end, the floor of its drift, what shakes it.

use super::series::Series;
use super::{CurvePoint, Drift, Floor, PerAxis, RestRecord, Shaking};
use crate::stats::allan;
use crate::stats::spectrum::Spectrum;
use crate::units::{Angle, Celsius, Gravities, Hertz, Sample, Seconds};
use nalgebra::Vector3;

/// An axis must stand for so long to be stuck.
const STUCK_FOR: f64 = 1.0;
const STUCK_SAMPLES: usize = 40;
/// Noise of so many counts changes a count within a few samples, also on an axis that has half of it.
const NOISE_THAT_MOVES: f64 = 1.2;
/// A record is cut into so many parts to see whether it drifts, and so many are the fewest.
const PARTS: usize = 30;
const FEWEST_PARTS: usize = 8;
/// A straight line explains this share of a drift; of a step in the middle it explains three quarters.
const EXPLAINED: f64 = 0.85;
/// Less is no drift, degrees.
const LEAST_DRIFT: f64 = 0.05;
/// A change of temperature that drives a drift, °C.
const WARMS: f64 = 1.0;
/// A point of the Allan curve on fewer degrees of freedom is no evidence of a floor.
const FLOOR_FREEDOM: f64 = 10.0;
/// The floor is reached where the curve stands so far above what white noise alone would leave.
const ABOVE_WHITE: f64 = 1.2;

pub(super) fn at_the_end(record: &RestRecord, axis: usize) -> usize {
    let Some(full) = record.full_scale else { return 0 };
    record.samples.iter().filter(|sample| sample.counts[axis].abs() >= full).count()
}

/// Axes that repeat one count for a second and more while the noise of another would have changed it; not those at the end of
/// their range. `noise` is what a spectrum shows of each axis besides lines, g in a sample.
pub(super) fn stuck(record: &RestRecord, noise: [f64; 3], rate: f64) -> PerAxis<bool> {
    let fewest = ((STUCK_FOR * rate) as usize).max(STUCK_SAMPLES);
    PerAxis::from_fn(|axis| {
        let count = Vector3::from(record.calibration.matrix.map(|row| row[axis])).norm();
        let of_others = noise[(axis + 1) % 3].max(noise[(axis + 2) % 3]);
        let same = |before: &Sample, after: &Sample| before.counts[axis] == after.counts[axis];
        let longest = record.samples.chunk_by(same).map(<[Sample]>::len).max().unwrap_or(0);
        longest >= fewest && of_others > NOISE_THAT_MOVES * count && at_the_end(record, axis) == 0
    })
}

/// A steady change of the direction, with the temperature where that changes, else with time; none where a straight line does not
/// explain what changes.
pub(super) fn drift(record: &RestRecord, series: &Series, centre: Vector3<f64>, across: Vector3<f64>) -> Option<Drift> {
    let parts = series.parts(PARTS);
    if parts.len() < FEWEST_PARTS {
        return None;
    }
    let also = centre.cross(&across).normalize();
    let of = |direction: Vector3<f64>| -> Vec<f64> {
        parts.iter().map(|force| force.dot(&direction) / centre.norm()).collect()
    };
    let angles = [of(across), of(also)];
    let warming = temperatures(record, parts.len()).filter(|celsius| range(celsius) >= WARMS);
    let by: Vec<f64> = warming.clone().unwrap_or_else(|| (0..parts.len()).map(|part| part as f64).collect());
    let about = |values: &[f64]| -> Vec<f64> {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        values.iter().map(|value| value - mean).collect()
    };
    let products = |a: &[f64], b: &[f64]| std::iter::zip(a, b).map(|(a, b)| a * b).sum::<f64>();
    let by = about(&by);
    let angles = angles.map(|angle| about(&angle));
    let slopes = angles.each_ref().map(|angle| products(&by, angle) / products(&by, &by));
    let all: f64 = angles.iter().map(|angle| products(angle, angle)).sum();
    let explained = slopes.iter().map(|slope| slope * slope).sum::<f64>() * products(&by, &by) / all;
    let change = Angle::from_radians(slopes[0].hypot(slopes[1]) * range(&by));
    let warmed = warming.map(|celsius| Celsius::new(celsius[celsius.len() - 1] - celsius[0]));
    (explained > EXPLAINED && change.degrees() > LEAST_DRIFT).then_some(Drift { change_deg: change, warmed_c: warmed })
}

/// Mean temperature of so many equal parts of the record, where every part has one.
fn temperatures(record: &RestRecord, parts: usize) -> Option<Vec<f64>> {
    let length = (record.samples.len() / parts).max(1);
    let of_part = |part: &[Sample]| {
        let known: Vec<f64> = part.iter().filter_map(|sample| sample.temperature.map(Celsius::value)).collect();
        (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64)
    };
    record
        .samples
        .chunks_exact(length)
        .take(parts)
        .map(of_part)
        .collect::<Option<Vec<f64>>>()
        .filter(|all| all.len() == parts)
}

fn range(values: &[f64]) -> f64 {
    let (low, high) =
        values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(*v), high.max(*v)));
    high - low
}

pub(super) fn curve(angle: &[f64], rate: f64) -> Vec<(Seconds, allan::AllanPoint)> {
    allan::curve(angle).into_iter().map(|point| (Seconds::new(point.values as f64 / rate), point)).collect()
}

impl From<(Seconds, allan::AllanPoint)> for CurvePoint {
    fn from((averaging_s, point): (Seconds, allan::AllanPoint)) -> Self {
        Self {
            averaging_s,
            deviation_deg: Angle::from_radians(point.deviation),
            relative_uncertainty: point.relative_uncertainty(),
        }
    }
}

/// The lowest point that is sure to stand above what white noise of this density alone would leave.
pub(super) fn floor(curve: &[(Seconds, allan::AllanPoint)], density: f64) -> Option<Floor> {
    let known = curve.iter().filter(|(_, point)| point.freedom >= FLOOR_FREEDOM);
    let (time, least) = known.min_by(|a, b| a.1.deviation.total_cmp(&b.1.deviation))?;
    let white = density / (2.0 * time.value()).sqrt();
    let surely = least.deviation * (1.0 - 2.0 * least.relative_uncertainty());
    (surely > ABOVE_WHITE * white)
        .then_some(Floor { deviation_deg: Angle::from_radians(least.deviation), averaging_s: *time })
}

pub(super) fn shaking(spectra: &[Spectrum], of_angle: Option<&Spectrum>) -> Option<Shaking> {
    let all = spectra.iter().skip(1).fold(spectra.first()?.clone(), Spectrum::plus);
    let line = all.strongest_line()?;
    let in_angle = of_angle.map_or(0.0, |spectrum| spectrum.amplitude_at(line.frequency));
    Some(Shaking {
        frequency_hz: Hertz::new(line.frequency),
        amplitude_g: Gravities::new(line.amplitude),
        amplitude_deg: Angle::from_radians(in_angle),
    })
}
