//! A second, plain account of what a logbook must say after what was done at the bench: written from the trade's rules, not
//! from the program. It is slow and looks at everything again each time.

use std::collections::BTreeMap;
use uuid::Uuid;

/// Where the clip sat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    /// A main blade at a station.
    Main { blade: char, station: f64 },
    /// Tail blade A with its leading edge up, or down.
    Tail { up: bool },
}

/// One capture, as the person made it and as it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    pub id: Uuid,
    /// Such as "elevator up".
    pub what: String,
    pub place: Place,
    pub forward: bool,
    pub stick: f64,
    pub bound: bool,
    pub datum: Uuid,
    pub seat: u32,
    pub angle: f64,
    /// What the head really did: the pitch of that blade.
    pub truth: f64,
}

/// What happened.
#[derive(Debug, Clone, PartialEq)]
pub enum Deed {
    Shot(Shot),
    Turned(String),
    Datum { id: Uuid, on_a_surface: bool },
    TakenBack(Uuid),
    ReadAnew { id: Uuid, angle: f64 },
    TakenUp { moved: bool, clip_off: bool, other_sensor: bool },
    LeftOut { what: String, why: String },
}

#[derive(Debug, Clone, Default)]
pub struct Setup {
    pub deeds: Vec<Deed>,
    pub closed: bool,
    pub imported: bool,
}

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Stands {
    /// The value, where its sign is certain; of an end it is what the blade moved, whatever its direction is called.
    pub value: f64,
    pub truth: f64,
    /// The captures that it is made of, sorted.
    pub made_of: Vec<Uuid>,
    /// What was turned since, sorted; empty while it holds.
    pub stale: Vec<String>,
}

/// A capture in its time.
struct Seen<'a> {
    shot: &'a Shot,
    angle: f64,
    at: usize,
    stand: u32,
    turned: Vec<String>,
}

impl Seen<'_> {
    fn fresh(&self) -> bool {
        self.turned.is_empty()
    }
    /// One zero and one stand of the model: only then does a difference mean anything.
    fn goes_with(&self, other: &Self) -> bool {
        self.stand == other.stand && self.shot.datum == other.shot.datum
    }
}

fn is_centred(what: &str) -> bool {
    matches!(what, "elevator neutral" | "aileron neutral" | "collective mid" | "rudder neutral")
}

/// Whether turning this can have moved what that capture read.
fn touches(turned: &str, shot: &Shot) -> bool {
    let (axis, centred) = (shot.what.split(' ').next().unwrap(), is_centred(&shot.what));
    let on_main = matches!(shot.place, Place::Main { .. });
    let words: Vec<&str> = turned.split(' ').collect();
    match words[..] {
        ["link", blade, ..] => matches!(shot.place, Place::Main { blade: of, .. } if blade.starts_with(of)),
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
fn newest<'s, 'a>(mut all: Vec<&'s Seen<'a>>) -> Option<&'s Seen<'a>> {
    all.sort_by_key(|seen| (seen.fresh(), seen.at));
    all.pop()
}

impl Setup {
    pub fn shots(&self) -> Vec<&Shot> {
        self.deeds.iter().filter_map(|deed| if let Deed::Shot(shot) = deed { Some(shot) } else { None }).collect()
    }

    pub fn taken_back(&self, id: Uuid) -> bool {
        self.deeds.iter().any(|deed| matches!(deed, Deed::TakenBack(of) if *of == id))
    }

    /// The zero that holds now.
    pub fn datum(&self) -> Uuid {
        let set =
            self.deeds.iter().rev().find_map(|deed| if let Deed::Datum { id, .. } = deed { Some(*id) } else { None });
        set.unwrap_or(Uuid::nil())
    }

    /// The seat of the next capture: the same while the clip stays where and as it is.
    pub fn next_seat(&self, place: Place, forward: bool, put_on_again: bool) -> u32 {
        let (mut seat, mut sits, mut highest) = (0, None, 0);
        for deed in &self.deeds {
            match deed {
                Deed::Shot(shot) => {
                    (seat, sits) = (shot.seat, Some((shot.place, shot.forward)));
                    highest = highest.max(seat);
                }
                Deed::TakenUp { clip_off, other_sensor, .. } if *clip_off || *other_sensor => sits = None,
                Deed::Datum { on_a_surface: true, .. } => sits = None,
                _ => {}
            }
        }
        let stays = sits.is_some_and(|(on, way)| {
            let one_blade = match (on, place) {
                (Place::Main { blade: a, .. }, Place::Main { blade: b, .. }) => a == b,
                (Place::Tail { .. }, Place::Tail { .. }) => true,
                _ => false,
            };
            one_blade && way == forward
        });
        if stays && !put_on_again { seat } else { highest + 1 }
    }

    fn seen(&self) -> Vec<Seen<'_>> {
        let mut all: Vec<Seen<'_>> = Vec::new();
        let mut stand = 0;
        for (at, deed) in self.deeds.iter().enumerate() {
            match deed {
                Deed::Shot(shot) => all.push(Seen { shot, angle: shot.angle, at, stand, turned: Vec::new() }),
                Deed::Turned(what) => {
                    for seen in &mut all {
                        if touches(what, seen.shot) && !seen.turned.contains(what) {
                            seen.turned.push(what.clone());
                        }
                    }
                }
                Deed::TakenBack(id) => all.retain(|seen| seen.shot.id != *id),
                Deed::ReadAnew { id, angle } => {
                    if let Some(seen) = all.iter_mut().find(|seen| seen.shot.id == *id) {
                        seen.angle = *angle;
                    }
                }
                Deed::TakenUp { moved, other_sensor, .. } => stand += u32::from(*moved || *other_sensor),
                Deed::Datum { .. } | Deed::LeftOut { .. } => {}
            }
        }
        all
    }

    /// Every cell in which something stands, by its name.
    pub fn record(&self) -> BTreeMap<String, Stands> {
        let all = self.seen();
        let mut cells = BTreeMap::new();
        let zeros = |blade| -> Vec<&Seen<'_>> {
            let of = |seen: &&Seen<'_>| matches!(seen.shot.place, Place::Main { blade: on, .. } if on == blade);
            all.iter().filter(|seen| seen.shot.what == "collective mid").filter(of).collect()
        };
        for blade in ['A', 'B'] {
            if let Some(zero) = newest(zeros(blade)) {
                cells.insert(format!("blade {blade} zero"), stands(&[(1.0, zero)], zero.angle, zero.shot.truth));
            }
        }
        let mut pairs = Vec::new();
        for a in zeros('A') {
            for b in zeros('B') {
                let level = Place::Main { blade: 'A', station: station(b.shot.place) };
                if a.goes_with(b) && same_place(a.shot.place, level) {
                    pairs.push((a.fresh() && b.fresh(), a.at.min(b.at), a.at.max(b.at), a, b));
                }
            }
        }
        pairs.sort_by_key(|(fresh, older, newer, ..)| (*fresh, *older, *newer));
        if let Some((.., a, b)) = pairs.pop() {
            let split = stands(&[(1.0, a), (1.0, b)], b.angle - a.angle, b.shot.truth - a.shot.truth);
            cells.insert("track B - A".to_owned(), split);
        }
        for end in ENDS {
            if let Some(stands) = limit(&all, end) {
                cells.insert(end.to_owned(), stands);
            }
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

fn stands(of: &[(f64, &Seen<'_>)], value: f64, truth: f64) -> Stands {
    let mut made_of: Vec<Uuid> = of.iter().map(|(_, seen)| seen.shot.id).collect();
    made_of.sort_unstable();
    made_of.dedup();
    let mut stale: Vec<String> = of.iter().flat_map(|(_, seen)| seen.turned.clone()).collect();
    stale.sort_unstable();
    stale.dedup();
    Stands { value, truth, made_of, stale }
}

/// An end: how far the blade stands from its neutral, where one was read there; the tail's is the mean of both edges.
fn limit(all: &[Seen<'_>], end: &str) -> Option<Stands> {
    let at_end: Vec<&Seen<'_>> = all
        .iter()
        .filter(|seen| seen.shot.what == end)
        .filter(|seen| end.starts_with("collective") || seen.shot.stick.abs() >= 99.0 || seen.shot.bound)
        .collect();
    let mut chosen: Vec<&Seen<'_>> = if end.starts_with("rudder") {
        let with_edge =
            |edge| newest(at_end.iter().copied().filter(|s| s.shot.place == Place::Tail { up: edge }).collect());
        [true, false].into_iter().filter_map(with_edge).collect()
    } else {
        newest(at_end).into_iter().collect()
    };
    if chosen.iter().any(|seen| seen.fresh()) {
        chosen.retain(|seen| seen.fresh());
    }
    let last = *chosen.iter().max_by_key(|seen| seen.at)?;
    chosen.retain(|seen| seen.goes_with(last));
    let neutrals: Vec<Vec<&Seen<'_>>> = chosen.iter().map(|seen| neutrals(all, seen)).collect();
    let share = 1.0 / chosen.len() as f64;
    let (mut of, mut value, mut truth) = (Vec::new(), 0.0, 0.0);
    let travel = neutrals.iter().all(|some| !some.is_empty());
    for (seen, neutrals) in chosen.iter().zip(&neutrals) {
        of.push((1.0, *seen));
        value += share * seen.angle;
        truth += share * seen.shot.truth;
        if travel {
            let many = neutrals.len() as f64;
            value -= share * neutrals.iter().map(|n| n.angle).sum::<f64>() / many;
            truth -= share * neutrals.iter().map(|n| n.shot.truth).sum::<f64>() / many;
        }
    }
    // Without a travel a neutral that is there for one edge alone is no part of the value, but what made it stale counts.
    let counted = of.clone();
    for neutrals in &neutrals {
        of.extend(neutrals.iter().map(|n| (1.0, *n)));
    }
    let mut stands_so = stands(&of, value, truth);
    if !travel {
        stands_so.made_of = stands(&counted, value, truth).made_of;
    }
    Some(stands_so)
}

/// What a limit is counted from: the neutral before and the one after it on the same seat, where they hold; else the newest.
fn neutrals<'s, 'a>(all: &'s [Seen<'a>], limit: &Seen<'a>) -> Vec<&'s Seen<'a>> {
    let here: Vec<&Seen<'a>> = all
        .iter()
        .filter(|n| is_centred(&n.shot.what) && n.shot.forward == limit.shot.forward && n.goes_with(limit))
        .filter(|n| same_place(n.shot.place, limit.shot.place))
        .collect();
    let unmoved = || here.iter().copied().filter(|n| n.fresh() && n.shot.seat == limit.shot.seat);
    let before = unmoved().filter(|n| n.at < limit.at).max_by_key(|n| n.at);
    let after = unmoved().filter(|n| n.at > limit.at).max_by_key(|n| n.at);
    let either: Vec<&Seen<'a>> = before.into_iter().chain(after).collect();
    if either.is_empty() { newest(here).into_iter().collect() } else { either }
}
