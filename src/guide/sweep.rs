//! An axis moved to both its ends once more: which directions were reached, seen from the blade alone.
//!
//! It is over by itself when both were, and the stick is back at centre. A direction counts as reached where the blade was
//! still at its end, or went there and came back.

use super::flow::BACK_DEGREES;
use super::seen::{Moment, Rest, pitch};
use crate::record::{Sweep, Swept, trade};
use crate::rotor::{BladeName, Deflection, Spot};
use crate::units::{Angle, Seconds};
use serde::{Deserialize, Serialize};

/// Lost motion and a creeping neutral leave a stick that was let go further off, but no further than this share of its travel, and this much.
const BACK_SHARE: f64 = 0.2;
const FURTHEST_BACK_DEGREES: f64 = 2.5;
/// A rest at less than this share of the furthest is no end: half-way up a slow stick, or on the way back.
const AN_END: f64 = 0.6;
/// Waited at centre for so long, the rest of the sweep is not coming.
const NOTHING_MORE: Seconds = Seconds::new(12.0);
/// The same for a blade that rests elsewhere: held at an end, or a neutral that is no longer where it was.
const HELD_ON: Seconds = Seconds::new(30.0);

/// What the person is to do next.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SweepMove {
    /// Leave the sticks at neutral.
    Centre,
    /// Move all the way in this direction.
    To(Deflection),
    /// Let the stick go back.
    Back,
}

/// Watches one axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweeper {
    blade: BladeName,
    spot: Spot,
    /// Both directions, each with the sign of the pitch in it.
    ends: [(Swept, f64); 2],
    neutral: Option<Angle>,
    /// How strongly the blade swings at centre too: a hum is no sign of an end.
    hum: Angle,
    /// The direction in which the blade was last.
    last: Option<usize>,
    /// From when the blade has rested with nothing new, and where.
    waits_from: Option<Seconds>,
    rested: Angle,
    at_centre: bool,
}

impl Sweeper {
    /// A sweep of these two directions, each with the sign that the pitch has in it at this place: +1 or −1.
    #[must_use]
    pub const fn new(blade: BladeName, spot: Spot, ends: [(Deflection, f64); 2]) -> Self {
        let [(one, plus), (other, minus)] = ends;
        let ends = [(Swept::still(one), plus), (Swept::still(other), minus)];
        Self {
            blade,
            spot,
            ends,
            neutral: None,
            hum: Angle::ZERO,
            last: None,
            waits_from: None,
            rested: Angle::ZERO,
            at_centre: true,
        }
    }

    /// The blade as it moves.
    pub fn moment(&mut self, at: Moment) {
        let Some(off) = self.off(at) else { return };
        let Some((k, (end, sign))) =
            self.ends.iter_mut().enumerate().find(|(_, (_, sign))| off.radians() * *sign > 0.0)
        else {
            return;
        };
        let travel = off * *sign;
        if travel > end.furthest {
            end.furthest = travel;
        }
        if (off - self.rested).abs().degrees() > BACK_DEGREES {
            self.waits_from = None;
        }
        if end.moves() && travel.degrees() > end.furthest.degrees() / 2.0 {
            self.last = Some(k);
        }
        self.at_centre &= self.is_back(off);
    }

    /// Whether the stick was let go, the blade standing so far off.
    fn is_back(&self, off: Angle) -> bool {
        let furthest = self.ends.iter().map(|(end, _)| end.furthest.degrees()).fold(0.0, f64::max);
        off.abs().degrees() < (BACK_SHARE * furthest).clamp(BACK_DEGREES, FURTHEST_BACK_DEGREES)
    }

    /// The blade at rest: the first rest is the neutral.
    pub fn rest(&mut self, rest: &Rest) {
        let Some(off) = self.off(rest.at) else {
            self.neutral = Some(pitch(rest.at, self.spot));
            self.hum = rest.swing;
            self.waits_from = Some(rest.at.clock);
            return;
        };
        self.moment(rest.at);
        self.at_centre = self.is_back(off);
        self.rested = off;
        self.waits_from.get_or_insert(rest.from);
        if self.at_centre {
            if let Some(k) = self.last.take() {
                self.ends[k].0.returned = Some(off);
            }
            return;
        }
        for (end, sign) in &mut self.ends {
            let travel = off * *sign;
            let at_its_end = travel.degrees() > AN_END * end.furthest.degrees() && end.moves();
            if !at_its_end {
                continue;
            }
            // What was only passed on the way is no end, and what buzzed there is not what buzzes at it.
            let only_passed = end.held.is_some_and(|held| travel.degrees() > held.degrees() + BACK_DEGREES);
            end.buzzes = (end.buzzes && !only_passed) || trade::is_buzz(rest.swing, Some(self.hum));
            if end.held.is_none_or(|held| travel > held) {
                end.held = Some(travel);
            }
        }
    }

    fn off(&self, at: Moment) -> Option<Angle> {
        Some((pitch(at, self.spot) - self.neutral?).wrapped())
    }

    /// What is to be done next. After an end the stick goes back before it goes to the other: so lost motion shows at centre.
    #[must_use]
    pub fn wants(&self) -> SweepMove {
        let away = self.last.is_some_and(|k| is_reached(&self.ends[k].0)) && !self.at_centre;
        match self.next() {
            _ if self.neutral.is_none() => SweepMove::Centre,
            Some(way) if !away => SweepMove::To(way),
            _ => SweepMove::Back,
        }
    }

    /// The first direction that is still to be reached.
    #[must_use]
    pub fn next(&self) -> Option<Deflection> {
        self.ends.iter().map(|(end, _)| end).find(|end| !is_reached(end)).map(|end| end.deflection)
    }

    /// Whether both directions were reached and the stick is back.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.next().is_none() && self.at_centre
    }

    /// Whether nothing new has come for a long while.
    #[must_use]
    pub fn is_given_up(&self, now: Seconds) -> bool {
        let patience = if self.at_centre { NOTHING_MORE } else { HELD_ON };
        !self.is_over() && self.waits_from.is_some_and(|from| now - from > patience)
    }

    /// It is waited on from here.
    pub const fn wait_on(&mut self) {
        self.waits_from = None;
    }

    /// How far the blade stands over in the direction at hand.
    #[must_use]
    pub fn travel(&self, at: Moment) -> Option<Angle> {
        self.off(at).map(Angle::abs)
    }

    /// What was seen.
    #[must_use]
    pub fn sweep(&self) -> Sweep {
        Sweep { blade: self.blade, spot: self.spot, ends: self.ends.iter().map(|(end, _)| *end).collect() }
    }
}

fn is_reached(end: &Swept) -> bool {
    end.held.is_some() || (end.moves() && end.returned.is_some())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotor::{Elevator, Station};

    const UP: Deflection = Deflection::Elevator(Elevator::Up);
    const DOWN: Deflection = Deflection::Elevator(Elevator::Down);

    struct Hand {
        sweeper: Sweeper,
        clock: f64,
        pitch: f64,
        /// How strongly the blade swings, degrees.
        swing: f64,
    }

    impl Hand {
        /// Clip on a blade at 90°, where up raises it, at 1.2° with the sticks centred.
        fn new() -> Self {
            Self::humming(0.0)
        }

        fn humming(swing: f64) -> Self {
            let spot = Spot::Main(Station::from_degrees(90.0).unwrap());
            let sweeper = Sweeper::new(BladeName::A, spot, [(UP, 1.0), (DOWN, -1.0)]);
            let mut hand = Self { sweeper, clock: 0.0, pitch: 1.2, swing };
            hand.hold(2.0);
            hand
        }

        fn at(&self) -> Moment {
            let apparent = Angle::from_degrees(self.pitch);
            Moment { clock: Seconds::new(self.clock), apparent, span: Angle::ZERO, buzzes: false }
        }

        /// The blade goes there in half a second, thirty looks a second.
        fn go(&mut self, to: f64) {
            let from = self.pitch;
            for look in 1..=15 {
                self.pitch = from + (to - from) * f64::from(look) / 15.0;
                self.clock += 1.0 / 30.0;
                self.sweeper.moment(self.at());
            }
        }

        fn hold(&mut self, seconds: f64) {
            let from = Seconds::new(self.clock);
            self.clock += seconds;
            self.sweeper.rest(&Rest { from, at: self.at(), swing: Angle::from_degrees(self.swing) });
        }
    }

    fn end(hand: &Hand, way: Deflection) -> Swept {
        hand.sweeper.sweep().ends.into_iter().find(|end| end.deflection == way).unwrap()
    }

    #[test]
    fn both_ends_and_back_is_a_sweep_with_its_lost_motion() {
        let mut hand = Hand::new();
        assert_eq!(hand.sweeper.wants(), SweepMove::To(UP));
        // The wrong stick first is no matter: which end it was shows in the blade.
        for (to, back) in [(-7.8, 1.1), (10.2, 1.3)] {
            hand.go(to);
            hand.hold(1.0);
            assert_eq!(hand.sweeper.wants(), SweepMove::Back);
            assert!(!hand.sweeper.is_over());
            hand.go(back);
            hand.hold(1.0);
        }
        assert!(hand.sweeper.is_over());
        let degrees = |angle: Option<Angle>| (angle.unwrap().degrees() * 1e6).round() / 1e6;
        assert_eq!((degrees(end(&hand, DOWN).held), degrees(end(&hand, UP).held)), (9.0, 9.0));
        assert_eq!(degrees(hand.sweeper.sweep().lost_motion()), 0.2);
        assert_eq!(end(&hand, UP).overshoot(), None);
    }

    #[test]
    fn a_servo_that_buzzes_at_an_end_is_told_from_one_that_always_hums() {
        // At centre, at the end, and whether that is a buzz: by the rule by which the captures go, so that a sweep asks nothing that
        // they do not.
        for (hum, swing, buzzes) in [(0.0, 0.1, true), (0.1, 0.1, false), (0.05, 0.07, false), (0.01, 0.05, true)] {
            let mut hand = Hand::humming(hum);
            hand.go(10.2);
            hand.swing = swing;
            hand.hold(1.0);
            assert_eq!(end(&hand, UP).buzzes, buzzes, "{hum}° and {swing}°");
            // Quiet for a moment where it buzzed is still the bind.
            hand.swing = hum;
            hand.go(10.25);
            hand.hold(1.0);
            assert_eq!(end(&hand, UP).buzzes, buzzes);
        }
    }

    #[test]
    fn a_stop_half_way_is_no_end_and_an_overshoot_is_no_travel() {
        let mut hand = Hand::new();
        hand.go(6.0);
        hand.hold(1.0);
        hand.go(11.0);
        hand.go(10.2);
        hand.hold(1.0);
        let up = end(&hand, UP);
        assert!((up.held.unwrap().degrees() - 9.0).abs() < 1e-9);
        assert!((up.overshoot().unwrap().degrees() - 0.8).abs() < 1e-9);
    }

    /// Lost motion of 1.2°, and a neutral that is no longer where it was: the blade is back all the same.
    #[test]
    fn a_worn_head_is_back_where_its_lost_motion_leaves_it() {
        let mut hand = Hand::new();
        for (to, back) in [(10.2, 2.4), (-7.8, 1.2)] {
            hand.go(to);
            hand.hold(1.0);
            hand.go(back);
            hand.hold(1.0);
        }
        assert!(hand.sweeper.is_over());
        assert!((hand.sweeper.sweep().lost_motion().unwrap().degrees() - 1.2).abs() < 1e-9);
    }

    #[test]
    fn a_swing_far_past_the_end_is_no_end() {
        let mut hand = Hand::new();
        hand.go(11.2);
        hand.go(9.2);
        hand.hold(1.0);
        let up = end(&hand, UP);
        assert!((up.held.unwrap().degrees() - 8.0).abs() < 1e-9);
        assert!((up.overshoot().unwrap().degrees() - 2.0).abs() < 1e-9);
        assert_eq!(hand.sweeper.wants(), SweepMove::Back);
    }

    #[test]
    fn a_blade_that_never_comes_back_is_given_up_where_it_rests() {
        let mut hand = Hand::new();
        hand.go(9.2);
        hand.hold(1.0);
        hand.go(5.2);
        for _ in 0..7 {
            hand.hold(5.0);
        }
        assert!(!hand.sweeper.is_over() && hand.sweeper.is_given_up(Seconds::new(hand.clock)));
    }

    #[test]
    fn an_end_that_is_only_passed_counts_once_the_stick_is_back() {
        let mut hand = Hand::new();
        hand.go(9.2);
        hand.go(1.2);
        assert_eq!(hand.sweeper.next(), Some(UP));
        hand.hold(1.0);
        assert_eq!(hand.sweeper.next(), Some(DOWN));
        assert_eq!(end(&hand, UP).held, None);
        assert!((end(&hand, UP).reached().degrees() - 8.0).abs() < 1e-9);
    }

    #[test]
    fn what_does_not_come_is_given_up_and_stands_still() {
        let mut hand = Hand::new();
        hand.go(9.2);
        hand.hold(1.0);
        hand.go(1.2);
        hand.hold(6.0);
        assert!(!hand.sweeper.is_given_up(Seconds::new(hand.clock)));
        hand.hold(8.0);
        assert!(hand.sweeper.is_given_up(Seconds::new(hand.clock)));
        assert!(!end(&hand, DOWN).moves() && end(&hand, UP).moves());
    }
}
