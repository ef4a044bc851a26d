//! What the second account makes of the numbers of a cell.

use super::besides::{holds_the_bend, holds_the_sum};
use super::book::Written;
use super::held::sum;
use super::reference::{Again, Deed, ENDS, End, Past, Setup, Stands};
use super::step::Wish;
use clinoblade::record::{Basis, Cell, CellFinding, InQuestion, Undecided, Verdict};
use clinoblade::rotor::Station;
use clinoblade::uncertainty::Target;
use std::collections::BTreeMap;

/// A blade that is moved less than this stands still.
const STILL: f64 = 1.5;
/// Two readings of one end differ by no more.
const ALIKE: f64 = 0.3;
/// So much lost motion the head allows.
pub const SLOP: f64 = 0.3;

/// Whether something seen besides it puts the cell in question.
///
/// Else: inside only for certain, outside only for certain, else undecided; an end just short of a bind may fall short. Where
/// it binds, full stick must come to stop there.
pub fn holds_the_verdict(
    cell: &Cell,
    stands: &Stands,
    setup: &Setup,
    (record, written): (&BTreeMap<String, Stands>, &[Written]),
    told: &str,
) -> bool {
    assert_eq!(cell.question, None, "what is asked about {told}");
    if let Some(pool) = &stands.spindle {
        return holds_the_bend(cell, pool, told);
    }
    if let Some(corner) = &stands.corner {
        return holds_the_sum(cell, corner, stands, (record, written), told);
    }
    let bound = bound_ends(setup, stands);
    let doubts = doubts(cell, stands, written, !bound.is_empty());
    let wanted = if doubts.is_empty() { decided(cell, stands, !bound.is_empty()) } else { "in question" };
    let judged = cell.judged();
    let at_hand = (&cell.verdict, judged, cell.target);
    assert_eq!(cell.verdict.word(), wanted, "the verdict on {told}: {at_hand:?}, {:?}", stands.end);
    if let Verdict::InQuestion { because } = &cell.verdict {
        let because: Vec<&str> = because.iter().map(doubt).collect();
        assert_eq!(because, doubts, "what puts {told} in question");
    }
    if let (Verdict::Undecided { by }, Some(station)) = (&cell.verdict, stands.half_turn_on) {
        let wanted = Station::from_degrees(station).unwrap();
        let there = matches!(by, Undecided::LeanUnknown { station, .. } if *station == wanted);
        assert!(there, "what would decide {told}: {by:?}");
    }
    if wanted == "bound" {
        let follows = match (&cell.consequence, &bound[..]) {
            (Some(CellFinding::BackedOff { .. }), [wish]) => is_full(wish),
            (Some(CellFinding::StickGoesFurther { .. }), [wish]) => !is_full(wish),
            // Full stick stands where it bound before.
            (Some(CellFinding::JustShort), []) => true,
            (_, [_, _, ..]) => true,
            _ => false,
        };
        assert!(follows, "what follows from {told}: {:?}", cell.consequence);
    }
    !doubts.is_empty()
}

fn is_full(wish: &Wish) -> bool {
    wish.what.starts_with("collective") || wish.stick.abs() == 100.0
}

/// The captures of a value that stand at an end, just short of a bind.
pub fn bound_ends<'a>(setup: &'a Setup, stands: &Stands) -> Vec<&'a Wish> {
    let at_an_end = |wish: &&Wish| wish.bound && ENDS.contains(&wish.what);
    let wishes = stands.shares.iter().filter_map(|(_, at)| match &setup.deeds[*at] {
        Deed::Shot(shot) => Some(&shot.wish),
        _ => None,
    });
    wishes.filter(at_an_end).collect()
}

const fn doubt(because: &InQuestion) -> &'static str {
    match because {
        InQuestion::Swept { .. } => "swept elsewhere",
        InQuestion::SweptStill => "swept and still",
        InQuestion::SweptBuzzes => "swept into a buzz",
        InQuestion::Buzzes { .. } => "buzzes",
        InQuestion::PastBind { .. } => "past a bind",
        InQuestion::PhaseDiffers { .. } => "of another phase",
    }
}

/// What speaks against the value of an end.
fn doubts(cell: &Cell, stands: &Stands, written: &[Written], bound: bool) -> Vec<&'static str> {
    let Some(end) = &stands.end else { return Vec::new() };
    let past = match &end.bind {
        None => false,
        Some(Past::Told(past)) => *past,
        Some(Past::Seen { now, bound }) => {
            let moved = |shares| sum(shares, written, |written| written.angle).abs();
            moved(now) > moved(bound) + ALIKE
        }
    };
    let mut doubts: Vec<&'static str> = past.then_some("past a bind").into_iter().collect();
    if let Some(again) = end.sweep.as_ref().filter(|again| !again.newer) {
        let (at, value) = (&written[again.at], cell.value.as_ref().unwrap());
        let reached = at.reached[again.which] / again.part;
        let within = value.expanded.degrees().hypot(SLOP);
        let further = if value.basis == Basis::Travel { reached - value.angle.degrees() } else { 0.0 };
        let falls_short = reached < STILL || further < -within;
        let is_bound = decided(cell, stands, bound) == "bound";
        let stays = doubts.is_empty() && end.bind.is_some() && is_bound;
        if stays && !falls_short && (further > within || again.buzzes) {
            // Full stick goes into what the end was set just short of.
            return vec!["past a bind"];
        }
        let elsewhere = further.abs() > within;
        let came = if reached < STILL { Some("swept and still") } else { elsewhere.then_some("swept elsewhere") };
        doubts.extend(came.into_iter().chain(again.buzzes.then_some("swept into a buzz")));
    }
    doubts
}

/// Whether an end that was moved once more came to where the record has it, and into nothing.
pub fn came_as_recorded(cell: &Cell, again: &Again, written: &[Written]) -> bool {
    let reached = written[again.at].reached[again.which] / again.part;
    let holds = cell.verdict.is_captured() || matches!(cell.verdict, Verdict::InQuestion { .. });
    let value = cell.value.as_ref().filter(|value| holds && value.basis == Basis::Travel);
    let off = value.is_some_and(|value| (reached - value.angle.degrees()).abs() > value.expanded.degrees().hypot(SLOP));
    reached >= STILL && !off && !again.buzzes
}

/// By the value with its uncertainty; an end of the tail or of the collective by the pitch at which it stands.
fn decided(cell: &Cell, stands: &Stands, bound: bool) -> &'static str {
    let value = cell.value.as_ref().unwrap();
    let by_value = (value.angle.degrees(), value.expanded.degrees());
    let Some(end) = &stands.end else { return weighed(cell.target, by_value, false) };
    let weighed = |value| match weighed(cell.target, value, bound) {
        // Full stick stands where it bound before.
        "inside" if end.bind.is_some() => "bound",
        weighed => weighed,
    };
    match end {
        End { is_travel: false, .. } => "undecided",
        End { pitch: Some(_), .. } => match &cell.stands {
            None => "undecided",
            Some(stands) => weighed((stands.angle.degrees(), stands.expanded.degrees())),
        },
        End { pitch: None, .. } => weighed(by_value),
    }
}

/// A value that is short of what is wanted for certain because it binds first is bound. What may be past it is not.
pub fn weighed(target: Target, (x, u): (f64, f64), bound: bool) -> &'static str {
    let (over, falls_short) = match target {
        Target::Band { target, tolerance } => {
            let (target, tolerance) = (target.degrees(), tolerance.degrees());
            ((x - target).abs() - tolerance, x * target >= 0.0 && x.abs() + u <= target.abs() + tolerance)
        }
        Target::AtMost(ceiling) => (x.abs() - ceiling.degrees(), x.abs() + u <= ceiling.degrees()),
    };
    match (over + u <= 0.0, over - u > 0.0) {
        _ if bound && falls_short => "bound",
        (_, true) => "outside",
        (true, _) => "inside",
        _ => "undecided",
    }
}
