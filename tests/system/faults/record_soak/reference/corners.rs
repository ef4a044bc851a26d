//! A corner of the controls: read at one place, the blade stands where its neutral and the movements of its parts add up to.

use super::cells::{Seen, Stands, Sum, newest, of_deeds, same_place};
use super::ends::neutrals;
use super::rules::{Rule, Rules, axis_of, parts_of};

/// Where no more than this shows of an axis, what is left of it is known well enough from elsewhere.
const LITTLE: f64 = 0.2;
/// And where at least this shows of it.
const HALF: f64 = 0.5;

/// What is to be known of a corner besides its value.
#[derive(Debug, Clone, PartialEq)]
pub struct Corner {
    pub blade: char,
    /// How each part moves the blade where the corner was read: the collective's and the cyclic ones'.
    pub collective: Vec<Sum>,
    pub cyclic: Vec<Sum>,
    /// Set just short of a bind.
    pub bound: bool,
}

/// How much of a cyclic deflection shows, with a sign: 1 of what shows everywhere.
fn shows(what: &str, seen: &Seen<'_>) -> f64 {
    match axis_of(what) {
        "elevator" => seen.station().to_radians().sin(),
        "aileron" => seen.station().to_radians().cos(),
        _ => 1.0,
    }
}

/// What a part read there is to be multiplied by, to be what it moves the blade by at the corner; none where that is not known.
fn share(corner: &Seen<'_>, part: &Seen<'_>) -> Option<f64> {
    let is_collective = axis_of(part.what()) == "collective";
    let (there, here) = (shows(part.what(), part), shows(part.what(), corner));
    let of_station = match same_place(part.place(), corner.place()) || is_collective {
        true => 1.0,
        false if here.abs() <= LITTLE && there.abs() >= HALF => here / there,
        false => return None,
    };
    let (stick, of_part) = (corner.shot.wish.stick.abs(), part.shot.wish.stick.abs());
    let of_stick = match part.shot.wish.bound {
        _ if is_collective => 1.0,
        // Backed off from full stick to nobody knows where: full stick comes to the bind as well.
        true if of_part >= 99.0 && stick >= 99.0 => 1.0,
        true if of_part >= 99.0 => return None,
        _ => stick / of_part,
    };
    Some(of_station * of_stick)
}

/// The corner as it was read last, those that hold first, of those that can be judged: with their neutral and their parts read on
/// their blade.
pub(super) fn corner(all: &[Seen<'_>], what: &str, rules: Rules) -> Option<Stands> {
    let mut read: Vec<&Seen<'_>> = all.iter().filter(|seen| seen.what() == what).collect();
    read.sort_by_key(|seen| (seen.fresh(), seen.at));
    read.into_iter().rev().find_map(|corner| judged(all, corner, rules))
}

fn judged(all: &[Seen<'_>], corner: &Seen<'_>, rules: Rules) -> Option<Stands> {
    let what = corner.what();
    let from = neutrals(all, corner);
    if from.is_empty() {
        return None;
    }
    let mut parts = Vec::new();
    for part in parts_of(what) {
        parts.push((axis_of(part), part_at(all, corner, part)?));
    }
    let of = |collective: bool| {
        let wanted = parts.iter().filter(move |(axis, _)| (*axis == "collective") == collective);
        let counted = if rules.know(Rule::CornersAddUp) { usize::MAX } else { 1 };
        wanted.map(|(_, moved)| moved.clone()).take(if collective { usize::MAX } else { counted }).collect()
    };
    let share = -1.0 / from.len() as f64;
    let shares = std::iter::once((1.0, corner)).chain(from.iter().map(|neutral| (share, *neutral))).collect();
    let blade = if corner.is_on('A') { 'A' } else { 'B' };
    // It is no newer than what it is counted from.
    let turned = from.iter().flat_map(|neutral| neutral.turned.iter()).chain(&corner.turned).copied().collect();
    let bound = corner.shot.wish.bound;
    let sums = Corner { blade, collective: of(true), cyclic: of(false), bound };
    Some(Stands { corner: Some(sums), ..Stands::new(shares) }.lasting(turned))
}

/// What one axis alone moves the blade by at the corner: as it was read there last, else anywhere on that blade where that tells it.
fn part_at(all: &[Seen<'_>], corner: &Seen<'_>, part: &str) -> Option<Sum> {
    let blade = if corner.is_on('A') { 'A' } else { 'B' };
    // Where the corner holds no more its parts need not either.
    let holds = |seen: &&Seen<'_>| seen.is_on(blade) && seen.is_at_the_end() && (seen.fresh() || !corner.fresh());
    let counted = |seen: &&Seen<'_>| !neutrals(all, seen).is_empty();
    let read = || all.iter().filter(|seen| seen.what() == part).filter(holds).filter(counted);
    let here = newest(read().filter(|seen| same_place(seen.place(), corner.place())));
    let seen = here.or_else(|| newest(read()))?;
    let (share, from) = (share(corner, seen)?, neutrals(all, seen));
    let less = -share / from.len() as f64;
    let moved = std::iter::once((share, seen)).chain(from.iter().map(|neutral| (less, *neutral))).collect();
    Some(of_deeds(moved))
}
