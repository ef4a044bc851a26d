//! A value that a hand moves: the smooth way there, perhaps past the end and back, and a servo that follows late.
//!
//! The way is the minimum-jerk curve s³(10 − 15s + 6s²) [Flash and Hogan, J. Neurosci. 5(7), 1985]. Unlike the rows of
//! legs in `operator`, such a move can be broken off by the next one at any moment.

use super::scenario::Operator;

/// One move of one value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Motion {
    from: f64,
    to: f64,
    start: f64,
    way: f64,
    overshoot: f64,
    rest: f64,
    late: Late,
}

/// A share of every move that comes late, and what is still late from the move before.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Late {
    share: f64,
    time: f64,
    carried: f64,
}

/// Share of the way that goes to the overshoot; the rest brings it back.
const OUT: f64 = 0.8;

impl Motion {
    /// Standing still at a value.
    pub(crate) const fn still(at: f64) -> Self {
        let late = Late { share: 0.0, time: 1.0, carried: 0.0 };
        Self { from: at, to: at, start: 0.0, way: 0.0, overshoot: 0.0, rest: 0.0, late }
    }

    /// A servo behind the hand: `share` of each move follows with time constant `time`.
    pub(crate) const fn with_creep(mut self, share: f64, time: f64) -> Self {
        self.late.share = share;
        self.late.time = time;
        self
    }

    /// A new move from wherever the value is at `now`.
    pub(crate) fn go(&mut self, to: f64, now: f64, over: f64, hand: Option<&Operator>) {
        let carried = self.late_by(now);
        self.from = self.at(now);
        self.to = to;
        self.start = now;
        self.way = over;
        let past =
            hand.filter(|_| over > 0.0).map(|h| (h.overshoot_percent.value() / 100.0, h.overshoot_rest_s.value()));
        (self.overshoot, self.rest) = past.filter(|(share, _)| *share > 0.0).unwrap_or_default();
        self.late.carried = carried;
    }

    /// When the hand has arrived.
    pub(crate) fn end(&self) -> f64 {
        self.start + self.way + self.rest
    }

    /// Whether the hand has arrived and less than `within` is still late.
    pub(crate) fn is_still(&self, now: f64, within: f64) -> bool {
        now >= self.end() && self.late_by(now).abs() <= within
    }

    /// Where the hand is.
    pub(crate) fn at(&self, now: f64) -> f64 {
        let since = now - self.start;
        if since >= self.way + self.rest {
            return self.to;
        }
        let far = self.to + self.overshoot * (self.to - self.from);
        let out = if self.overshoot > 0.0 { OUT * self.way } else { self.way };
        if since < out {
            self.from + (far - self.from) * smooth(since / out)
        } else {
            let back = since - out - self.rest;
            far + (self.to - far) * smooth(back / (self.way - out))
        }
    }

    /// Where the servo is.
    pub(crate) fn servo(&self, now: f64) -> f64 {
        self.at(now) - self.late_by(now)
    }

    fn late_by(&self, now: f64) -> f64 {
        let fade = |since: f64| (-since.max(0.0) / self.late.time).exp();
        self.late.carried * fade(now - self.start)
            + self.late.share * (self.at(now) - self.from) * fade(now - self.end())
    }
}

/// The minimum-jerk curve from 0 to 1, still before and after.
fn smooth(share: f64) -> f64 {
    let s = share.clamp(0.0, 1.0);
    s * s * s * (10.0 - 15.0 * s + 6.0 * s * s)
}

/// Lost motion: the driven side follows only when the play is used up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Play {
    half: f64,
    at: Option<f64>,
}

impl Play {
    /// A joint with so much lost motion in all.
    pub(crate) const fn new(lost: f64) -> Self {
        Self { half: 0.5 * lost, at: None }
    }

    /// Where the driven side stands when the driving side stands at `driver`; before any motion in the middle.
    pub(crate) fn follow(&self, driver: f64) -> f64 {
        self.at.unwrap_or(driver).clamp(driver - self.half, driver + self.half)
    }

    /// Moves the driving side there.
    pub(crate) fn drive(&mut self, driver: f64) -> f64 {
        let at = self.follow(driver);
        self.at = Some(at);
        at
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Percent, Seconds};
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_hand_goes_past_the_end_rests_there_and_comes_back() {
        let hand = Operator {
            overshoot_percent: Percent::new(10.0),
            overshoot_rest_s: Seconds::new(0.3),
            ..Operator::default()
        };
        let mut stick = Motion::still(0.0);
        stick.go(100.0, 1.0, 2.0, Some(&hand));
        assert_eq!(stick.at(1.0), 0.0);
        assert_abs_diff_eq!(stick.at(2.7), 110.0, epsilon = 1e-9);
        assert_abs_diff_eq!(stick.at(2.89), 110.0, epsilon = 1e-9);
        assert_eq!(stick.at(3.3), 100.0);
        assert!(stick.is_still(3.3, 0.0));
    }

    #[test]
    fn a_servo_creeps_after_the_hand_has_stopped() {
        let mut stick = Motion::still(0.0).with_creep(0.05, 0.5);
        stick.go(100.0, 0.0, 1.0, None);
        assert_abs_diff_eq!(stick.servo(1.0), 95.0, epsilon = 1e-9);
        assert_abs_diff_eq!(stick.servo(1.5), 100.0 - 5.0 * (-1.0f64).exp(), epsilon = 1e-9);
        // A new move starts where the servo is, without a jump.
        let before = stick.servo(1.5);
        stick.go(0.0, 1.5, 1.0, None);
        assert_abs_diff_eq!(stick.servo(1.5), before, epsilon = 1e-9);
    }

    #[test]
    fn play_is_lost_on_the_way_up_and_again_on_the_way_down() {
        let mut play = Play::new(0.4);
        play.drive(-5.0);
        assert_abs_diff_eq!(play.drive(1.0), 0.8, epsilon = 1e-12);
        play.drive(5.0);
        assert_abs_diff_eq!(play.drive(1.0), 1.2, epsilon = 1e-12);
    }
}
