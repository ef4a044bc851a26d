//! Whether the swashplate stands level at stick centre: what remains of the once-per-turn part of the pitch once the lean of the
//! model is known.
//!
//! A blade's neutrals at every quarter of the turn, or any stations from which the rotor is solved, tell the plate's tilt from the
//! lean, because only the lean shows in the slope of the span. From fewer stations the neutrals can only contradict a level plate:
//! where two of them differ by more than their uncertainty and the lean of a model together, the cell is in question. Where nothing
//! speaks against the plate and it was not read round the turn, there is no cell. Neutrals that follow no rotor are a question too.

use super::capture::Capture;
use super::cell::{Basis, Cell, CellName, Value, Verdict};
use super::collective::{LEAN_DEGREES, MOST_LEAN_DEGREES, Standings, tells_the_rotor};
use super::finding::{Question, Undecided};
use super::head::Head;
use super::limit_cell::judge;
use super::setup::{Entry, turned};
use super::subject::Subject;
use super::survey::RotorSurvey;
use super::timeline::{Dated, Timeline, same_place, same_station};
use super::trade;
use super::travel::own_budget;
use super::zero_cell::MID;
use crate::rotor::{BladeName, Spot, Station, Unknown};
use crate::uncertainty::{Budget, Component, Contribution};
use crate::units::Angle;

/// The stations that show the plate whole, counted from the first.
pub(super) const QUARTERS: [f64; 4] = [0.0, 90.0, 180.0, 270.0];

/// Stations further apart than this are opposite.
const OPPOSITE_DEGREES: f64 = 135.0;

/// The plate's tilt at stick centre, θ(ψ) = θ0 + θ1c·cosψ + θ1s·sinψ.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PlateTilt {
    pub(super) cos: Angle,
    pub(super) sin: Angle,
    value: Value,
}

impl PlateTilt {
    /// U of its size, for 95 %.
    pub(super) const fn expanded(&self) -> Angle {
        self.value.expanded
    }
}

/// What the readings that hold say about the plate.
enum Found {
    Cell(Box<Cell>),
    /// It stands level as far as was read, and nothing speaks against it.
    Level,
    /// It was not read.
    Nothing,
}

/// The cell, where the head was read round the turn or something speaks against a level plate. A plate that was not as it should be
/// before something was turned is owed until it is read again: whatever was turned may not have put it right.
pub(super) fn swash_level_cell(head: &Head, standings: &Standings<'_, '_>) -> Option<Cell> {
    match now(head, standings) {
        Found::Cell(cell) => Some(*cell),
        Found::Level => None,
        Found::Nothing => before(head, standings.entries()),
    }
}

/// The cell as it was before the last adjustment that can have moved the plate, where it was amiss then.
fn before(head: &Head, entries: &[Entry]) -> Option<Cell> {
    let mid = Subject::new(MID, BladeName::A, Spot::Main(trade::own_station(head, MID))).ok()?;
    let (at, by) = turned(entries).rfind(|(_, by)| by.can_move(head, mid))?;
    let earlier = entries.get(..at)?;
    let timeline = Timeline::on(head, earlier);
    let mut cell = swash_level_cell(head, &Standings::new(head, earlier, &timeline))?;
    let mut since = if let Verdict::Stale { by } = &cell.verdict { by.clone() } else { Vec::new() };
    let amiss = cell.question.is_some() || cell.verdict == Verdict::Outside;
    if since.is_empty() && !amiss {
        return None;
    }
    since.push(by);
    cell.question = None;
    cell.make_stale(&since);
    cell.owed = true;
    Some(cell)
}

fn now(head: &Head, standings: &Standings<'_, '_>) -> Found {
    let target = head.targets.swash_level();
    let mut cell = Cell::missing(CellName::SwashLevel, target);
    if let Some(residual) = standings.misfit() {
        cell.question = Some(Question::NoRotor { residual });
        cell.verdict = Verdict::Undecided { by: Undecided::Questioned };
        return Found::Cell(Box::new(cell));
    }
    let tilt = standings.rotor().and_then(plate_tilt);
    // What was found before the model was moved holds, unless neutrals that were read since speak against it: more than any lean.
    let most_lean = if tilt.is_some() { MOST_LEAN_DEGREES } else { LEAN_DEGREES };
    let since = || head.blades.names().find_map(|blade| contradiction(standings, blade, most_lean));
    let asked = if tilt.is_some() && standings.knows_this_stand() { None } else { since() };
    if let (Some(tilt), None) = (tilt, &asked) {
        let round = head.blades.names().any(|blade| is_read_round(standings, blade));
        cell.verdict = match judge(target, &tilt.value, false, false) {
            Verdict::Undecided { .. } if !round && tilt.value.angle > target.value() => {
                Verdict::Undecided { by: Undecided::PlateUnread { blade: BladeName::A } }
            }
            // The lean is known, and nothing is left that speaks against the plate.
            Verdict::Inside if !round => return Found::Level,
            Verdict::Undecided { .. } if !round => return Found::Nothing,
            verdict => verdict,
        };
        cell.value = Some(tilt.value);
        cell.consequence = cell.plain_consequence();
        return Found::Cell(Box::new(cell));
    }
    let Some((value, question)) = asked else { return Found::Nothing };
    cell.value = Some(value);
    let by = match question {
        Ok(question) => {
            cell.question = Some(question);
            Undecided::Questioned
        }
        Err(by) => by,
    };
    cell.verdict = Verdict::Undecided { by };
    Found::Cell(Box::new(cell))
}

/// The tilt as the solved rotor has it; its uncertainty along its own direction.
pub(super) fn plate_tilt(survey: &RotorSurvey) -> Option<PlateTilt> {
    let known = |unknown| survey.solution.get(unknown).filter(|estimate| estimate.observable);
    let (cos, sin) = (known(Unknown::Cos)?, known(Unknown::Sin)?);
    let angle = cos.value.hypot(sin.value);
    // Of a plate that stands level no direction is known: the larger of both counts.
    let share = |part: Angle| if angle > Angle::ZERO { part.radians() / angle.radians() } else { 1.0 };
    let (along_cos, along_sin) = (cos.standard_error * share(cos.value), sin.standard_error * share(sin.value));
    let budget = Budget::new([Contribution::new(Component::Rotor, along_cos.hypot(along_sin))]);
    let value = Value {
        angle,
        expanded: budget.expanded().expanded,
        basis: Basis::Round,
        as_read: angle,
        budget,
        captures: survey.captures.clone(),
    };
    Some(PlateTilt { cos: cos.value, sin: sin.value, value })
}

/// Whether a blade was read at every quarter of the turn with one seat of the clip, the model standing as it stood.
fn is_read_round(standings: &Standings<'_, '_>, blade: BladeName) -> bool {
    let neutrals: Vec<&Dated<'_>> = standings.neutrals(blade).filter(|d| d.is_fresh()).collect();
    neutrals.iter().any(|first| {
        let Some(from) = first.subject().station() else { return false };
        let with = |d: &&&Dated<'_>| d.is_comparable(first) && d.capture.seat == first.capture.seat;
        QUARTERS.iter().all(|quarter| {
            let wanted = Station::from_degrees(f64::from(from) + quarter);
            let is_there = |at: Station| wanted.as_ref().is_ok_and(|wanted| wanted.distance(at) <= same_station());
            neutrals.iter().filter(with).filter_map(|d| d.subject().station()).any(is_there)
        })
    })
}

/// Two neutrals of one blade, of the newest stand of the model and the newest of their places, that differ by more than they are
/// uncertain by and more than a model leans; of several the two that do so most. Without a question where no reading tells the lean,
/// and both are possible.
fn contradiction(
    standings: &Standings<'_, '_>,
    blade: BladeName,
    most_lean: f64,
) -> Option<(Value, Result<Question, Undecided>)> {
    let fresh = || standings.neutrals(blade).filter(|d| d.is_fresh());
    let stand = fresh().map(|d| d.stand).max()?;
    let mut neutrals: Vec<&Dated<'_>> = Vec::new();
    for dated in fresh().filter(|d| d.stand == stand) {
        neutrals.retain(|older| !same_place(older.subject(), dated.subject()));
        neutrals.push(dated);
    }
    let pairs = neutrals.iter().enumerate().flat_map(|(at, second)| {
        neutrals[..at].iter().filter(|first| first.is_comparable(second)).map(move |first| (*first, *second))
    });
    let judged = pairs.filter_map(|(first, second)| {
        let stations = [first.subject().station()?, second.subject().station()?];
        let apart = stations[0].distance(stations[1]);
        if apart <= same_station() {
            return None;
        }
        // What a model that leans adds between both stations. Opposite ones show all of a lean twice, and belong to a zero that is free
        // of it: there a model may lean as far as any does before something is asked.
        // The same where no reading tells the lean.
        let untold = untold(first.capture).or_else(|| untold(second.capture));
        let most = if untold.is_some() || apart.degrees() > OPPOSITE_DEGREES { MOST_LEAN_DEGREES } else { most_lean };
        let chord = 2.0 * (apart / 2.0).sin();
        let bound = Angle::from_degrees(most) * chord;
        let lean = Contribution::rectangular(Component::Lean, bound).assumed();
        let budget = own_budget(second.capture).difference(&own_budget(first.capture)).with(lean);
        let expanded = budget.expanded().expanded;
        let difference = second.capture.reading.angle - first.capture.reading.angle;
        // A rectangular bound ends where it ends: all of the lean counts, and the rest beside it.
        let rest = own_budget(second.capture).difference(&own_budget(first.capture)).expanded().expanded;
        let beyond = difference.abs() - bound - rest;
        // What tells no lean may be the plate as well as a model that leans more than usual.
        let may_be = untold.is_some() && difference.abs() > Angle::from_degrees(LEAN_DEGREES) * chord + rest;
        if beyond <= Angle::ZERO && !may_be {
            return None;
        }
        let captures = vec![first.capture.id, second.capture.id];
        let value =
            Value { angle: difference.abs(), expanded, basis: Basis::Round, as_read: difference, budget, captures };
        let question = Question::PlateOrLean { blade, stations, difference, expanded };
        // Reading round the turn does not answer what another zero would.
        let asked = match untold {
            Some(by) if beyond <= Angle::ZERO || by == Undecided::PlateNeedsReversal => Err(by),
            _ => Ok(question),
        };
        Some((beyond, value, asked))
    });
    let most = judged.max_by(|one, other| one.0.radians().total_cmp(&other.0.radians()))?;
    Some((most.1, most.2))
}

/// Why a reading does not tell the tilt of the plate from the lean of the model; none where it does.
fn untold(capture: &Capture) -> Option<Undecided> {
    if !capture.reading.shows_the_span() {
        return Some(Undecided::PlateUntold);
    }
    (!tells_the_rotor(capture)).then_some(Undecided::PlateNeedsReversal)
}

/// Whether a blade must be read round the turn, with one seat of the clip, to decide on the plate.
pub(super) fn is_owed_round(cell: &Cell) -> bool {
    cell.question.is_some()
        || matches!(cell.verdict, Verdict::Stale { .. } | Verdict::Undecided { by: Undecided::PlateUnread { .. } })
}
