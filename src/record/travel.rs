//! From a limit and the neutral of the same place to a travel.
//!
//! travel = s·(limit − neutral), s the sign expected at that place, so that a travel is positive in the commanded
//! direction. Shaft tilt, clip offset and blade twist are the same in both and drop out. Where the neutral was read
//! before *and* after the limit without moving the clip, their mean is the neutral, and what it moved by enters as
//! closure: the drift was somewhere within it, u = |Δ|/√12 (JCGM 100:2008, 4.3.7).
//!
//! Left out: a neutral that was read with the stick not truly at its centre; only its repetition shows that.

use super::capture::Capture;
use super::finding::CellFinding;
use super::timeline::{Dated, Timeline, best};
use crate::rotor::{self, Axis, LeadingEdge, Rotation, Spot};
use crate::uncertainty::{Budget, Component, Contribution, Source};
use crate::units::Angle;

/// How far a blade hangs at rest: between nothing and 3°, here its middle. [common practice, no source]
const USUAL_DROOP_DEGREES: f64 = 1.5;

/// How far the swashplate may lean at centre, one standard uncertainty. [common practice, no source]
const UNTOLD_SLOPE_DEGREES: f64 = 0.5;

/// The pitch at stick centre where a limit was read.
#[derive(Debug, Clone)]
pub(super) struct Neutral<'a> {
    /// One capture, or the ones before and after the limit.
    pub(super) captures: Vec<Dated<'a>>,
    pub(super) angle: Angle,
    pub(super) budget: Budget,
    /// Set when the neutral moved by more than its uncertainty between the two.
    pub(super) closure: Option<CellFinding>,
}

/// The neutral for a limit: one of the same datum and stand of the model, and of the same seat before all others; the
/// newest of these. The difference of readings against two zeros would be no travel.
pub(super) fn neutral_for<'a>(timeline: &Timeline<'a>, limit: &Dated<'a>) -> Option<Neutral<'a>> {
    let capture = limit.capture;
    let comparable = || timeline.neutrals_at(capture.subject, capture.clip).filter(|n| n.is_comparable(limit));
    let unmoved: Vec<&Dated<'a>> = comparable().filter(|n| n.is_fresh() && n.capture.seat == capture.seat).collect();
    let before = unmoved.iter().rfind(|n| n.order < limit.order);
    let after = unmoved.iter().rfind(|n| n.order > limit.order);
    match (before, after) {
        (Some(before), Some(after)) => Some(closed(before, after)),
        (Some(one), None) | (None, Some(one)) => Some(single(one)),
        (None, None) => best(comparable()).map(single),
    }
}

fn single<'a>(neutral: &Dated<'a>) -> Neutral<'a> {
    let capture = neutral.capture;
    Neutral {
        captures: vec![neutral.clone()],
        angle: capture.reading.angle,
        budget: own_budget(capture),
        closure: None,
    }
}

fn closed<'a>(before: &Dated<'a>, after: &Dated<'a>) -> Neutral<'a> {
    let (first, second) = (own_budget(before.capture), own_budget(after.capture));
    let change = after.capture.reading.angle - before.capture.reading.angle;
    let expanded = second.difference(&first).expanded().expanded;
    let closure = (change.abs() > expanded).then_some(CellFinding::NeutralMoved { by: change, expanded });
    let drift = Contribution::new(Component::Closure, change.abs() / 12f64.sqrt());
    Neutral {
        captures: vec![before.clone(), after.clone()],
        angle: before.capture.reading.angle + change / 2.0,
        budget: first.mean(&second).with(drift),
        closure,
    }
}

/// The budget of a capture's angle in which every error knows whose it is: the clip's is its seat's, the datum's is
/// the datum's, the model's roll is the stand's, and the rest is the capture's own. So whatever two captures share
/// drops out of their difference, and a capture that enters a result twice is not taken for two.
pub(super) fn own_budget(capture: &Capture) -> Budget {
    let mut budget = capture.reading.budget.clone();
    if let Spot::Tail(leading_edge) = capture.subject.spot()
        && !budget.has(Component::Roll)
    {
        budget = budget.with(roll(leading_edge));
    }
    budget
        .attributed(Component::Clip, &Source::seat(capture.seat))
        .attributed(Component::Skew, &Source::seat(capture.seat))
        .attributed(Component::Datum, &Source::datum(capture.datum.id))
        .owned_by(&Source::new(format!("capture {}", capture.id)))
}

/// The model's roll in one tail reading: ±3° unnoticed, uniform (common practice, no source). It enters leading edge
/// up and leading edge down with opposite signs, so that their mean is free of it.
fn roll(leading_edge: LeadingEdge) -> Contribution {
    let half_width = Angle::from_degrees(match leading_edge {
        LeadingEdge::Up => 3.0,
        LeadingEdge::Down => -3.0,
    });
    Contribution::rectangular(Component::Roll, half_width).assumed().shared(Source::model_stand())
}

/// What the pitch of a main blade at neutral sticks is uncertain by, when the blade may stand up to `error` off its
/// station (uniform): a leaning shaft and a leaning swashplate both change it from station to station.
///
/// The lean of the shaft shows in the reading itself: turning the head by δ changes the pitch by δ times the slope that
/// the shaft gives to the span, which is the span's own less the blade's droop. That droop is known to 0.9° only, which makes
/// the slope too large rather than too small: errors add to its square.
fn standing(capture: &Capture, error: Angle) -> Option<Contribution> {
    capture.subject.station()?;
    let own_error = capture.datum.datum.instrument().map_or(Angle::ZERO, |own| own.span * capture.clip.sign());
    let slope = capture.reading.span_inclination - own_error + Angle::from_degrees(USUAL_DROOP_DEGREES);
    let slope = slope.hypot(Angle::from_degrees(UNTOLD_SLOPE_DEGREES));
    Some(Contribution::rectangular(Component::Azimuth, error * slope.radians()).assumed())
}

/// The budget of a blade's pitch at its station, everything but the deflections in it.
pub(super) fn at_station(capture: &Capture, error: Angle) -> Budget {
    let own = own_budget(capture);
    match standing(capture, error) {
        Some(off) => own.with(off).owned_by(&Source::new(format!("capture {}", capture.id))),
        None => own,
    }
}

/// What a cyclic deflection of `moved` at a station is uncertain by, when the blade may stand up to `error` off it
/// (uniform): along the slope of the pattern in first order, at its top in second, where it always reads low.
///
/// A·(f(ψ+δ) − f(ψ)) ≈ A·(f′δ − f·δ²/2): u² = A²·(f′²·a²/3 + f²·a⁴·(1/20 − 1/36)), a the half width. The mean of the second
/// order, f·a²/6, is taken out of a travel (JCGM 100:2008, 5.1.2 note and F.2.4.5).
pub(super) fn azimuth(
    capture: &Capture,
    moved: Angle,
    rotation: Rotation,
    phase: Angle,
    error: Angle,
) -> Option<Contribution> {
    let deflection = capture.subject.deflection();
    let cyclic = matches!(deflection.axis(), Axis::Elevator | Axis::Aileron) && !deflection.is_neutral();
    if !cyclic || capture.reading.budget.has(Component::Azimuth) {
        return None;
    }
    let station = capture.subject.station()?;
    let factor = rotor::factor(deflection, station, rotation, phase)?;
    let slope = (1.0 - factor * factor).max(0.0).sqrt();
    // Near the zero crossing the amplitude cannot be told from the reading: the reading itself is the best there is.
    let amplitude = if factor.abs() < 0.5 { moved } else { moved / factor };
    let a = error.radians();
    let u =
        amplitude.abs() * ((slope * a).powi(2) / 3.0 + factor.powi(2) * a.powi(4) * (1.0 / 20.0 - 1.0 / 36.0)).sqrt();
    Some(Contribution::new(Component::Azimuth, u).assumed())
}
