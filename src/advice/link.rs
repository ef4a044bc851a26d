//! Pitch links: which ones to turn, by how many half-turns, and what that leaves.
//!
//! A link longer by Δz lifts the ball of its pitch arm r by as much:
//!
//! ```text
//! Δz = r·(sin(θ − θ₀) − sin(θ_now − θ₀))        θ₀: the pitch at which the arm is square to its link
//! ```
//!
//! One turn moves a link by the pitch of its thread (ISO 261 coarse series: M2 0.40, M2.5 0.45, M3 0.50 mm), one with opposed
//! threads by two. A ball link is taken off, turned and snapped on again, so that only whole half-turns can be had, or whole
//! turns where it seats one way only; what is left over is said. A turnbuckle is turned where it sits, by any fraction.
//! Half-turns count positive here where they *raise* the pitch: whether that makes the link longer or shorter is the head's affair.
//!
//! Where a link was turned and its blade read before and after, what a half-turn really did replaces the geometry.

use crate::units::{Angle, HalfTurns, Millimetres};

/// What the geometry of an arm measured by hand is good for: half a millimetre on 12. [common practice, no source]
const GEOMETRY_SHARE: f64 = 0.04;

/// Splits that differ by less than this are as good as each other.
const ALIKE_DEGREES: f64 = 0.02;

/// What a half-turn was seen to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredHalfTurn {
    /// By how much it raises the pitch; always positive.
    pub raises: Angle,
    /// Its standard uncertainty.
    pub u: Angle,
}

/// By how much a link can be turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seating {
    /// By any fraction of a half-turn.
    Any,
    /// From one seat to the next, so many half-turns on: 1, or 2 where it seats one way only.
    Every(u8),
}

/// A pitch link and the arm that it moves; all links of a head are alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkGeometry {
    /// From the feathering axis to the ball.
    pub arm: Millimetres,
    /// What half a turn moves the ball by.
    pub half_turn: Millimetres,
    /// By how much it can be turned.
    pub seating: Seating,
    /// The pitch at which the arm is square to its link.
    pub square_at: Angle,
    /// What half-turns were seen to do.
    pub measured: Option<MeasuredHalfTurn>,
}

/// A blade after so many half-turns of its link.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turned {
    /// Half-turns, positive where they raise the pitch.
    pub half_turns: HalfTurns,
    /// Where the blade then stands.
    pub pitch: Angle,
}

/// What to do with one blade's link.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkAdvice {
    /// How the blade stands.
    pub now: Angle,
    /// What is advised.
    pub turn: Turned,
    /// The next best, for this blade alone; none where any fraction can be had.
    pub next_best: Option<Turned>,
    /// Standard uncertainty of what the turning itself does.
    pub u_turn: Angle,
}

impl LinkGeometry {
    /// By how much one half-turn raises a blade that stands at `pitch`.
    #[must_use]
    pub fn per_half_turn(&self, pitch: Angle) -> Angle {
        self.measured.map_or_else(|| self.after(pitch, HalfTurns::whole(1)) - pitch, |measured| measured.raises)
    }

    /// Where a blade stands after so many half-turns; at its stop where the arm could go no further.
    #[must_use]
    pub fn after(&self, now: Angle, half_turns: HalfTurns) -> Angle {
        if let Some(measured) = self.measured {
            return now + measured.raises * half_turns.value();
        }
        let lifted = (now - self.square_at).sin() + half_turns.value() * self.half_turn.value() / self.arm.value();
        self.square_at + Angle::from_radians(lifted.clamp(-1.0, 1.0).asin())
    }

    /// Half-turns that bring a blade from one pitch to another, were every fraction to be had.
    fn exactly(&self, now: Angle, to: Angle) -> f64 {
        match self.measured {
            Some(measured) => (to - now).radians() / measured.raises.radians(),
            None => {
                ((to - self.square_at).sin() - (now - self.square_at).sin()) * self.arm.value() / self.half_turn.value()
            }
        }
    }

    /// The seats on either side of what would be exact, the better first; what is exact and no turn at all where any fraction can
    /// be had.
    fn seats(&self, now: Angle, to: Angle) -> [Turned; 2] {
        let exactly = self.exactly(now, to);
        let at = |half_turns: HalfTurns| Turned { half_turns, pitch: self.after(now, half_turns) };
        let Seating::Every(seat) = self.seating else {
            return [at(HalfTurns::new(exactly).rounded()), at(HalfTurns::ZERO)];
        };
        let seat = f64::from(seat);
        let below = (exactly / seat).floor();
        let (below, above) = (at(HalfTurns::new(below * seat)), at(HalfTurns::new((below + 1.0) * seat)));
        if off(below, to) <= off(above, to) { [below, above] } else { [above, below] }
    }

    fn u_turn(&self, now: Angle, turned: Turned) -> Angle {
        match self.measured {
            Some(measured) => measured.u * turned.half_turns.value().abs(),
            None => (turned.pitch - now).abs() * GEOMETRY_SHARE,
        }
    }
}

fn off(turned: Turned, to: Angle) -> Angle {
    (turned.pitch - to).abs()
}

/// Which links to turn so that all blades stand at `to` within `tolerance`: of all choices that do, the one with the smallest
/// split between the blades, and of equally good ones the one with the least turning. Where none does, the one that leaves
/// least. The advice is in the order of the blades.
#[must_use]
pub fn turn_links(geometry: &LinkGeometry, blades: &[Angle], to: Angle, tolerance: Angle) -> Vec<LinkAdvice> {
    let seats: Vec<[Turned; 2]> = blades.iter().map(|&now| geometry.seats(now, to)).collect();
    let choice = best(&seats, to, tolerance);
    let advise = |((&now, turn), seats): ((&Angle, Turned), &[Turned; 2])| {
        let other = if seats[0] == turn { seats[1] } else { seats[0] };
        let next_best = (geometry.seating != Seating::Any).then_some(other);
        LinkAdvice { now, turn, next_best, u_turn: geometry.u_turn(now, turn) }
    };
    blades.iter().zip(choice).zip(&seats).map(advise).collect()
}

fn best(seats: &[[Turned; 2]], to: Angle, tolerance: Angle) -> Vec<Turned> {
    let choices = (0..1_u32 << seats.len()).map(|bits| {
        let pick = |(blade, seats): (usize, &[Turned; 2])| seats[(bits >> blade) as usize & 1];
        seats.iter().enumerate().map(pick).collect::<Vec<Turned>>()
    });
    choices.min_by(|one, other| rank(one, to, tolerance).cmp(&rank(other, to, tolerance))).unwrap_or_default()
}

/// How good a choice is, the smaller the better: whether all are within, what it leaves, how much is turned.
struct Rank {
    within: bool,
    split: i64,
    turning: f64,
    left: f64,
}

fn rank(choice: &[Turned], to: Angle, tolerance: Angle) -> Rank {
    let pitches = || choice.iter().map(|turned| turned.pitch.degrees());
    let split = pitches().fold(f64::MIN, f64::max) - pitches().fold(f64::MAX, f64::min);
    Rank {
        within: choice.iter().all(|&turned| off(turned, to) <= tolerance),
        split: (split / ALIKE_DEGREES).round() as i64,
        turning: choice.iter().map(|turned| turned.half_turns.value().abs()).sum(),
        left: choice.iter().map(|&turned| off(turned, to).degrees().powi(2)).sum(),
    }
}

impl Rank {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        let by_left = self.left.total_cmp(&other.left);
        match (self.within, other.within) {
            (true, true) => self.split.cmp(&other.split).then(self.turning.total_cmp(&other.turning)).then(by_left),
            (false, false) => by_left,
            (one, two) => two.cmp(&one),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn deg(degrees: f64) -> Angle {
        Angle::from_degrees(degrees)
    }

    /// M2 on an arm of 12 mm, square at zero.
    fn m2() -> LinkGeometry {
        LinkGeometry {
            arm: Millimetres::new(12.0),
            half_turn: Millimetres::new(0.20),
            seating: Seating::Every(1),
            square_at: Angle::ZERO,
            measured: None,
        }
    }

    /// By hand: asin(0.2/12) = 0.9550°, asin(0.4/12) = 1.9102°; M3 on 18 mm: asin(0.25/18) = 0.7958°.
    #[test]
    fn a_half_turn_is_what_thread_and_arm_make_of_it() {
        assert!((m2().per_half_turn(Angle::ZERO).degrees() - 0.9550).abs() < 5e-5);
        assert!((m2().after(Angle::ZERO, HalfTurns::whole(2)).degrees() - 1.9102).abs() < 5e-5);
        let m3 = LinkGeometry { arm: Millimetres::new(18.0), half_turn: Millimetres::new(0.25), ..m2() };
        assert!((m3.per_half_turn(Angle::ZERO).degrees() - 0.7958).abs() < 5e-5);
    }

    #[test]
    fn one_link_goes_to_the_nearest_seat_and_names_the_next() {
        let advice = turn_links(&m2(), &[deg(2.0)], Angle::ZERO, deg(0.5))[0];
        assert_eq!(advice.turn.half_turns, HalfTurns::whole(-2));
        assert!((advice.turn.pitch.degrees() - 0.0897).abs() < 5e-3, "{}", advice.turn.pitch);
        let next_best = advice.next_best.unwrap();
        assert_eq!(next_best.half_turns, HalfTurns::whole(-3));
        assert!(next_best.pitch < deg(-0.8));
    }

    #[test]
    fn a_link_that_seats_one_way_is_turned_by_whole_turns() {
        let advice =
            turn_links(&LinkGeometry { seating: Seating::Every(2), ..m2() }, &[deg(2.9)], Angle::ZERO, deg(0.5))[0];
        let next_best = advice.next_best.unwrap();
        assert_eq!((advice.turn.half_turns.value(), next_best.half_turns.value()), (-4.0, -2.0));
    }

    #[test]
    fn two_blades_that_can_both_be_within_are_brought_together() {
        // Alone, blade B would be left at +0.40 and A at −0.42; together both go to the same side.
        let (a, b) = (0.955 - 0.42, 0.955 + 0.45);
        let advice = turn_links(&m2(), &[deg(a), deg(b)], Angle::ZERO, deg(0.6));
        let left: Vec<f64> = advice.iter().map(|advice| advice.turn.pitch.degrees()).collect();
        assert!((left[0] - left[1]).abs() < 0.1, "{left:?}");
        assert!(left.iter().all(|left| left.abs() <= 0.6), "{left:?}");
    }

    #[test]
    fn blades_that_agree_are_left_alone() {
        let advice = turn_links(&m2(), &[deg(0.1), deg(0.12)], Angle::ZERO, deg(0.5));
        assert!(advice.iter().all(|advice| advice.turn.half_turns.is_zero()));
    }

    #[test]
    fn what_was_measured_replaces_the_geometry() {
        let measured = MeasuredHalfTurn { raises: deg(1.1), u: deg(0.03) };
        let advice =
            turn_links(&LinkGeometry { measured: Some(measured), ..m2() }, &[deg(3.2)], Angle::ZERO, deg(0.5))[0];
        assert_eq!(advice.turn.half_turns, HalfTurns::whole(-3));
        assert!((advice.turn.pitch.degrees() + 0.1).abs() < 1e-9);
        assert!((advice.u_turn.degrees() - 0.09).abs() < 1e-9);
    }

    /// By hand: 0.7° on 12 mm are 0.1466 mm, 0.733 half-turns of M2 and 0.367 of one with opposed threads.
    #[test]
    fn a_turnbuckle_is_turned_by_the_fraction_that_is_missing() {
        for (half_turn, wanted) in [(0.20, -0.73), (0.40, -0.37)] {
            let geometry = LinkGeometry { half_turn: Millimetres::new(half_turn), seating: Seating::Any, ..m2() };
            let advice = turn_links(&geometry, &[deg(0.7)], Angle::ZERO, deg(0.5))[0];
            assert_eq!((advice.turn.half_turns, advice.next_best), (HalfTurns::new(wanted), None));
            assert!(advice.turn.pitch.degrees().abs() < 0.02, "{}", advice.turn.pitch);
            // One that stands well enough is left alone.
            let advice = turn_links(&geometry, &[deg(0.3)], Angle::ZERO, deg(0.5))[0];
            assert!(advice.turn.half_turns.is_zero());
        }
    }

    proptest! {
        /// Whatever the arm, the link and the blade: no seat is nearer than the one advised for a blade alone.
        #[test]
        fn no_other_seat_leaves_less(
            arm in 8.0..25.0, thread in prop::sample::select(vec![0.40, 0.45, 0.50]), opposed: bool,
            seat in 1..=2_u8, square in -10.0..10.0, now in -12.0..12.0, to in -3.0..3.0,
        ) {
            let half_turn = Millimetres::new(if opposed { thread } else { thread / 2.0 });
            let geometry =
                LinkGeometry { arm: Millimetres::new(arm), half_turn, seating: Seating::Every(seat), square_at: deg(square), measured: None };
            let advice = turn_links(&geometry, &[deg(now)], deg(to), Angle::ZERO)[0];
            let left = off(advice.turn, deg(to));
            for seats in -60..=60 {
                let pitch = geometry.after(deg(now), HalfTurns::whole(seats * i32::from(seat)));
                prop_assert!((pitch - deg(to)).abs().degrees() >= left.degrees() - 1e-9, "{seats}");
            }
            // And the formula read backwards: what was turned is the ball's way over the advance.
            let way = arm * ((advice.turn.pitch - deg(square)).sin() - (deg(now) - deg(square)).sin());
            prop_assert!((way / half_turn.value() - advice.turn.half_turns.value()).abs() < 1e-6);
        }
    }
}
