//! What the residuals of a stretch still betray: a movement at either end, or a slow swing through all of it.
//!
//! Times in seconds from the beginning of the stretch, residuals in any unit. A hand's movement reaches and leaves a
//! rest as the cube of the time (minimum jerk: Flash and Hogan, J. Neurosci. 5 (1985) 1688), a creep that ends as a
//! hinge. Each shape is fitted beside a level; what is returned is the largest coefficient over its standard
//! uncertainty.

use super::line::explained;
use crate::stats::autocorrelation;
use std::ops::Range;

/// How far into the stretch a hand's movement may reach, in seconds.
const REACHES: [f64; 3] = [0.08, 0.13, 0.2];
/// How far into the stretch a creep may reach, as shares of it.
const HINGES: [f64; 3] = [0.2, 0.4, 0.65];
/// The band of a hand's tremor in hertz, with a margin (8–12 Hz: Elble and Koller 1990, Tremor).
const TREMOR: [f64; 2] = [7.5, 13.0];
/// Neighbours within this time, in seconds, are compared: a quarter of a hand's tremor of 12 Hz.
const SWING_QUARTER: f64 = 0.02;
const MOST_LAGS: usize = 8;
const SIGNIFICANT: f64 = 2.2;

/// How much the beginning looks like the end of a movement, in standard deviations.
pub fn arriving(times: &[f64], residuals: &[f64], sigma: f64) -> f64 {
    let Some(length) = times.last().copied() else { return 0.0 };
    let stretch = Residuals::new(times, residuals, sigma);
    let until = |reach: f64| 0..times.partition_point(|t| *t < reach);
    let hand = |reach: &f64| stretch.shape(until(*reach), |t| ((reach - t) / reach).powi(3));
    let creep = |reach: f64| stretch.shape(until(reach), |t| (reach - t) / reach);
    let hands = REACHES.iter().map(hand);
    hands.chain(HINGES.iter().map(|share| creep(share * length))).fold(0.0, f64::max)
}

/// How much the end looks like the beginning of a movement, in standard deviations.
pub fn leaving(times: &[f64], residuals: &[f64], sigma: f64) -> f64 {
    let Some(length) = times.last().copied() else { return 0.0 };
    let stretch = Residuals::new(times, residuals, sigma);
    let from = |reach: f64| times.partition_point(|t| t - length + reach <= 0.0)..times.len();
    REACHES
        .iter()
        .map(|reach| stretch.shape(from(*reach), |t| ((t - length + reach) / reach).powi(3)))
        .fold(0.0, f64::max)
}

/// Residuals among which a shape is looked for.
struct Residuals<'a> {
    times: &'a [f64],
    residuals: &'a [f64],
    sigma: f64,
    /// Their sum.
    level: f64,
}

impl<'a> Residuals<'a> {
    fn new(times: &'a [f64], residuals: &'a [f64], sigma: f64) -> Self {
        Self { times, residuals, sigma, level: residuals.iter().sum() }
    }

    /// How much a shape stands out, which is zero but for the samples at these places.
    fn shape(&self, places: Range<usize>, shape: impl Fn(f64) -> f64) -> f64 {
        let n = self.times.len() as f64;
        let (mut sum, mut squares, mut product) = (0.0, 0.0, 0.0);
        let (times, residuals) = (self.times.get(places.clone()), self.residuals.get(places));
        for (t, residual) in times.unwrap_or_default().iter().zip(residuals.unwrap_or_default()) {
            let value = shape(*t);
            sum += value;
            squares += value * value;
            product += value * residual;
        }
        let spread = squares - sum * sum / n;
        if spread <= 0.0 || self.sigma <= 0.0 {
            return 0.0;
        }
        (product - sum * self.level / n).abs() / (self.sigma * spread.sqrt())
    }
}

/// How much a swing of a hand's tremor stands out: the largest χ² on two degrees of freedom over its band.
pub fn trembling(times: &[f64], residuals: &[f64], sigma: f64) -> f64 {
    if sigma <= 0.0 {
        return 0.0;
    }
    // Two looks for each swing that the length of the stretch can tell apart.
    let length = times.last().copied().unwrap_or(0.0).max(0.1);
    let step = (0.6 / length).clamp(0.1, 1.4);
    let looks = ((TREMOR[1] - TREMOR[0]) / step).ceil() as usize;
    (0..=looks).map(|k| explained(times, residuals, TREMOR[0] + step * k as f64)).fold(0.0, f64::max) / (sigma * sigma)
}

/// By what factor correlation inflates the variance of the mean of these residuals: 1 unless it is significant.
///
/// A slow swing makes neighbours alike; so the correlations within a quarter of its period are summed and held against
/// their standard deviation for white noise, √(lags/n).
pub fn significant_inflation(times: &[f64], residuals: &[f64]) -> f64 {
    let n = residuals.len();
    let Some(length) = times.last().copied().filter(|length| *length > 0.0) else { return 1.0 };
    let lags = ((SWING_QUARTER * n as f64 / length).round() as usize).clamp(2, MOST_LAGS).min(n / 4);
    let each = autocorrelation::first_autocorrelations::<MOST_LAGS>(residuals).unwrap_or_default();
    let alike: f64 = each.iter().take(lags).sum();
    if alike < SIGNIFICANT * (lags as f64 / n as f64).sqrt() {
        return 1.0;
    }
    autocorrelation::inflation(residuals, n)
}
