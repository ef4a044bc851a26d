//! Every stick moved to its ends once more, after the limits are set: what each direction reached, against the record.
//!
//! One sweep is of one axis on one blade at one place, because only there does the axis show. Its values are travels from
//! the neutral that it began with, so that clip, datum and lean of the model are in none of them.

use super::cell::{Basis, Cell, CellName, Verdict};
use super::head::Head;
use super::limit_cell::travel_with;
use super::limits::LimitRecord;
use super::setup::{Entry, Event, turned};
use super::subject::Subject;
use super::timeline::{Dated, Timeline};
use super::trade;
use crate::rotor::{Axis, BladeName, Deflection, LeadingEdge, Rudder, Spot};
use crate::units::Angle;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A blade that was never still at an end is known no better than so much.
const IN_PASSING_DEGREES: f64 = 0.5;
/// A blade that swung so far past where it came to rest has overshot. [common practice, no source]
const OVERSHOT_DEGREES: f64 = 0.5;

/// One direction, moved once more.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Swept {
    /// Which.
    pub deflection: Deflection,
    /// The furthest that was seen, from neutral, positive in this direction; zero where it did not move.
    #[serde(rename = "furthest_deg")]
    pub furthest: Angle,
    /// Where it came to rest at its end; none where it was never still there.
    #[serde(rename = "held_deg")]
    pub held: Option<Angle>,
    /// Where the blade came to rest when the stick went back, pitch from the neutral before.
    #[serde(rename = "returned_deg")]
    pub returned: Option<Angle>,
    /// A servo buzzed where the blade was held at its end, and not at centre.
    #[serde(default)]
    pub buzzes: bool,
}

/// One axis, moved to both its ends.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Sweep {
    /// The blade that was watched.
    pub blade: BladeName,
    /// Where it stood.
    pub spot: Spot,
    /// Both directions.
    pub ends: Vec<Swept>,
}

impl Swept {
    /// A direction that has not moved yet.
    #[must_use]
    pub const fn still(deflection: Deflection) -> Self {
        Self { deflection, furthest: Angle::ZERO, held: None, returned: None, buzzes: false }
    }

    /// The same as its axis' own station would show it: the record's travels are whole.
    fn whole(self, head: &Head, spot: Spot) -> Self {
        let share = match spot {
            Spot::Main(station) => trade::share_at(head, self.deflection, station).map(f64::abs),
            Spot::Tail(_) => None,
        };
        match share.filter(|share| *share >= trade::LEAST_SHARE) {
            Some(share) => Self { furthest: self.furthest / share, held: self.held.map(|held| held / share), ..self },
            None => self,
        }
    }

    /// Whether it moved at all.
    #[must_use]
    pub fn moves(&self) -> bool {
        self.furthest.degrees() >= trade::UNMOVED_DEGREES
    }

    /// How far it came: where it was held, else the furthest that was seen.
    #[must_use]
    pub fn reached(&self) -> Angle {
        self.held.unwrap_or(self.furthest)
    }

    /// How far it swung past the place at which it came to rest, where that is more than a servo's settling.
    #[must_use]
    pub fn overshoot(&self) -> Option<Angle> {
        let past = self.furthest - self.held?;
        (past.degrees() > OVERSHOT_DEGREES).then_some(past)
    }
}

impl Sweep {
    /// Lost motion: the blade at centre after one end less after the other; none where it did not rest there after both.
    #[must_use]
    pub fn lost_motion(&self) -> Option<Angle> {
        match self.ends.as_slice() {
            [one, other] => Some((one.returned? - other.returned?).abs()),
            _ => None,
        }
    }
}

/// What a direction did when it was moved once more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reach {
    /// It came to where the record has it.
    AsRecorded,
    /// It came less far than the record has it.
    Short,
    /// It came further than the record has it.
    Beyond,
    /// It did not move.
    StandsStill,
    /// It moved, and the record has no travel to hold it against.
    NotRecorded,
}

/// A direction that was moved once more, held against the record.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SweptEnd {
    /// Which.
    pub deflection: Deflection,
    /// How far it came.
    #[serde(rename = "reached_deg")]
    pub reached: Angle,
    /// What the record has.
    #[serde(rename = "recorded_deg")]
    pub recorded: Option<Angle>,
    /// By how much the two may differ and still be the same.
    #[serde(rename = "within_deg")]
    pub within: Angle,
    /// How far it swung past where it came to rest.
    #[serde(rename = "overshoot_deg")]
    pub overshoot: Option<Angle>,
    /// Lost motion of its axis at centre.
    #[serde(rename = "lost_motion_deg")]
    pub lost_motion: Option<Angle>,
    /// Lost motion is its axis's: the last of its ends says it.
    #[serde(skip)]
    says_slack: bool,
    /// The main blade that was watched; none of the tail.
    #[serde(skip)]
    main_blade: Option<BladeName>,
    /// Whether the end was captured again since.
    #[serde(skip)]
    pub(super) is_older: bool,
    /// As much lost motion as the head's description allows.
    #[serde(rename = "lost_motion_allowed_deg")]
    pub allowed: Angle,
    /// A servo buzzes at this end.
    pub buzzes: bool,
    /// What that means.
    pub reach: Reach,
}

impl SweptEnd {
    /// Holds a direction against the record.
    #[must_use]
    pub fn judge(head: &Head, entries: &[Entry], record: &LimitRecord, sweep: &Sweep, end: &Swept) -> Self {
        Self::against(head, &record.cells, &Timeline::on(head, entries), sweep, end)
    }

    fn against(head: &Head, cells: &[Cell], timeline: &Timeline<'_>, sweep: &Sweep, end: &Swept) -> Self {
        let cell = cells.iter().find(|cell| cell.name == CellName::Limit(end.deflection));
        let holds = |cell: &Cell| cell.verdict.is_captured() || matches!(cell.verdict, Verdict::InQuestion { .. });
        let value = cell.and_then(|cell| cell.value.as_ref().filter(|v| holds(cell) && v.basis == Basis::Travel));
        // Lost motion that the head's description allows is no change; the station was set by eye again.
        let allowed = head.targets.slop.value();
        let passing = if end.held.is_some() { Angle::ZERO } else { Angle::from_degrees(IN_PASSING_DEGREES) };
        let with_edge = match sweep.spot {
            Spot::Tail(edge) => travel_with(head, timeline, end.deflection, edge),
            Spot::Main(_) => None,
        };
        let known = value.map(|value| with_edge.unwrap_or((value.angle, value.expanded)));
        let within = known.map_or(allowed, |(_, expanded)| expanded.hypot(allowed)) + passing;
        let recorded = known.map(|(angle, _)| angle);
        let end = &end.whole(head, sweep.spot);
        let reach = match recorded {
            _ if !end.moves() => Reach::StandsStill,
            None => Reach::NotRecorded,
            Some(recorded) if end.reached() < recorded - within => Reach::Short,
            Some(recorded) if end.reached() > recorded + within => Reach::Beyond,
            Some(_) => Reach::AsRecorded,
        };
        Self {
            deflection: end.deflection,
            reached: end.reached(),
            recorded,
            within,
            overshoot: end.overshoot(),
            lost_motion: sweep.lost_motion(),
            main_blade: matches!(sweep.spot, Spot::Main(_)).then_some(sweep.blade),
            says_slack: sweep.ends.last().is_some_and(|last| last.deflection == end.deflection),
            is_older: false,
            allowed,
            buzzes: end.buzzes,
            reach,
        }
    }

    /// Whether it came as far as it should, and into nothing.
    #[must_use]
    pub const fn is_good(&self) -> bool {
        matches!(self.reach, Reach::AsRecorded | Reach::NotRecorded) && !self.buzzes
    }

    /// Whether the lost motion of its axis is said with this end: it is the last one.
    #[must_use]
    pub const fn says_slack(&self) -> bool {
        self.says_slack
    }

    /// The main blade on which more lost motion showed than is allowed.
    #[must_use]
    pub(super) fn loose_blade(&self) -> Option<BladeName> {
        self.main_blade.filter(|_| self.slack().is_some())
    }

    /// Lost motion of its axis, where it is more than is allowed.
    #[must_use]
    pub fn slack(&self) -> Option<Angle> {
        self.lost_motion.filter(|lost| *lost > self.allowed)
    }
}

/// Every direction that was moved once more and from which nothing was turned since, in the order of the axes.
///
/// An end that was captured again since is swept anew, unless it came to where the record has it now.
pub(super) fn swept(head: &Head, cells: &[Cell], timeline: &Timeline<'_>, entries: &[Entry]) -> Vec<SweptEnd> {
    let mut found: Vec<SweptEnd> = Vec::new();
    for axis in trade::SWEPT {
        let Some((at, sweep)) = newest(entries, axis) else { continue };
        let moved_since = |end: &Swept| {
            let Ok(subject) = Subject::new(end.deflection, sweep.blade, sweep.spot) else { return true };
            turned(entries).any(|(turned_at, by)| turned_at > at && by.can_move(head, subject))
        };
        let ends = sweep.ends.iter().filter(|end| !moved_since(end));
        let again = |end: &SweptEnd| {
            let captures = cells.iter().find(|cell| cell.name == CellName::Limit(end.deflection));
            let of = |d: &&Dated<'_>| {
                captures.and_then(|c| c.value.as_ref()).is_some_and(|v| v.captures.contains(&d.capture.id))
            };
            timeline.of(end.deflection).filter(of).any(|d| d.order > at)
        };
        let judged = ends.map(|end| SweptEnd::against(head, cells, timeline, sweep, end));
        let dated = judged.map(|end| SweptEnd { is_older: again(&end), ..end });
        found.extend(dated.filter(|end| end.is_good() || !end.is_older));
    }
    found
}

/// The newest sweep of an axis, and where it stands among the entries.
fn newest(entries: &[Entry], axis: Axis) -> Option<(usize, &Sweep)> {
    entries.iter().enumerate().rev().find_map(|(at, entry)| match &entry.event {
        Event::Swept { sweep } if sweep.ends.iter().any(|end| end.deflection.axis() == axis) => Some((at, sweep)),
        _ => None,
    })
}

/// +1 where rudder right makes the pitch of a tail blade larger, −1 where smaller: as the head's description says, else as
/// the newest captures with that leading edge show; none where neither does.
#[must_use]
pub fn rudder_sign(head: &Head, entries: &[Entry], edge: LeadingEdge) -> Option<f64> {
    if let Some(described) = trade::rudder_right(head) {
        return Some(described);
    }
    let timeline = Timeline::on(head, entries);
    // A rudder that was reversed since goes the other way.
    let fresh = |rudder| {
        let with_edge = timeline.of(Deflection::Rudder(rudder)).filter(|d| d.subject().spot() == Spot::Tail(edge));
        with_edge.rev().filter(|dated| dated.is_fresh())
    };
    let right = fresh(Rudder::Right).next()?;
    let beside = |rudder| fresh(rudder).find(|dated| dated.is_comparable(right));
    let from = beside(Rudder::Neutral).or_else(|| beside(Rudder::Left))?;
    Some((right.capture.reading.angle - from.capture.reading.angle).radians().signum())
}
