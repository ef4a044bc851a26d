//! What a real sensor and a real line add to the truth: noise, flicker, buzz, spikes, coarse counts, lost lines.
//!
//! Everything comes from a seeded generator of our own, so that one seed gives one stream wherever it is run. Forces in
//! g, times in seconds, angles as angles.

use crate::units::{Angle, Gravities, Hertz, Seconds, SensorVector};
use std::f64::consts::TAU;

/// A small generator of random numbers: xoshiro256++, seeded by SplitMix64 (Blackman and Vigna, ACM TOMS 47 (2021) 36).
#[derive(Debug, Clone)]
pub struct Random {
    state: [u64; 4],
    spare: Option<f64>,
}

impl Random {
    /// The generator of this seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        let mut mixed = seed;
        let state = std::array::from_fn(|_| {
            mixed = mixed.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = mixed;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            z ^ (z >> 31)
        });
        Self { state, spare: None }
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        let [a, b, c, d] = self.state;
        let result = a.wrapping_add(d).rotate_left(23).wrapping_add(a);
        let (c, d) = (c ^ a, d ^ b);
        let (b, a) = (b ^ c, a ^ d);
        self.state = [a, b, c ^ (self.state[1] << 17), d.rotate_left(45)];
        result
    }

    /// Uniform in 0 ≤ x < 1.
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform between two bounds.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// True with this probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// Normal with mean 0 and standard deviation 1 (Marsaglia's polar method).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (x, y) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let square = x * x + y * y;
            if square > 0.0 && square < 1.0 {
                let factor = (-2.0 * square.ln() / square).sqrt();
                self.spare = Some(y * factor);
                return x * factor;
            }
        }
    }
}

/// How noisy a sensor is, the same along each axis.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct NoiseSettings {
    /// Standard deviation of the white noise of one sample.
    pub white: Gravities,
    /// Standard deviation that each octave of the 1/f noise adds.
    pub flicker: Gravities,
    /// Probability that a sample is a spike along one axis.
    pub spikes: f64,
    /// Size of a spike at most.
    pub spike_size: Gravities,
}

impl NoiseSettings {
    /// The white noise of one sample from a density in g/√Hz and the rate of the samples (bandwidth half the rate).
    #[must_use]
    pub fn white_from_density(density: f64, rate: Hertz) -> Gravities {
        Gravities::new(density * (rate.value() / 2.0).sqrt())
    }
}

const OCTAVES: usize = 14;

/// The noise of a three-axis sensor.
#[derive(Debug, Clone)]
pub struct SensorNoise {
    settings: NoiseSettings,
    random: Random,
    flicker: [[f64; OCTAVES]; 3],
}

impl SensorNoise {
    /// Noise from a seed.
    #[must_use]
    pub fn new(settings: NoiseSettings, seed: u64) -> Self {
        let mut random = Random::new(seed);
        // Each octave begins in its stationary state: a stream shows a piece of a noise that has always been.
        let flicker = std::array::from_fn(|_| std::array::from_fn(|_| random.normal()));
        Self { settings, random, flicker }
    }

    /// The force as the sensor shows it, before it is rounded to counts.
    pub fn on(&mut self, force: SensorVector) -> SensorVector {
        let mut shown = force;
        for (axis, value) in shown.0.iter_mut().enumerate() {
            *value += self.settings.white.value() * self.random.normal();
            if self.settings.flicker.value() > 0.0 {
                *value += self.settings.flicker.value() * self.step_flicker(axis);
            }
        }
        if self.settings.spikes > 0.0 && self.random.chance(self.settings.spikes) {
            let axis = (self.random.bits() % 3) as usize;
            let size = self.settings.spike_size.value() * self.random.between(0.3, 1.0);
            shown.0[axis] += if self.random.chance(0.5) { size } else { -size };
        }
        shown
    }

    /// 1/f noise as a sum of first-order relaxations an octave apart, of equal variance (Bernamont 1937; Keshner,
    /// Proc. IEEE 70 (1982) 212): time constants of 1, 2, 4 … samples.
    fn step_flicker(&mut self, axis: usize) -> f64 {
        let mut sum = 0.0;
        for octave in 0..OCTAVES {
            let keep = (-1.0 / f64::from(1_u32 << octave)).exp();
            let push = (1.0 - keep * keep).sqrt();
            let value = &mut self.flicker[axis][octave];
            *value = keep * *value + push * self.random.normal();
            sum += *value;
        }
        sum
    }
}

/// Rounds a force to whole counts.
#[must_use]
pub fn counts(force: SensorVector, counts_per_g: f64) -> [i32; 3] {
    force.0.map(|axis| (axis * counts_per_g).round() as i32)
}

/// A vibration of the blade: a servo that hunts, at a frequency that wanders a little.
#[derive(Debug, Clone)]
pub struct Buzz {
    /// Mean frequency.
    pub frequency: Hertz,
    /// Amplitude in pitch.
    pub amplitude: Angle,
    /// How far the frequency strays, as a standard deviation.
    pub wander: Hertz,
    phase: f64,
    stray: f64,
    last: Option<f64>,
    random: Random,
}

impl Buzz {
    /// A buzz that starts at a phase of its seed.
    #[must_use]
    pub fn new(frequency: Hertz, amplitude: Angle, wander: Hertz, seed: u64) -> Self {
        let mut random = Random::new(seed);
        let phase = random.between(0.0, TAU);
        let stray = random.normal();
        Self { frequency, amplitude, wander, phase, stray, last: None, random }
    }

    /// The pitch it adds at this time; times must not go back.
    pub fn at(&mut self, clock: Seconds) -> Angle {
        let step = self.last.map_or(0.0, |last| (clock.value() - last).max(0.0));
        self.last = Some(clock.value());
        // The stray relaxes within about a second.
        let keep = (-step).exp();
        self.stray = keep * self.stray + (1.0 - keep * keep).sqrt() * self.random.normal();
        self.phase += TAU * step * (self.frequency.value() + self.wander.value() * self.stray);
        self.amplitude * self.phase.sin()
    }
}

/// What becomes of one line on the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineFate {
    /// It arrives whole.
    Whole,
    /// It never arrives.
    Lost,
    /// It arrives with a wrong character.
    Damaged,
    /// It arrives twice.
    Repeated,
}

/// How often lines are lost, damaged or repeated; probabilities for each line.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct WireSettings {
    /// Lost.
    pub lost: f64,
    /// Damaged.
    pub damaged: f64,
    /// Repeated.
    pub repeated: f64,
}

/// Decides what becomes of each line.
#[derive(Debug, Clone)]
pub struct Wire {
    settings: WireSettings,
    random: Random,
}

impl Wire {
    /// A wire from a seed.
    #[must_use]
    pub fn new(settings: WireSettings, seed: u64) -> Self {
        Self { settings, random: Random::new(seed) }
    }

    /// The fate of the next line.
    pub fn next_fate(&mut self) -> LineFate {
        let WireSettings { lost, damaged, repeated } = self.settings;
        let drawn = self.random.uniform();
        if drawn < lost {
            LineFate::Lost
        } else if drawn < lost + damaged {
            LineFate::Damaged
        } else if drawn < lost + damaged + repeated {
            LineFate::Repeated
        } else {
            LineFate::Whole
        }
    }

    /// Where a damaged line of this many bytes is hit, and the bits that are turned over there (never none).
    pub fn hit(&mut self, length: usize) -> (usize, u8) {
        let place = (self.random.bits() % length.max(1) as u64) as usize;
        (place, 1 << (self.random.bits() % 7))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_generator_gives_the_published_sequence() {
        // SplitMix64 from seed 0 begins e220a8397b1dcdaf 6e789e6aa1b965f4 06c45d188009454f f88bb8a8724c81ec
        // (reference implementation of Vigna, public domain).
        let random = Random::new(0);
        assert_eq!(random.state[0], 0xe220_a839_7b1d_cdaf);
        assert_eq!(random.state[3], 0xf88b_b8a8_724c_81ec);
        // xoshiro256++ from the state 1, 2, 3, 4 begins 41943041, 58720359, 3588806011781223 (reference implementation).
        let mut random = Random { state: [1, 2, 3, 4], spare: None };
        assert_eq!([random.bits(), random.bits(), random.bits()], [41_943_041, 58_720_359, 3_588_806_011_781_223]);
    }

    #[test]
    fn one_seed_gives_one_stream_and_another_a_different_one() {
        let stream = |seed| {
            let settings =
                NoiseSettings { white: Gravities::new(0.002), flicker: Gravities::new(1e-4), ..Default::default() };
            let mut noise = SensorNoise::new(settings, seed);
            (0..50).map(|_| counts(noise.on(SensorVector([0.0, 0.0, 1.0])), 16384.0)).collect::<Vec<_>>()
        };
        assert_eq!(stream(7), stream(7));
        assert_ne!(stream(7), stream(8));
    }

    #[test]
    fn white_noise_has_the_stated_deviation() {
        let settings = NoiseSettings { white: Gravities::new(0.003), ..Default::default() };
        let mut noise = SensorNoise::new(settings, 3);
        let n = 20_000;
        let squares: f64 = (0..n).map(|_| noise.on(SensorVector([0.0; 3])).0[1].powi(2)).sum();
        let deviation = (squares / f64::from(n)).sqrt();
        assert!((deviation / 0.003 - 1.0).abs() < 0.02, "{deviation}");
    }

    #[test]
    fn lines_meet_their_fates_as_often_as_stated() {
        let mut wire = Wire::new(WireSettings { lost: 0.1, damaged: 0.05, repeated: 0.02 }, 11);
        let fates: Vec<LineFate> = (0..20_000).map(|_| wire.next_fate()).collect();
        let share = |fate| fates.iter().filter(|&&f| f == fate).count() as f64 / 20_000.0;
        assert!((share(LineFate::Lost) - 0.1).abs() < 0.01);
        assert!((share(LineFate::Damaged) - 0.05).abs() < 0.01);
        assert!((share(LineFate::Repeated) - 0.02).abs() < 0.005);
    }
}
