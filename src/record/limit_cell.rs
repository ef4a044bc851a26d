//! The end of an axis in one direction: from its captures and their neutrals to a cell.
//!
//! Main and tail rotor go the same way; the tail has up to two captures for one end (leading edge up and down),
//! whose mean is free of the model's roll. The sign comes from the head's geometry; where that foretells nothing
//! (the tail without a description, a station near the zero crossing) it is learned from the other direction.
//!
//! A blade that moved the other way than foretold raises a question. Where the person answered that it is right as it was
//! read, the movement counts in the direction in which it was captured, and a remark keeps saying so.

use super::capture::{Answered, Capture, LimitedBy};
use super::cell::{Basis, Cell, CellName, Earlier, Value, Verdict};
use super::collective::{Standing, Standings, lean};
use super::finding::{CellFinding, Question, Undecided};
use super::head::Head;
use super::in_question;
use super::neutral_moved;
use super::off_axis::{self, best_end};
use super::tail_stand::{KnownFrom, Stands, stands, with_other_edge};
use super::timeline::{Dated, Timeline, each_once, same_place};
use super::trade;
use super::travel::{Neutral, azimuth, neutral_for, own_budget};
use crate::rotor::{Axis, Datum, Deflection, Expectation, LeadingEdge, Spot};
use crate::uncertainty::{Budget, Decision, Target, decide};
use crate::units::{Angle, Percent};

/// One capture of a limit with the neutral that belongs to it.
#[derive(Debug)]
pub(super) struct End<'a> {
    pub(super) limit: Dated<'a>,
    pub(super) neutral: Option<Neutral<'a>>,
}

impl<'a> End<'a> {
    fn new(timeline: &Timeline<'a>, limit: &Dated<'a>) -> Self {
        Self { limit: limit.clone(), neutral: neutral_for(timeline, limit) }
    }

    const fn capture(&self) -> &'a Capture {
        self.limit.capture
    }

    fn angle(&self) -> Angle {
        self.capture().reading.angle
    }

    fn beyond_neutral(&self) -> Option<Angle> {
        self.neutral.as_ref().map(|n| self.angle() - n.angle)
    }

    fn is_fresh(&self) -> bool {
        self.limit.is_fresh() && self.neutral.iter().flat_map(|n| &n.captures).all(Dated::is_fresh)
    }
}

/// The captures that stand for one end of an axis: one on the main rotor, one for each leading edge on the tail.
pub(super) fn ends<'a>(head: &Head, timeline: &Timeline<'a>, deflection: Deflection) -> Vec<End<'a>> {
    let at_end = || timeline.of(deflection).filter(|d| d.capture.reaches_the_end());
    let with_edge = |edge| {
        let edge_of = move |d: &&Dated<'a>| d.subject().spot() == Spot::Tail(edge);
        best_end(head, timeline, at_end().filter(edge_of))
    };
    let limits: Vec<&Dated<'a>> = if deflection.axis() == Axis::Rudder {
        let both: Vec<_> = [LeadingEdge::Up, LeadingEdge::Down].into_iter().filter_map(with_edge).collect();
        // One reading that holds beats the mean with one that does not.
        let fresh: Vec<_> = both.iter().copied().filter(|d| d.is_fresh()).collect();
        let held = if fresh.is_empty() { both } else { fresh };
        // The mean is free of the roll only while model and zero stayed as they were.
        let newest = held.iter().copied().max_by_key(|d| d.order);
        held.into_iter().filter(|d| newest.is_some_and(|n| d.is_comparable(n))).collect()
    } else {
        best_end(head, timeline, at_end()).into_iter().collect()
    };
    limits.into_iter().map(|limit| End::new(timeline, limit)).collect()
}

/// The cell of one end of an axis.
pub(super) fn limit_cell(
    head: &Head,
    timeline: &Timeline<'_>,
    standings: &Standings<'_, '_>,
    deflection: Deflection,
    target: Target,
) -> Cell {
    let ends = ends(head, timeline, deflection);
    let mut cell = Cell::missing(CellName::Limit(deflection), target);
    let Some(first) = ends.first() else {
        cell.consequence = Some(CellFinding::NotCaptured { left_out: None });
        cell.remarks.extend(not_used(head, timeline, deflection, &ends));
        return cell;
    };
    let moved = Moved::of(head, &ends);
    let sense = sense(head, timeline, first, &moved);
    let mut value = moved.value(&ends, sense);
    cell.question = question(head, timeline, &ends, &moved, &value);
    cell.remarks = remarks(head, &ends, value.basis);
    cell.remarks.extend(not_used(head, timeline, deflection, &ends));
    let answered =
        |question: &Question| question.answer().filter(|doubt| ends.iter().all(|end| end.capture().answers(*doubt)));
    let mut way = sense;
    match cell.question.as_ref().and_then(answered) {
        Some(Answered::Unmoved) => cell.remarks.insert(0, CellFinding::AcceptedUnmoved),
        Some(Answered::OtherWay) => {
            cell.remarks.insert(0, CellFinding::AcceptedContradiction);
            // An end of the collective keeps the sign of the pitch.
            if deflection.axis() != Axis::Collective {
                way = -sense;
                value = moved.value(&ends, way);
            }
        }
        _ => {}
    }
    cell.question = cell.question.take().filter(|question| answered(question).is_none());
    cell.history = earlier(timeline, deflection, &value);
    let bound = ends.iter().any(|e| e.capture().limited_by == LimitedBy::Bind);
    let questioned = cell.question.is_some();
    cell.verdict = match (ends.iter().all(End::is_fresh), deflection.axis()) {
        (false, _) => Verdict::Stale { by: turned_since(&ends) },
        (true, Axis::Rudder) => {
            // The acceptance of a contradiction turned the value; the pitch turns with it.
            cell.stands = stands(timeline, &first.limit, target, way);
            match unproven(&value, deflection) {
                Some(by) if !questioned => Verdict::Undecided { by },
                _ => judge_tail(target, &value, cell.stands.as_ref(), bound, questioned),
            }
        }
        (true, Axis::Collective) => {
            let (stands, half_turn_on) = pitch_of(standings, first, &value).unzip();
            cell.stands = stands;
            judge_collective(target, &value, cell.stands.as_ref(), half_turn_on.flatten(), (bound, questioned))
        }
        (true, _) => match unproven(&value, deflection) {
            Some(by) if !questioned => Verdict::Undecided { by },
            _ => judge(target, &value, bound, questioned),
        },
    };
    if let (Some(stands), Basis::Travel, Axis::Collective) = (&cell.stands, value.basis, deflection.axis()) {
        cell.remarks.push(CellFinding::JudgedFromZero { zero: stands.angle - value.angle, travel: value.angle });
    } else if let (Some(stands), Basis::Travel) = (&cell.stands, value.basis) {
        if cell.verdict != Verdict::Inside {
            cell.remarks.push(CellFinding::JudgedAsItStands { travel: value.angle, blade: stands.blade });
        }
        if let (KnownFrom::OneEdge, Spot::Tail(leading_edge)) = (stands.known_from, first.capture().subject.spot()) {
            cell.remarks.push(CellFinding::OneLeadingEdge { leading_edge });
        }
    }
    cell.value = Some(value);
    cell.consequence = match (&cell.verdict, &cell.value) {
        (Verdict::Bound, Some(value)) => Some(just_short_of_a_bind(&ends, value.angle)),
        _ => cell.plain_consequence(),
    };
    cell
}

/// A stick that was backed off by hand leaves its end point where it was, beyond the bind.
fn just_short_of_a_bind(ends: &[End<'_>], travel: Angle) -> CellFinding {
    let bound = ends.iter().map(End::capture).filter(|capture| capture.limited_by == LimitedBy::Bind);
    match bound.min_by(|a, b| share(a).total_cmp(&share(b))) {
        Some(capture) if capture.known_stick().is_none() => CellFinding::BackedOff { at: travel },
        Some(capture) if share(capture) < 0.99 => {
            CellFinding::StickGoesFurther { share: Percent::new((share(capture) * 100.0 + 1e-6).floor()) }
        }
        _ => CellFinding::JustShort,
    }
}

/// How far over the stick is, of its way from the middle.
fn share(capture: &Capture) -> f64 {
    let stick = capture.stick.value();
    (if capture.subject.deflection().axis() == Axis::Collective { (stick - 50.0) / 50.0 } else { stick / 100.0 }).abs()
}

/// How far the blade moved, mean over the captures, before its sign is turned into the commanded direction.
#[derive(Debug)]
struct Moved {
    angle: Angle,
    basis: Basis,
    budget: Budget,
}

impl Moved {
    fn of(head: &Head, ends: &[End<'_>]) -> Self {
        // A mean of a travel and an absolute angle would be neither.
        let basis = if ends.iter().all(|e| e.neutral.is_some()) { Basis::Travel } else { Basis::Absolute };
        let weight = 1.0 / ends.len() as f64;
        let mut angle = Angle::ZERO;
        let mut terms: Vec<(f64, Budget)> = Vec::new();
        for end in ends {
            let moved = end.beyond_neutral().filter(|_| basis == Basis::Travel).unwrap_or_else(|| end.angle());
            let own = own_budget(end.capture());
            let off = azimuth(end.capture(), moved, head.rotation, head.control_phase, head.station_error);
            // Of a travel it is known how much of it shows; an angle against the datum holds more than the deflection.
            let whole = if basis == Basis::Travel { off_axis::whole(head, end.capture()) } else { 1.0 };
            let weight = weight * whole;
            angle += moved * weight;
            terms.push((weight, off.map_or(own.clone(), |off| own.with(off))));
            if let Some(neutral) = end.neutral.as_ref().filter(|_| basis == Basis::Travel) {
                terms.push((-weight, neutral.budget.clone()));
            }
        }
        let budget = Budget::combination(&terms.iter().map(|(w, b)| (*w, b)).collect::<Vec<_>>());
        Self { angle, basis, budget }
    }

    fn value(&self, ends: &[End<'_>], sense: f64) -> Value {
        let budget = Budget::combination(&[(sense, &self.budget)]);
        let neutrals = ends.iter().filter(|_| self.basis == Basis::Travel).filter_map(|e| e.neutral.as_ref());
        Value {
            angle: self.angle * sense,
            expanded: budget.expanded().expanded,
            basis: self.basis,
            as_read: ends.iter().map(End::angle).sum::<Angle>() / ends.len() as f64,
            budget,
            captures: ends
                .iter()
                .map(|e| e.capture().id)
                .chain(neutrals.flat_map(|n| n.captures.iter().map(|c| c.capture.id)))
                .collect(),
        }
    }
}

/// How far a tail blade travels to an end with this leading edge alone, and U of that; none where it was not read so from a neutral.
/// Against the mean of both edges a reading with one of them differs by the sensor's own error.
pub(super) fn travel_with(
    head: &Head,
    timeline: &Timeline<'_>,
    deflection: Deflection,
    edge: LeadingEdge,
) -> Option<(Angle, Angle)> {
    let mut ends = ends(head, timeline, deflection);
    ends.retain(|end| end.capture().subject.spot() == Spot::Tail(edge) && end.neutral.is_some());
    let moved = Moved::of(head, &ends);
    (!ends.is_empty()).then(|| (moved.angle.abs(), moved.budget.expanded().expanded))
}

fn expectation(head: &Head, end: &End<'_>) -> Option<Expectation> {
    let subject = end.capture().subject;
    trade::expectation(head, subject.deflection(), subject.station()?)
}

/// The sign that makes a movement positive in the commanded direction; +1 on the collective, whose ends keep the
/// sign of the pitch.
fn sense(head: &Head, timeline: &Timeline<'_>, end: &End<'_>, moved: &Moved) -> f64 {
    let deflection = end.capture().subject.deflection();
    if deflection.axis() == Axis::Collective {
        return 1.0;
    }
    if let Some(sign) = trade::sign(head, deflection, end.capture().subject.spot()) {
        return sign;
    }
    let other: Vec<End<'_>> = trade::opposite(deflection).map_or_else(Vec::new, |o| ends(head, timeline, o));
    let is_tail = deflection.axis() == Axis::Rudder;
    let beside = other.iter().any(|o| is_tail || same_place(end.capture().subject, o.capture().subject));
    let against = if beside { Moved::of(head, &other) } else { return moved.angle.radians().signum() };
    if against.basis == moved.basis {
        (moved.angle - against.angle).radians().signum()
    } else {
        moved.angle.radians().signum()
    }
}

/// A stick with a centre whose blade was not read there may never have been moved.
fn unproven(value: &Value, deflection: Deflection) -> Option<Undecided> {
    let may_stand = value.basis == Basis::Absolute && trade::SWEPT.contains(&deflection.axis());
    may_stand.then(|| Undecided::NoNeutral { neutral: trade::neutral(deflection.axis()) })
}

/// The question to ask when the blade moved the other way than its command or hardly, or its neutral is doubtful.
fn question(head: &Head, timeline: &Timeline<'_>, ends: &[End<'_>], moved: &Moved, value: &Value) -> Option<Question> {
    if moved.basis == Basis::Travel && moved.angle.abs().degrees() < trade::UNMOVED_DEGREES {
        return Some(Question::Unmoved { travel: moved.angle.abs() });
    }
    let neutrals = ends.iter().filter_map(|end| end.neutral.as_ref()).flat_map(|n| &n.captures);
    let doubtful = || neutrals.filter(|n| n.is_fresh()).find_map(|n| neutral_moved::question(timeline, n));
    other_way(head, ends.first()?, moved, value).or_else(doubtful)
}

/// The blade moved the other way than its command.
fn other_way(head: &Head, end: &End<'_>, moved: &Moved, value: &Value) -> Option<Question> {
    if let Some(expected) = expectation(head, end) {
        let neutral = end.neutral.as_ref().map(|n| n.angle);
        // Whatever is more than unmoved has a direction.
        let doubt = if neutral.is_some() { Angle::ZERO } else { value.expanded };
        return expected.contradiction(end.angle(), neutral, doubt).map(Question::Contradiction);
    }
    let subject = end.capture().subject;
    let deflection = subject.deflection();
    // Against the datum alone a tail may well stand on one side with either stick.
    let may_be = moved.basis != Basis::Travel || deflection.axis() == Axis::Collective;
    (!may_be && value.angle < Angle::ZERO).then(|| Question::TailWay {
        deflection,
        moved: moved.angle,
        described: trade::sign(head, deflection, subject.spot()).is_some(),
    })
}

fn remarks(head: &Head, ends: &[End<'_>], basis: Basis) -> Vec<CellFinding> {
    let mut remarks: Vec<CellFinding> =
        (basis == Basis::Absolute).then_some(CellFinding::NoNeutral).into_iter().collect();
    for end in ends {
        remarks.extend(end.neutral.iter().filter(|_| basis == Basis::Travel).filter_map(|n| n.closure.clone()));
        remarks.extend(off_its_station(head, end.capture()).filter(|_| basis == Basis::Travel));
        remarks.extend(into_a_bind(end));
    }
    if let ([only], Basis::Absolute) = (ends, basis)
        && let Spot::Tail(leading_edge) = only.capture().subject.spot()
    {
        remarks.push(CellFinding::OneLeadingEdge { leading_edge });
    }
    remarks
}

/// A servo that buzzes at its end, and not at centre, is held against something.
fn into_a_bind(end: &End<'_>) -> Option<CellFinding> {
    let vibration = in_question::vibration(end)?;
    Some(CellFinding::Buzzes { vibration, backed_off: end.capture().limited_by == LimitedBy::Bind })
}

/// A cyclic deflection read away from where it is largest shows only a part of itself.
fn off_its_station(head: &Head, capture: &Capture) -> Option<CellFinding> {
    let share = off_axis::share(head, capture)?;
    let station = capture.subject.station()?;
    let own = trade::own_station(head, capture.subject.deflection());
    (share < trade::WHOLE_SHARE).then_some(CellFinding::OffItsStation { station, own, share })
}

/// A newer capture that does not stand in the cell, and why.
fn not_used(head: &Head, timeline: &Timeline<'_>, deflection: Deflection, ends: &[End<'_>]) -> Option<CellFinding> {
    let used: Vec<Dated<'_>> = ends.iter().map(|end| end.limit.clone()).collect();
    let at_end = timeline.of(deflection).filter(|d| d.capture.reaches_the_end());
    let beside = at_end.filter(|d| match d.subject().spot() {
        Spot::Tail(_) => used.iter().any(|end| same_place(end.subject(), d.subject())),
        Spot::Main(_) => true,
    });
    off_axis::unused(head, timeline, beside, &used).map(|(capture, why)| CellFinding::NotUsed { capture, why })
}

fn earlier(timeline: &Timeline<'_>, deflection: Deflection, value: &Value) -> Vec<Earlier> {
    timeline
        .of(deflection)
        .filter(|d| !value.captures.contains(&d.capture.id))
        .map(|d| Earlier::of(d.capture))
        .collect()
}

fn turned_since(ends: &[End<'_>]) -> Vec<super::adjustment::Adjustment> {
    let of = |end: &'_ End<'_>| {
        let neutrals = end.neutral.iter().flat_map(|n| &n.captures);
        std::iter::once(&end.limit).chain(neutrals).flat_map(|d| d.stale_by.clone()).collect::<Vec<_>>()
    };
    each_once(&ends.iter().flat_map(of).collect::<Vec<_>>())
}

/// The pitch at which an end of the collective stands, zero and travel together, and where its blade must be read too for a zero
/// that is free of the lean. An angle against the datum is a pitch with the lean in it. None where no reading tells the pitch.
fn pitch_of(standings: &Standings<'_, '_>, end: &End<'_>, travel: &Value) -> Option<(Stands, Option<Undecided>)> {
    let capture = end.capture();
    let blade = capture.subject.blade();
    let stands = |angle, known_from, budget: Budget, captures| Stands {
        angle,
        expanded: budget.expanded().expanded,
        blade,
        known_from,
        budget,
        captures,
    };
    if travel.basis != Basis::Travel {
        let told = !matches!(capture.datum.datum, Datum::Neutral { .. });
        let budget = travel.budget.clone().with(lean(capture));
        return told.then(|| (stands(travel.angle, KnownFrom::OneStation, budget, vec![capture.id]), None));
    }
    let zero = standings.of(blade).filter(Standing::is_fresh)?;
    let budget = Budget::combination(&[(1.0, &zero.budget), (1.0, &travel.budget)]);
    let captures = zero.captures.iter().chain(&travel.captures).copied().collect();
    let known_from = if zero.is_free_of_lean() { KnownFrom::ZeroAndTravel } else { KnownFrom::OneStation };
    Some((stands(zero.pitch + travel.angle, known_from, budget, captures), zero.leaning()))
}

/// The verdict on an end of the collective: by its pitch, never by its travel.
fn judge_collective(
    target: Target,
    value: &Value,
    stands: Option<&Stands>,
    leaning: Option<Undecided>,
    (bound, questioned): (bool, bool),
) -> Verdict {
    let Some(stands) = stands else {
        return Verdict::Undecided { by: if questioned { Undecided::Questioned } else { Undecided::ZeroUnknown } };
    };
    match judge(target, &stands.value(value), bound, questioned) {
        Verdict::Undecided { by: by @ Undecided::TooClose(_) } => Verdict::Undecided { by: leaning.unwrap_or(by) },
        verdict => verdict,
    }
}

/// The verdict on a tail end: by the pitch at which the blade stands, never by its travel.
fn judge_tail(target: Target, value: &Value, stands: Option<&Stands>, bound: bool, questioned: bool) -> Verdict {
    let Some(stands) = stands else {
        return Verdict::Undecided { by: if questioned { Undecided::Questioned } else { Undecided::PitchUnknown } };
    };
    with_other_edge(judge(target, &stands.value(value), bound, questioned), stands.known_from)
}

/// The verdict on a value that holds. Short of the target because the linkage binds first is what `bound` means: a bind does not
/// make up for a value that is past its limit, or may be.
pub(super) fn judge(target: Target, value: &Value, bound: bool, questioned: bool) -> Verdict {
    if questioned {
        return Verdict::Undecided { by: Undecided::Questioned };
    }
    // A ceiling bounds the size of a deflection.
    let judged = if matches!(target, Target::AtMost(_)) { value.angle.abs() } else { value.angle };
    match decide(target, judged, &value.budget) {
        Decision::Inside if bound => Verdict::Bound,
        Decision::Inside => Verdict::Inside,
        Decision::Undecided(_) | Decision::Outside if bound && is_short_of(target, judged, value.expanded) => {
            Verdict::Bound
        }
        Decision::Undecided(doubt) => Verdict::Undecided { by: Undecided::TooClose(doubt) },
        Decision::Outside => Verdict::Outside,
    }
}

/// Whether a value lies between zero and the further limit of a target for certain.
fn is_short_of(target: Target, value: Angle, expanded: Angle) -> bool {
    match target {
        // What is not inside a ceiling is past it, or may be.
        Target::AtMost(_) => false,
        Target::Band { target, tolerance } => {
            let toward = value * target.radians().signum();
            toward >= Angle::ZERO && toward + expanded <= target.abs() + tolerance
        }
    }
}
