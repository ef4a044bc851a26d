//! What must stand in each cell of the record.

use super::super::step::{Place, Side, Zero};
use super::{Deed, Setup, Shot};
use std::collections::{BTreeMap, BTreeSet};

/// Whether turning this can have moved what that capture read.
pub type Rule = fn(&str, &Shot) -> bool;

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Stands {
    /// How much of which deed the value is; of an end it is what the blade moved, whatever its direction is called.
    pub shares: Vec<(f64, usize)>,
    /// What was turned since; empty while it holds.
    pub stale: BTreeSet<&'static str>,
}

impl Stands {
    fn new(shares: Vec<(f64, &Seen<'_>)>) -> Self {
        let stale = shares.iter().flat_map(|(_, seen)| seen.turned.iter().copied()).collect();
        Self { shares: shares.into_iter().map(|(share, seen)| (share, seen.at)).collect(), stale }
    }
}

/// A capture in its time.
struct Seen<'a> {
    shot: &'a Shot,
    at: usize,
    stand: u32,
    turned: BTreeSet<&'static str>,
}

impl Seen<'_> {
    fn what(&self) -> &'static str {
        self.shot.wish.what
    }
    fn place(&self) -> Place {
        self.shot.wish.place
    }
    fn fresh(&self) -> bool {
        self.turned.is_empty()
    }
    /// One zero and one stand of the model: only then does a difference mean anything.
    fn goes_with(&self, other: &Self) -> bool {
        self.stand == other.stand && self.shot.datum == other.shot.datum
    }
    fn is_on(&self, name: char) -> bool {
        matches!(self.place(), Place::Main { blade, .. } if blade == name)
    }
}

fn is_centred(what: &str) -> bool {
    matches!(what, "elevator neutral" | "aileron neutral" | "collective mid" | "rudder neutral")
}

/// Whether turning this can have moved what that capture read.
pub fn touches(turned: &str, shot: &Shot) -> bool {
    let (axis, centred) = (shot.wish.what.split(' ').next().unwrap(), is_centred(shot.wish.what));
    let on_main = matches!(shot.wish.place, Place::Main { .. });
    let words: Vec<&str> = turned.split(' ').collect();
    match words[..] {
        ["link", blade, ..] => matches!(shot.wish.place, Place::Main { blade: of, .. } if blade.starts_with(of)),
        ["swash", ..] | ["servo", ..] | ["sub-trim", ..] => on_main,
        ["tail", ..] => !on_main,
        ["phase", ..] | ["cyclic", "range", ..] => !centred && (axis == "elevator" || axis == "aileron"),
        ["collective", "range", ..] => !centred && axis == "collective",
        ["reverse", of, ..] => !centred && axis == of,
        // What is left is an end point, of one end or both: a shared rod ties the two together.
        [of, ..] => !centred && axis == of,
        [] => false,
    }
}

fn same_place(one: Place, other: Place) -> bool {
    match (one, other) {
        (Place::Main { blade: a, station: p }, Place::Main { blade: b, station: q }) => {
            let apart = (p - q).rem_euclid(360.0);
            a == b && apart.min(360.0 - apart) <= 5.0 + 1e-6
        }
        (Place::Tail { up: a }, Place::Tail { up: b }) => a == b,
        _ => false,
    }
}

/// The newest that holds, else the newest.
fn newest<'s, 'a>(all: impl IntoIterator<Item = &'s Seen<'a>>) -> Option<&'s Seen<'a>>
where
    'a: 's,
{
    all.into_iter().max_by_key(|seen| (seen.fresh(), seen.at))
}

impl Setup {
    fn seen(&self, touches: Rule) -> Vec<Seen<'_>> {
        let mut all: Vec<Seen<'_>> = Vec::new();
        let mut stand = 0;
        for (at, deed) in self.deeds.iter().enumerate() {
            match deed {
                Deed::Shot(shot) => all.push(Seen { shot, at, stand, turned: BTreeSet::new() }),
                Deed::Turned(what) => {
                    for seen in all.iter_mut().filter(|seen| touches(what, seen.shot)) {
                        seen.turned.insert(what);
                    }
                }
                Deed::TakenBack(capture) => all.retain(|seen| seen.at != *capture),
                Deed::TakenUp(pause) => stand += u32::from(pause.moved || pause.other_sensor),
                Deed::ReadAnew(_) | Deed::Datum { .. } | Deed::LeftOut { .. } | Deed::Cable { .. } => {}
            }
        }
        all
    }

    /// How each blade stands by two readings half a turn apart on one seat of the clip, whose mean no lean moves.
    pub fn collectives(&self, touches: Rule) -> BTreeMap<String, Stands> {
        let all = self.seen(touches);
        let mut found = BTreeMap::new();
        for blade in ['A', 'B'] {
            let tells = |seen: &&Seen<'_>| {
                is_centred(seen.what()) && seen.is_on(blade) && !matches!(self.zero(seen.shot.datum), Zero::Neutral(..))
            };
            let level: Vec<&Seen<'_>> = all.iter().filter(tells).collect();
            let mut pairs = Vec::new();
            for (at, second) in level.iter().enumerate() {
                for first in &level[..at] {
                    let opposite = Place::Main { blade, station: station(first.place()) + 180.0 };
                    let at_mid = [first, second].iter().any(|seen| seen.what() == "collective mid");
                    let seat = |seen: &Seen<'_>| (seen.shot.seat, seen.shot.wish.forward);
                    let alike = first.goes_with(second) && seat(first) == seat(second);
                    if at_mid && alike && same_place(opposite, second.place()) {
                        pairs.push((first.fresh() && second.fresh(), second.at, first.at, *first, *second));
                    }
                }
            }
            if let Some((.., first, second)) =
                pairs.into_iter().max_by_key(|(fresh, second, first, ..)| (*fresh, *second, *first))
            {
                found.insert(format!("blade {blade} zero"), Stands::new(vec![(0.5, first), (0.5, second)]));
            }
        }
        found
    }

    /// Every cell in which something stands, by its name.
    pub fn record(&self, touches: Rule) -> BTreeMap<String, Stands> {
        let all = self.seen(touches);
        let mut cells = BTreeMap::new();
        // Against its own neutral every blade reads zero: that says nothing about where it stands.
        let tells = |seen: &&Seen<'_>| !matches!(self.zero(seen.shot.datum), Zero::Neutral(..));
        let mids = || all.iter().filter(|seen| seen.what() == "collective mid").filter(tells);
        let zeros = |blade| mids().filter(move |seen| seen.is_on(blade));
        for blade in ['A', 'B'] {
            if let Some(zero) = newest(zeros(blade)) {
                cells.insert(format!("blade {blade} zero"), Stands::new(vec![(1.0, zero)]));
            }
            if let Some((below, above)) = approaches(&all, blade) {
                cells.insert(format!("blade {blade} slop"), Stands::new(vec![(1.0, above), (-1.0, below)]));
            }
        }
        let mut pairs = Vec::new();
        for a in zeros('A') {
            for b in zeros('B') {
                let level = Place::Main { blade: 'A', station: station(b.place()) };
                if a.goes_with(b) && same_place(a.place(), level) {
                    pairs.push((a.fresh() && b.fresh(), a.at.min(b.at), a.at.max(b.at), a, b));
                }
            }
        }
        pairs.sort_by_key(|(fresh, older, newer, ..)| (*fresh, *older, *newer));
        if let Some((.., a, b)) = pairs.pop() {
            cells.insert("track B - A".to_owned(), Stands::new(vec![(1.0, b), (-1.0, a)]));
        }
        for end in ENDS {
            if let Some(stands) = limit(&all, end) {
                cells.insert(end.to_owned(), stands);
            }
        }
        // The newest check of the cable stands, whatever was turned since.
        if let Some(at) = self.deeds.iter().rposition(|deed| matches!(deed, Deed::Cable { .. })) {
            cells.insert("cable".to_owned(), Stands { shares: vec![(1.0, at)], stale: BTreeSet::new() });
        }
        cells
    }
}

pub const ENDS: [&str; 8] = [
    "elevator up",
    "elevator down",
    "aileron left",
    "aileron right",
    "rudder left",
    "rudder right",
    "collective low",
    "collective high",
];

fn station(place: Place) -> f64 {
    if let Place::Main { station, .. } = place { station } else { f64::NAN }
}

/// Lost motion: one stick position read from below and from above on one seat, the newest such pair that holds.
fn approaches<'s, 'a>(all: &'s [Seen<'a>], blade: char) -> Option<(&'s Seen<'a>, &'s Seen<'a>)> {
    let from =
        |side| all.iter().filter(move |seen| seen.fresh() && seen.is_on(blade) && seen.shot.wish.from == Some(side));
    let how = |seen: &Seen<'_>| {
        let Shot { wish, datum, seat } = *seen.shot;
        (wish.what, wish.stick, wish.forward, datum, seat)
    };
    let pairs = from(Side::Below).flat_map(|below| from(Side::Above).map(move |above| (below, above)));
    pairs
        .filter(|(below, above)| how(below) == how(above) && same_place(below.place(), above.place()))
        .max_by_key(|(below, above)| (below.at.min(above.at), below.at.max(above.at)))
}

/// An end: how far the blade stands from its neutral, where one was read there; the tail's is the mean of both edges.
fn limit(all: &[Seen<'_>], end: &str) -> Option<Stands> {
    let at_end = || {
        let whole = |seen: &&Seen<'_>| end.starts_with("collective") || seen.shot.wish.stick.abs() >= 99.0;
        all.iter().filter(|seen| seen.what() == end).filter(move |seen| whole(seen) || seen.shot.wish.bound)
    };
    let mut chosen: Vec<&Seen<'_>> = if end.starts_with("rudder") {
        let with_edge = |up| newest(at_end().filter(move |seen| seen.place() == Place::Tail { up }));
        [true, false].into_iter().filter_map(with_edge).collect()
    } else {
        newest(at_end()).into_iter().collect()
    };
    if chosen.iter().any(|seen| seen.fresh()) {
        chosen.retain(|seen| seen.fresh());
    }
    let last = *chosen.iter().max_by_key(|seen| seen.at)?;
    chosen.retain(|seen| seen.goes_with(last));
    let share = 1.0 / chosen.len() as f64;
    let counted: Vec<(f64, &Seen<'_>)> = chosen.iter().map(|seen| (share, *seen)).collect();
    let neutrals: Vec<Vec<&Seen<'_>>> = chosen.iter().map(|seen| neutrals(all, seen)).collect();
    let taken_off = neutrals.iter().flat_map(|some| some.iter().map(|n| (-share / some.len() as f64, *n)));
    let whole = Stands::new(counted.iter().copied().chain(taken_off.clone()).collect());
    if neutrals.iter().all(|some| !some.is_empty()) {
        return Some(whole);
    }
    // Without a travel a neutral that is there for one edge alone is no part of the value, but what made it stale counts.
    Some(Stands { stale: whole.stale, ..Stands::new(counted) })
}

/// What a limit is counted from: the neutral before and the one after it on the same seat, where they hold; else the newest.
fn neutrals<'s, 'a>(all: &'s [Seen<'a>], limit: &Seen<'a>) -> Vec<&'s Seen<'a>> {
    let here: Vec<&Seen<'a>> = all
        .iter()
        .filter(|n| is_centred(n.what()) && n.shot.wish.forward == limit.shot.wish.forward && n.goes_with(limit))
        .filter(|n| same_place(n.place(), limit.place()))
        .collect();
    let unmoved = || here.iter().copied().filter(|n| n.fresh() && n.shot.seat == limit.shot.seat);
    let before = unmoved().filter(|n| n.at < limit.at).max_by_key(|n| n.at);
    let after = unmoved().filter(|n| n.at > limit.at).max_by_key(|n| n.at);
    let either: Vec<&Seen<'a>> = before.into_iter().chain(after).collect();
    if either.is_empty() { newest(here).into_iter().collect() } else { either }
}
