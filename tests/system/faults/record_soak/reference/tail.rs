//! Where the tail blade stands. Each reading of it has the roll of the model in it, which leading edge up and leading edge
//! down show with opposite signs.

use super::super::step::Place;
use super::cells::{Seen, Stands, Sum, newest, of_deeds};

const NEUTRAL: &str = "rudder neutral";

/// The newest reading of a tail blade at this stick with this edge that holds, tells a pitch, and goes with `like`.
fn read<'s, 'a>(all: &'s [Seen<'a>], blade: char, what: &str, up: bool, like: &Seen<'a>) -> Option<&'s Seen<'a>> {
    let wanted = |seen: &&Seen<'_>| {
        let whole = what == NEUTRAL || seen.is_at_the_end();
        seen.what() == what && seen.place() == Place::Tail { blade, up } && whole && seen.tells && seen.fresh()
    };
    all.iter().filter(wanted).filter(|seen| seen.goes_with(like)).max_by_key(|seen| seen.at)
}

/// A sum before it is told by its deeds.
type Shares<'s, 'a> = Vec<(f64, &'s Seen<'a>)>;

/// Free of the roll, by this blade alone: the mean of both edges there; else that of both edges at neutral, and the travel with
/// one edge.
fn known<'s, 'a>(all: &'s [Seen<'a>], blade: char, what: &str, like: &Seen<'a>) -> Option<Shares<'s, 'a>> {
    let edge = |what, up| read(all, blade, what, up, like);
    let mean = |what| Some(vec![(0.5, edge(what, true)?), (0.5, edge(what, false)?)]);
    let travel = || {
        let with = |up| Some([(1.0, edge(what, up)?), (-1.0, edge(NEUTRAL, up)?)]);
        let moved = [true, false].into_iter().find_map(with)?;
        Some(mean(NEUTRAL)?.into_iter().chain(moved).collect())
    };
    mean(what).or_else(travel)
}

/// The pitch of each blade at a stick: as it shows by itself; else as the other one shows, and how far it stands off that; else as
/// one edge shows it. Empty where no reading tells.
pub(super) fn pitch(all: &[Seen<'_>], what: &str, like: &Seen<'_>) -> Vec<(char, Sum)> {
    let beside = |blade, other| {
        let places =
            [NEUTRAL, "rudder left", "rudder right"].into_iter().flat_map(|what| [(what, true), (what, false)]);
        let both = |(what, up)| {
            let one = |blade| read(all, blade, what, up, like);
            Some([(1.0, one(blade)?), (-1.0, one(other)?)])
        };
        let apart = places.into_iter().find_map(both)?;
        Some(known(all, other, what, like)?.into_iter().chain(apart).collect::<Shares<'_, '_>>())
    };
    let one_edge = |blade| {
        let one = [true, false].into_iter().find_map(|up| read(all, blade, what, up, like))?;
        Some(vec![(1.0, one)])
    };
    let of = |blade, other| known(all, blade, what, like).or_else(|| beside(blade, other)).or_else(|| one_edge(blade));
    let told = [('A', 'B'), ('B', 'A')].into_iter().filter_map(|(blade, other)| Some((blade, of(blade, other)?)));
    told.map(|(blade, shares)| (blade, of_deeds(shares))).collect()
}

/// The tail at stick centre.
pub(super) fn neutral(all: &[Seen<'_>]) -> Option<Stands> {
    let last = newest(all.iter().filter(|seen| seen.what() == NEUTRAL && seen.tells))?;
    let stands = Stands::new(vec![(1.0, last)]);
    let of_blades = if last.fresh() { pitch(all, NEUTRAL, last) } else { Vec::new() };
    Some(Stands { of_blades, ..stands })
}

/// Both tail blades with one edge at one stick, such that both hold before others, then by the newest of blade B.
pub(super) fn split(all: &[Seen<'_>]) -> Option<Stands> {
    let of =
        |name: char| all.iter().filter(move |seen| matches!(seen.place(), Place::Tail { blade, .. } if blade == name));
    let edge = |seen: &Seen<'_>| matches!(seen.place(), Place::Tail { up: true, .. });
    let whole = |seen: &Seen<'_>| seen.what() == NEUTRAL || seen.is_at_the_end();
    let mut pairs = Vec::new();
    for b in of('B').filter(|b| whole(b)) {
        let alike = |a: &&Seen<'_>| a.what() == b.what() && edge(a) == edge(b) && whole(a) && a.goes_with(b);
        if let Some(a) = newest(of('A').filter(alike)) {
            pairs.push((a.fresh() && b.fresh(), b.at, a, b));
        }
    }
    let (.., a, b) = pairs.into_iter().max_by_key(|(fresh, at, ..)| (*fresh, *at))?;
    Some(Stands::new(vec![(1.0, b), (-1.0, a)]))
}
