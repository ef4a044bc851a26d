//! Power spectral density of an evenly spaced record, and the line that stands out of it.
//!
//! Welch's method: Hann windows that overlap by half, each about its own mean, one-sided density in unit²/Hz. [Welch, IEEE
//! Trans. Audio Electroacoust. 15 (1967) 70–73; Harris, Proc. IEEE 66 (1978) 51–83]
//!
//! It fails where the record is not evenly spaced, or shorter than a few swings of what is looked for.

use super::robust::median_of;
use super::transform::PowerTransform;
use std::f64::consts::TAU;

/// A segment lasts about so long, seconds: lines a quarter of a hertz apart are told apart.
const SEGMENT: f64 = 4.0;
const SHORTEST_SEGMENT: usize = 32;
/// Below this a swing is a motion, hertz.
const LOWEST_LINE: f64 = 2.0;
/// How many bins to either side tell what is usual around a bin.
const NEIGHBOURS: usize = 24;
/// How many bins to either side belong to a line: the window's own width and a little wander.
const LINE_WIDTH: usize = 6;
/// A line stands so many times above what chance makes of noise in one record of ten thousand.
const STANDS_OUT: f64 = 2.0;

/// A one-sided power spectral density.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum {
    /// Distance of two bins, hertz.
    pub step: f64,
    /// Density of each bin from zero up, unit²/Hz.
    pub density: Vec<f64>,
    /// How many independent spectra its average is worth.
    pub averages: f64,
}

/// A line in a spectrum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpectralLine {
    /// Its frequency, hertz.
    pub frequency: f64,
    /// Amplitude of a sine of its power, in the unit of the values.
    pub amplitude: f64,
}

/// The spectrum of values that come `rate` a second; `None` of fewer than 32.
#[must_use]
pub fn spectrum(values: &[f64], rate: f64) -> Option<Spectrum> {
    let size = ((rate * SEGMENT).max(1.0) as usize).next_power_of_two().min(values.len());
    // The largest power of two that fits.
    let size = if size.is_power_of_two() { size } else { size.next_power_of_two() / 2 };
    if size < SHORTEST_SEGMENT || rate.is_nan() || rate <= 0.0 {
        return None;
    }
    let window: Vec<f64> = (0..size).map(|i| 0.5 - 0.5 * (TAU * i as f64 / size as f64).cos()).collect();
    let scale = 2.0 / (rate * window.iter().map(|w| w * w).sum::<f64>());
    let (mut transform, mut powers) = (PowerTransform::default(), Vec::new());
    let mut density = vec![0.0; size / 2 + 1];
    let mut segments = 0.0;
    for segment in values.windows(size).step_by(size / 2) {
        let mean = super::moments::mean(segment)?;
        for ((slot, value), weight) in transform.record(size).iter_mut().zip(segment).zip(&window) {
            *slot = (value - mean) * weight;
        }
        transform.powers(&mut powers);
        for (sum, power) in density.iter_mut().zip(&powers) {
            *sum += scale * power;
        }
        segments += 1.0;
    }
    density.iter_mut().for_each(|sum| *sum /= segments);
    // Hann windows that overlap by half share a sixth of their content: (1/6)² of it, twice (Welch, as above).
    let averages = segments / (1.0 + (segments - 1.0) / segments / 18.0);
    Some(Spectrum { step: rate / size as f64, density, averages })
}

impl Spectrum {
    /// The density of the white noise: what is usual over the upper nine tenths of the band, whatever lines stand in it.
    #[must_use]
    pub fn white(&self) -> Option<f64> {
        let from = (self.density.len() / 10).max(2);
        let band = self.density.get(from..self.density.len().saturating_sub(2))?;
        Some(median_of(band.iter().copied())? / median_share(self.averages))
    }

    /// The strongest line above 2 Hz, if one stands out of the noise around it.
    #[must_use]
    pub fn strongest_line(&self) -> Option<SpectralLine> {
        let first = ((LOWEST_LINE / self.step).ceil() as usize).max(3);
        let bins = self.bins();
        // Where a sum of squares of Gaussians stays with all but one in ten thousand records (Laurent, Massart 2000).
        let rare = (bins as f64 * 1e4).ln() / self.averages;
        let limit = STANDS_OUT * (1.0 + rare + (2.0 * rare).sqrt());
        let standing = (first..bins).filter_map(|bin| {
            let (density, usual) = (*self.density.get(bin)?, self.usual(bin)?);
            (density > limit * usual && density > 0.0).then_some((bin, density))
        });
        let (peak, _) = standing.max_by(|a, b| a.1.total_cmp(&b.1))?;
        let (power, moment) = self.standing_out(peak);
        (power > 0.0).then(|| SpectralLine { frequency: moment / power, amplitude: (2.0 * power).sqrt() })
    }

    /// Amplitude of a sine of the power that stands out around this frequency.
    #[must_use]
    pub fn amplitude_at(&self, frequency: f64) -> f64 {
        (2.0 * self.standing_out((frequency / self.step).round() as usize).0).sqrt()
    }

    /// What is usual around a bin, as a mean of noise.
    fn usual(&self, bin: usize) -> Option<f64> {
        let around = self.density.get(bin.saturating_sub(NEIGHBOURS).max(1)..(bin + NEIGHBOURS).min(self.bins()))?;
        Some(median_of(around.iter().copied())? / median_share(self.averages))
    }

    /// Bins below half the rate.
    const fn bins(&self) -> usize {
        self.density.len().saturating_sub(1)
    }

    /// Power of the bins of a line beyond what is usual there, and that power times its frequency.
    fn standing_out(&self, peak: usize) -> (f64, f64) {
        let usual = self.usual(peak).unwrap_or(0.0);
        let line = peak.saturating_sub(LINE_WIDTH).max(1)..(peak + LINE_WIDTH + 1).min(self.bins());
        let bins = line.filter_map(|bin| Some((bin as f64 * self.step, (self.density.get(bin)? - usual) * self.step)));
        // Noise stands above and below what is usual: only a line leaves something.
        let (power, moment) = bins.fold((0.0, 0.0), |(power, moment), (f, p)| (power + p, moment + p * f));
        if power > 0.0 { (power, moment) } else { (0.0, 0.0) }
    }

    /// The sum of two spectra of one record: two axes of a sensor.
    #[must_use]
    pub fn plus(mut self, other: &Self) -> Self {
        for (sum, density) in self.density.iter_mut().zip(&other.density) {
            *sum += density;
        }
        self.averages += other.averages;
        self
    }
}

/// Median over mean of an average of n spectra of noise: χ² on 2n degrees of freedom (Wilson, Hilferty 1931).
fn median_share(averages: f64) -> f64 {
    (1.0 - 1.0 / (9.0 * averages)).powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::noise::Random;

    fn noise(count: usize, deviation: f64, seed: u64) -> Vec<f64> {
        let mut random = Random::new(seed);
        (0..count).map(|_| deviation * random.normal()).collect()
    }

    /// White noise of variance s² at rate r has the one-sided density 2·s²/r.
    #[test]
    fn white_noise_has_its_density_and_no_line() {
        let rate = 200.0;
        for seed in 0..20 {
            let found = spectrum(&noise(12_000, 0.5, seed), rate).unwrap();
            let share = found.white().unwrap() / (2.0 * 0.25 / rate);
            assert!((share - 1.0).abs() < 0.05, "{share}");
            assert_eq!(found.strongest_line(), None);
        }
        // A short record has fewer spectra to average.
        let short = (0..40).map(|seed| spectrum(&noise(1000, 0.5, seed), rate).unwrap().white().unwrap()).sum::<f64>();
        assert!((short / 40.0 / (2.0 * 0.25 / rate) - 1.0).abs() < 0.05, "{short}");
    }

    #[test]
    fn a_line_is_found_with_frequency_and_amplitude() {
        let rate = 200.0;
        for (frequency, amplitude) in [(23.37, 0.2), (61.0, 0.1), (7.9, 0.3)] {
            let values: Vec<f64> = noise(6000, 0.1, 3)
                .iter()
                .enumerate()
                .map(|(i, value)| value + amplitude * (TAU * frequency * i as f64 / rate).sin())
                .collect();
            let line = spectrum(&values, rate).unwrap().strongest_line().unwrap();
            assert!((line.frequency - frequency).abs() < 0.05, "{line:?}");
            assert!((line.amplitude / amplitude - 1.0).abs() < 0.05, "{line:?}");
        }
    }

    #[test]
    fn too_few_values_have_no_spectrum() {
        assert!(spectrum(&[1.0; 20], 200.0).is_none());
        assert!(spectrum(&[1.0; 200], f64::NAN).is_none());
        let still = spectrum(&[1.0; 200], 200.0).unwrap();
        assert_eq!((still.white(), still.strongest_line()), (Some(0.0), None));
    }
}
