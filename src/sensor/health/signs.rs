//! Single signs of a sensor's state: axes that stand or are at their end, the floor of its drift, what shakes it.

use super::{CurvePoint, Floor, PerAxis, RestRecord, Shaking};
use crate::stats::allan;
use crate::stats::spectrum::Spectrum;
use crate::units::{Angle, Gravities, Hertz, Sample, Seconds};
use nalgebra::Vector3;

/// An axis must stand for so long to be stuck.
const STUCK_FOR: f64 = 1.0;
const STUCK_SAMPLES: usize = 40;
/// Noise of so many counts changes a count within a few samples.
const NOISE_THAT_MOVES: f64 = 0.6;
/// A point of the Allan curve on fewer degrees of freedom is no evidence of a floor.
const FLOOR_FREEDOM: f64 = 10.0;
/// The floor is reached where the curve stands so far above what white noise alone would leave.
const ABOVE_WHITE: f64 = 1.2;

pub(super) fn at_the_end(record: &RestRecord, axis: usize) -> usize {
    let Some(full) = record.full_scale else { return 0 };
    record.samples.iter().filter(|sample| sample.counts[axis].abs() >= full).count()
}

/// Axes that repeat one count for a second and more while the noise of another would have changed it.
pub(super) fn stuck(record: &RestRecord, deviation: &PerAxis<f64>, rate: f64) -> PerAxis<bool> {
    let noisiest = [deviation.x, deviation.y, deviation.z].into_iter().fold(0.0, f64::max);
    let fewest = ((STUCK_FOR * rate) as usize).max(STUCK_SAMPLES);
    PerAxis::from_fn(|axis| {
        let count = Vector3::from(record.calibration.matrix.map(|row| row[axis])).norm();
        let same = |before: &Sample, after: &Sample| before.counts[axis] == after.counts[axis];
        let longest = record.samples.chunk_by(same).map(<[Sample]>::len).max().unwrap_or(0);
        longest >= fewest && noisiest > NOISE_THAT_MOVES * count
    })
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
