//! The job as data: what a setup holds, what is owed, where each thing is read and in which order.
//!
//! Every blade at mid stick at its own station and half a turn on, the clip left on, so that the mean is free of the lean of model
//! and swashplate; the next blade begins where it then stands, or nearest to it. Where something speaks against a level swashplate,
//! blade A at the two stations between besides. Then the pull of the cable, the ends of the collective where the head wants
//! them, the cyclic ends, the tail with both leading edges; each axis once more before its blade is left for good. (Common practice, no
//! source.)

use super::cell::{Basis, Cell, CellName, Verdict};
use super::collective::half_turn_on;
use super::finding::Question;
use super::head::Head;
use super::in_question::InQuestion;
use super::limits::LimitRecord;
use super::owed::is_swept;
use super::setup::Entry;
use super::subject::Subject;
use super::swash_level::is_owed_round;
use super::timeline::{Dated, Timeline, same_place, same_station};
use super::trade;
use crate::rotor::{Axis, BladeName, Carrier, Collective, Deflection, LeadingEdge, Rudder, Spot, Station};
use crate::uncertainty::Target;
use crate::units::Angle;
use serde::{Deserialize, Serialize};

/// Where the clip sits for a task.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Seat {
    /// The blade that carries it.
    pub blade: BladeName,
    /// Where that blade stands.
    pub spot: Spot,
}

impl Seat {
    /// The blade that carries the sensor, as one of several is named.
    #[must_use]
    pub const fn carrier(self) -> Carrier {
        Carrier::of(self.blade, self.spot)
    }
}

/// One thing to do at a seat.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Task {
    /// One axis direction is captured.
    Capture(Deflection),
    /// The cable is lifted and let go, to see whether it pulls.
    Cable,
    /// An axis is moved to both its ends once more.
    OnceMore(Axis),
}

/// One line of the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planned {
    /// What is done.
    pub task: Task,
    /// Where.
    pub seat: Seat,
    /// Whether the setup holds it already, and nothing was turned since.
    pub held: bool,
    /// Whether capturing it again would not help: the stick goes past a bind, and its end point must come down first.
    pub blocked: bool,
}

/// The ends that a record of this head has, in the order in which they are shown: those of the collective only where the
/// head asks for them.
pub fn ends(head: &Head) -> impl Iterator<Item = (Deflection, Target)> {
    let axes = trade::SWEPT.into_iter().chain([Axis::Collective]);
    axes.filter_map(trade::ends).flatten().filter_map(|end| Some((end, head.target(end)?)))
}

/// The plan of a head, with what its setup holds.
#[must_use]
pub fn plan(head: &Head, entries: &[Entry]) -> Vec<Planned> {
    let (timeline, record) = (Timeline::on(head, entries), LimitRecord::new(head, entries));
    let now = Now { head, timeline: &timeline, record: &record };
    let planned = |(task, seat)| Planned { task, seat, held: now.is_held(task, seat), blocked: now.is_blocked(task) };
    let is_wanted = |(task, seat): &(Task, Seat)| !is_left_out(&record, *task, *seat);
    job(head, now.owes_the_plate(), now.owes_the_tail_split()).into_iter().filter(is_wanted).map(planned).collect()
}

fn job(head: &Head, plate: bool, tail_split: bool) -> Vec<(Task, Seat)> {
    let mid = trade::neutral(Axis::Collective);
    let square = trade::own_station(head, trade::neutral(Axis::Elevator));
    let along = trade::own_station(head, trade::neutral(Axis::Aileron));
    let zero = |(blade, station)| (Task::Capture(mid), Seat { blade, spot: Spot::Main(station) });
    let mut stations = zeros(head, square);
    if plate {
        // After the two of blade A, which is the first: so it is read round the turn with one seat of the clip.
        stations.splice(2..2, [along, half_turn_on(along)].map(|station| (BladeName::A, station)));
    }
    let mut lines: Vec<(Task, Seat)> = stations.into_iter().map(zero).collect();
    let mut on_a = |spot: Spot, tasks: &[Task]| {
        lines.extend(tasks.iter().map(|&task| (task, Seat { blade: BladeName::A, spot })));
    };
    let wanted = |axis| ends(head).map(|(end, _)| end).filter(move |end| end.axis() == axis).map(Task::Capture);
    let with_neutral =
        |axis| std::iter::once(Task::Capture(trade::neutral(axis))).chain(wanted(axis)).collect::<Vec<_>>();
    on_a(Spot::Main(square), &[Task::Cable]);
    on_a(Spot::Main(square), &wanted(Axis::Collective).chain(wanted(Axis::Elevator)).collect::<Vec<_>>());
    on_a(Spot::Main(along), &with_neutral(Axis::Aileron));
    on_a(Spot::Main(along), &[Task::OnceMore(Axis::Aileron)]);
    on_a(Spot::Main(square), &[Task::OnceMore(Axis::Elevator)]);
    for edge in [LeadingEdge::Up, LeadingEdge::Down] {
        on_a(Spot::Tail(edge), &with_neutral(Axis::Rudder));
    }
    on_a(Spot::Tail(LeadingEdge::Down), &[Task::OnceMore(Axis::Rudder)]);
    if tail_split {
        // Where blade A's leading edge points down, that of the blade beyond the shaft points up.
        let others = head.tail.blades.names().skip(1).map(|blade| Seat { blade, spot: Spot::Tail(LeadingEdge::Up) });
        lines.extend(others.map(|seat| (Task::Capture(trade::neutral(Axis::Rudder)), seat)));
    }
    lines
}

/// Whether all that would be captured for was left out on purpose: nobody is led there.
fn is_left_out(record: &LimitRecord, task: Task, seat: Seat) -> bool {
    let Task::Capture(deflection) = task else { return false };
    let left_out = |name| record.cell(name).is_some_and(|cell: &Cell| cell.left_out.is_some());
    match deflection {
        // A zero is half of a track split besides.
        Deflection::Collective(Collective::Mid) if seat.blade == BladeName::A => false,
        Deflection::Collective(Collective::Mid) => {
            left_out(CellName::Zero(seat.blade)) && left_out(CellName::Track(seat.blade))
        }
        Deflection::Rudder(Rudder::Neutral) => {
            // Not wanted, or left out.
            let neutral = record.cell(CellName::TailNeutral).is_none_or(|cell| !cell.is_owed());
            neutral && ends_left_out(record, Axis::Rudder)
        }
        end if end.is_neutral() => ends_left_out(record, end.axis()),
        end => left_out(CellName::Limit(end)),
    }
}

fn ends_left_out(record: &LimitRecord, axis: Axis) -> bool {
    let left_out = |end| record.cell(CellName::Limit(end)).is_some_and(|cell| cell.left_out.is_some());
    trade::ends(axis).is_some_and(|ends| ends.into_iter().all(left_out))
}

/// Each blade at this station and half a turn on, in either order, from blade A on. The next blade is the one that has the
/// shortest way to one of both, so that the head is turned as little as can be.
pub(super) fn zeros(head: &Head, square: Station) -> Vec<(BladeName, Station)> {
    let opposite = half_turn_on(square);
    let count = f64::from(head.blades.get());
    let mut left: Vec<BladeName> = head.blades.names().collect();
    let mut order: Vec<(BladeName, Station)> = Vec::new();
    // Where blade A stands, degrees.
    let mut stands = f64::from(square);
    while !left.is_empty() {
        let behind = |blade: BladeName| 360.0 * blade.index() as f64 / count;
        let ways = left.iter().flat_map(|&blade| [(blade, square), (blade, opposite)]);
        let way = |&(blade, station): &(BladeName, Station)| {
            Station::from_degrees(stands + behind(blade)).map_or(Angle::ZERO, |now| now.distance(station))
        };
        // The first of equals: to the thousandth of a degree they are.
        let thousandths = |to: &(BladeName, Station)| (way(to).degrees() * 1000.0).round() as i64;
        let Some((blade, first)) = ways.min_by_key(thousandths) else { break };
        left.retain(|other| *other != blade);
        let second = half_turn_on(first);
        order.extend([(blade, first), (blade, second)]);
        stands = f64::from(second) - behind(blade);
    }
    order
}

/// What the setup holds.
struct Now<'n, 'a> {
    head: &'n Head,
    timeline: &'n Timeline<'a>,
    record: &'n LimitRecord,
}

impl Now<'_, '_> {
    fn captured(&self, name: CellName) -> bool {
        self.record.cell(name).is_some_and(|cell| cell.verdict.is_captured())
    }

    fn owes_the_plate(&self) -> bool {
        self.record.cell(CellName::SwashLevel).is_some_and(is_owed_round)
    }

    /// Whether the tail blades are still to be held against each other. It is wanted to the end: a line that was captured stays.
    fn owes_the_tail_split(&self) -> bool {
        self.record.cell(CellName::TailSplit).is_some_and(Cell::is_owed)
    }

    /// Whether the split between this blade and blade A is still to come; of blade A, between it and any other.
    fn owes_a_split(&self, blade: BladeName) -> bool {
        let mut others = self.head.blades.names().skip(1).filter(|other| blade == BladeName::A || *other == blade);
        let is_left_out = |name| self.record.cell(name).is_some_and(|cell| cell.left_out.is_some());
        others.any(|other| !self.captured(CellName::Track(other)) && !is_left_out(CellName::Track(other)))
    }

    /// A zero is held once its blade's collective is known; until then a reading of it is while the clip sits as it sat then: the
    /// other half of its pair can only be read on the same seat. For a split, a reading at the blades' own station is wanted against
    /// the zero that is in force, and for a plate of which something is doubted all of them with one seat.
    fn holds_zero(&self, here: Subject) -> bool {
        let blade = here.blade();
        let cell = self.record.cell(CellName::Zero(blade)).filter(|cell| cell.verdict.is_captured());
        let known = cell.and_then(|cell| cell.value.as_ref()).is_some_and(|value| value.basis == Basis::Collective);
        let own = trade::own_station(self.head, here.deflection());
        let at_own = here.station().is_some_and(|station| station.distance(own) <= same_station());
        let for_the_plate = self.owes_the_plate() && (blade == BladeName::A || self.fits_no_rotor());
        let for_a_split = at_own && self.owes_a_split(blade);
        if known && !for_the_plate && !for_a_split {
            return true;
        }
        let seat = match (for_the_plate, known) {
            // The seat on which blade A is being read round the turn.
            (true, _) if blade == BladeName::A => self.newest_of_a().map(|newest| newest.capture.seat),
            (true, _) | (_, true) => None,
            _ => self.timeline.all().next_back().map(|last| last.capture.seat),
        };
        let any_seat = known && !(for_the_plate && blade == BladeName::A);
        // Readings that fit no rotor together are read anew from blade A on.
        let since =
            if for_the_plate && blade != BladeName::A { self.newest_of_a().map(|newest| newest.order) } else { None };
        self.timeline.of(here.deflection()).any(|d| {
            d.is_fresh()
                && self.timeline.is_of_now(d)
                && same_place(d.subject(), here)
                && since.is_none_or(|since| d.order > since)
                && (any_seat || d.capture.sensor.carrier.is_some() || Some(d.capture.seat) == seat)
        })
    }

    fn newest_of_a(&self) -> Option<&Dated<'_>> {
        let mid = trade::neutral(Axis::Collective);
        self.timeline.of(mid).rfind(|d| d.subject().blade() == BladeName::A && d.is_fresh())
    }

    fn fits_no_rotor(&self) -> bool {
        let asked = self.record.cell(CellName::SwashLevel).and_then(|cell| cell.question.as_ref());
        matches!(asked, Some(Question::NoRotor { .. }))
    }

    /// A main blade's cell may have been captured anywhere; a tail end counts with its own leading edge, and a neutral at its own
    /// place, because it belongs to the ends that are read there.
    fn is_held(&self, task: Task, seat: Seat) -> bool {
        match (task, seat.spot) {
            (Task::Cable, _) => self.captured(CellName::Cable),
            (Task::OnceMore(axis), _) => is_swept(&self.record.swept, axis),
            (Task::Capture(deflection @ Deflection::Collective(Collective::Mid)), spot) => {
                Subject::new(deflection, seat.blade, spot).is_ok_and(|here| self.holds_zero(here))
            }
            (Task::Capture(end), Spot::Main(_)) if !end.is_neutral() => self.captured(CellName::Limit(end)),
            (Task::Capture(deflection), spot) => {
                let Ok(here) = Subject::new(deflection, seat.blade, spot) else { return false };
                let contradicted = !deflection.is_neutral() && self.is_contradicted(deflection);
                let at_end = |d: &&Dated<'_>| deflection.is_neutral() || d.capture.reaches_the_end();
                let mut fresh = self.timeline.of(deflection).filter(at_end).filter(|d| d.is_fresh());
                !contradicted && fresh.any(|d| same_place(d.subject(), here))
            }
        }
    }

    fn is_blocked(&self, task: Task) -> bool {
        let Task::Capture(end) = task else { return false };
        let past_a_bind = |because: &InQuestion| matches!(because, InQuestion::PastBind { .. });
        let cell = self.record.cell(CellName::Limit(end));
        cell.is_some_and(
            |cell| matches!(&cell.verdict, Verdict::InQuestion { because } if because.iter().all(past_a_bind)),
        )
    }

    fn is_contradicted(&self, end: Deflection) -> bool {
        let cell = self.record.cell(CellName::Limit(end));
        cell.is_some_and(|cell| matches!(cell.verdict, Verdict::InQuestion { .. }))
    }
}
