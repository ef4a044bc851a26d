//! Each main blade at mid stick, and the difference of two blades at one station.
//!
//! Two blades read at the same station see the same shaft tilt and swashplate tilt, so their difference is the track
//! split. Read at different stations it is not, and is refused.

use super::capture::Answered;
use super::cell::{Basis, Cell, CellName, Earlier, Value, Verdict};
use super::collective::{MOST_LEAN_DEGREES, PLATE_DEGREES, Standing, Standings, half_turn_on};
use super::finding::{CellFinding, Question, Undecided};
use super::head::Head;
use super::limit_cell::judge;
use super::timeline::{Dated, Timeline, best, each_once, same_place, same_station};
use super::trade;
use super::travel::at_station;
use crate::rotor::{BladeName, Collective, Datum, Deflection, Station};
use crate::units::Angle;

pub(super) const MID: Deflection = Deflection::Collective(Collective::Mid);

/// The captures of one blade at mid stick, oldest first.
pub(super) fn zeros<'t, 'a: 't>(
    timeline: &'t Timeline<'a>,
    blade: BladeName,
) -> impl DoubleEndedIterator<Item = &'t Dated<'a>> {
    // Against its own neutral every blade reads zero: that says nothing about where it stands.
    let tells = |d: &&Dated<'_>| !matches!(d.capture.datum.datum, Datum::Neutral { .. });
    timeline.of(MID).filter(tells).filter(move |d| d.subject().blade() == blade)
}

/// The cell of one blade's zero.
pub(super) fn zero_cell(head: &Head, timeline: &Timeline<'_>, standings: &Standings<'_, '_>, blade: BladeName) -> Cell {
    let target = head.targets.blade_zero;
    let mut cell = Cell::missing(CellName::Zero(blade), target);
    let Some(used) = standings.of(blade) else {
        let own_neutral = best(timeline.of(MID).filter(|d| d.subject().blade() == blade)).is_some();
        cell.consequence = Some(if own_neutral { CellFinding::ZeroByDefinition } else { CellFinding::ZeroNotRead });
        return cell;
    };
    let value = used.value();
    cell.history = zeros(timeline, blade)
        .filter(|d| !used.captures.contains(&d.capture.id))
        .map(|d| Earlier::of(d.capture))
        .collect();
    cell.verdict = match (used.is_fresh(), judge(target, &value, false, false)) {
        (false, _) => Verdict::Stale { by: used.stale_by.clone() },
        (true, Verdict::Undecided { by }) => Verdict::Undecided { by: used.leaning().unwrap_or(by) },
        // What a model may lean by is nothing that a link puts right.
        (true, Verdict::Outside) if -target.margin(value.angle).degrees() < MOST_LEAN_DEGREES => {
            used.leaning().map_or(Verdict::Outside, |by| Verdict::Undecided { by })
        }
        (true, decided) => decided,
    };
    cell.value = Some(value);
    if let Some((newer, by)) = newer_against(head, timeline, &used) {
        let is_right = newer.capture.answers(Answered::NeutralMoved);
        let station = newer.subject().station().map(half_turn_on).filter(|_| is_right);
        cell.question = (!is_right).then_some(Question::NeutralMoved { deflection: MID, by });
        // If it is right, what was known before is not: it takes its own half turn.
        let by = station.map_or(Undecided::Questioned, |station| Undecided::LeanUnknown { blade, station });
        cell.verdict = Verdict::Undecided { by };
    }
    cell.consequence = cell.plain_consequence();
    cell
}

/// A reading at mid stick that is newer than all from which it is known how the blade stands, and by how much it contradicts them: by
/// more than both are uncertain by and a zero may be off, and at another station by more than any model and plate lean.
fn newer_against<'t, 'a>(
    head: &Head,
    timeline: &'t Timeline<'a>,
    standing: &Standing,
) -> Option<(&'t Dated<'a>, Angle)> {
    let counts = |d: &&Dated<'_>| standing.captures.contains(&d.capture.id) && d.subject().blade() == standing.blade;
    let known: Vec<&Dated<'_>> = timeline.on_main_blade(standing.blade).filter(counts).collect();
    let last = known.iter().map(|d| d.order).max()?;
    let newer = zeros(timeline, standing.blade).rfind(|d| d.is_fresh() && d.order > last)?;
    if !standing.is_free_of_lean() || !known.iter().all(|d| d.is_comparable(newer)) {
        return None;
    }
    let tolerance = head.targets.blade_zero.tolerance().unwrap_or(Angle::ZERO);
    let (by, expanded, lean) = match known.iter().find(|d| same_place(d.subject(), newer.subject())) {
        Some(before) => {
            let budget = |of: &Dated<'_>| at_station(of.capture, head.station_error);
            let expanded = budget(newer).difference(&budget(before)).expanded().expanded;
            (newer.capture.reading.angle - before.capture.reading.angle, expanded, Angle::ZERO)
        }
        None => {
            let most = Angle::from_degrees(MOST_LEAN_DEGREES + PLATE_DEGREES);
            (newer.capture.reading.angle - standing.pitch, standing.budget.expanded().expanded, most)
        }
    };
    (by.abs() > expanded + tolerance + lean).then_some((newer, by))
}

/// The cell of the track split between a blade and blade A.
pub(super) fn track_cell(head: &Head, timeline: &Timeline<'_>, blade: BladeName) -> Cell {
    let target = head.targets.track_split;
    let mut cell = Cell::missing(CellName::Track(blade), target);
    let Some((reference, other)) = pair(timeline, blade) else {
        cell.consequence = Some(no_pair(timeline, blade));
        return cell;
    };
    let (a, b) = (reference.capture, other.capture);
    let budget = at_station(b, head.station_error).difference(&at_station(a, head.station_error));
    let split = b.reading.angle - a.reading.angle;
    let value = Value {
        angle: split,
        expanded: budget.expanded().expanded,
        basis: Basis::Split,
        as_read: b.reading.angle,
        budget,
        captures: vec![a.id, b.id],
    };
    let stale_by = each_once(reference.stale_by.iter().chain(&other.stale_by));
    cell.verdict =
        if stale_by.is_empty() { judge(target, &value, false, false) } else { Verdict::Stale { by: stale_by } };
    cell.value = Some(value);
    cell.consequence = cell.plain_consequence();
    cell
}

/// The newest two zeros at one station; such that both hold before others.
pub(super) fn pair<'t, 'a>(timeline: &'t Timeline<'a>, blade: BladeName) -> Option<(&'t Dated<'a>, &'t Dated<'a>)> {
    pair_that(timeline, blade, |_, _| true)
}

/// The same among those that fit.
pub(super) fn pair_that<'t, 'a>(
    timeline: &'t Timeline<'a>,
    blade: BladeName,
    fits: impl Fn(&Dated<'a>, &Dated<'a>) -> bool,
) -> Option<(&'t Dated<'a>, &'t Dated<'a>)> {
    let mut pairs: Vec<_> = zeros(timeline, BladeName::A)
        .flat_map(|a| zeros(timeline, blade).map(move |b| (a, b)))
        .filter(|(a, b)| a.is_comparable(b) && fits(a, b))
        .filter(|(a, b)| match (a.subject().station(), b.subject().station()) {
            (Some(at), Some(bt)) => at.distance(bt) <= same_station(),
            _ => false,
        })
        .collect();
    pairs.sort_by_key(|(a, b)| (a.is_fresh() && b.is_fresh(), a.order.min(b.order), a.order.max(b.order)));
    pairs.pop()
}

fn no_pair(timeline: &Timeline<'_>, blade: BladeName) -> CellFinding {
    let station = |of| best(zeros(timeline, of)).and_then(|d| d.subject().station());
    match (station(BladeName::A), station(blade)) {
        (Some(a), Some(b)) if a.distance(b) <= same_station() => CellFinding::TrackZerosDiffer,
        (Some(reference), Some(other)) => CellFinding::TrackStationsDiffer { reference, other },
        _ => CellFinding::TrackNotRead,
    }
}

/// The station at which all zeros are best read: that of the newest that holds, else of the newest, else its own; its own for
/// a reading half a turn on, which is half of a pair.
pub(super) fn zero_station(head: &Head, timeline: &Timeline<'_>) -> Station {
    let own = trade::own_station(head, MID);
    let newest = best(timeline.of(MID)).and_then(|d| Some((d.subject().blade(), d.subject().station()?)));
    let Some((blade, station)) = newest else { return own };
    let at_own = |d: &Dated<'_>| d.subject().station().is_some_and(|at| at.distance(own) <= same_station());
    let half = half_turn_on(own).distance(station) <= same_station();
    if half && zeros(timeline, blade).any(at_own) { own } else { station }
}

/// Whether a zero of this blade that holds was read at this station; `of_now`: such that one read now can be held against it.
pub(super) fn has_zero_at(timeline: &Timeline<'_>, blade: BladeName, station: Station, of_now: bool) -> bool {
    zeros(timeline, blade)
        .filter(|d| !of_now || timeline.is_of_now(d))
        .any(|d| d.is_fresh() && d.subject().station().is_some_and(|at| at.distance(station) <= same_station()))
}
