//! What to measure again: the shortest list of captures that makes a record complete.

use super::cell::{Cell, CellName, Verdict};
use super::collective::half_turn_on;
use super::head::Head;
use super::limit_cell::ends;
use super::plan::zeros;
use super::subject::Subject;
use super::swash_level::QUARTERS;
use super::timeline::{Dated, Timeline, best, same_place, same_station};
use super::trade;
use super::zero_cell::{MID, has_zero_at, zero_station};
use crate::rotor::{Axis, BladeName, Clip, Corner, Deflection, LeadingEdge, Spot, Station};
use serde::Serialize;
use std::fmt;

/// One capture that is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Wanted {
    /// What to deflect, and where to read it.
    #[serde(flatten)]
    pub subject: Subject,
    /// Which way the clip sits, as it did before.
    pub clip: Clip,
}

impl fmt::Display for Wanted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let clip = if self.clip == Clip::Reversed { ", clip reversed" } else { "" };
        f.pad(&format!("{}{clip}", self.subject))
    }
}

/// The captures that the cells without a valid value need, sorted so that blade and clip change as seldom as possible.
pub(super) fn remeasure(head: &Head, timeline: &Timeline<'_>, cells: &[Cell]) -> Vec<Wanted> {
    let mut list = List { head, timeline, wanted: Vec::new() };
    for cell in cells.iter().filter(|c| c.is_owed() && !c.verdict.is_captured()) {
        match cell.name {
            CellName::Zero(blade) => list.pair(blade),
            // Both against one zero, the model standing as it does now: one of them alone would not give a split.
            CellName::Track(blade) => {
                list.zero(BladeName::A, true);
                list.zero(blade, true);
            }
            CellName::Limit(end) if matches!(cell.verdict, Verdict::InQuestion { .. }) => list.once_more(end),
            CellName::Limit(end) => list.limit(end),
            CellName::TailNeutral => list.tail_neutral(),
            CellName::TailSplit => list.tail_split(),
            CellName::Droop(blade) => list.droop(blade),
            CellName::Corner(corner) => list.corner(corner),
            CellName::SwashLevel => list.plate(),
            // These are no captures of one place, or nobody has to measure them.
            CellName::Slop(_) | CellName::Spindle(_) | CellName::Cable => {}
        }
    }
    list.sorted()
}

struct List<'t, 'a> {
    head: &'t Head,
    timeline: &'t Timeline<'a>,
    wanted: Vec<Wanted>,
}

impl<'t, 'a> List<'t, 'a> {
    /// A blade at mid stick, at the station where the zeros are read; not if that is known already.
    fn zero(&mut self, blade: BladeName, of_now: bool) {
        let station = zero_station(self.head, self.timeline);
        if !has_zero_at(self.timeline, blade, station, of_now) {
            self.mid(blade, station);
        }
    }

    /// The same and half a turn on, the clip left on: from one station alone the lean would leave the zero undecided.
    fn pair(&mut self, blade: BladeName) {
        let station = zero_station(self.head, self.timeline);
        self.mid(blade, station);
        self.mid(blade, half_turn_on(station));
    }

    fn mid(&mut self, blade: BladeName, station: Station) {
        let clip = best(self.timeline.of(MID)).map_or(Clip::Forward, |d| d.capture.clip);
        self.add(MID, blade, Spot::Main(station), clip);
    }

    /// Both blades at one station: their slopes are no older than what has moved them.
    fn droop(&mut self, blade: BladeName) {
        self.zero(BladeName::A, true);
        self.zero(blade, true);
    }

    /// Blade A at every quarter of the turn, with one seat of the clip.
    fn plate(&mut self) {
        for station in QUARTERS.into_iter().filter_map(|quarter| Station::from_degrees(quarter).ok()) {
            self.mid(BladeName::A, station);
        }
    }

    /// Every tail blade at stick centre with one leading edge.
    fn tail_split(&mut self) {
        let (neutral, spot) = (trade::neutral(Axis::Rudder), Spot::Tail(LeadingEdge::Up));
        for blade in self.head.tail.blades.names() {
            let Ok(here) = Subject::new(neutral, blade, spot) else { continue };
            let held = |d: &Dated<'_>| d.is_fresh() && self.timeline.is_of_now(d) && same_place(d.subject(), here);
            if !self.timeline.of(neutral).any(held) {
                self.add(neutral, blade, spot, Clip::Forward);
            }
        }
    }

    /// A corner where its elevator shows whole, and its parts as far as they are not read on that blade.
    fn corner(&mut self, corner: Corner) {
        let deflection = Deflection::Corner(corner);
        let Ok(subject) = Subject::new(deflection, BladeName::A, Spot::Main(trade::own_station(self.head, deflection)))
        else {
            return;
        };
        self.neutral_of(Axis::Corner, subject, Clip::Forward);
        for part in corner.parts() {
            let Ok(there) = Subject::new(part, BladeName::A, Spot::Main(trade::own_station(self.head, part))) else {
                continue;
            };
            // The collective moves a blade alike at every station; of the cyclic a part tells elsewhere only where it shows whole.
            let tells = |d: &Dated<'_>| part.axis() == Axis::Collective || same_place(d.subject(), there);
            let held = |d: &Dated<'_>| d.is_fresh() && d.subject().blade() == BladeName::A && tells(d);
            if !self.timeline.of(part).filter(|d| d.capture.reaches_the_end()).any(held) {
                self.add(part, BladeName::A, there.spot(), Clip::Forward);
                self.neutral_of(part.axis(), there, Clip::Forward);
            }
        }
        self.add(deflection, BladeName::A, subject.spot(), Clip::Forward);
    }

    /// The tail at stick centre with both leading edges, unless it is wanted already.
    fn tail_neutral(&mut self) {
        let neutral = trade::neutral(Axis::Rudder);
        for spot in trade::own_spots(self.head, neutral) {
            self.add(neutral, BladeName::A, spot, Clip::Forward);
        }
    }

    /// An end whose value is contradicted, where it was captured.
    fn once_more(&mut self, end: Deflection) {
        for known in ends(self.head, self.timeline, end) {
            self.again(&known.limit);
        }
    }

    fn limit(&mut self, end: Deflection) {
        let known = ends(self.head, self.timeline, end);
        for old in &known {
            let lost = || old.neutral.iter().flat_map(|n| &n.captures).filter(|n| !n.is_fresh());
            // A neutral read now makes no travel with an end read against another zero, or of a model that stood otherwise.
            let too_old = lost().next().is_some() && !self.timeline.is_of_now(&old.limit);
            if too_old || !old.limit.is_fresh() {
                self.again(&old.limit);
            }
            for neutral in lost() {
                self.neutral_of(end.axis(), neutral.subject(), neutral.capture.clip);
            }
        }
        if known.is_empty() {
            self.first_time(end);
        }
    }

    /// An end that was never captured: where the other direction was, else where this axis shows.
    fn first_time(&mut self, end: Deflection) {
        let beside = trade::opposite(end).map_or_else(Vec::new, |o| ends(self.head, self.timeline, o));
        let mut places: Vec<(BladeName, Spot, Clip)> = beside
            .iter()
            .map(|e| (e.limit.subject().blade(), e.limit.subject().spot(), e.limit.capture.clip))
            .collect();
        if places.is_empty() {
            places = self.usual_places(end);
        }
        for (blade, spot, clip) in places {
            self.add(end, blade, spot, clip);
            if let Ok(subject) = Subject::new(end, blade, spot) {
                self.neutral_of(end.axis(), subject, clip);
            }
        }
    }

    /// Where this axis shows; the collective where the zeros are read.
    fn usual_places(&self, end: Deflection) -> Vec<(BladeName, Spot, Clip)> {
        let spots = match end.axis() {
            Axis::Collective | Axis::Corner => vec![Spot::Main(zero_station(self.head, self.timeline))],
            Axis::Elevator | Axis::Aileron | Axis::Rudder => trade::own_spots(self.head, end),
        };
        spots.into_iter().map(|spot| (BladeName::A, spot, Clip::Forward)).collect()
    }

    /// Stick centre at a place, unless a neutral that holds was read there or is wanted there already.
    fn neutral_of(&mut self, axis: Axis, beside: Subject, clip: Clip) {
        let here = |w: &Wanted| w.clip == clip && w.subject.deflection().is_neutral() && same_place(w.subject, beside);
        // Against another zero, or of a model that stood otherwise, it would give no travel.
        let holds = |d: &Dated<'_>| d.is_fresh() && self.timeline.is_of_now(d);
        let held = self.timeline.neutrals_at(beside, clip).any(holds);
        if !held && !self.wanted.iter().any(here) {
            self.add(trade::neutral(axis), beside.blade(), beside.spot(), clip);
        }
    }

    /// A neutral that an end read now would be counted from, where something was turned since.
    fn lost_neutral_of(&mut self, end: Subject, clip: Clip) {
        let lost = |n: &Dated<'_>| !n.is_fresh() && self.timeline.is_of_now(n);
        if self.timeline.neutrals_at(end, clip).any(lost) {
            self.neutral_of(end.deflection().axis(), end, clip);
        }
    }

    fn again(&mut self, old: &Dated<'a>) {
        self.add(old.subject().deflection(), old.subject().blade(), old.subject().spot(), old.capture.clip);
        if self.timeline.is_of_now(old) {
            self.lost_neutral_of(old.subject(), old.capture.clip);
        } else {
            // The neutral that is there is of another zero, or of a model that stood otherwise.
            self.neutral_of(old.subject().deflection().axis(), old.subject(), old.capture.clip);
        }
    }

    fn add(&mut self, deflection: Deflection, blade: BladeName, spot: Spot, clip: Clip) {
        let Ok(subject) = Subject::new(deflection, blade, spot) else { return };
        let wanted = Wanted { subject, clip };
        if !self.wanted.contains(&wanted) {
            self.wanted.push(wanted);
        }
    }

    /// Blade after blade as the zeros are read, half a turn on last: so the clip is moved once a blade and the head turned least.
    fn sorted(mut self) -> Vec<Wanted> {
        let order = zeros(self.head, zero_station(self.head, self.timeline));
        let first = |blade| order.iter().position(|(of, _)| *of == blade).unwrap_or(order.len());
        let is_half_on = |blade, station: Station| {
            let before = order.get(first(blade)).map(|(_, station)| half_turn_on(*station));
            before.is_some_and(|half| half.distance(station) <= same_station())
        };
        self.wanted.sort_by_key(|w| {
            let (blade, degrees) = (w.subject.blade(), |station: Station| station.azimuth().degrees().round() as i32);
            let place = match w.subject.spot() {
                Spot::Main(station) => (false, first(blade), is_half_on(blade, station), degrees(station)),
                Spot::Tail(edge) => (true, blade.index(), edge == LeadingEdge::Down, 0),
            };
            // A zero that is wrong makes all that is read after it stale again, and a corner is the sum of what was read before.
            let rank = match w.subject.deflection() {
                mid if mid == MID => 0,
                Deflection::Collective(_) => 1,
                Deflection::Elevator(_) | Deflection::Aileron(_) => 2,
                Deflection::Rudder(_) => 3,
                Deflection::Corner(_) => 4,
            };
            (rank, place, w.clip == Clip::Reversed, !w.subject.deflection().is_neutral())
        });
        self.wanted
    }
}
