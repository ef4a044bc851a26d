//! Ends that hold a value which something seen besides it contradicts: a sweep that came elsewhere, a servo that buzzes at full
//! stick, or a stick that goes past where the linkage bound. Each is in question until it is captured again, or until the
//! person says of the capture that it is right.

use super::adjustment::Adjustment;
use super::bind::{BEYOND_DEGREES, BEYOND_PERCENT};
use super::buzz;
use super::capture::{Answered, Capture, LimitedBy};
use super::cell::{Cell, CellName, Verdict};
use super::finding::CellFinding;
use super::head::Head;
use super::limit_cell::{End, ends};
use super::off_axis;
use super::phase_survey::PhaseSurvey;
use super::setup::{Entry, turned};
use super::sweep::{Reach, SweptEnd};
use super::timeline::{Dated, Timeline};
use super::travel::neutral_for;
use super::travel_survey::{binds_still, end_point_at, share_and_end};
use crate::filter::Vibration;
use crate::rotor::{Axis, Deflection};
use crate::units::{Angle, Percent};
use serde::Serialize;

/// What contradicts the value of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum InQuestion {
    /// A sweep after it came less far, or further.
    Swept {
        /// Where to.
        #[serde(rename = "reached_deg")]
        reached: Angle,
        /// What the record has.
        #[serde(rename = "recorded_deg")]
        recorded: Angle,
    },
    /// It was read where the description's control phase shows it, and readings round the turn show another phase.
    PhaseDiffers {
        /// What they show.
        #[serde(rename = "measured_deg")]
        measured: Angle,
        /// U of that, for 95 %.
        #[serde(rename = "expanded_uncertainty_deg")]
        expanded: Angle,
        /// What the description says.
        #[serde(rename = "described_deg")]
        described: Angle,
    },
    /// In a sweep after it the direction did not move.
    SweptStill,
    /// In a sweep after it a servo buzzed at this end.
    SweptBuzzes,
    /// A servo buzzes at this end, and not at centre.
    Buzzes {
        /// How.
        vibration: Vibration,
    },
    /// The stick goes further than where the linkage bound.
    PastBind {
        /// How far the blade had moved where it bound.
        #[serde(rename = "bound_at_deg")]
        bound_at: Angle,
        /// The output there, where it is known.
        #[serde(rename = "bound_at_percent")]
        output: Option<Percent>,
    },
}

impl InQuestion {
    /// What is answered where the person says that the capture is right as it was read; none where only another reading answers.
    #[must_use]
    pub const fn answer(&self) -> Option<Answered> {
        match self {
            Self::Buzzes { .. } => Some(Answered::Buzzes),
            Self::PastBind { .. } => Some(Answered::PastBind),
            Self::PhaseDiffers { .. } | Self::Swept { .. } | Self::SweptStill | Self::SweptBuzzes => None,
        }
    }
}

/// For 95 %.
const COVERAGE: f64 = 2.0;
/// A phase that is off by less for certain takes nothing from a travel that matters: the cosine of 5° is 0.996. [common practice, no
/// source]
const PHASE_DEGREES: f64 = 5.0;

/// A bind that a person met, and where.
struct Met {
    moved: Angle,
    output: Option<Percent>,
}

/// Puts ends in question by their own captures, and keeps as bound what stands where the linkage bound.
pub(super) fn by_captures(head: &Head, timeline: &Timeline<'_>, entries: &[Entry], cells: &mut [Cell]) {
    for cell in cells.iter_mut().filter(|cell| cell.verdict.is_captured() && cell.question.is_none()) {
        let CellName::Limit(deflection) = cell.name else { continue };
        let ends = ends(head, timeline, deflection);
        let open = |doubt| move |end: &&End<'_>| !end.limit.capture.answers(doubt);
        let mut because: Vec<InQuestion> = ends.iter().filter(open(Answered::Buzzes)).filter_map(buzzes).collect();
        // Where the person has said that the stick may go so far, nothing binds there.
        let bind = bind(head, timeline, entries, deflection);
        let met = bind.filter(|_| ends.iter().any(|end| open(Answered::PastBind)(&end)));
        because.extend(met.as_ref().and_then(|met| past(head, entries, &ends, met)));
        if !because.is_empty() {
            cell.verdict = Verdict::InQuestion { because };
            cell.consequence = None;
        } else if met.is_some() && cell.verdict == Verdict::Inside {
            cell.verdict = Verdict::Bound;
            cell.consequence = Some(CellFinding::JustShort);
        }
    }
}

/// Puts the ends of a cyclic axis in question whose phase, as read round the turn, is not the description's: they were read where they
/// do not show whole.
pub(super) fn by_phase(head: &Head, entries: &[Entry], cells: &mut [Cell]) {
    let survey = PhaseSurvey::new(head, entries);
    for (axis, found) in [(Axis::Elevator, &survey.elevator), (Axis::Aileron, &survey.aileron)] {
        let of_axis = |cell: &&mut Cell| matches!(cell.name, CellName::Limit(end) if end.axis() == axis);
        let Ok(found) = found else {
            if turned(entries).any(|(_, by)| matches!(by, Adjustment::Phase(_))) {
                let unseen = CellFinding::PhaseSet { described: head.control_phase };
                let read = cells.iter_mut().filter(of_axis).filter(|cell| cell.verdict.is_captured());
                read.for_each(|cell| cell.remarks.push(unseen.clone()));
            }
            continue;
        };
        let expanded = found.u_phase * COVERAGE;
        let off = (found.phase - head.control_phase).wrapped().abs();
        if (off - expanded).degrees() <= PHASE_DEGREES {
            continue;
        }
        let differs = InQuestion::PhaseDiffers { measured: found.phase, expanded, described: head.control_phase };
        for cell in cells.iter_mut().filter(of_axis).filter(|cell| cell.verdict.is_captured()) {
            (cell.verdict, cell.consequence) = (Verdict::InQuestion { because: vec![differs] }, None);
        }
    }
}

/// Puts ends in question that a sweep after their capture contradicts.
pub(super) fn by_sweeps(
    head: &Head,
    timeline: &Timeline<'_>,
    entries: &[Entry],
    swept: &[SweptEnd],
    cells: &mut [Cell],
) {
    for end in swept {
        let Some(cell) = cells.iter_mut().find(|cell| cell.name == CellName::Limit(end.deflection)) else { continue };
        let falls_short = matches!(end.reach, Reach::StandsStill | Reach::Short);
        let goes_further = !falls_short && (end.reach == Reach::Beyond || end.buzzes);
        if cell.verdict == Verdict::Bound
            && goes_further
            && let Some(met) = bind(head, timeline, entries, end.deflection)
        {
            let past = InQuestion::PastBind { bound_at: met.moved.abs(), output: met.output };
            cell.verdict = Verdict::InQuestion { because: vec![past] };
            cell.consequence = None;
            continue;
        }
        let contradicts = match (end.reach, end.recorded) {
            (Reach::StandsStill, _) => Some(InQuestion::SweptStill),
            (Reach::Short | Reach::Beyond, Some(recorded)) => {
                Some(InQuestion::Swept { reached: end.reached, recorded })
            }
            _ => None,
        };
        let because = contradicts.into_iter().chain(end.buzzes.then_some(InQuestion::SweptBuzzes));
        for reason in because {
            match &mut cell.verdict {
                Verdict::InQuestion { because } => because.push(reason),
                verdict if verdict.is_captured() => {
                    *verdict = Verdict::InQuestion { because: vec![reason] };
                    cell.consequence = None;
                }
                _ => {}
            }
        }
    }
}

/// A servo that buzzes at its end, and not at centre, is held against something.
pub(super) fn vibration(end: &End<'_>) -> Option<Vibration> {
    let neutrals = &end.neutral.as_ref()?.captures;
    buzz::against(end.limit.capture, neutrals.iter().map(|neutral| buzz::swing(neutral.capture)))
}

fn buzzes(end: &End<'_>) -> Option<InQuestion> {
    vibration(end).map(|vibration| InQuestion::Buzzes { vibration })
}

/// The newest bind of this end from which nothing but end points was changed since.
fn bind(head: &Head, timeline: &Timeline<'_>, entries: &[Entry], end: Deflection) -> Option<Met> {
    let bound = |d: &&Dated<'_>| {
        d.capture.limited_by == LimitedBy::Bind && binds_still(d) && off_axis::is_enough(head, d.capture)
    };
    let dated = timeline.of(end).rfind(bound)?;
    Some(Met { moved: moved(head, timeline, dated), output: output(entries, dated.order, dated.capture) })
}

/// How far a capture is from its neutral, as its axis' own station shows it; the angle as read without one.
fn moved(head: &Head, timeline: &Timeline<'_>, dated: &Dated<'_>) -> Angle {
    let neutral = neutral_for(timeline, dated).map_or(Angle::ZERO, |neutral| neutral.angle);
    (dated.capture.reading.angle - neutral) * off_axis::whole(head, dated.capture)
}

/// What reached the servos, in percent; none where the stick was backed off to nobody knows where.
fn output(entries: &[Entry], order: usize, capture: &Capture) -> Option<Percent> {
    capture.known_stick()?;
    let (share, end) = share_and_end(capture);
    let end_point = end_point_at(entries, order, end).map_or(100.0, Percent::value);
    Some(Percent::new((share * end_point).abs()))
}

/// Whether full stick goes past a bind: by the end point that was recorded, by the output of the capture, or by its movement.
fn past(head: &Head, entries: &[Entry], ends: &[End<'_>], met: &Met) -> Option<InQuestion> {
    let end = ends.first()?;
    let capture = end.limit.capture;
    let is_the_bind = capture.limited_by == LimitedBy::Bind;
    let here = match (is_the_bind, output(entries, end.limit.order, capture)) {
        (true, Some(_)) => {
            let (_, of) = share_and_end(capture);
            end_point_at(entries, entries.len(), of)
        }
        (true, None) => None,
        (false, output) => output,
    };
    let further = match (here, met.output) {
        (Some(here), Some(bind)) => here.value() > bind.value() + BEYOND_PERCENT,
        _ if is_the_bind => false,
        _ => {
            let neutral = end.neutral.as_ref().map_or(Angle::ZERO, |neutral| neutral.angle);
            let moved = (capture.reading.angle - neutral) * off_axis::whole(head, capture);
            moved.abs().degrees() > met.moved.abs().degrees() + BEYOND_DEGREES
        }
    };
    let bound_at = if capture.subject.deflection().axis() == Axis::Collective { met.moved } else { met.moved.abs() };
    further.then_some(InQuestion::PastBind { bound_at, output: met.output })
}
