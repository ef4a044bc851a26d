//! What a sensor sends that cannot be true: no force at all, an axis that no longer follows, a gravity that is not 1 g.
//!
//! A sensor at rest shows 1 g and its own noise. An axis that stands while the noise of the other two would have moved it does not
//! follow any more; a sensor of which no axis moves is frozen, if that noise was seen before, or if its counts are so fine that the
//! quietest chip would show in them. One with coarser counts may truly repeat itself.

use super::{Calibration, Mounting};
use crate::stats::student::normal_share_within;
use crate::units::{BladeVector, Celsius, Gravities, Sample, Seconds};

/// What is wrong with a sensor, as its samples show it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SensorFault {
    /// Every axis sends zero.
    Dead,
    /// No axis has changed for so long, although the noise of any chip would have shown.
    Frozen {
        /// For so long.
        over: Seconds,
    },
    /// One axis has not changed for so long, although its noise would have shown.
    Stuck {
        /// Its letter.
        axis: char,
        /// For so long.
        over: Seconds,
    },
    /// An axis is at the end of its range.
    EndOfRange {
        /// Its letter.
        axis: char,
    },
    /// A calibrated sensor at rest shows another gravity than 1 g.
    GravityOff {
        /// What it shows.
        gravity: Gravities,
        /// How far off calibration and temperature allow.
        allowed: Gravities,
    },
    /// A sensor without a calibration shows a gravity further from 1 g than any chip does.
    WrongScale {
        /// What it shows.
        gravity: Gravities,
    },
}

impl SensorFault {
    /// Whether waiting does not mend it: who moves the blade back does not either.
    #[must_use]
    pub const fn is_for_good(self) -> bool {
        matches!(self, Self::Dead | Self::Frozen { .. } | Self::Stuck { .. })
    }
}

/// A good calibration is off by so much in its life, whatever its covariance says. [common practice, no source]
const LEAST_ALLOWED: f64 = 0.02;
/// So many standard uncertainties are allowed.
const ALLOWED_SIGMAS: f64 = 3.0;
/// Where the temperatures are not known: they may differ by so much.
const UNKNOWN_CHANGE: f64 = 15.0;
/// The three offsets and the scales of a chip that nobody has calibrated allow no more.
const UNCALIBRATED_ALLOWED: f64 = 0.20;

/// What the length of a mean force at rest says of its sensor; none where it is 1 g, to within what is allowed.
#[must_use]
pub fn gravity(up: BladeVector, calibration: &Calibration, at: Mounting, now: Option<Celsius>) -> Option<SensorFault> {
    let gravity = Gravities::new(up.norm());
    let off = (gravity.value() - 1.0).abs();
    if !calibration.is_calibrated() {
        return (off > UNCALIBRATED_ALLOWED).then_some(SensorFault::WrongScale { gravity });
    }
    let allowed = allowed(up, calibration, at, now);
    (off > allowed.value()).then_some(SensorFault::GravityOff { gravity, allowed })
}

fn allowed(up: BladeVector, calibration: &Calibration, at: Mounting, now: Option<Celsius>) -> Gravities {
    let change = now.zip(calibration.temperature).map_or(UNKNOWN_CHANGE, |(now, then)| (now - then).value());
    let drift = super::calibration::u_offset_drift(Celsius::new(change)).value();
    let u = calibration.u_gravity(up, at).value().hypot(drift);
    Gravities::new((ALLOWED_SIGMAS * u).max(LEAST_ALLOWED))
}

/// So many samples in a row, and so many seconds, say that an axis does not change.
const ENOUGH_SAMPLES: u32 = 32;
const ENOUGH_SECONDS: f64 = 0.25;
/// A sensor that holds its samples holds them no more than so many times longer than it did before.
const LONGER_THAN_BEFORE: u32 = 4;
/// So often the other axes have changed meanwhile, by noise of so many counts: an axis with half of it would have changed as
/// well, but once in a thousand million times. What a knock leaves in the running noise is forgotten by then.
const OTHERS_CHANGED: u32 = 40;
const OTHERS_NOISE: f64 = 2.0;
/// The quietest chip has this noise, g in a band of one hertz; its own filter may leave a tenth of the band. [from memory]
const QUIETEST_DENSITY: f64 = 20e-6;
const NARROWEST_BAND: f64 = 0.1;
/// Chance, as a natural logarithm, with which such a chip may be called frozen: one in a thousand millions.
const BY_CHANCE: f64 = -20.7;
/// An axis that stands at the largest value it ever had, and at this many g or more, is at the end of its range.
const NEAR_THE_END: f64 = 0.5;
/// Share of each new change in the running noise.
const SHARE: f64 = 1.0 / 8.0;

/// Watches the samples for a sensor that does not follow any more.
#[derive(Debug, Clone)]
pub struct FaultWatch {
    /// One count in g; none where the sensor does not count.
    count: Option<Gravities>,
    axes: [Axis; 3],
    /// Samples in a row in which no axis changed, and most of them before an axis did.
    all_same: u32,
    all_longest: u32,
    /// Samples in a row at the end of the range, and the time of the first.
    saturated: (u32, f64),
}

/// What one axis has sent so far, counts.
#[derive(Debug, Clone, Copy, Default)]
struct Axis {
    last: Option<f64>,
    /// Samples without a change, and the time of the first.
    same: u32,
    since: f64,
    /// Changes in all, and how many the other two had made when this one changed last.
    changes: u32,
    others_then: [u32; 2],
    /// The last change, and the mean size of the changes' own changes, which a steady motion leaves alone and a knock soon leaves.
    step: f64,
    unrest: f64,
    /// The smallest change.
    least: f64,
    /// The least and the largest value before the present one.
    extremes: Option<(f64, f64)>,
}

impl Axis {
    /// Takes the next value; says whether it is another.
    fn push(&mut self, value: f64, clock: f64) -> bool {
        let Some(last) = self.last else {
            *self = Self { last: Some(value), same: 1, since: clock, least: f64::INFINITY, ..Self::default() };
            return true;
        };
        // A clock that began anew begins a new count.
        if last.to_bits() == value.to_bits() && clock >= self.since {
            self.same = self.same.saturating_add(1);
            return false;
        }
        let step = value - last;
        let unrest = (step - self.step).abs();
        self.unrest += if self.changes == 0 { unrest } else { SHARE * (unrest - self.unrest) };
        let (low, high) = self.extremes.unwrap_or((last, last));
        self.extremes = Some((low.min(last), high.max(last)));
        (self.step, self.least) = (step, self.least.min(step.abs()));
        self.changes = self.changes.saturating_add(1);
        (self.last, self.same, self.since) = (Some(value), 1, clock);
        true
    }

    /// Standard deviation of its noise: the change of a change of white noise has six times its variance, and a mean size of √(2/π)
    /// standard deviations.
    fn noise(&self) -> f64 {
        self.unrest / (12.0 / std::f64::consts::PI).sqrt()
    }

    fn lasts(&self, clock: f64) -> bool {
        self.same >= ENOUGH_SAMPLES && clock - self.since >= ENOUGH_SECONDS
    }
}

impl FaultWatch {
    /// Has seen nothing yet of a sensor with this count.
    #[must_use]
    pub fn new(count: Option<Gravities>) -> Self {
        Self { count, axes: [Axis::default(); 3], all_same: 0, all_longest: 0, saturated: (0, 0.0) }
    }

    /// Takes the next sample and says what is wrong at this moment.
    pub fn push(&mut self, sample: &Sample, saturated: bool) -> Option<SensorFault> {
        let clock = sample.clock.value();
        self.saturated = match self.saturated {
            (before, since) if saturated && before > 0 => (before.saturating_add(1), since),
            _ => (u32::from(saturated), clock),
        };
        let changed = [0, 1, 2].map(|axis| self.axes[axis].push(sample.counts[axis], clock));
        if changed.contains(&true) {
            self.all_longest = self.all_longest.max(self.all_same);
            self.all_same = 1;
        } else {
            self.all_same = self.all_same.saturating_add(1);
        }
        for axis in (0..3).filter(|axis| changed[*axis]) {
            self.axes[axis].others_then = others(axis).map(|other| self.axes[other].changes);
        }
        self.fault(sample, clock)
    }

    fn fault(&self, sample: &Sample, clock: f64) -> Option<SensorFault> {
        let all_last = self.axes.iter().all(|axis| axis.lasts(clock));
        if all_last && sample.counts == [0.0; 3] {
            return Some(SensorFault::Dead);
        }
        if self.saturated.0 >= ENOUGH_SAMPLES && clock - self.saturated.1 >= ENOUGH_SECONDS {
            let strongest = (0..3).max_by(|a, b| sample.counts[*a].abs().total_cmp(&sample.counts[*b].abs()));
            return strongest.map(|axis| SensorFault::EndOfRange { axis: letter(axis) });
        }
        if all_last {
            let since = self.axes.iter().map(|axis| axis.since).fold(f64::NEG_INFINITY, f64::max);
            return self
                .must_have_moved(clock - since)
                .then(|| SensorFault::Frozen { over: Seconds::new(clock - since) });
        }
        let axis = (0..3).find(|axis| self.stands(*axis, clock))?;
        let over = Seconds::new(clock - self.axes[axis].since);
        Some(if self.is_at_its_end(axis) {
            SensorFault::EndOfRange { axis: letter(axis) }
        } else {
            SensorFault::Stuck { axis: letter(axis), over }
        })
    }

    /// Whether one axis stands while the noise of both others would have moved it.
    fn stands(&self, axis: usize, clock: f64) -> bool {
        let of = self.axes[axis];
        let moves = |(other, then): (usize, u32)| {
            let other = self.axes[other];
            other.changes - then.min(other.changes) >= OTHERS_CHANGED && other.noise() >= OTHERS_NOISE * self.unit()
        };
        of.lasts(clock) && std::iter::zip(others(axis), of.others_then).all(moves)
    }

    /// Whether no axis could have stood for so long: not with the noise seen before, and not with that of the quietest chip.
    fn must_have_moved(&self, seconds: f64) -> bool {
        let moved = |axis: &Axis| axis.changes >= OTHERS_CHANGED && axis.noise() >= OTHERS_NOISE * self.unit();
        if self.axes.iter().any(moved) {
            return self.all_same >= LONGER_THAN_BEFORE * self.all_longest;
        }
        let Some(count) = self.count else { return false };
        let rate = f64::from(self.all_same.saturating_sub(1)) / seconds.max(f64::EPSILON);
        let sigma = QUIETEST_DENSITY * (NARROWEST_BAND * rate / 2.0).sqrt();
        // At worst the level stands in the middle of a count.
        let stays = normal_share_within(count.value() * self.unit() / 2.0 / sigma);
        let by_chance = 3.0 * f64::from(self.all_same) * stays.ln();
        self.all_same >= LONGER_THAN_BEFORE * self.all_longest && by_chance < BY_CHANCE
    }

    fn is_at_its_end(&self, axis: usize) -> bool {
        let of = self.axes[axis];
        let (Some(value), Some((low, high)), Some(count)) = (of.last, of.extremes, self.count) else { return false };
        (value >= high || value <= low) && value.abs() * count.value() >= NEAR_THE_END
    }

    /// The step of the numbers: the smallest that was seen, since some sensors count in sixteens.
    fn unit(&self) -> f64 {
        let seen = self.axes.iter().map(|axis| axis.least).filter(|least| *least > 0.0).fold(f64::INFINITY, f64::min);
        if seen.is_finite() { seen } else { 1.0 }
    }
}

const fn others(axis: usize) -> [usize; 2] {
    [(axis + 1) % 3, (axis + 2) % 3]
}

const fn letter(axis: usize) -> char {
    ['x', 'y', 'z'][axis]
}

#[cfg(test)]
mod tests {
    use super::super::Model;
    use super::*;

    const FINE: f64 = 1.0 / 16384.0;
    const COARSE: f64 = 1.0 / 256.0;

    /// The first fault in two seconds at 200 Hz of a sensor that sends this.
    fn first(count: f64, sends: impl Fn(u32) -> [f64; 3]) -> Option<SensorFault> {
        let mut watch = FaultWatch::new(Some(Gravities::new(count)));
        (0..400).find_map(|k| {
            let clock = Seconds::new(f64::from(k) / 200.0);
            watch.push(&Sample { clock, counts: sends(k), lost_before: 0, temperature: None }, false)
        })
    }

    fn noise(k: u32) -> f64 {
        f64::from(k.wrapping_mul(2_654_435_761) >> 28)
    }

    #[test]
    fn a_dead_sensor_a_frozen_one_and_a_stuck_axis_are_told_within_half_a_second_each_as_what_it_is() {
        assert_eq!(first(FINE, |_| [0.0; 3]), Some(SensorFault::Dead));
        let frozen = first(FINE, |_| [340.0, 12.0, 16300.0]);
        assert!(matches!(frozen, Some(SensorFault::Frozen { over }) if over.value() < 0.5), "{frozen:?}");
        let swinging = first(FINE, |k| [858.0, noise(k), 16300.0 - 60.0 * f64::from(k).sin() + noise(k + 7)]);
        assert!(matches!(swinging, Some(SensorFault::Stuck { axis: 'x', .. })), "{swinging:?}");
    }

    #[test]
    fn a_sensor_that_follows_and_a_coarse_one_that_repeats_itself_are_not_accused() {
        assert_eq!(first(FINE, |k| [340.0 + noise(k), noise(k + 3), 16300.0 + noise(k + 9)]), None);
        assert_eq!(first(COARSE, |_| [5.0, 0.0, 256.0]), None);
        // One axis truly at zero is no dead sensor.
        assert_eq!(first(COARSE, |_| [0.0, 0.0, 256.0]), None);
        // Every sample held for eight.
        assert_eq!(first(FINE, |k| [340.0 + noise(k / 8), noise(k / 8 + 3), 16300.0 + noise(k / 8 + 9)]), None);
    }

    /// Noise of a third of a count: an axis in the middle of a count stands for long while the others flicker, also after a knock.
    #[test]
    fn a_coarse_sensor_with_little_noise_is_not_accused_after_a_knock() {
        use crate::rig::noise::Random;
        for seed in 0..200 {
            let mut random = Random::new(seed);
            let levels = [random.between(-20.0, 20.0), random.between(-20.0, 20.0), random.between(250.0, 256.0)];
            let mut watch = FaultWatch::new(Some(Gravities::new(COARSE)));
            for k in 0..2000u32 {
                let knock = if k % 500 < 4 { 60.0 * random.normal() } else { 0.0 };
                let counts = levels.map(|level| (level + 0.3 * random.normal() + knock).round());
                let clock = Seconds::new(f64::from(k) / 200.0);
                let fault = watch.push(&Sample { clock, counts, lost_before: 0, temperature: None }, false);
                assert_eq!(fault, None, "seed {seed}, sample {k}");
            }
        }
    }

    #[test]
    fn an_axis_at_the_end_of_its_range_is_named() {
        let mut watch = FaultWatch::new(Some(Gravities::new(FINE)));
        let sample = |k: u32| Sample {
            clock: Seconds::new(f64::from(k) / 200.0),
            counts: [noise(k), -32768.0, 100.0 + noise(k + 1)],
            lost_before: 0,
            temperature: None,
        };
        let faults: Vec<_> = (0..100).map(|k| watch.push(&sample(k), true)).collect();
        assert_eq!(faults[10], None, "a knock is no fault");
        assert_eq!(faults[99], Some(SensorFault::EndOfRange { axis: 'y' }));
    }

    #[test]
    fn gravity_is_1_g_to_within_what_calibration_and_temperature_allow() {
        let mut tumbled = Calibration::nominal(16384.0);
        tumbled.model = Model::Full;
        tumbled.covariance *= 1e-5;
        tumbled.temperature = Some(Celsius::new(20.0));
        let of = |length: f64, calibration: &Calibration, now: Option<f64>| {
            let up = BladeVector { span: 0.0, chord: 0.2 * length, normal: 0.96f64.sqrt() * length };
            gravity(up, calibration, Mounting::default(), now.map(Celsius::new))
        };
        assert!(matches!(of(0.5, &tumbled, None), Some(SensorFault::GravityOff { .. })));
        assert!(matches!(of(1.035, &tumbled, Some(22.0)), Some(SensorFault::GravityOff { .. })));
        assert_eq!(of(1.01, &tumbled, Some(22.0)), None);
        assert_eq!(of(0.985, &tumbled, None), None);
        // Twenty degrees colder the offsets may have moved.
        assert_eq!(of(1.03, &tumbled, Some(0.0)), None);
        let bare = Calibration::nominal(16384.0);
        assert_eq!(of(0.85, &bare, None), None);
        assert!(matches!(of(0.5, &bare, None), Some(SensorFault::WrongScale { .. })));
    }
}
