//! A corner of the controls against the sum of its parts.
//!
//! Collective and cyclic add at the blade: read at one place, a corner stands where neutral and the movements of its parts
//! add up to. One that falls short by more than the uncertainty and the lost motion has met a bind, or the mixer's own
//! limit, or only the arcs of the servo arms, which shorten a large sum by a degree (common practice, no source). What the
//! blade reads cannot tell them apart: it is called a bind only with a servo that buzzes, a reading that creeps, or the
//! person's word; else it is asked.
//!
//! Nobody has to measure corners. One that bound, or may have, before something was turned is owed again; of several captures
//! the newest that can be judged stands, and a newer one that cannot, and in which a servo buzzes, puts it in question.

use super::buzz;
use super::capture::{Answered, Capture, LimitedBy};
use super::cell::{Basis, Cell, CellName, Earlier, Value, Verdict};
use super::diagonal::Diagonal;
use super::finding::{BindSign, CellFinding, Shortfall, Undecided};
use super::head::Head;
use super::in_question::InQuestion;
use super::slop_cell::slop_cell;
use super::subject::Subject;
use super::timeline::{Dated, Timeline, best, each_once, same_place};
use super::trade::{self, FULL_PERCENT};
use super::travel::{Neutral, azimuth, neutral_for, own_budget};
use crate::filter::Vibration;
use crate::rotor::{Axis, Corner, Deflection};
use crate::uncertainty::{Budget, Component, Contribution, Target};
use crate::units::{Angle, Percent};

/// Past this pitch against the shaft a usual section stalls: drag rises between 10° and 16° as the Reynolds number
/// grows from 160,000 to a million (NACA 0012: Sheldahl and Klimas, SAND80-2114, 1981; figures from its table as edited).
const STALL_DEGREES: f64 = 14.0;

/// A part that moves the blade less than this has no direction of its own, degrees.
const LEAST_PART_DEGREES: f64 = 1.0;

/// So much of a sum the arcs of the servo arms may take away, degrees. [common practice, no source]
pub(super) const ARCS_DEGREES: f64 = 1.0;

/// A reading that crept by less than this in one hold did not creep, degrees. [common practice, no source]
const CREEP_DEGREES: f64 = 0.2;

/// A station where no more than this share of an axis shows: what is left of it is known well enough from elsewhere.
const LITTLE: f64 = 0.2;

/// Every corner that was captured and can be judged, in the order of the stick; `ends` are the cells of the axes.
pub(super) fn corner_cells(head: &Head, timeline: &Timeline<'_>, ends: &[Cell]) -> Vec<Cell> {
    let mut corners: Vec<Corner> = timeline.corners().collect();
    corners.sort_unstable();
    corners.dedup();
    corners.into_iter().filter_map(|corner| corner_cell(head, timeline, ends, corner)).collect()
}

/// The captures that a corner needs beside itself and that are not there: its neutral and its parts, at its own place.
pub(super) fn missing_parts(head: &Head, timeline: &Timeline<'_>, subject: Subject) -> Vec<Deflection> {
    let Deflection::Corner(corner) = subject.deflection() else { return Vec::new() };
    let Some(dated) = best(timeline.of(subject.deflection()).filter(|d| same_place(d.subject(), subject))) else {
        return Vec::new();
    };
    let neutral = neutral_for(timeline, dated).is_none().then_some(trade::neutral(Axis::Corner));
    neutral.into_iter().chain(corner.parts().filter(|part| Part::of(head, timeline, dated, *part).is_none())).collect()
}

/// What one axis alone moves the blade by at the corner's place.
pub(super) struct Part {
    axis: Axis,
    pub(super) moved: Angle,
    /// What makes it uncertain.
    pub(super) budget: Budget,
    /// Where the stick was at the corner, as a share of where it was for the part.
    pub(super) stick: f64,
    /// How strongly the blade swung while it was read.
    swing: Angle,
}

impl Part {
    fn of(head: &Head, timeline: &Timeline<'_>, corner: &Dated<'_>, deflection: Deflection) -> Option<Self> {
        // A corner that is stale keeps its last value: the parts are then as old as it is.
        let holds = |d: &&Dated<'_>| d.is_fresh() || !corner.is_fresh();
        let at_end = || timeline.of(deflection).filter(holds).filter(|d| d.capture.reaches_the_end());
        let same_blade = |d: &&Dated<'_>| d.subject().blade() == corner.subject().blade();
        let counted = |d: &&Dated<'_>| neutral_for(timeline, d).is_some();
        let here = best(at_end().filter(|d| same_place(d.subject(), corner.subject())).filter(counted));
        // The collective moves a blade alike at every station.
        let elsewhere = || best(at_end().filter(same_blade).filter(counted));
        let used = here.or_else(elsewhere)?;
        let neutral = neutral_for(timeline, used)?;
        let moved = used.capture.reading.angle - neutral.angle;
        let budget = own_budget(used.capture).difference(&neutral.budget);
        let (share, more) = match here {
            Some(_) => (1.0, of_the_station(head, corner, used, moved)),
            None => share_elsewhere(head, corner, used, moved)?,
        };
        let stick = share_of_the_stick(corner, used)?;
        let share = share * stick;
        let budget = Budget::combination(&[(share, &budget)]);
        Some(Self {
            axis: deflection.axis(),
            moved: moved * share,
            budget: more.map_or(budget.clone(), |more| budget.with(more)),
            stick,
            swing: buzz::swing(used.capture),
        })
    }
}

/// How far the cyclic stick was over at the corner, as a share of where it was over for the part alone. Where that one was
/// backed off to nobody knows where, nothing but another full stick can be held against it: that comes to the bind as well.
fn share_of_the_stick(corner: &Dated<'_>, part: &Dated<'_>) -> Option<f64> {
    if part.subject().deflection().axis() == Axis::Collective {
        return Some(1.0);
    }
    let (corner, part) = (corner.capture.stick.value().abs(), part.capture.known_stick());
    match part.map(|stick| stick.value().abs()) {
        Some(part) => (part > 0.0).then(|| corner / part),
        None => (corner >= FULL_PERCENT).then_some(1.0),
    }
}

/// On one seat of the clip the blade was left where it stood; else its station was set anew.
fn of_the_station(head: &Head, corner: &Dated<'_>, part: &Dated<'_>, moved: Angle) -> Option<Contribution> {
    let left_alone = corner.capture.seat == part.capture.seat;
    let off = || azimuth(part.capture, moved, head.rotation, head.control_phase, head.station_error);
    if left_alone { None } else { off() }
}

/// The share of a movement read at another station that shows at the corner's, and what its station is uncertain by.
fn share_elsewhere(
    head: &Head,
    corner: &Dated<'_>,
    part: &Dated<'_>,
    moved: Angle,
) -> Option<(f64, Option<Contribution>)> {
    let deflection = part.subject().deflection();
    if deflection.axis() == Axis::Collective {
        return Some((1.0, None));
    }
    let at = |subject: Subject| trade::share_at(head, deflection, subject.station()?);
    let (here, there) = (at(corner.subject())?, at(part.subject())?);
    if here.abs() > LITTLE || there.abs() < 0.5 {
        return None;
    }
    let slope = moved / there * (1.0 - here * here).sqrt();
    let off = Contribution::rectangular(Component::Azimuth, slope.abs() * head.station_error.radians()).assumed();
    Some((here / there, Some(off)))
}

fn corner_cell(head: &Head, timeline: &Timeline<'_>, ends: &[Cell], corner: Corner) -> Option<Cell> {
    let mut captures: Vec<&Dated<'_>> = timeline.of(Deflection::Corner(corner)).collect();
    captures.sort_by_key(|d| (d.is_fresh(), d.order));
    let judged = captures.iter().rev().find_map(|used| judged_by(head, timeline, ends, corner, used));
    let (mut cell, at) = match judged {
        Some((cell, used)) => (Some(cell), captures.iter().position(|d| d.order == used.order)),
        None => (None, None),
    };
    // One that nothing can be held against says at least that a servo works against something.
    let newer = captures.get(at.map_or(0, |at| at + 1)..).unwrap_or_default();
    if let Some(vibration) = newer.iter().rev().filter(|d| d.is_fresh()).find_map(|d| unexplained(d)) {
        let nothing = || Cell::missing(CellName::Corner(corner), Target::AtMost(Angle::from_degrees(ARCS_DEGREES)));
        let cell = cell.get_or_insert_with(nothing);
        cell.verdict = Verdict::InQuestion { because: vec![InQuestion::Buzzes { vibration }] };
        (cell.consequence, cell.owed) = (None, true);
    }
    cell
}

/// A servo that buzzes, where nobody has said that it is right so.
fn unexplained(dated: &Dated<'_>) -> Option<Vibration> {
    buzz::against(dated.capture, std::iter::empty()).filter(|_| !dated.capture.answers(Answered::Buzzes))
}

/// The corner by one capture, where its neutral and its parts were read.
fn judged_by<'t, 'a>(
    head: &Head,
    timeline: &'t Timeline<'a>,
    ends: &[Cell],
    corner: Corner,
    used: &'t Dated<'a>,
) -> Option<(Cell, &'t Dated<'a>)> {
    let deflection = Deflection::Corner(corner);
    let neutral = neutral_for(timeline, used)?;
    let parts: Vec<Part> = corner.parts().map(|part| Part::of(head, timeline, used, part)).collect::<Option<_>>()?;
    let sum: Angle = parts.iter().map(|part| part.moved).sum();
    let moved = used.capture.reading.angle - neutral.angle;
    let own = own_budget(used.capture).difference(&neutral.budget);
    let mut terms = vec![(1.0, &own)];
    terms.extend(parts.iter().map(|part| (-1.0, &part.budget)));
    let against_sum = Budget::combination(&terms).expanded().expanded;
    let allowed = against_sum + slop(head, timeline, used);

    let sense = parts.iter().filter(|part| part.axis != Axis::Collective).map(|part| part.moved).sum::<Angle>();
    let sense = if sense < Angle::ZERO { -1.0 } else { 1.0 };
    let unasked = allowed + Angle::from_degrees(ARCS_DEGREES);
    let target = Target::Band { target: rounded(sum * sense), tolerance: rounded(unasked) };
    let mut cell = Cell::missing(CellName::Corner(corner), target);
    cell.value = Some(Value {
        angle: moved * sense,
        expanded: own.expanded().expanded,
        basis: Basis::Travel,
        as_read: used.capture.reading.angle,
        budget: Budget::combination(&[(sense, &own)]),
        captures: vec![used.capture.id],
    });
    cell.history =
        timeline.of(deflection).filter(|d| d.capture.id != used.capture.id).map(|d| Earlier::of(d.capture)).collect();
    cell.remarks.extend(stall(used.capture));
    let short = shortfall(&parts, moved - sum, used.capture).filter(|short| short.by > allowed);
    // What the arcs alone explain is no reason to ask, but where something else shows a bind it is how far that falls short.
    let is_asked = short.is_some_and(|short| short.by > unasked);
    judged(&mut cell, timeline, used, &neutral, &parts, (short, is_asked));
    let (collective, cyclic): (Vec<&Part>, Vec<&Part>) = parts.iter().partition(|part| part.axis == Axis::Collective);
    let raised: Angle = collective.iter().map(|part| part.moved).sum();
    let mut terms = vec![(1.0, &own)];
    terms.extend(collective.iter().map(|part| (-1.0, &part.budget)));
    let of_cyclic = Budget::combination(&terms);
    if let Some(diagonal) = Diagonal::of(head, ends, corner, (moved - raised, &of_cyclic), &cyclic) {
        diagonal.judge(&mut cell);
    }
    let of_neutral = neutral.captures.iter().flat_map(|n| &n.stale_by);
    cell.make_stale(&each_once(used.stale_by.iter().chain(of_neutral)));
    Some((cell, used))
}

/// A difference from the sum that takes away from one of its parts; the largest of them, seen as a share of the part.
fn shortfall(parts: &[Part], difference: Angle, corner: &Capture) -> Option<Shortfall> {
    let short = parts.iter().filter(|part| part.moved.abs().degrees() > LEAST_PART_DEGREES).map(|part| {
        let by = -difference * part.moved.radians().signum();
        let of_collective = part.axis == Axis::Collective;
        let whole = if of_collective { 100.0 } else { corner.stick.value().abs() };
        let left = (1.0 - by / part.moved.abs()).clamp(0.0, 1.0);
        Shortfall { by, of_collective, limit: Percent::new(((whole * left).floor() - 1.0).max(0.0)) }
    });
    // Both cyclic parts are one stick's: what is lowered is the cyclic before the collective.
    short.filter(|short| short.by > Angle::ZERO).min_by_key(|short| short.of_collective)
}

fn judged(
    cell: &mut Cell,
    timeline: &Timeline<'_>,
    used: &Dated<'_>,
    neutral: &Neutral<'_>,
    parts: &[Part],
    (short, is_asked): (Option<Shortfall>, bool),
) {
    let said_bound = used.capture.limited_by == LimitedBy::Bind;
    let sign = sign_of_a_bind(timeline, used, neutral, parts);
    (cell.verdict, cell.consequence) = match (short, sign) {
        // Just short of the bind, by the person's word.
        (_, None) if said_bound => (Verdict::Bound, Some(CellFinding::JustShort)),
        (short, Some(sign)) => (Verdict::Outside, Some(CellFinding::CornerBinds { short, sign })),
        (_, None) if !is_asked => (Verdict::Inside, None),
        (Some(short), None) if used.capture.answers(Answered::FallsShort) => {
            cell.remarks.push(CellFinding::FallsShortUnbound { by: short.by });
            (Verdict::Inside, None)
        }
        (Some(short), None) => (Verdict::Undecided { by: Undecided::DoesItBind }, Some(CellFinding::FallsShort(short))),
        (None, None) => (Verdict::Inside, None),
    };
}

/// A buzz that is no hum, or a reading that crept on since it was read before in the same hold: nothing was captured in between.
fn sign_of_a_bind(
    timeline: &Timeline<'_>,
    used: &Dated<'_>,
    neutral: &Neutral<'_>,
    parts: &[Part],
) -> Option<BindSign> {
    let hum = parts.iter().map(|part| part.swing).chain(neutral.captures.iter().map(|n| buzz::swing(n.capture)));
    if let Some(vibration) = buzz::against(used.capture, hum).filter(|_| !used.capture.answers(Answered::Buzzes)) {
        return Some(BindSign::Buzz { vibration });
    }
    let again = |d: &&Dated<'_>| {
        let (now, then) = (used.capture, d.capture);
        d.is_fresh() && (now.seat, now.stick, now.datum.id) == (then.seat, then.stick, then.datum.id)
    };
    let before = timeline.all().rfind(|d| d.order < used.order)?;
    let same = before.subject() == used.subject() && again(&before);
    let before = same.then_some(before)?;
    // What comes nearer to its sum has met nothing.
    let sum = neutral.angle + parts.iter().map(|part| part.moved).sum::<Angle>();
    let off = |d: &Dated<'_>| (d.capture.reading.angle - sum).abs();
    let before = Some(before).filter(|before| off(used) > off(before))?;
    let by = used.capture.reading.angle - before.capture.reading.angle;
    let expanded = own_budget(used.capture).difference(&own_budget(before.capture)).expanded().expanded;
    (by.abs() > expanded && by.abs().degrees() >= CREEP_DEGREES).then_some(BindSign::Creep { by, expanded })
}

/// Lost motion as it was measured on that blade, else as much as is allowed.
fn slop(head: &Head, timeline: &Timeline<'_>, used: &Dated<'_>) -> Angle {
    let measured = slop_cell(head, timeline, used.subject().blade())
        .filter(|cell| cell.verdict.is_captured())
        .and_then(|cell| cell.value);
    measured.map_or(head.targets.slop.value(), |value| value.angle.abs())
}

/// Past a section's usual stall: warned about, not forbidden.
fn stall(capture: &Capture) -> Option<CellFinding> {
    let pitch = capture.reading.angle;
    (pitch.abs().degrees() > STALL_DEGREES).then_some(CellFinding::PastStall { pitch })
}

fn rounded(angle: Angle) -> Angle {
    Angle::from_degrees((angle.degrees() * 100.0).round() / 100.0)
}
