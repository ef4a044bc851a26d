//! Vibration lines: at what frequencies a still stretch buzzes.
//!
//! Times in seconds, frequencies in hertz, the signal in whatever unit it has. A peak of the windowed periodogram (Hann;
//! Harris, Proc. IEEE 66 (1978) 51–83) counts as a line when it stands so far above the median of the band that
//! white noise would show it about once in a thousand looks. Its frequency is then refined on the true sample times by
//! least squares (Lomb, Astrophys. Space Sci. 39 (1976) 447–462). Only lines with several swings in the
//! window are looked for, and none below 15 Hz: a slower swing is a motion, not a vibration. Nor is any looked for within
//! one swing a window of half the sample rate: there a line runs into its own mirror image beyond it, its sine leaves no
//! trace, and noise stands out a hundred times as often.

use crate::stats::normal_equations::{NormalEquations, Solution, swings_and};
use crate::stats::transform::PowerTransform;
use std::f64::consts::TAU;

/// The most lines that are taken out.
pub const MOST_LINES: usize = 3;
const LOWEST: f64 = 15.0;
const FEWEST_SWINGS: f64 = 4.0;
const FEWEST_SAMPLES: usize = 24;
/// A peak this many times the mean noise power is a line: e⁻¹² for each of some hundred bins.
const STANDS_OUT: f64 = 12.0;

/// Looks for lines; keeps its buffers from look to look.
#[derive(Default)]
pub struct LineFinder {
    transform: PowerTransform,
    powers: Vec<f64>,
}

impl LineFinder {
    /// The frequencies of the lines in `signal`, strongest first; it is overwritten by what is left without them.
    pub fn find(&mut self, times: &[f64], signal: &mut [f64]) -> Vec<f64> {
        let mut found = Vec::new();
        let (n, length) = match (times.first(), times.last()) {
            (Some(first), Some(last)) if times.len() >= FEWEST_SAMPLES => (times.len(), last - first),
            _ => return found,
        };
        if length.is_nan() || length <= 0.0 {
            return found;
        }
        let rate = (n - 1) as f64 / length;
        remove_parabola(times, signal);
        while found.len() < MOST_LINES {
            let Some(coarse) = self.peak(times, signal, rate, length) else { break };
            let frequency = refine(times, signal, coarse, length);
            // A second look at the same line means that it wanders by less than can be told apart.
            if found.iter().any(|&known: &f64| (known - frequency).abs() < 0.6 / length) {
                break;
            }
            let Some([[a, b]]) = swing(times, signal, frequency).map(|swing| swing.coefficients()) else { break };
            for (value, time) in signal.iter_mut().zip(times) {
                let (sin, cos) = (TAU * frequency * time).sin_cos();
                *value -= a * cos + b * sin;
            }
            found.push(frequency);
        }
        found
    }

    /// The frequency of the highest peak, if it stands out.
    fn peak(&mut self, times: &[f64], signal: &[f64], rate: f64, length: f64) -> Option<f64> {
        let n = signal.len();
        let size = (2 * n).next_power_of_two();
        let begin = *times.first()?;
        let padded = self.transform.record(size);
        for (value, time) in signal.iter().zip(times) {
            // Lost samples leave their places empty, so that the phase stays right.
            let place = ((time - begin) * rate).round() as usize;
            let hann = 0.5 - 0.5 * (TAU * (time - begin) / length).cos();
            if let Some(slot) = padded.get_mut(place) {
                *slot = hann * value;
            }
        }
        self.transform.powers(&mut self.powers);
        let bin = rate / size as f64;
        let first = (LOWEST.max(FEWEST_SWINGS / length) / bin).ceil() as usize;
        self.powers.drain(..first.min(self.powers.len()));
        // The last that is told from its mirror image, unless it is the shoulder of one that is not.
        let last = (size / 2).checked_sub(first + (1.0 / (length * bin)).ceil() as usize)?;
        let falling = self.powers.windows(2).enumerate().take(last + 1).filter(|(_, pair)| pair[0] >= pair[1]);
        let (place, highest) = falling.map(|(at, pair)| (at, pair[0])).max_by(|a, b| a.1.total_cmp(&b.1))?;
        let median = crate::stats::robust::median(&mut self.powers)?;
        // Powers of white noise are exponential: their mean is the median over ln 2.
        let mean = median / std::f64::consts::LN_2;
        (highest > STANDS_OUT * mean && highest > 0.0).then(|| (first + place) as f64 * bin)
    }
}

/// The swing at a frequency that comes closest to the signal, cosine and sine; `None` without samples.
pub fn swing(times: &[f64], signal: &[f64], frequency: f64) -> Option<Solution<2, 1>> {
    let mut sums = NormalEquations::default();
    for (value, time) in signal.iter().zip(times) {
        sums.add(swings_and(&[frequency], *time, &[]), [*value]);
    }
    sums.solve(1)
}

/// How much of the signal's square a swing at this frequency explains.
pub fn explained(times: &[f64], signal: &[f64], frequency: f64) -> f64 {
    swing(times, signal, frequency).map_or(0.0, |swing| swing.explained()[0])
}

/// Climbs to the top of the explained square by two parabolas.
fn refine(times: &[f64], signal: &[f64], coarse: f64, length: f64) -> f64 {
    let mut best = coarse;
    for step in [0.25 / length, 0.06 / length] {
        let below = explained(times, signal, best - step);
        let here = explained(times, signal, best);
        let above = explained(times, signal, best + step);
        let bend = below - 2.0 * here + above;
        if bend < 0.0 {
            best += (0.5 * step * (below - above) / bend).clamp(-2.0 * step, 2.0 * step);
        }
    }
    best
}

/// Takes out the least-squares parabola, so that a slow change does not leak into the band.
fn remove_parabola(times: &[f64], signal: &mut [f64]) {
    let middle = times.iter().sum::<f64>() / times.len() as f64;
    let terms = |time: &f64| [1.0, time - middle, (time - middle).powi(2)];
    let mut sums = NormalEquations::<3, 1>::default();
    signal.iter().zip(times).for_each(|(value, time)| sums.add(terms(time), [*value]));
    let Some([[level, slope, bend]]) = sums.solve(0).map(|solved| solved.coefficients()) else { return };
    for (value, time) in signal.iter_mut().zip(times) {
        let [_, t, square] = terms(time);
        *value -= level + slope * t + bend * square;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::Rig;
    use crate::rig::noise::Random;
    use crate::sensor::{Calibration, Mounting};
    use crate::units::{Angle, Gravities, Seconds};
    use crate::{EndedBy, Progress, SteadyReader, SteadyReading, SteadySettings};
    use clinoblade_stream::{Profile, SampleDecoder};

    fn noisy_line(hertz: f64, amplitude: f64, seed: u64) -> (Vec<f64>, Vec<f64>) {
        let mut random = Random::new(seed);
        let times: Vec<f64> = (0..80).map(|i| f64::from(i) * 0.005 + 2e-4 * random.uniform()).collect();
        let signal = times.iter().map(|t| amplitude * (TAU * hertz * t + 1.0).sin() + random.normal()).collect();
        (times, signal)
    }

    #[test]
    fn a_buzz_is_found_at_its_frequency() {
        for (seed, hertz) in [(1, 21.3), (2, 33.0), (3, 48.9)] {
            let (times, mut signal) = noisy_line(hertz, 3.0, seed);
            let found = LineFinder::default().find(&times, &mut signal);
            assert_eq!(found.len(), 1, "{hertz}: {found:?}");
            assert!((found[0] - hertz).abs() < 0.3, "{hertz}: {found:?}");
        }
    }

    #[test]
    fn noise_alone_hardly_ever_shows_a_line() {
        let mut finder = LineFinder::default();
        let looks = 2000;
        let seen = (0..looks).filter(|&seed| {
            let (times, mut signal) = noisy_line(30.0, 0.0, 100 + seed);
            !finder.find(&times, &mut signal).is_empty()
        });
        let seen = seen.count();
        assert!(seen < 20, "{seen} of {looks}");
    }

    /// Samples a second.
    const RATE: f64 = 200.0;

    /// Blade A at full collective, read until its angle is known to ± `want_deg`.
    fn read(seed: u64, more: &str, want_deg: f64) -> SteadyReading {
        let scenario = format!(
            "seed = {seed}\nhead.station_deg = 90\nsensor.noise_density_ug_rthz = 150\nstream.rate_hz = {RATE}\n{more}"
        );
        let mut rig = Rig::new(scenario.parse().unwrap()).unwrap();
        rig.command("stick collective 100").unwrap();
        let mut bytes = Vec::new();
        rig.advance(Seconds::new(20.0), &mut bytes);
        let profile = Profile::sentence();
        let calibration = Calibration::nominal(profile.counts_per_g());
        let count = Gravities::new(1.0 / profile.counts_per_g());
        let wanted = Angle::from_degrees(want_deg);
        let mut reader =
            SteadyReader::new(SteadySettings { want: wanted, count: Some(count), ..SteadySettings::default() });
        for sample in SampleDecoder::all(&profile, &bytes).0 {
            if let Progress::Done(_) = reader.push(&calibration.force(&sample, Mounting::default(), false)) {
                break;
            }
        }
        reader.finish(EndedBy::End).unwrap()
    }

    /// At half the sample rate a sine leaves no trace: an amplitude fitted there is rounding, magnified.
    #[test]
    fn a_quiet_blade_shows_no_vibration_at_half_the_sample_rate_or_anywhere() {
        let shown = |seed: u64| read(seed, "", 0.05).vibration;
        assert_eq!(shown(2), None);
        let looks = 500;
        let all: Vec<_> = (0..looks).filter_map(shown).collect();
        println!("{} of {looks} quiet blades: {all:?}", all.len());
        // A line is taken out of the mean where noise shows one; a vibration is claimed less often than once in 10,000.
        assert!(all.is_empty(), "{all:?}");
    }

    #[test]
    fn a_vibration_is_found_in_the_middle_of_the_band_and_a_little_below_its_end() {
        for hertz in [31.0, 50.0, 78.5, 95.0] {
            for seed in 0..20 {
                let reading = read(seed, &format!("servos = {{ buzz_deg = 0.3, buzz_hz = {hertz} }}"), 0.02);
                let vibration =
                    reading.vibration.unwrap_or_else(|| panic!("{hertz} Hz, seed {seed}: none in {reading:?}"));
                assert!((vibration.frequency.value() - hertz).abs() < 0.4, "{hertz} Hz, seed {seed}: {vibration:?}");
                assert!((vibration.amplitude.degrees() - 0.3).abs() < 0.09, "{hertz} Hz, seed {seed}: {vibration:?}");
            }
        }
    }
}
