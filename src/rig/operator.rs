//! How a hand on the stick moves the blade: approaches, overshoots, pauses, creep, tremor.
//!
//! A motion is a row of legs, each a pure function of time, so that the truth is known at any moment without stepping.
//! A hand's approach is a minimum-jerk movement, s(τ) = 10τ³ − 15τ⁴ + 6τ⁵ (Flash and Hogan, J. Neurosci. 5 (1985) 1688).
//! Physiological tremor lies at 8–12 Hz (Elble and Koller 1990). Times in seconds.

use super::noise::Random;
use crate::units::{Angle, Hertz, Seconds};
use std::f64::consts::TAU;

/// One piece of a motion, from where the last one ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Leg {
    /// Stays.
    Rest {
        /// How long.
        lasting: Seconds,
    },
    /// A hand's smooth movement to an angle.
    Approach {
        /// Where to.
        to: Angle,
        /// How long it takes.
        lasting: Seconds,
    },
    /// An even creep.
    Creep {
        /// The angle passed in one second.
        each_second: Angle,
        /// How long.
        lasting: Seconds,
    },
    /// Settles exponentially toward an angle, and stands there at the end of the leg.
    Settle {
        /// Where to.
        to: Angle,
        /// The time in which the distance falls to 1/e.
        time_constant: Seconds,
        /// How long the leg lasts.
        lasting: Seconds,
    },
    /// Swings about where it is, beginning and ending there.
    Swing {
        /// Half the way from end to end.
        amplitude: Angle,
        /// How often in a second.
        frequency: Hertz,
        /// How long.
        lasting: Seconds,
    },
}

impl Leg {
    const fn lasting(self) -> f64 {
        match self {
            Self::Rest { lasting }
            | Self::Approach { lasting, .. }
            | Self::Creep { lasting, .. }
            | Self::Settle { lasting, .. }
            | Self::Swing { lasting, .. } => lasting.value(),
        }
    }

    /// The angle after `elapsed` seconds of the leg that began at `from`.
    fn at(self, from: Angle, elapsed: f64) -> Angle {
        let whole = self.lasting();
        let elapsed = elapsed.clamp(0.0, whole);
        match self {
            Self::Rest { .. } => from,
            Self::Approach { to, .. } => {
                let share = if whole > 0.0 { elapsed / whole } else { 1.0 };
                from + (to - from) * (share.powi(3) * (10.0 - 15.0 * share + 6.0 * share * share))
            }
            Self::Creep { each_second, .. } => from + each_second * elapsed,
            Self::Settle { to, time_constant, .. } => to + (from - to) * (-elapsed / time_constant.value()).exp(),
            Self::Swing { amplitude, frequency, .. } => from + amplitude * (TAU * frequency.value() * elapsed).sin(),
        }
    }
}

/// A hand that shakes: a narrow band of swings about 10 Hz, until the stick is let go.
#[derive(Debug, Clone, PartialEq)]
pub struct Tremor {
    swings: [(f64, f64); 4],
    amplitude: Angle,
    until: Seconds,
    fading: Seconds,
}

impl Tremor {
    /// Tremor of this amplitude until a time, then fading with a time constant.
    #[must_use]
    pub fn new(amplitude: Angle, until: Seconds, fading: Seconds, seed: u64) -> Self {
        let mut random = Random::new(seed);
        let swings = std::array::from_fn(|_| (random.between(8.0, 12.0), random.between(0.0, TAU)));
        Self { swings, amplitude, until, fading }
    }

    /// The pitch it adds at this time.
    #[must_use]
    pub fn at(&self, clock: Seconds) -> Angle {
        let over = clock.value() - self.until.value();
        let strength = if over <= 0.0 {
            1.0
        } else if self.fading.value() > 0.0 {
            (-over / self.fading.value()).exp()
        } else {
            0.0
        };
        let sum: f64 = self.swings.iter().map(|(hertz, phase)| (TAU * hertz * clock.value() + phase).sin()).sum();
        // Four swings of equal strength: half the sum has the mean square of one swing.
        self.amplitude * (strength * sum / 2.0)
    }
}

/// A whole motion of the blade.
#[derive(Debug, Clone, PartialEq)]
pub struct Motion {
    start: Angle,
    legs: Vec<Leg>,
    tremor: Option<Tremor>,
}

impl Motion {
    /// A blade that stands at an angle.
    #[must_use]
    pub const fn from(start: Angle) -> Self {
        Self { start, legs: Vec::new(), tremor: None }
    }

    /// With one more leg.
    #[must_use]
    pub fn then(mut self, leg: Leg) -> Self {
        self.legs.push(leg);
        self
    }

    /// With a hand that shakes.
    #[must_use]
    pub fn shaken(mut self, tremor: Tremor) -> Self {
        self.tremor = Some(tremor);
        self
    }

    /// A rest of this long.
    #[must_use]
    pub fn rest(self, lasting: Seconds) -> Self {
        self.then(Leg::Rest { lasting })
    }

    /// A smooth movement to an angle.
    #[must_use]
    pub fn approach(self, to: Angle, lasting: Seconds) -> Self {
        self.then(Leg::Approach { to, lasting })
    }

    /// A movement past the angle, a rest there, and the way back to it.
    #[must_use]
    pub fn overshoot(self, to: Angle, past: Angle, lasting: Seconds, resting: Seconds, back: Seconds) -> Self {
        self.approach(to + past, lasting).rest(resting).approach(to, back)
    }

    /// The angle at a time, tremor included.
    #[must_use]
    pub fn at(&self, clock: Seconds) -> Angle {
        let shaking = self.tremor.as_ref().map_or(Angle::ZERO, |tremor| tremor.at(clock));
        self.path_at(clock.value()) + shaking
    }

    /// The angle at which the legs end.
    #[must_use]
    pub fn ends_at(&self) -> Angle {
        self.path_at(f64::INFINITY)
    }

    /// When the last leg that moves has ended, and the hand has let go; zero for a blade that never moved.
    #[must_use]
    pub fn stops_at(&self) -> Seconds {
        let mut clock = 0.0;
        let mut stop = 0.0_f64;
        for leg in &self.legs {
            clock += leg.lasting();
            if !matches!(leg, Leg::Rest { .. }) {
                stop = clock;
            }
        }
        let released = self.tremor.as_ref().map_or(0.0, |tremor| tremor.until.value());
        Seconds::new(stop.max(released))
    }

    fn path_at(&self, clock: f64) -> Angle {
        let mut from = self.start;
        let mut begun = 0.0;
        for leg in &self.legs {
            let elapsed = clock - begun;
            if elapsed < leg.lasting() {
                return leg.at(from, elapsed);
            }
            from = leg.at(from, leg.lasting());
            begun += leg.lasting();
        }
        from
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn s(seconds: f64) -> Seconds {
        Seconds::new(seconds)
    }

    #[test]
    fn an_overshoot_rests_at_the_wrong_angle_and_comes_back() {
        let target = Angle::from_degrees(12.0);
        let motion =
            Motion::from(Angle::ZERO).rest(s(0.5)).overshoot(target, Angle::from_degrees(1.0), s(0.6), s(0.3), s(0.4));
        assert!(motion.at(s(0.4)).degrees().abs() < 1e-12);
        assert!((motion.at(s(0.8)).degrees() - 6.5).abs() < 1e-9, "half way after half the time");
        assert!((motion.at(s(1.25)).degrees() - 13.0).abs() < 1e-9);
        assert!((motion.at(s(1.9)).degrees() - 12.0).abs() < 1e-9);
        assert!((motion.stops_at().value() - 1.8).abs() < 1e-12);
        assert!((motion.ends_at().degrees() - 12.0).abs() < 1e-12);
    }

    #[test]
    fn tremor_shakes_between_eight_and_twelve_hertz_until_the_hand_lets_go() {
        let tremor = Tremor::new(Angle::from_degrees(0.5), s(2.0), s(0.0), 5);
        let motion = Motion::from(Angle::ZERO).shaken(tremor);
        let signs: Vec<bool> = (0..2000).map(|i| motion.at(s(f64::from(i) * 0.001)).radians() > 0.0).collect();
        let crossings = signs.windows(2).filter(|pair| pair[0] != pair[1]).count() as f64;
        let hertz = crossings / 2.0 / 2.0;
        assert!((8.0..=12.5).contains(&hertz), "{hertz}");
        assert_eq!(motion.at(s(2.5)), Angle::ZERO);
        assert!((motion.stops_at().value() - 2.0).abs() < 1e-12);
    }
}
