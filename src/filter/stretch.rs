//! The samples of the stretch at hand, and their mean with the vibration lines taken out.

use super::edges;
use super::line::MOST_LINES;
use super::reading::Vibration;
use super::stillness::Point;
use crate::stats::moments;
use crate::stats::normal_equations::{NormalEquations, swings_and};
use crate::units::{Angle, BladeVector, Gravities, Hertz};
use std::collections::VecDeque;
use std::f64::consts::{PI, TAU};

/// The most samples that are kept: 40 s at 400 Hz.
const MOST_SAMPLES: usize = 16_384;

/// A line that noise alone shows more often than in so many readings is taken out of the mean, but it is no vibration:
/// a servo is accused of nothing. Less than one in 10,000, with room for noise that is not quite white.
const BY_CHANCE: f64 = 1e-5;
/// So many looks at a growing stretch are worth independent ones.
const LOOKS: f64 = 20.0;

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
    /// Level and lines of which it was made.
    fit: LevelFit,
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
        let mut sums = NormalEquations::<2, 1>::default();
        for moment in self.moments.range(begin..end) {
            sums.add([1.0, moment.clock - last.clock], [moment.tilt_from(reference)]);
        }
        sums.solve(0).map_or(0.0, |solved| solved.coefficients()[0][1])
    }

    /// Time and tilt in radians from the newest sample backward.
    pub fn backward(&self, reference: f64, radius: f64) -> impl Iterator<Item = Point> + '_ {
        let (sin, cos) = reference.sin_cos();
        self.moments
            .iter()
            .rev()
            .map(move |moment| (moment.clock, (moment.force.chord * cos - moment.force.normal * sin) / radius))
    }

    /// Time and what a fit leaves of the tilt in radians, from the newest sample backward, beyond what it was fitted to.
    pub fn backward_without(&self, mean: &Mean) -> impl Iterator<Item = Point> {
        let fit = mean.fit;
        self.moments.iter().rev().map(move |moment| (moment.clock, fit.tilt(fit.residual(moment))))
    }

    /// Times (from the window's first sample) and tilts in g of the last `length` seconds.
    pub fn trailing(&self, reference: f64, length: f64) -> (Vec<f64>, Vec<f64>) {
        let first = self.moments.len() - self.samples_within(length);
        let begin = self.moments.get(first).map_or(0.0, |moment| moment.clock);
        self.moments.range(first..).map(|moment| (moment.clock - begin, moment.tilt_from(reference))).unzip()
    }

    /// How much a hand's tremor stands out in the last `samples`, of which this is the mean: χ² on two degrees of freedom,
    /// the largest of its band.
    pub fn trembling(&self, samples: usize, mean: &Mean) -> f64 {
        let fit = &mean.fit;
        let (times, tilts): (Vec<f64>, Vec<f64>) =
            self.last(samples).map(|moment| (moment.clock - fit.begin, fit.tilt(fit.residual(moment)))).unzip();
        edges::trembling(&times, &tilts, mean.sigma_pitch)
    }

    /// The last `samples`, from the oldest to the newest.
    fn last(&self, samples: usize) -> impl Iterator<Item = &Moment> + Clone {
        self.moments.range(self.moments.len() - samples.min(self.moments.len())..)
    }

    /// How many of the last `samples`, of which this is the mean, go on one that the sensor measured: a triple that comes again
    /// is the same one sent twice, unless counts so coarse that the noise hardly moves them let it come again by chance.
    pub fn held(&self, samples: usize, mean: &Mean, count: Option<Gravities>) -> f64 {
        let mut squares = [0.0; 3];
        let mut least = f64::INFINITY;
        let (mut pairs, mut repeated) = (0.0, 0.0);
        let mut before: Option<[f64; 3]> = None;
        for moment in self.last(samples) {
            let force = [moment.force.span, moment.force.chord, moment.force.normal];
            let left = mean.fit.residual(moment);
            for (axis, left) in left.iter().enumerate() {
                squares[axis] += left * left;
            }
            if let Some(before) = before {
                // Its length is one count of one axis, however the axes of the blade lie in those of the sensor.
                let step = (0..3).map(|axis| (force[axis] - before[axis]).powi(2)).sum::<f64>().sqrt();
                pairs += 1.0;
                repeated += f64::from(step == 0.0);
                least = if step > 0.0 { least.min(step) } else { least };
            }
            before = Some(force);
        }
        // Of noise σ on counts q one value comes again with q/(2√π·σ); where the noise stays under half a count, always.
        let again = |axis: usize| {
            let sigma = (squares[axis] / (pairs + 1.0)).sqrt();
            let count = count.map_or(least, Gravities::value);
            if sigma < count / 2.0 { 1.0 } else { (count / (2.0 * PI.sqrt() * sigma)).min(1.0) }
        };
        let by_chance: f64 = (0..3).map(again).product();
        let free: f64 = (1.0 - by_chance) * pairs;
        let beyond = (repeated - by_chance * pairs) / free;
        // Three standard deviations of what chance does.
        if free < 1.0 || beyond * free < 3.0 * (by_chance * free).sqrt() + 1.0 {
            return 1.0;
        }
        1.0 / (1.0 - beyond).max(1.0 / pairs)
    }

    /// The mean of the last `samples`, with level and lines fitted jointly along each axis.
    pub fn mean(&self, samples: usize, lines: &[f64]) -> Mean {
        let fit = LevelFit::of(self.last(samples), lines);
        let [span, chord, normal] = fit.levels;
        let force = BladeVector { span, chord, normal };
        let length = force.norm().max(1e-9);
        let (mut tilts, mut slants) = (Vec::with_capacity(samples), Vec::with_capacity(samples));
        let mut times = Vec::with_capacity(samples);
        for moment in self.last(samples) {
            times.push(moment.clock - fit.begin);
            let left = fit.residual(moment);
            tilts.push(fit.tilt(left));
            let along = left[1] * fit.sin + left[2] * fit.cos;
            slants.push((left[0] * fit.radius - along * span) / (length * length));
        }
        let lines = &fit.lines[..fit.count];
        let freedom = (samples as f64 - 1.0 - 2.0 * lines.len() as f64).max(1.0);
        let lost = ((samples as f64 - 1.0).max(1.0) / freedom).sqrt();
        let sigma = moments::standard_deviation(&tilts).unwrap_or(0.0) * lost;
        let sigma_span = moments::standard_deviation(&slants).unwrap_or(0.0) * lost;
        let vibration = lines.first().and_then(|&frequency| {
            let [cos, sin] = [0, 1].map(|k| fit.tilt(fit.swings.map(|swings| swings[k])));
            let amplitude = cos.hypot(sin);
            let by_chance = chance(samples, amplitude, sigma, freedom) > BY_CHANCE;
            let (frequency, amplitude) = (Hertz::new(frequency), Angle::from_radians(amplitude));
            (!by_chance).then_some(Vibration { frequency, amplitude })
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
            fit,
        }
    }
}

/// How often noise alone shows a line so strong, over a whole reading.
///
/// A swing of amplitude A at one frequency explains nA²/2 of the squares. Of white noise it explains so large a share with
/// the probability (left/(left + explained))^(ν/2) on ν degrees of freedom (the F distribution on 2 and ν). Half as many
/// frequencies as samples are looked at, and that again and again while the stretch grows.
fn chance(samples: usize, amplitude: f64, sigma: f64, freedom: f64) -> f64 {
    let n = samples as f64;
    let (explained, left) = (n / 2.0 * amplitude * amplitude, sigma * sigma * freedom);
    if explained <= 0.0 {
        return 1.0;
    }
    LOOKS * n / 2.0 * (left / (left + explained)).powf(freedom / 2.0)
}

/// Levels of span, chord and normal, and their swings at each line, as fitted to a window.
#[derive(Debug, Clone, Copy)]
struct LevelFit {
    /// The time of the window's first sample.
    begin: f64,
    /// Frequencies in hertz, and how many there are.
    lines: [f64; MOST_LINES],
    count: usize,
    /// In g, as are the swings: cosine and sine of each line, for each axis.
    levels: [f64; 3],
    swings: [[f64; 2 * MOST_LINES]; 3],
    /// Standard uncertainty of a level over the standard deviation of one sample.
    u_factor: f64,
    /// Of the pitch of the level, and its length in the plane of pitch.
    sin: f64,
    cos: f64,
    radius: f64,
}

impl LevelFit {
    fn of<'a>(window: impl Iterator<Item = &'a Moment> + Clone, lines: &[f64]) -> Self {
        let count = lines.len().min(MOST_LINES);
        let mut fit = Self {
            begin: window.clone().next().map_or(0.0, |moment| moment.clock),
            lines: std::array::from_fn(|k| lines.get(k).copied().unwrap_or(0.0)),
            count,
            levels: [0.0; 3],
            swings: [[0.0; 2 * MOST_LINES]; 3],
            u_factor: 1.0,
            sin: 0.0,
            cos: 1.0,
            radius: 1e-9,
        };
        // The size of the sums is known to the compiler, so that the inner loops have no branches.
        match count {
            0 => fit.solve::<1>(window),
            1 => fit.solve::<3>(window),
            2 => fit.solve::<5>(window),
            _ => fit.solve::<{ 2 * MOST_LINES + 1 }>(window),
        }
        let [span, chord, normal] = fit.levels;
        let pitch = BladeVector { span, chord, normal }.apparent_pitch();
        Self { sin: pitch.sin(), cos: pitch.cos(), radius: chord.hypot(normal).max(1e-9), ..fit }
    }

    /// Least squares for lines and level, three axes at once, with `TERMS` terms: two for each line, the level.
    fn solve<'a, const TERMS: usize>(&mut self, window: impl Iterator<Item = &'a Moment>) {
        let mut sums = NormalEquations::<TERMS, 3>::default();
        for moment in window {
            let BladeVector { span, chord, normal } = moment.force;
            let terms = swings_and(&self.lines[..self.count], moment.clock - self.begin, &[1.0]);
            sums.add(terms, [span, chord, normal]);
        }
        let Some(solved) = sums.solve(self.count) else { return };
        self.u_factor = 1.0 / solved.own(TERMS - 1);
        for (axis, coefficients) in solved.coefficients().iter().enumerate() {
            self.levels[axis] = coefficients[TERMS - 1];
            self.swings[axis][..TERMS - 1].copy_from_slice(&coefficients[..TERMS - 1]);
        }
    }

    /// What it leaves of a sample along each axis, in g.
    fn residual(&self, moment: &Moment) -> [f64; 3] {
        let force = [moment.force.span, moment.force.chord, moment.force.normal];
        let mut left = std::array::from_fn(|axis| force[axis] - self.levels[axis]);
        for (k, frequency) in self.lines[..self.count].iter().enumerate() {
            let (sin, cos) = (TAU * frequency * (moment.clock - self.begin)).sin_cos();
            for (axis, value) in left.iter_mut().enumerate() {
                *value -= self.swings[axis][2 * k] * cos + self.swings[axis][2 * k + 1] * sin;
            }
        }
        left
    }

    /// What a small force in g turns the pitch by, in radians.
    fn tilt(&self, [_, chord, normal]: [f64; 3]) -> f64 {
        (chord * self.cos - normal * self.sin) / self.radius
    }
}

#[cfg(test)]
mod tests {
    use super::super::reading::{EndedBy, Progress, SteadyReading, SteadySettings};
    use super::super::steady::SteadyReader;
    use crate::rig::noise::Random;
    use crate::sensor::Force;
    use crate::units::{Angle, BladeVector, Gravities, Seconds};

    /// Samples at 200 Hz, until the reading says that it is over.
    fn ends_after(saturated: bool) -> Option<(f64, EndedBy)> {
        let within = Seconds::new(3.0);
        let mut reader = SteadyReader::new(SteadySettings { within, want: Angle::ZERO, ..SteadySettings::default() });
        (0..4000).find_map(|k| {
            let clock = 5.0 + f64::from(k) / 200.0;
            let up = BladeVector { span: 0.0, chord: 0.01 * f64::from(k % 7), normal: 1.0 };
            let force = Force { clock: Seconds::new(clock), up, saturated, lost_before: 0, temperature: None };
            match reader.push(&force) {
                Progress::Done(ended_by) => Some((clock - 5.0, ended_by)),
                _ => None,
            }
        })
    }

    #[test]
    fn the_time_limit_ends_a_reading_of_which_every_sample_is_dropped_like_any_other() {
        assert_eq!(ends_after(true), Some((3.0, EndedBy::Time)));
        assert_eq!(ends_after(false), Some((3.0, EndedBy::Time)));
    }

    /// A reading of a resting blade at 200 Hz whose sensor measures anew only every `held` samples.
    fn rest(seed: u64, held: u32, noise: f64, count: f64) -> SteadyReading {
        let mut random = Random::new(seed);
        let settings = SteadySettings { count: Some(Gravities::new(count)), ..SteadySettings::default() };
        let mut reader = SteadyReader::new(settings);
        let mut up = BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
        for k in 0..6000 {
            let mut measure = |level: f64| ((level + noise * random.normal()) / count).round() * count;
            if k % held == 0 {
                up = BladeVector { span: measure(0.01), chord: measure(0.02), normal: measure(0.99) };
            }
            let clock = Seconds::new(f64::from(k) / 200.0);
            let force = Force { clock, up, saturated: false, lost_before: 0, temperature: None };
            if matches!(reader.push(&force), Progress::Done(_)) {
                break;
            }
        }
        reader.finish(EndedBy::End).unwrap()
    }

    /// How many of 60 steady readings lie further off than three times what they say, and the largest share of their samples that
    /// they count as independent.
    fn far_off(held: u32) -> (usize, f64) {
        let truth = Angle::from_radians(0.02f64.atan2(0.99));
        let readings: Vec<SteadyReading> = (0..60).map(|seed| rest(seed, held, 0.002, 1.0 / 16384.0)).collect();
        let steady = || readings.iter().filter(|reading| reading.steady);
        let far = steady().filter(|reading| (reading.apparent_pitch() - truth).abs() > reading.repeat * 3.0).count();
        let share = steady().map(|reading| reading.effective_samples / reading.samples as f64).fold(0.0, f64::max);
        (far, share)
    }

    #[test]
    fn samples_that_are_held_are_no_independent_ones() {
        for held in [4, 20] {
            let (far, share) = far_off(held);
            assert!(share < 1.3 / f64::from(held), "{share} of the samples of a sensor that holds each for {held}");
            assert!(far <= 1, "{far} of 60 readings are far off");
        }
        let (far, share) = far_off(1);
        assert!(far <= 1 && share > 0.99, "{far} far off, {share}");
    }

    #[test]
    fn a_coarse_sensor_that_truly_repeats_itself_is_held_against_its_resolution_alone() {
        let count = 1.0 / 256.0;
        for seed in 0..20 {
            let reading = rest(seed, 1, 0.1 * count, count);
            assert!(reading.steady && !reading.stuck, "{reading:?}");
            assert!(reading.effective_samples > 0.9 * reading.samples as f64, "{reading:?}");
            assert!(reading.undithered.degrees() > 0.05, "{reading:?}");
        }
    }
}
