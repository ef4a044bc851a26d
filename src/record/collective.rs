//! How a main blade stands at mid stick, free of the lean of the model and of the swashplate where the readings allow it.
//!
//! A pitch read at one station is c + θ1c·cosψ + θ1s·sinψ + lean(ψ): the collective c, the swashplate's tilt, and the lean of the
//! shaft in the plane of the chord. All but c change their sign half a turn on, so that the mean of both stations is c, as long
//! as the clip stays on: the plate's tilt cancels exactly, the lean to second order (under 0.01° with 3° of lean and 3° of droop).
//! A solved rotor gives c as well. From one station alone the lean stays in it, and in its budget.

use super::adjustment::Adjustment;
use super::capture::Capture;
use super::cell::{Basis, Value};
use super::finding::Undecided;
use super::head::Head;
use super::setup::Entry;
use super::survey::{RotorSurvey, by_stand, is_enough, newest_at_each_place};
use super::timeline::{Dated, Timeline, best, each_once, same_station};
use super::travel::at_station;
use super::zero_cell::{MID, zeros};
use crate::rotor::{BladeName, Datum, Estimate, Station};
use crate::uncertainty::{Budget, Component, Contribution};
use crate::units::Angle;
use std::cell::OnceCell;
use uuid::Uuid;

/// Within what a model leans while nobody has measured it. [common practice, no source]
pub(super) const LEAN_DEGREES: f64 = 1.0;
/// No model on a bench leans further, or the person sees it. [common practice, no source]
pub(super) const MOST_LEAN_DEGREES: f64 = 3.0;
/// Within what a swashplate at stick centre tilts the pitch while nobody has measured it. [common practice, no source]
pub(super) const PLATE_DEGREES: f64 = 1.0;
/// A blade at rest hangs by nothing to so much: a span that slopes otherwise leans. [common practice, no source]
const MOST_DROOP_DEGREES: f64 = 3.0;
/// Readings on several seats of the clip fit one rotor to within this, root mean square. [common practice, no source]
const RESEAT_DEGREES: f64 = 0.2;

/// How a blade stands, and from what that is known.
#[derive(Debug, Clone)]
pub(super) struct Standing {
    pub(super) blade: BladeName,
    pub(super) pitch: Angle,
    pub(super) budget: Budget,
    /// [`Basis::Collective`] where it is free of lean, else [`Basis::Absolute`].
    pub(super) basis: Basis,
    /// The captures that it was worked out from, oldest first.
    pub(super) captures: Vec<Uuid>,
    pub(super) stale_by: Vec<Adjustment>,
    /// Where the blade must be read too, the clip left on; none where it is free of lean.
    pub(super) half_turn_on: Option<Station>,
}

impl Standing {
    pub(super) const fn is_fresh(&self) -> bool {
        self.stale_by.is_empty()
    }

    pub(super) fn is_free_of_lean(&self) -> bool {
        self.basis == Basis::Collective
    }

    /// That it is the lean which leaves the blade undecided, where that is the largest part of its uncertainty.
    pub(super) fn leaning(&self) -> Option<Undecided> {
        let of_lean = || self.budget.largest().is_some_and(|largest| largest.component == Component::Lean);
        let station = self.half_turn_on.filter(|_| of_lean())?;
        Some(Undecided::LeanUnknown { blade: self.blade, station })
    }

    fn expanded(&self) -> Angle {
        self.budget.expanded().expanded
    }

    pub(super) fn value(&self) -> Value {
        Value {
            angle: self.pitch,
            expanded: self.expanded(),
            basis: self.basis,
            as_read: self.pitch,
            budget: self.budget.clone(),
            captures: self.captures.clone(),
        }
    }
}

/// How the blades of a setup stand. The rotor is solved only where it is needed.
#[derive(Debug)]
pub(super) struct Standings<'t, 'a> {
    head: &'t Head,
    entries: &'a [Entry],
    timeline: &'t Timeline<'a>,
    /// The stand of the model in which the rotor was solved, or follows none.
    solved: OnceCell<Option<(u32, Result<RotorSurvey, Angle>)>>,
}

impl<'t, 'a> Standings<'t, 'a> {
    pub(super) const fn new(head: &'t Head, entries: &'a [Entry], timeline: &'t Timeline<'a>) -> Self {
        Self { head, entries, timeline, solved: OnceCell::new() }
    }

    /// What happened in the setup.
    pub(super) const fn entries(&self) -> &'a [Entry] {
        self.entries
    }

    /// How a blade stands: as the better known of what is free of lean and the newest single reading says, those that hold
    /// before others. None where it was never read at mid stick.
    pub(super) fn of(&self, blade: BladeName) -> Option<Standing> {
        let single = self.single(blade)?;
        let pair = self.pair(blade);
        let solved = if pair.as_ref().is_some_and(Standing::is_fresh) { None } else { self.solved(blade) };
        // The first of equals wins: what is free of lean.
        let known = pair.into_iter().chain(solved).chain([single]);
        known.reduce(|best, next| {
            let better = match (best.is_fresh(), next.is_fresh()) {
                (held, holds) if held != holds => holds,
                _ => next.expanded() < best.expanded(),
            };
            if better { next } else { best }
        })
    }

    /// The newest reading at one station.
    fn single(&self, blade: BladeName) -> Option<Standing> {
        let used = best(zeros(self.timeline, blade))?;
        Some(Standing {
            blade,
            pitch: used.capture.reading.angle,
            budget: at_station(used.capture, self.head.station_error).with(lean(used.capture)),
            basis: Basis::Absolute,
            captures: vec![used.capture.id],
            stale_by: each_once(&used.stale_by),
            half_turn_on: used.subject().station().map(half_turn_on),
        })
    }

    /// The mean of the newest two readings half a turn apart with one seat of the clip and one zero; two that hold before others.
    fn pair(&self, blade: BladeName) -> Option<Standing> {
        let neutrals: Vec<&Dated<'a>> = self.neutrals(blade).collect();
        let pairs = neutrals.iter().enumerate().flat_map(|(at, second)| {
            let firsts = neutrals[..at].iter().filter(move |first| is_pair(first, second));
            firsts.map(move |first| (*first, *second))
        });
        let (first, second) =
            pairs.max_by_key(|(first, second)| (first.is_fresh() && second.is_fresh(), second.order, first.order))?;
        let budget = |of: &Dated<'_>| at_station(of.capture, self.head.station_error);
        Some(Standing {
            blade,
            pitch: (first.capture.reading.angle + second.capture.reading.angle) / 2.0,
            budget: budget(first).mean(&budget(second)),
            basis: Basis::Collective,
            captures: vec![first.capture.id, second.capture.id],
            stale_by: each_once(first.stale_by.iter().chain(&second.stale_by)),
            half_turn_on: None,
        })
    }

    /// Every reading of a blade with the sticks centred that says how it stands, oldest first.
    pub(super) fn neutrals(&self, blade: BladeName) -> impl Iterator<Item = &'t Dated<'a>> {
        let tells = |d: &&Dated<'_>| {
            d.subject().deflection().is_neutral() && !matches!(d.capture.datum.datum, Datum::Neutral { .. })
        };
        self.timeline.on_main_blade(blade).filter(tells)
    }

    /// From the rotor, where the readings that hold solve it and show the collective.
    fn solved(&self, blade: BladeName) -> Option<Standing> {
        let survey = self.rotor()?;
        let solved = survey.solution.blades.iter().find(|solved| solved.blade == blade)?;
        let Estimate { value, standard_error, observable: true } = solved.collective else { return None };
        Some(Standing {
            blade,
            pitch: value,
            budget: Budget::new([Contribution::new(Component::Rotor, standard_error)]),
            basis: Basis::Collective,
            captures: survey.captures.clone(),
            stale_by: Vec::new(),
            half_turn_on: None,
        })
    }

    /// The rotor from the neutrals that hold, of the newest stand of the model in which they are enough; none where they are too
    /// few, or where they follow no rotor.
    pub(super) fn rotor(&self) -> Option<&RotorSurvey> {
        self.solved.get_or_init(|| self.solve()).as_ref().and_then(|(_, solved)| solved.as_ref().ok())
    }

    /// How far readings that should give the rotor are off every rotor, root mean square.
    pub(super) fn misfit(&self) -> Option<Angle> {
        self.solved.get_or_init(|| self.solve()).as_ref().and_then(|(_, solved)| solved.as_ref().err().copied())
    }

    /// How far the shaft leans, where the rotor tells.
    pub(super) fn lean(&self) -> Option<Angle> {
        self.rotor()?.solution.shaft_tilt().map(|tilt| tilt.nose.hypot(tilt.left))
    }

    /// Whether the rotor is known of the stand in which the model stands now.
    pub(super) fn knows_this_stand(&self) -> bool {
        let newest = self.head.blades.names().flat_map(|blade| self.neutrals(blade)).map(|d| d.stand).max();
        let solved = self.solved.get_or_init(|| self.solve()).as_ref().map(|(stand, _)| *stand);
        solved.is_some() && solved == newest
    }

    fn solve(&self) -> Option<(u32, Result<RotorSurvey, Angle>)> {
        by_stand(self.timeline, |d| d.subject().deflection().is_neutral()).into_iter().find_map(|(stand, of_stand)| {
            let captures = newest_at_each_place(of_stand.iter().copied());
            let enough = is_enough(self.head, &of_stand);
            let survey = RotorSurvey::of(self.head, self.entries, &captures).ok().filter(|_| enough)?;
            // Residuals as large as a clip that was put on again are no contradiction: what a seat does to the solution is in its
            // standard errors already.
            let seat = captures.iter().map(|capture| seat_degrees(capture)).fold(RESEAT_DEGREES, f64::max);
            let residual = survey.solution.residual_rms;
            Some((stand, if survey.solution.misfit && residual.degrees() > seat { Err(residual) } else { Ok(survey) }))
        })
    }
}

/// Twice what the seat of its clip makes a reading uncertain by.
fn seat_degrees(capture: &Capture) -> f64 {
    capture.reading.budget.components().get(&Component::Clip).map_or(0.0, |u| 2.0 * u.degrees())
}

/// Whether a reading tells of the rotor: with a sensor that shows the span, against a zero that leaves nothing of the sensor's
/// own error in it.
pub(super) fn tells_the_rotor(capture: &Capture) -> bool {
    knows_its_sensor(capture.datum.datum) && capture.reading.shows_the_span()
}

/// Whether a reading's apparent pitch, less what this zero knows of the sensor, is the blade's with the uncertainty in its budget.
const fn knows_its_sensor(datum: Datum) -> bool {
    !matches!(datum, Datum::Neutral { .. } | Datum::Surface { instrument: None, .. })
}

/// The same blade's place when the head was turned half round.
pub(super) fn half_turn_on(station: Station) -> Station {
    Station::from_degrees(f64::from(station) + 180.0).unwrap_or(station)
}

/// Whether both were read half a turn apart, the clip left on, against one zero, the model standing as it stood. One of them
/// at least is of the collective.
fn is_pair(first: &Dated<'_>, second: &Dated<'_>) -> bool {
    let at_mid = [first, second].iter().any(|d| d.subject().deflection() == MID);
    let opposite = match (first.subject().station(), second.subject().station()) {
        (Some(one), Some(other)) => half_turn_on(one).distance(other) <= same_station(),
        _ => false,
    };
    at_mid
        && opposite
        && first.is_comparable(second)
        && (first.capture.clip, first.capture.seat) == (second.capture.clip, second.capture.seat)
}

/// What the lean of model and swashplate may add at one station.
pub(super) fn lean(capture: &Capture) -> Contribution {
    let own = capture.datum.datum.instrument().map_or(Angle::ZERO, |own| own.span * capture.clip.sign());
    let slope = (capture.reading.span_inclination - own).degrees();
    // A span that slopes otherwise than a blade hangs shows a lean along it: there may be as much across it.
    let hangs = (-MOST_DROOP_DEGREES..=0.0).contains(&slope);
    let model = match capture.datum.datum {
        Datum::Shaft { .. } => 0.0,
        _ if hangs => LEAN_DEGREES,
        _ => slope.abs().max(LEAN_DEGREES),
    };
    let effects = [model, PLATE_DEGREES].map(|half_width| Angle::from_degrees(half_width / 3f64.sqrt()));
    Contribution { effects: effects.to_vec(), ..Contribution::new(Component::Lean, Angle::ZERO) }.assumed()
}
