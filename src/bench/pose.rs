//! From a steady reading to a resting pose, as a calibration takes it.

use super::Taken;
use crate::sensor::poses::Pose;
use crate::units::Sample;

/// The mean of the still stretch's raw samples, and the covariance of that mean at the reading's effective number.
/// `None` when the stretch holds fewer than two samples.
#[must_use]
pub fn pose(taken: &Taken) -> Option<Pose> {
    let steady = &taken.steady;
    let still = |sample: &&Sample| sample.clock >= steady.settled_at && sample.clock <= steady.finished_at;
    let samples: Vec<[f64; 3]> = taken.samples.iter().filter(still).map(|sample| sample.counts).collect();
    if samples.len() < 2 {
        return None;
    }
    let n = samples.len() as f64;
    let mean: [f64; 3] = std::array::from_fn(|axis| samples.iter().map(|counts| counts[axis]).sum::<f64>() / n);
    let worth = steady.effective_samples.clamp(1.0, n);
    let covariance = std::array::from_fn(|row| {
        std::array::from_fn(|column| {
            let products = samples.iter().map(|counts| (counts[row] - mean[row]) * (counts[column] - mean[column]));
            products.sum::<f64>() / (n - 1.0) / worth
        })
    });
    Some(Pose { mean, covariance })
}
