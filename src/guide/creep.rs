//! Creep: a blade that goes on moving slowly, one way, while the stick is held.
//!
//! A servo that settles does so within a second; a stabilising controller that is not in its own setup mode goes on and on,
//! because it tries to stop a turn that never comes. (Common practice, no source.)

use crate::units::{Angle, Seconds};

/// Looked at so far apart, so many times in a row.
const APART: Seconds = Seconds::new(0.5);
const LOOKS: u8 = 5;
/// Slower than this nobody sees it; faster than this it is a stick that moves. Degrees from one look to the next.
const CREEPS_DEGREES: std::ops::Range<f64> = 0.06..0.6;

/// Watches a held blade.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Creep {
    last: Option<(Seconds, Angle)>,
    /// Looks in a row at which it had crept one way: positive or negative.
    run: i8,
}

impl Creep {
    /// Looks at the blade; says whether it has crept for long enough.
    pub fn look(&mut self, clock: Seconds, travel: Angle) -> bool {
        let Some((at, before)) = self.last else {
            self.last = Some((clock, travel));
            return false;
        };
        if clock - at < APART {
            return false;
        }
        let way = (travel - before).degrees();
        let creeps = CREEPS_DEGREES.contains(&way.abs()) && clock - at < APART * 2.0;
        let step = if way > 0.0 { 1 } else { -1 };
        self.run = match (creeps, self.run.signum() == -step) {
            (true, false) => self.run.saturating_add(step),
            (true, true) => step,
            (false, _) => 0,
        };
        self.last = Some((clock, travel));
        self.run.unsigned_abs() >= LOOKS
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether a hold whose travel follows `travel`, degrees against seconds, is called a creep within eight seconds.
    fn is_named(travel: impl Fn(f64) -> f64) -> bool {
        let mut creep = Creep::default();
        (0..240).map(|n| f64::from(n) / 30.0).any(|t| creep.look(Seconds::new(t), Angle::from_degrees(travel(t))))
    }

    #[test]
    fn a_blade_that_goes_on_and_on_is_named() {
        assert!(is_named(|t| 8.0 + 0.3 * t));
        assert!(is_named(|t| 8.0 - 0.2 * t));
        assert!(is_named(|t| 9.0 - 1.5 * (-t / 3.0).exp()), "a late share that takes seconds");
    }

    #[test]
    fn a_servo_that_settles_a_hand_that_trembles_and_a_stick_that_moves_are_not() {
        assert!(!is_named(|t| 9.0 - 0.3 * (-t / 0.4).exp()));
        assert!(!is_named(|t| 9.0 + 0.2 * (t * 9.0).sin()));
        assert!(!is_named(|t| 2.0 * t));
        assert!(!is_named(|_| 9.0));
    }
}
