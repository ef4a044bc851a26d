//! What must stand in each cell of the record.

use super::super::step::{Place, Side, Zero};
use super::corners::Corner;
use super::ends::End;
use super::rules::{Rule, Rules, is_centred};
use super::spindles::Pool;
use super::{Deed, Setup, Shot};
use std::collections::{BTreeMap, BTreeSet};

/// How much of which deed: a value before anything is measured.
pub type Sum = Vec<(f64, usize)>;

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Stands {
    /// What the value is; of an end it is what the blade moved, whatever its direction is called.
    pub shares: Sum,
    /// What was turned since; empty while it holds.
    pub stale: BTreeSet<&'static str>,
    /// Where the same blade must be read too before its lean is known.
    pub half_turn_on: Option<f64>,
    /// What is to be known of an end besides, of a corner, of a spindle.
    pub end: Option<End>,
    pub corner: Option<Corner>,
    pub spindle: Option<Pool>,
    /// On the tail each blade may be the one that is told.
    pub of_blades: Vec<(char, Sum)>,
}

impl Stands {
    pub(super) fn new(shares: Vec<(f64, &Seen<'_>)>) -> Self {
        let stale = shares.iter().flat_map(|(_, seen)| seen.turned.iter().copied()).collect();
        let shares = of_deeds(shares);
        Self { shares, stale, half_turn_on: None, end: None, corner: None, spindle: None, of_blades: Vec::new() }
    }

    /// It becomes old by these alone.
    pub(super) fn lasting(self, stale: BTreeSet<&'static str>) -> Self {
        Self { stale, ..self }
    }
}

pub(super) fn of_deeds(shares: Vec<(f64, &Seen<'_>)>) -> Sum {
    shares.into_iter().map(|(share, seen)| (share, seen.at)).collect()
}

/// A capture in its time.
pub(super) struct Seen<'a> {
    pub(super) shot: &'a Shot,
    pub(super) at: usize,
    stand: u32,
    pub(super) turned: BTreeSet<&'static str>,
    /// Against the blade's own neutral it says nothing about where the blade stands.
    pub(super) tells: bool,
}

impl Seen<'_> {
    pub(super) fn what(&self) -> &'static str {
        self.shot.wish.what
    }
    pub(super) fn place(&self) -> Place {
        self.shot.wish.place
    }
    pub(super) fn fresh(&self) -> bool {
        self.turned.is_empty()
    }
    /// One zero and one stand of the model: only then does a difference mean anything.
    pub(super) fn goes_with(&self, other: &Self) -> bool {
        self.stand == other.stand && self.shot.datum == other.shot.datum
    }
    pub(super) fn is_on(&self, name: char) -> bool {
        matches!(self.place(), Place::Main { blade, .. } if blade == name)
    }
    pub(super) fn station(&self) -> f64 {
        if let Place::Main { station, .. } = self.place() { station } else { f64::NAN }
    }
}

fn apart(one: f64, other: f64) -> f64 {
    let apart = (one - other).rem_euclid(360.0);
    apart.min(360.0 - apart)
}

fn one_station(one: f64, other: f64) -> bool {
    apart(one, other) <= 5.0 + 1e-6
}

pub(super) fn same_place(one: Place, other: Place) -> bool {
    match (one, other) {
        (Place::Main { blade: a, station: p }, Place::Main { blade: b, station: q }) => a == b && one_station(p, q),
        (Place::Tail { .. }, Place::Tail { .. }) => one == other,
        _ => false,
    }
}

/// The newest that holds, else the newest.
pub(super) fn newest<'s, 'a>(all: impl IntoIterator<Item = &'s Seen<'a>>) -> Option<&'s Seen<'a>>
where
    'a: 's,
{
    all.into_iter().max_by_key(|seen| (seen.fresh(), seen.at))
}

impl Setup {
    pub(super) fn seen(&self, rules: Rules) -> Vec<Seen<'_>> {
        let mut all: Vec<Seen<'_>> = Vec::new();
        let mut stand = 0;
        for (at, deed) in self.deeds.iter().enumerate() {
            match deed {
                Deed::Shot(shot) => {
                    let tells = !matches!(self.zero(shot.datum), Zero::Neutral(..));
                    all.push(Seen { shot, at, stand, turned: BTreeSet::new(), tells });
                }
                Deed::Turned(what) if self.turns(rules).any(|(turned, _)| turned == at) => {
                    for seen in all.iter_mut().filter(|seen| rules.touch(what, seen.shot)) {
                        seen.turned.insert(what);
                    }
                }
                Deed::TakenBack(capture) => all.retain(|seen| seen.at != *capture),
                Deed::TakenUp(pause) => stand += u32::from(pause.moved || pause.other_sensor),
                Deed::Turned(_)
                | Deed::ReadAnew(_)
                | Deed::Datum { .. }
                | Deed::LeftOut { .. }
                | Deed::Cable { .. }
                | Deed::Spindle(_)
                | Deed::Swept { .. } => {}
            }
        }
        all
    }

    /// Whether there are readings from which a rotor may be solved: a blade at three stations or more, nothing turned since,
    /// the model standing as it stood.
    pub fn may_solve_a_rotor(&self, rules: Rules) -> bool {
        let all = self.seen(rules);
        let on_main = |seen: &&Seen<'_>| matches!(seen.place(), Place::Main { .. });
        let level: Vec<&Seen<'_>> =
            all.iter().filter(|seen| is_centred(seen.what()) && seen.tells && seen.fresh()).filter(on_main).collect();
        let stations = |blade, stand| {
            let mut stations: Vec<f64> = Vec::new();
            let here = level.iter().filter(|seen| seen.is_on(blade) && seen.stand == stand);
            for at in here.map(|seen| seen.station()) {
                if stations.iter().all(|seen| !one_station(*seen, at)) {
                    stations.push(at);
                }
            }
            stations.len()
        };
        level.iter().any(|seen| ['A', 'B'].into_iter().any(|blade| stations(blade, seen.stand) >= 3))
    }

    /// Every cell in which something stands, by its name.
    pub fn record(&self, rules: Rules) -> BTreeMap<String, Stands> {
        let all = self.seen(rules);
        let mut cells = BTreeMap::new();
        for blade in ['A', 'B'] {
            if let Some(stands) = zero(&all, blade, rules) {
                cells.insert(format!("blade {blade} zero"), stands);
            }
            if let Some(stands) = self.spindle(blade, rules) {
                cells.insert(format!("blade {blade} spindle"), stands);
            }
            if let Some((below, above)) = approaches(&all, blade) {
                cells.insert(format!("blade {blade} slop"), Stands::new(vec![(1.0, above), (-1.0, below)]));
            }
        }
        if let Some((a, b)) = side_by_side(&all, |_, _| true) {
            cells.insert("track B - A".to_owned(), Stands::new(vec![(1.0, b), (-1.0, a)]));
        }
        // One clip, sitting one way round, has one offset; how a blade hangs is changed by no link and no servo.
        if let Some((a, b)) = side_by_side(&all, |a, b| a.shot.wish.forward == b.shot.wish.forward) {
            let since = |(at, what): &(usize, &str)| *at > a.at.min(b.at) && rules.hangs_anew(what);
            let hung_anew = self.turns(rules).filter(since).map(|(_, what)| what).collect();
            cells.insert(DROOP.to_owned(), Stands::new(vec![(1.0, b), (-1.0, a)]).lasting(hung_anew));
        }
        for end in ENDS {
            if let Some(stands) = self.limit(&all, end, rules) {
                cells.insert(end.to_owned(), stands);
            }
        }
        for corner in CORNERS {
            if let Some(stands) = super::corners::corner(&all, corner, rules) {
                cells.insert(corner.to_owned(), stands);
            }
        }
        if let Some(stands) = super::tail::neutral(&all) {
            cells.insert(TAIL_NEUTRAL.to_owned(), stands);
        }
        if let Some(stands) = super::tail::split(&all) {
            cells.insert(TAIL_SPLIT.to_owned(), stands);
        }
        // The newest check of the cable stands, whatever was turned since.
        if let Some(at) = self.deeds.iter().rposition(|deed| matches!(deed, Deed::Cable { .. })) {
            let stands = Stands { shares: vec![(1.0, at)], ..Stands::new(Vec::new()) };
            cells.insert("cable".to_owned(), stands);
        }
        cells
    }
}

pub const DROOP: &str = "droop B - A";
pub const TAIL_NEUTRAL: &str = "tail neutral";
pub const TAIL_SPLIT: &str = "tail split";

/// Those with two cyclic parts first.
pub const CORNERS: [&str; 12] = [
    "corner high up-right",
    "corner high down-right",
    "corner high down-left",
    "corner high up-left",
    "corner low up-right",
    "corner low down-right",
    "corner low down-left",
    "corner low up-left",
    "corner high up",
    "corner low left",
    "corner mid down",
    "corner mid up-right",
];

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

/// Blade by blade at mid stick.
fn mids<'s, 'a>(all: &'s [Seen<'a>], blade: char) -> impl Iterator<Item = &'s Seen<'a>> {
    all.iter().filter(move |seen| seen.what() == "collective mid" && seen.tells && seen.is_on(blade))
}

/// How a blade stands: by two readings half a turn apart, whose mean no lean moves; by one reading only where no pair holds.
pub(super) fn zero(all: &[Seen<'_>], blade: char, rules: Rules) -> Option<Stands> {
    let single = newest(mids(all, blade))?;
    let of_one = Stands { half_turn_on: Some(single.station() + 180.0), ..Stands::new(vec![(1.0, single)]) };
    let pair = half_turn(all, blade).filter(|_| rules.know(Rule::HalfTurnsTellTheZero));
    let of_both = pair.map(|(first, second)| Stands::new(vec![(0.5, first), (0.5, second)]));
    of_both.filter(|both| both.stale.is_empty() || !of_one.stale.is_empty()).or(Some(of_one))
}

/// The newest two readings of a blade half a turn apart with the clip left on, such that both hold before others. One of them
/// is of the collective, the other one may be of any stick at its centre.
fn half_turn<'s, 'a>(all: &'s [Seen<'a>], blade: char) -> Option<(&'s Seen<'a>, &'s Seen<'a>)> {
    let level: Vec<&Seen<'a>> =
        all.iter().filter(|seen| is_centred(seen.what()) && seen.is_on(blade) && seen.tells).collect();
    let mut pairs = Vec::new();
    for (at, second) in level.iter().enumerate() {
        for first in &level[..at] {
            let at_mid = [first, second].iter().any(|seen| seen.what() == "collective mid");
            let seat = |seen: &Seen<'_>| (seen.shot.seat, seen.shot.wish.forward);
            let alike = first.goes_with(second) && seat(first) == seat(second);
            if at_mid && alike && one_station(first.station() + 180.0, second.station()) {
                pairs.push((first.fresh() && second.fresh(), second.at, first.at, *first, *second));
            }
        }
    }
    let (.., first, second) = pairs.into_iter().max_by_key(|(fresh, second, first, ..)| (*fresh, *second, *first))?;
    Some((first, second))
}

/// Both blades at mid stick at one station, the newest such pair that holds, of those that fit.
fn side_by_side<'s, 'a>(
    all: &'s [Seen<'a>],
    fits: impl Fn(&Seen<'a>, &Seen<'a>) -> bool,
) -> Option<(&'s Seen<'a>, &'s Seen<'a>)> {
    let mut pairs = Vec::new();
    for a in mids(all, 'A') {
        for b in mids(all, 'B').filter(|b| a.goes_with(b) && one_station(a.station(), b.station()) && fits(a, b)) {
            pairs.push((a.fresh() && b.fresh(), a.at.min(b.at), a.at.max(b.at), a, b));
        }
    }
    let (.., a, b) = pairs.into_iter().max_by_key(|(fresh, older, newer, ..)| (*fresh, *older, *newer))?;
    Some((a, b))
}

/// Lost motion: one stick position read from below and from above on one seat, the newest such pair that holds.
fn approaches<'s, 'a>(all: &'s [Seen<'a>], blade: char) -> Option<(&'s Seen<'a>, &'s Seen<'a>)> {
    let from = |side| all.iter().filter(move |seen| seen.is_on(blade) && seen.shot.wish.from == Some(side));
    let how = |seen: &Seen<'_>| {
        let Shot { wish, datum, seat } = *seen.shot;
        (wish.what, wish.stick, wish.forward, datum, seat)
    };
    let pairs = from(Side::Below).flat_map(|below| from(Side::Above).map(move |above| (below, above)));
    pairs
        .filter(|(below, above)| how(below) == how(above) && same_place(below.place(), above.place()))
        .max_by_key(|(below, above)| (below.fresh() && above.fresh(), below.at.min(above.at), below.at.max(above.at)))
}
