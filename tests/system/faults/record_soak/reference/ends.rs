//! What must stand in the cell of an end, and what puts it in question.

use super::super::step::{Move, Place};
use super::cells::{ENDS, Seen, Stands, Sum, newest, same_place, zero};
use super::rules::{Rule, Rules, axis_of, end_point, is_centred};
use super::{Deed, Setup, Shot, tail};

/// Where less than this shows of a deflection, nothing is said of the whole.
const LEAST_PART: f64 = 0.5;
/// From here on all of it shows: within ten degrees of the axis' own station.
const ALL_OF_IT: f64 = 0.985;
/// End points set by hand differ by as much, percent.
const PERCENT_APART: f64 = 0.5;

/// What is to be known of an end besides its value.
#[derive(Debug, Clone, PartialEq)]
pub struct End {
    /// Counted from the neutral of its place; else nothing shows that the stick was moved.
    pub is_travel: bool,
    /// Where each blade stands at an end of the tail, or the one at an end of the collective; none at a cyclic end, and nothing of it
    /// where no reading tells.
    pub pitch: Option<Vec<(char, Sum)>>,
    /// Where a bind was met: whether full stick goes past it.
    pub bind: Option<Past>,
    /// The sweep that is held against it.
    pub sweep: Option<Again>,
}

/// Whether full stick goes past a bind.
#[derive(Debug, Clone, PartialEq)]
pub enum Past {
    /// As the outputs say.
    Told(bool),
    /// As the blade shows, where an output is not known: how far it moves now, and how far it had moved there.
    Seen { now: Sum, bound: Sum },
}

/// The same end in a sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct Again {
    /// The deed.
    pub at: usize,
    /// The first end of its axis, or the second.
    pub which: usize,
    /// The part of it that showed there.
    pub part: f64,
    /// A servo buzzed there.
    pub buzzes: bool,
    /// It was captured after the sweep.
    pub newer: bool,
}

/// The part of a cyclic deflection that a blade shows: the elevator's all of it square to the boom, the aileron's along it.
fn part(what: &str, place: Place) -> f64 {
    match (axis_of(what), place) {
        ("elevator", Place::Main { station, .. }) => station.to_radians().sin().abs(),
        ("aileron", Place::Main { station, .. }) => station.to_radians().cos().abs(),
        _ => 1.0,
    }
}

impl Seen<'_> {
    fn part(&self) -> f64 {
        part(self.what(), self.place())
    }

    /// What a blade that stands anywhere within five degrees of its station loses of a cyclic deflection on the average.
    fn lost(&self) -> f64 {
        let cyclic = matches!(axis_of(self.what()), "elevator" | "aileron");
        if cyclic { 5f64.to_radians().powi(2) / 6.0 } else { 0.0 }
    }

    pub(super) fn is_at_the_end(&self) -> bool {
        self.shot.is_at_the_end()
    }

    /// Whoever backs off from full stick does not say to where.
    pub(super) fn stick(&self) -> Option<f64> {
        let wish = self.shot.wish;
        match axis_of(wish.what) {
            "collective" if wish.bound => None,
            "collective" => Some((wish.stick - 50.0).abs() / 50.0),
            _ if wish.bound && wish.stick.abs() >= 99.0 => None,
            _ => Some(wish.stick.abs() / 100.0),
        }
    }
}

impl Shot {
    pub(super) fn is_at_the_end(&self) -> bool {
        let wish = self.wish;
        wish.bound || wish.what.starts_with("collective") || wish.stick.abs() >= 99.0
    }
}

impl Setup {
    /// An end: how far the blade stands from its neutral, where one was read there; the tail's is the mean of both edges.
    pub(super) fn limit(&self, all: &[Seen<'_>], end: &str, rules: Rules) -> Option<Stands> {
        let of_end = || all.iter().filter(|seen| seen.what() == end && seen.is_at_the_end());
        let mut chosen: Vec<&Seen<'_>> = if end.starts_with("rudder") {
            let with_edge = |up| {
                best(all, of_end().filter(move |seen| matches!(seen.place(), Place::Tail { up: so, .. } if so == up)))
            };
            [true, false].into_iter().filter_map(with_edge).collect()
        } else {
            best(all, of_end()).into_iter().collect()
        };
        if chosen.iter().any(|seen| seen.fresh()) {
            chosen.retain(|seen| seen.fresh());
        }
        let last = *chosen.iter().max_by_key(|seen| seen.at)?;
        chosen.retain(|seen| seen.goes_with(last));
        let neutrals: Vec<Vec<&Seen<'_>>> = chosen.iter().map(|seen| neutrals(all, seen)).collect();
        let is_travel = neutrals.iter().all(|some| !some.is_empty());
        let whole = |seen: &Seen<'_>| {
            let divided = is_travel && rules.know(Rule::PartsAreDivided);
            let lost = if is_travel { seen.lost() } else { 0.0 };
            (1.0 + lost) / chosen.len() as f64 / if divided { seen.part() } else { 1.0 }
        };
        let counted: Vec<(f64, &Seen<'_>)> = chosen.iter().map(|seen| (whole(seen), *seen)).collect();
        let taken_off: Vec<(f64, &Seen<'_>)> = counted
            .iter()
            .zip(&neutrals)
            .flat_map(|((share, _), some)| some.iter().map(move |n| (-share / some.len() as f64, *n)))
            .collect();
        let with_neutrals = Stands::new(counted.iter().chain(&taken_off).copied().collect());
        // Without a travel a neutral that is there for one edge alone is no part of the value, but what made it stale counts.
        let stands =
            if is_travel { with_neutrals } else { Stands { stale: with_neutrals.stale, ..Stands::new(counted) } };
        let on_tail = end.starts_with("rudder") && rules.know(Rule::TailStands);
        let has_no_centre = end.starts_with("collective");
        let pitch = if has_no_centre {
            rules.know(Rule::CollectiveIsPitch).then(|| from_zero(all, chosen[0], &stands, is_travel, rules))
        } else {
            on_tail.then(|| tail::pitch(all, end, chosen[0]))
        };
        let end = End {
            is_travel: is_travel || has_no_centre || !rules.know(Rule::EndsNeedANeutral),
            pitch,
            bind: rules.know(Rule::BindsStopFullStick).then(|| self.past_a_bind(all, end, chosen[0], rules)).flatten(),
            sweep: rules.know(Rule::SweepsContradict).then(|| self.again(end, &chosen, rules)).flatten(),
        };
        Some(Stands { end: Some(end), ..stands })
    }

    /// Whether the last capture is an end that nothing can be counted from: the neutral of its place is asked for first.
    pub fn lacks_its_neutral(&self, rules: Rules) -> bool {
        let all = self.seen(rules);
        let Some(last) = all.last().filter(|seen| seen.at + 1 == self.deeds.len()) else { return false };
        let may_stand = matches!(axis_of(last.what()), "elevator" | "aileron" | "rudder") && !is_centred(last.what());
        let asks = may_stand && last.is_at_the_end() && neutrals(&all, last).is_empty();
        asks && rules.know(Rule::EndsNeedANeutral)
    }

    /// The output that reaches the servos, percent, by the end point that was recorded last before.
    fn output(&self, seen: &Seen<'_>, rules: Rules) -> Option<f64> {
        Some(seen.stick()? * self.end_point_before(seen.at, seen.what(), rules).unwrap_or(100.0))
    }

    pub(super) fn end_point_before(&self, at: usize, end: &str, rules: Rules) -> Option<f64> {
        self.turns(rules).rev().filter(|(turned, _)| *turned < at).find_map(|(_, what)| end_point(what, end))
    }

    /// Whether full stick goes past where this end bound; none where it never did, or something was turned since that may have
    /// taken the bind away. Its own end points take none away.
    fn past_a_bind(&self, all: &[Seen<'_>], end: &str, now: &Seen<'_>, rules: Rules) -> Option<Past> {
        let stays = |seen: &&Seen<'_>| seen.turned.iter().all(|what| is_set_at_the_transmitter(what));
        let met = all.iter().rfind(|seen| seen.what() == end && seen.shot.wish.bound && stays(seen))?;
        if met.part() < LEAST_PART {
            return None;
        }
        let is_the_bind = now.shot.wish.bound;
        let output = match (is_the_bind, self.output(now, rules)) {
            // Where it bound the stick stood short of its end, and goes as far as the end point lets it.
            (true, Some(_)) => self.end_point_before(self.deeds.len(), end, rules),
            (true, None) => None,
            (false, output) => output,
        };
        Some(match (output, self.output(met, rules)) {
            (Some(output), Some(bound)) => Past::Told(output > bound + PERCENT_APART),
            _ if is_the_bind => Past::Told(false),
            _ => Past::Seen { now: moved(all, now), bound: moved(all, met) },
        })
    }

    /// The newest sweep of an axis while nothing was turned since that can have moved this end of it.
    pub(super) fn again(&self, end: &str, captures: &[&Seen<'_>], rules: Rules) -> Option<Again> {
        let swept = |deed: &Deed| matches!(deed, Deed::Swept { axis, .. } if *axis == axis_of(end));
        let at = self.deeds.iter().rposition(swept)?;
        let Deed::Swept { place, moves, .. } = self.deeds[at] else { return None };
        if self.turns(rules).any(|(turned, what)| turned > at && rules.touches(what, end, place)) {
            return None;
        }
        let which = ENDS.iter().position(|one| *one == end)? % 2;
        let newer = captures.iter().any(|seen| seen.at > at);
        let part = Some(part(end, place)).filter(|part| *part >= LEAST_PART).unwrap_or(1.0);
        Some(Again { at, which, part, buzzes: moves[which] == Move::Buzzing, newer })
    }
}

/// The collective is a pitch: how the blade stands at mid stick, and its travel from there.
fn from_zero(all: &[Seen<'_>], end: &Seen<'_>, travel: &Stands, is_travel: bool, rules: Rules) -> Vec<(char, Sum)> {
    let Place::Main { blade, .. } = end.place() else { return Vec::new() };
    match zero(all, blade, rules).filter(|zero| zero.stale.is_empty()) {
        _ if !is_travel && end.tells => vec![(blade, travel.shares.clone())],
        Some(zero) if is_travel => vec![(blade, zero.shares.iter().chain(&travel.shares).copied().collect())],
        _ => Vec::new(),
    }
}

/// Whether this moves the stick's end alone, and no part of the linkage: no bind goes away with it.
fn is_set_at_the_transmitter(turned: &str) -> bool {
    let is_trim = turned.contains(" trim ");
    is_trim || [" end point", "cyclic range", "collective range"].iter().any(|what| turned.contains(what))
}

pub(super) fn touches_ends_only(turned: &str, end: &str) -> bool {
    turned.contains("end point") && axis_of(turned) == axis_of(end)
}

/// Which capture of an end stands for it: one that holds before others, then one that is a travel, then one that shows more of
/// the deflection, then the newest. Where too little shows it stands for none.
fn best<'s, 'a>(all: &[Seen<'a>], captures: impl Iterator<Item = &'s Seen<'a>>) -> Option<&'s Seen<'a>>
where
    'a: 's,
{
    let shown = |seen: &Seen<'_>| {
        // Nobody sets a blade so well that a fiftieth would tell two stations apart.
        if seen.part() >= ALL_OF_IT { 51 } else { (seen.part() * 50.0).round() as u32 }
    };
    let is_travel = |seen: &Seen<'_>| {
        let neutrals = neutrals(all, seen);
        !neutrals.is_empty() && (!seen.fresh() || neutrals.iter().all(|neutral| neutral.fresh()))
    };
    captures
        .filter(|seen| seen.part() >= LEAST_PART)
        .max_by_key(|seen| (seen.fresh(), is_travel(seen), shown(seen), seen.at))
}

/// How far a blade moved, as its axis' own station shows it; as it was read where no neutral was.
fn moved(all: &[Seen<'_>], seen: &Seen<'_>) -> Sum {
    let neutrals = neutrals(all, seen);
    let whole = (1.0 + seen.lost()) / seen.part();
    let less = neutrals.iter().map(|n| (-whole / neutrals.len() as f64, n.at));
    std::iter::once((whole, seen.at)).chain(less).collect()
}

/// What a limit is counted from: the neutral before and the one after it on the same seat, where they hold; else the newest.
pub(super) fn neutrals<'s, 'a>(all: &'s [Seen<'a>], limit: &Seen<'a>) -> Vec<&'s Seen<'a>> {
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
