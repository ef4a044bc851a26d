//! The samples of the stretch at hand, and their mean with the vibration lines taken out.

use super::edges;
use super::line::MOST_LINES;
use super::reading::Vibration;
use super::stillness::Point;
use crate::stats::moments;
use crate::units::{Angle, BladeVector, Hertz};
use std::collections::VecDeque;
use std::f64::consts::TAU;

/// The most samples that are kept: 40 s at 400 Hz.
const MOST_SAMPLES: usize = 16_384;
const MOST_TERMS: usize = 2 * MOST_LINES + 1;

/// One fit sample.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    /// Seconds.
    pub clock: f64,
    /// In g.
    pub force: BladeVector,
}

impl Moment {
    /// The component across the direction that has the apparent pitch `reference` (radians), in g.
    pub fn tilt_from(&self, reference: f64) -> f64 {
        let (sin, cos) = reference.sin_cos();
        self.force.chord * cos - self.force.normal * sin
    }
}

/// Where the force lies, roughly: its pitch in radians and its length in the plane of pitch in g.
#[derive(Debug, Clone, Copy)]
pub struct Axes {
    pub reference: f64,
    pub radius: f64,
}

/// The mean force of a window.
#[derive(Debug, Clone, Copy)]
pub struct Mean {
    /// In g.
    pub force: BladeVector,
    /// Standard deviation of one sample about the fit, in radians of pitch.
    pub sigma_pitch: f64,
    /// Standard uncertainty of the pitch for white noise, in radians.
    pub u_pitch: f64,
    /// Standard uncertainty of the span's inclination for white noise, in radians.
    pub u_span: f64,
    /// By what factor correlation inflates the variance.
    pub inflation: f64,
    /// How much the first samples look like the end of a movement, in standard deviations.
    pub arriving: f64,
    /// How much the last samples look like the beginning of one, in standard deviations.
    pub leaving: f64,
    /// The strongest line.
    pub vibration: Option<Vibration>,
}

/// The last fit samples in order of time.
#[derive(Debug, Clone, Default)]
pub struct Stretch {
    moments: VecDeque<Moment>,
}

impl Stretch {
    /// Takes one sample; true if the oldest had to go for it.
    pub fn push(&mut self, moment: Moment) -> bool {
        let full = self.moments.len() >= MOST_SAMPLES;
        if full {
            self.moments.pop_front();
        }
        self.moments.push_back(moment);
        full
    }

    pub fn clear(&mut self) {
        self.moments.clear();
    }

    pub fn len(&self) -> usize {
        self.moments.len()
    }

    pub fn newest(&self) -> Option<Moment> {
        self.moments.back().copied()
    }

    /// From the oldest to the newest, in seconds.
    pub fn length(&self) -> f64 {
        match (self.moments.front(), self.moments.back()) {
            (Some(first), Some(last)) => last.clock - first.clock,
            _ => 0.0,
        }
    }

    /// Drops what is older than `length` seconds before the newest; true if anything was.
    pub fn keep_trailing(&mut self, length: f64) -> bool {
        let keep = self.samples_within(length);
        let drop = self.moments.len() - keep;
        self.moments.drain(..drop);
        drop > 0
    }

    /// How many samples lie within `length` seconds before the newest.
    pub fn samples_within(&self, length: f64) -> usize {
        let Some(newest) = self.newest() else { return 0 };
        let begin = newest.clock - length;
        self.moments.len() - self.moments.partition_point(|moment| moment.clock < begin)
    }

    /// Where the force lay in the last `length` seconds; `None` where it has no direction.
    pub fn recent_axes(&self, length: f64) -> Option<Axes> {
        let samples = self.samples_within(length);
        let (mut chord, mut normal) = (0.0, 0.0);
        for moment in self.moments.iter().rev().take(samples) {
            chord += moment.force.chord;
            normal += moment.force.normal;
        }
        let radius = chord.hypot(normal) / samples.max(1) as f64;
        (radius > 1e-3).then(|| Axes { reference: chord.atan2(normal), radius })
    }

    /// Slope of the tilt in g a second over `length` seconds that end `back` seconds before the newest sample.
    pub fn slope_before(&self, back: f64, length: f64) -> f64 {
        let end = self.moments.len() - self.samples_within(back);
        let begin = self.moments.len() - self.samples_within(back + length);
        let Some(last) = end.checked_sub(1).and_then(|last| self.moments.get(last)) else { return 0.0 };
        let reference = last.force.apparent_pitch().radians();
        let (mut n, mut t_sum, mut y_sum, mut tt, mut ty) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for moment in self.moments.range(begin..end) {
            let (t, y) = (moment.clock - last.clock, moment.tilt_from(reference));
            n += 1.0;
            t_sum += t;
            y_sum += y;
            tt += t * t;
            ty += t * y;
        }
        let spread = tt * n - t_sum * t_sum;
        if spread > 0.0 { (ty * n - t_sum * y_sum) / spread } else { 0.0 }
    }

    /// Time and tilt in radians from the newest sample backward.
    pub fn backward(&self, reference: f64, radius: f64) -> impl Iterator<Item = Point> + '_ {
        let (sin, cos) = reference.sin_cos();
        self.moments
            .iter()
            .rev()
            .map(move |moment| (moment.clock, (moment.force.chord * cos - moment.force.normal * sin) / radius))
    }

    /// Time and tilt in radians from the newest sample backward, with the lines as fitted to the last `samples` taken out.
    pub fn backward_without(&self, lines: &[f64], samples: usize, mean: &Mean) -> impl Iterator<Item = Point> {
        let first = self.moments.len() - samples.min(self.moments.len());
        let begin = self.moments.get(first).map_or(0.0, |moment| moment.clock);
        let lines = &lines[..lines.len().min(MOST_LINES)];
        let fit = fit_levels(self.moments.range(first..), begin, lines);
        let pitch = mean.force.apparent_pitch();
        let (sin, cos) = (pitch.sin(), pitch.cos());
        let radius = mean.force.chord.hypot(mean.force.normal).max(1e-9);
        fit.into_iter().flat_map(move |fit| {
            self.moments.iter().rev().map(move |moment| {
                let left = fit.residual(moment, begin, lines);
                (moment.clock, (left[1] * cos - left[2] * sin) / radius)
            })
        })
    }

    /// Times (from the window's first sample) and tilts in g of the last `length` seconds.
    pub fn trailing(&self, reference: f64, length: f64) -> (Vec<f64>, Vec<f64>) {
        let first = self.moments.len() - self.samples_within(length);
        let begin = self.moments.get(first).map_or(0.0, |moment| moment.clock);
        self.moments.range(first..).map(|moment| (moment.clock - begin, moment.tilt_from(reference))).unzip()
    }

    /// How much a hand's tremor stands out in the last `samples`: χ² on two degrees of freedom, the largest of its band.
    pub fn trembling(&self, samples: usize, lines: &[f64], mean: &Mean) -> f64 {
        let first = self.moments.len() - samples.min(self.moments.len());
        let begin = self.moments.get(first).map_or(0.0, |moment| moment.clock);
        let lines = &lines[..lines.len().min(MOST_LINES)];
        let Some(fit) = fit_levels(self.moments.range(first..), begin, lines) else { return 0.0 };
        let pitch = mean.force.apparent_pitch();
        let (sin, cos) = (pitch.sin(), pitch.cos());
        let radius = mean.force.chord.hypot(mean.force.normal).max(1e-9);
        let (times, tilts): (Vec<f64>, Vec<f64>) = self
            .moments
            .range(first..)
            .map(|moment| {
                let left = fit.residual(moment, begin, lines);
                (moment.clock - begin, (left[1] * cos - left[2] * sin) / radius)
            })
            .unzip();
        edges::trembling(&times, &tilts, mean.sigma_pitch)
    }

    /// The mean of the last `samples`, with level and lines fitted jointly along each axis.
    pub fn mean(&self, samples: usize, lines: &[f64]) -> Mean {
        let first = self.moments.len() - samples.min(self.moments.len());
        let begin = self.moments.get(first).map_or(0.0, |moment| moment.clock);
        let window = || self.moments.range(first..);
        let lines = &lines[..lines.len().min(MOST_LINES)];
        let fit = fit_levels(window(), begin, lines).or_else(|| fit_levels(window(), begin, &[])).unwrap_or(LevelFit {
            levels: [0.0; 3],
            swings: [[0.0; 3]; 2 * MOST_LINES],
            u_factor: 1.0,
            lines: 0,
        });
        let lines = &lines[..fit.lines];
        let [span, chord, normal] = fit.levels;
        let force = BladeVector { span, chord, normal };
        let pitch = force.apparent_pitch();
        let (sin, cos) = (pitch.sin(), pitch.cos());
        let radius = chord.hypot(normal).max(1e-9);
        let length = force.norm().max(1e-9);
        let (mut tilts, mut slants) = (Vec::with_capacity(samples), Vec::with_capacity(samples));
        let mut times = Vec::with_capacity(samples);
        for moment in window() {
            times.push(moment.clock - begin);
            let left = fit.residual(moment, begin, lines);
            tilts.push((left[1] * cos - left[2] * sin) / radius);
            let along = left[1] * sin + left[2] * cos;
            slants.push((left[0] * radius - along * span) / (length * length));
        }
        let freedom = (samples as f64 - 1.0 - 2.0 * lines.len() as f64).max(1.0);
        let lost = ((samples as f64 - 1.0).max(1.0) / freedom).sqrt();
        let sigma = moments::standard_deviation(&tilts).unwrap_or(0.0) * lost;
        let sigma_span = moments::standard_deviation(&slants).unwrap_or(0.0) * lost;
        let vibration = lines.first().map(|&frequency| {
            let across = |k: usize| (fit.swings[k][1] * cos - fit.swings[k][2] * sin) / radius;
            Vibration { frequency: Hertz::new(frequency), amplitude: Angle::from_radians(across(0).hypot(across(1))) }
        });
        Mean {
            force,
            sigma_pitch: sigma,
            u_pitch: sigma * fit.u_factor,
            u_span: sigma_span * fit.u_factor,
            inflation: edges::significant_inflation(&times, &tilts),
            arriving: edges::arriving(&times, &tilts, sigma),
            leaving: edges::leaving(&times, &tilts, sigma),
            vibration,
        }
    }
}

/// Levels of span, chord and normal, and their swings at each line.
struct LevelFit {
    levels: [f64; 3],
    swings: [[f64; 3]; 2 * MOST_LINES],
    /// Standard uncertainty of a level over the standard deviation of one sample.
    u_factor: f64,
    lines: usize,
}

impl LevelFit {
    fn residual(&self, moment: &Moment, begin: f64, lines: &[f64]) -> [f64; 3] {
        let force = [moment.force.span, moment.force.chord, moment.force.normal];
        let mut left = std::array::from_fn(|axis| force[axis] - self.levels[axis]);
        for (k, frequency) in lines.iter().enumerate() {
            let (sin, cos) = (TAU * frequency * (moment.clock - begin)).sin_cos();
            for (axis, value) in left.iter_mut().enumerate() {
                *value -= self.swings[2 * k][axis] * cos + self.swings[2 * k + 1][axis] * sin;
            }
        }
        left
    }
}

/// Least squares for lines and level, three axes at once, by Cholesky factorisation of the normal equations.
fn fit_levels<'a>(window: impl Iterator<Item = &'a Moment>, begin: f64, lines: &[f64]) -> Option<LevelFit> {
    // The size of the sums is known to the compiler, so that the inner loops have no branches.
    match *lines {
        [] => fit::<1>(window, begin, lines),
        [_] => fit::<3>(window, begin, lines),
        [_, _] => fit::<5>(window, begin, lines),
        _ => fit::<MOST_TERMS>(window, begin, lines),
    }
}

/// The same with `TERMS` terms: two for each line, the level.
fn fit<'a, const TERMS: usize>(
    window: impl Iterator<Item = &'a Moment>,
    begin: f64,
    lines: &[f64],
) -> Option<LevelFit> {
    let mut gram = [[0.0; TERMS]; TERMS];
    let mut right = [[0.0; 3]; TERMS];
    for moment in window {
        let mut row = [1.0; TERMS];
        for (pair, frequency) in row.chunks_exact_mut(2).zip(lines) {
            let (sin, cos) = (TAU * frequency * (moment.clock - begin)).sin_cos();
            pair.copy_from_slice(&[cos, sin]);
        }
        for i in 0..TERMS {
            for j in 0..=i {
                gram[i][j] += row[i] * row[j];
            }
            right[i][0] += row[i] * moment.force.span;
            right[i][1] += row[i] * moment.force.chord;
            right[i][2] += row[i] * moment.force.normal;
        }
    }
    for i in 0..TERMS {
        for j in 0..=i {
            let inner: f64 = (0..j).map(|k| gram[i][k] * gram[j][k]).sum();
            let rest = gram[i][j] - inner;
            if i != j {
                gram[i][j] = rest / gram[j][j];
            } else if rest > 1e-9 * gram[i][i] && rest > 0.0 {
                gram[i][i] = rest.sqrt();
            } else {
                return None;
            }
        }
    }
    let mut solution = right;
    for i in 0..TERMS {
        solution[i] = std::array::from_fn(|axis| {
            let inner: f64 = (0..i).map(|k| gram[i][k] * solution[k][axis]).sum();
            (solution[i][axis] - inner) / gram[i][i]
        });
    }
    for i in (0..TERMS).rev() {
        solution[i] = std::array::from_fn(|axis| {
            let inner: f64 = (i + 1..TERMS).map(|k| gram[k][i] * solution[k][axis]).sum();
            (solution[i][axis] - inner) / gram[i][i]
        });
    }
    let mut swings = [[0.0; 3]; 2 * MOST_LINES];
    swings[..TERMS - 1].copy_from_slice(&solution[..TERMS - 1]);
    Some(LevelFit {
        levels: solution[TERMS - 1],
        swings,
        u_factor: 1.0 / gram[TERMS - 1][TERMS - 1],
        lines: lines.len(),
    })
}
