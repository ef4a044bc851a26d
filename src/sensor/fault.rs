//! What a sensor sends that cannot be true: no force at all, an axis that no longer follows, a gravity that is not 1 g.
//!
//! A sensor at rest shows 1 g and its own noise. Of a sensor whose counts are finer than the noise that every chip has, an
//! axis that never changes does not follow any more. One with coarser counts may truly repeat itself.

use super::{Calibration, Mounting};
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
/// The quietest ordinary chip has this noise, g in a band of one hertz. [from memory]
const QUIETEST_DENSITY: f64 = 50e-6;

/// Watches the samples for a sensor that does not follow any more.
#[derive(Debug, Clone)]
pub struct FaultWatch {
    /// One count in g; none where the sensor does not count.
    count: Option<Gravities>,
    last: Option<[f64; 3]>,
    /// For each axis: samples without a change, and the time of the first.
    same: [(u32, f64); 3],
    /// Samples in a row at the end of the range.
    saturated: u32,
}

impl FaultWatch {
    /// Has seen nothing yet of a sensor with this count.
    #[must_use]
    pub const fn new(count: Option<Gravities>) -> Self {
        Self { count, last: None, same: [(0, 0.0); 3], saturated: 0 }
    }

    /// Takes the next sample and says what is wrong at this moment.
    pub fn push(&mut self, sample: &Sample, saturated: bool) -> Option<SensorFault> {
        let clock = sample.clock.value();
        self.saturated = if saturated { self.saturated.saturating_add(1) } else { 0 };
        for axis in 0..3 {
            let unchanged = self.last.is_some_and(|last| last[axis].to_bits() == sample.counts[axis].to_bits());
            // A clock that began anew begins a new count.
            let (samples, since) = self.same[axis];
            self.same[axis] = if unchanged && clock >= since { (samples.saturating_add(1), since) } else { (1, clock) };
        }
        self.last = Some(sample.counts);
        self.fault(sample, clock)
    }

    fn fault(&self, sample: &Sample, clock: f64) -> Option<SensorFault> {
        let for_long = |axis: usize| {
            let (samples, since) = self.same[axis];
            samples >= ENOUGH_SAMPLES && clock - since >= ENOUGH_SECONDS
        };
        if sample.counts == [0.0; 3] && (0..3).all(for_long) {
            return Some(SensorFault::Dead);
        }
        if self.saturated >= ENOUGH_SAMPLES {
            let strongest = (0..3).max_by(|a, b| sample.counts[*a].abs().total_cmp(&sample.counts[*b].abs()));
            return strongest.map(|axis| SensorFault::EndOfRange { axis: letter(axis) });
        }
        let stuck = |axis: usize| for_long(axis) && self.must_show(axis, clock);
        let over = |axis: usize| Seconds::new(clock - self.same[axis].1);
        match [0, 1, 2].map(stuck) {
            [true, true, true] => {
                let shortest = (0..3).map(over).fold(Seconds::new(f64::INFINITY), |a, b| if b < a { b } else { a });
                Some(SensorFault::Frozen { over: shortest })
            }
            found => {
                let axis = found.iter().position(|stuck| *stuck)?;
                Some(SensorFault::Stuck { axis: letter(axis), over: over(axis) })
            }
        }
    }

    /// Whether a count is so fine that the noise of any chip at this rate shows in it.
    fn must_show(&self, axis: usize, clock: f64) -> bool {
        let (samples, since) = self.same[axis];
        let rate = f64::from(samples.saturating_sub(1)) / (clock - since).max(f64::EPSILON);
        self.count.is_some_and(|count| QUIETEST_DENSITY * (rate / 2.0).sqrt() >= count.value())
    }
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
