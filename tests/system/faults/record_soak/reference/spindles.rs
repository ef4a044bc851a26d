//! A spindle turned in its grips: which checks tell how far it is bent, and how far that is.

use super::super::step::Turned;
use super::rules::{Rule, Rules};
use super::{Deed, Setup, Stands};

/// The checks of one blade's spindle.
#[derive(Debug, Clone, PartialEq)]
pub struct Pool {
    /// The newest one.
    newest: Turned,
    /// The newest ones that together show more than one plane, as few of them as do; empty where none do.
    together: Vec<(usize, Turned)>,
    /// Where a bend in one plane alone is taken for all of it.
    pub one_plane_is_all: bool,
}

/// A bend, degrees, by its components along the mark and a quarter on.
pub type Bend = [f64; 2];

impl Pool {
    /// Half of what the slope changed by over half a turn.
    pub fn in_plane(&self) -> f64 {
        let at = |wanted| self.newest.slopes().find(|(seat, _)| *seat == wanted).map(|(_, slope)| slope);
        let half = |seat: u16| Some((at(seat + 180)? - at(seat)?) / 2.0);
        half(0).or_else(|| half(90)).expect("opposite seats")
    }

    /// All of it, where it was seen, with the deeds that tell.
    pub fn whole(&self) -> Option<(Bend, Vec<usize>)> {
        let checks: Vec<Turned> = self.together.iter().map(|(_, turned)| *turned).collect();
        Some((solved(&checks)?, self.together.iter().map(|(at, _)| *at).collect()))
    }

    /// Whether the newest check tells it alone.
    pub fn is_of_the_newest(&self) -> bool {
        matches!(&self.together[..], [(_, only)] if *only == self.newest)
    }
}

/// The bend that the slopes show with the least squares of what is left, each check with a slope of its own besides; none where
/// all seats lie in one plane.
fn solved(checks: &[Turned]) -> Option<Bend> {
    let (mut normal, mut right) = ([[0.0; 2]; 2], [0.0; 2]);
    for check in checks {
        let of_seat = |seat: u16| [f64::from(seat).to_radians().cos(), f64::from(seat).to_radians().sin()];
        let count = check.seats.len() as f64;
        let middle = |of: &dyn Fn((u16, f64)) -> f64| check.slopes().map(of).sum::<f64>() / count;
        let middles = [middle(&|(seat, _)| of_seat(seat)[0]), middle(&|(seat, _)| of_seat(seat)[1])];
        let level = middle(&|(_, slope)| slope);
        for (seat, slope) in check.slopes() {
            let along = [of_seat(seat)[0] - middles[0], of_seat(seat)[1] - middles[1]];
            for i in 0..2 {
                right[i] += along[i] * (slope - level);
                normal[i][0] += along[i] * along[0];
                normal[i][1] += along[i] * along[1];
            }
        }
    }
    let determinant = normal[0][0] * normal[1][1] - normal[0][1] * normal[1][0];
    let bend = [
        (right[0] * normal[1][1] - right[1] * normal[0][1]) / determinant,
        (right[1] * normal[0][0] - right[0] * normal[1][0]) / determinant,
    ];
    (determinant > 1e-6).then_some(bend)
}

impl Setup {
    /// How far the spindle with this blade is bent: as the newest checks of it tell since it, or what carries it, was renewed.
    pub(super) fn spindle(&self, blade: char, rules: Rules) -> Option<Stands> {
        let of_blade = |(at, deed): (usize, &Deed)| match deed {
            Deed::Spindle(turned) if turned.blade == blade => Some((at, *turned)),
            _ => None,
        };
        let mut checks: Vec<(usize, Turned)> = self.deeds.iter().enumerate().filter_map(of_blade).collect();
        let (newest_at, newest) = *checks.last()?;
        let renewed = || self.turns(rules).filter(|(_, what)| rules.renews_spindle(what, blade));
        if let Some((last, _)) = renewed().rfind(|(at, _)| *at < newest_at) {
            checks.retain(|(at, _)| *at > last);
        }
        // Seats at no particular mark go together with none.
        checks.retain(|(_, turned)| turned.marked);
        let enough = |from: &usize| {
            let tried: Vec<Turned> = checks[*from..].iter().map(|(_, turned)| *turned).collect();
            solved(&tried).is_some()
        };
        let first = (0..checks.len()).rev().find(enough);
        let together = match first {
            Some(_) if !rules.know(Rule::NewestCheckCounts) => checks,
            Some(first) => checks.split_off(first),
            None => Vec::new(),
        };
        let stale = renewed().filter(|(at, _)| *at > newest_at).map(|(_, what)| what).collect();
        let one_plane_is_all = !rules.know(Rule::OnePlaneShowsNoBend);
        let pool = Pool { newest, together, one_plane_is_all };
        let stands = Stands { shares: vec![(1.0, newest_at)], spindle: Some(pool), ..Stands::new(Vec::new()) };
        Some(stands.lasting(stale))
    }
}
