//! How still the trailing windows of a stretch are: one backward pass, many windows.
//!
//! In each window the signal is taken as  lines + level + slope·t + bend·t² + twist·t³ + noise.  The normal equations
//! are summed backward from the newest sample, so that every trailing window costs one factorisation. With the terms in
//! this order it gives each term's own contribution beyond those before it: z₁ (level), z₂ (slope), z₃ (bend), z₄ (twist),
//! each with the standard deviation of the noise of one sample. So one factorisation gives the level with the lines taken
//! out, its uncertainty σ/r₁, the slope z₂/r₂ with u = σ/r₂, and the statistic that tests stillness, (z₂² + z₃² + z₄²)/σ²
//! on three degrees of freedom (see `normal_equations`).

use crate::stats::normal_equations::{NormalEquations, swings_and};

const SHAPES: usize = 4;

/// What one trailing window shows. The signal's unit is that of the caller (radians); times in seconds.
#[derive(Debug, Clone, Copy)]
pub struct Window {
    /// Samples in it, counted back from the newest.
    pub samples: usize,
    /// From its first sample to the newest.
    pub length: f64,
    /// The level with the lines taken out.
    pub level: f64,
    /// Standard deviation of the noise of one sample about the full model.
    pub sigma: f64,
    /// Slope in units of the signal a second.
    pub slope: f64,
    /// Its standard uncertainty for white noise.
    pub u_slope: f64,
    /// Contributions of slope, bend and twist in standard deviations of the noise.
    pub shapes: [f64; 3],
}

impl Window {
    /// The statistic of stillness: about 3 when still, on three degrees of freedom.
    pub fn unrest(&self) -> f64 {
        self.shapes.iter().map(|shape| shape * shape).sum()
    }
}

/// One sample of the stretch: time and signal.
pub type Point = (f64, f64);

/// The trailing windows whose lengths grow by `growth` from `shortest`, and the whole stretch as the last.
///
/// `backward` gives the samples from the newest to the oldest; `sigma_floor` is the least noise that is believed.
pub fn trailing_windows(
    backward: impl Iterator<Item = Point>,
    lines: &[f64],
    shortest: f64,
    growth: f64,
    sigma_floor: f64,
    windows: &mut Vec<Window>,
) {
    windows.clear();
    // The size of the sums is known to the compiler, so that the inner loops have no branches.
    let windows = Windows { lines, shortest, growth, sigma_floor, windows };
    match lines.len() {
        0 => windows.sum::<4>(backward),
        1 => windows.sum::<6>(backward),
        2 => windows.sum::<8>(backward),
        _ => windows.sum::<10>(backward),
    }
}

/// Where the windows end, and where they go.
struct Windows<'a> {
    lines: &'a [f64],
    shortest: f64,
    growth: f64,
    sigma_floor: f64,
    windows: &'a mut Vec<Window>,
}

impl Windows<'_> {
    /// One backward pass with `TERMS` terms: two for each line, the shapes.
    fn sum<const TERMS: usize>(self, backward: impl Iterator<Item = Point>) {
        let mut sums = NormalEquations::<TERMS, 1>::default();
        let mut newest = None;
        let mut threshold = self.shortest;
        let mut samples = 0;
        let mut length = 0.0;
        let mut taken = 0;
        for (clock, value) in backward {
            let t = clock - *newest.get_or_insert(clock);
            // A window is closed before the sample that would make it longer than its threshold.
            if -t > threshold {
                self.windows.extend(solve(&sums, samples, length, self.sigma_floor));
                taken = samples;
                while -t > threshold {
                    threshold *= self.growth;
                }
            }
            sums.add(swings_and(self.lines, t, &[1.0, t, t * t, t * t * t]), [value]);
            samples += 1;
            length = -t;
        }
        if samples > taken {
            self.windows.extend(solve(&sums, samples, length, self.sigma_floor));
        }
    }
}

fn solve<const TERMS: usize>(
    sums: &NormalEquations<TERMS, 1>,
    samples: usize,
    length: f64,
    sigma_floor: f64,
) -> Option<Window> {
    if samples < TERMS + 4 {
        return None;
    }
    let base = TERMS - SHAPES;
    let solved = sums.solve(base / 2)?;
    let ([z], [left]) = (solved.contributions(), solved.left());
    let sigma = (left / (samples - TERMS) as f64).sqrt().max(sigma_floor);
    Some(Window {
        samples,
        length,
        level: z[base] / solved.own(base),
        sigma,
        slope: z[base + 1] / solved.own(base + 1),
        u_slope: sigma / solved.own(base + 1),
        shapes: [z[base + 1] / sigma, z[base + 2] / sigma, z[base + 3] / sigma],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::noise::Random;
    use std::f64::consts::TAU;

    fn windows_of(signal: impl Fn(f64) -> f64, noise: f64, lines: &[f64], seed: u64) -> Vec<Window> {
        let mut random = Random::new(seed);
        let points: Vec<Point> =
            (0..200).map(|i| f64::from(i) * 0.005).map(|t| (t, signal(t) + noise * random.normal())).collect();
        let mut windows = Vec::new();
        trailing_windows(points.into_iter().rev(), lines, 0.3, 1.1, 1e-12, &mut windows);
        windows
    }

    #[test]
    fn a_level_with_a_line_is_found_exactly() {
        let windows = windows_of(|t| 2.0 + 0.5 * (TAU * 23.0 * t + 0.7).cos(), 0.0, &[23.0], 1);
        assert!(windows.len() > 8);
        for window in windows {
            assert!((window.level - 2.0).abs() < 1e-9, "{window:?}");
        }
    }

    #[test]
    fn a_slope_is_found_with_its_uncertainty() {
        let windows = windows_of(|t| 1.0 + 3.0 * t, 0.1, &[], 2);
        let whole = windows.last().unwrap();
        assert_eq!(whole.samples, 200);
        assert!((whole.slope - 3.0).abs() < 4.0 * whole.u_slope);
        // u = σ·√(12/n)/T for evenly spaced samples (n = 200, T = 1 s, σ = 0.1).
        assert!((whole.u_slope / (0.1 * (12.0_f64 / 200.0).sqrt()) - 1.0).abs() < 0.15);
    }

    #[test]
    fn unrest_is_three_on_average_when_still() {
        let (mut sum, mut count) = (0.0, 0.0);
        for seed in 0..300 {
            let windows = windows_of(|_| 0.0, 1.0, &[], 10 + seed);
            sum += windows.last().unwrap().unrest();
            count += 1.0;
        }
        let mean = sum / count;
        assert!((2.6..3.5).contains(&mean), "{mean}");
    }
}
