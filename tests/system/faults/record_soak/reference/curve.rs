//! The collective on its way: what reached the servos, and how far the blade moved for it.

use super::Setup;
use super::cells::{Seen, Sum, same_place};
use super::ends::{neutrals, touches_ends_only};
use super::rules::{Rule, Rules, axis_of, is_centred};

/// A reading of the collective at an output.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    pub at: usize,
    /// Percent, the low side negative: the stick's way from the middle, by the end point that was in force.
    pub output: f64,
    /// Backed off from a bind to nobody knows where: it shows how far the blade goes freely, and no output.
    pub bound: bool,
    pub moved: Sum,
}

impl Setup {
    /// Everything read of the collective away from its middle that still tells, newest first: on the blade, at the place and with
    /// the clip as it was read last. Another end point chooses another place on the curve, and does not bend it.
    pub fn points(&self, rules: Rules) -> Vec<Point> {
        let all = self.seen(rules);
        let stays = |seen: &&Seen<'_>| seen.turned.iter().all(|what| touches_ends_only(what, "collective"));
        let told =
            || all.iter().filter(|seen| axis_of(seen.what()) == "collective" && !is_centred(seen.what())).filter(stays);
        let Some(last) = told().filter(|seen| !neutrals(&all, seen).is_empty()).max_by_key(|seen| seen.at) else {
            return Vec::new();
        };
        let here = |seen: &&Seen<'_>| {
            same_place(seen.place(), last.place()) && seen.shot.wish.forward == last.shot.wish.forward
        };
        let mut points: Vec<Point> = told().filter(here).filter_map(|seen| self.point(&all, seen, rules)).collect();
        points.reverse();
        points
    }

    fn point(&self, all: &[Seen<'_>], seen: &Seen<'_>, rules: Rules) -> Option<Point> {
        let from = neutrals(all, seen);
        if from.is_empty() || from.iter().any(|neutral| !neutral.fresh()) {
            return None;
        }
        let way = (seen.shot.wish.stick - 50.0) / 50.0;
        let end = if way < 0.0 { "collective low" } else { "collective high" };
        let set = self.end_point_before(seen.at, end, rules).filter(|_| rules.know(Rule::PointsHaveEndPoints));
        let less = -1.0 / from.len() as f64;
        let moved = std::iter::once((1.0, seen.at)).chain(from.iter().map(|neutral| (less, neutral.at))).collect();
        Some(Point { at: seen.at, output: way * set.unwrap_or(100.0), bound: seen.shot.wish.bound, moved })
    }
}
