//! Which pitch links to turn, from the captures at mid stick of a setup.
//!
//! The blades stand as their collectives say that still hold, free of the lean of the model. Where one was read at one station
//! only, its lean is in its budget, and no link is advised on until the pitch is off by more than that. Nor is it while the zero
//! itself is not known. What a half-turn really does is learned from every pair of such captures of one blade at one
//! place between which its link, and nothing else that can move it, was turned (`adjust "link B +1 half-turn"`).

use super::adjustment::Adjustment;
use super::cell::{Cell, Verdict};
use super::collective::{Standing, Standings};
use super::finding::Undecided;
use super::head::{Head, Lengthening, LinkSeat};
use super::setup::Entry;
use super::swash_level::{is_owed_round, swash_level_cell};
use super::timeline::{Dated, Timeline, same_place};
use super::track_survey::TrackSurvey;
use super::travel::at_station;
use super::zero_cell::{MID, track_cell};
use crate::advice::{self, LinkAdvice, LinkGeometry, MeasuredHalfTurn, Seating, turn_links};
use crate::rotor::{BladeName, Station};
use crate::uncertainty::{Budget, Component, Contribution, Decision, Remedy, Target, decide};
use crate::units::{Angle, HalfTurns, Millimetres};
use serde::Serialize;

/// What a turned link must move at least for its pair to teach anything, in standard uncertainties of the difference.
const TELLING: f64 = 4.0;

/// Of the tolerance: a blade that is off by less is left alone. [common practice, no source]
const WORTH_TURNING: f64 = 0.1;

/// One blade's link.
#[derive(Debug, Clone, PartialEq)]
pub struct BladeLink {
    /// The blade.
    pub blade: BladeName,
    /// What to turn, and what it leaves.
    pub advice: LinkAdvice,
    /// What makes uncertain how the blade stands now.
    pub now: Budget,
    /// What makes uncertain how it will stand.
    pub then: Budget,
}

/// So many half-turns of a link, told both ways.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BothWays {
    /// Positive where they raise the pitch.
    #[serde(rename = "half_turns_raising")]
    pub raising: HalfTurns,
    /// Positive where they make the link longer; none where nobody knows which way raises the pitch.
    #[serde(rename = "half_turns_longer")]
    pub longer: Option<HalfTurns>,
}

/// Which links to turn.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkSurvey {
    /// Where the blades shall stand.
    pub to: Angle,
    /// How far off they may stand.
    pub tolerance: Angle,
    /// Every blade that was read.
    pub blades: Vec<BladeLink>,
    /// The link and its arm.
    pub geometry: LinkGeometry,
    /// What a longer link does to the pitch: as it was seen, else as the head's description says; none where neither does.
    pub lengthening: Option<Lengthening>,
    /// Whether the description says the opposite of what was seen.
    pub contradicted: bool,
}

/// Why no link can be advised on.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LinkSurveyError {
    /// No capture that holds.
    #[error("no captures")]
    NoCaptures,
    /// A blade that was not read.
    #[error("not read: {0}")]
    NotRead(BladeName),
    /// A blade that was read at one station only, and stands nearer to where it is wanted than the lean may be.
    #[error("lean unknown: {blade}")]
    LeanUnknown {
        /// The blade.
        blade: BladeName,
        /// Where it must be read too, the clip left on.
        station: Station,
    },
    /// The swashplate does not stand level at stick centre, or may not: that is no link's fault.
    #[error("plate not level")]
    PlateNotLevel {
        /// Whether it is only in question.
        questioned: bool,
    },
    /// Neutrals that differ by what the swashplate may tilt or the model may lean, read with what does not tell one from the other.
    #[error("plate untold")]
    PlateUntold(Undecided),
    /// A zero that is known less well than the blades are to stand.
    #[error("zero unknown: {blade}")]
    ZeroUnknown {
        /// A blade that was read against it.
        blade: BladeName,
        /// U of what zero and calibration leave open, for 95 %.
        expanded: Angle,
        /// What makes it known.
        remedy: Remedy,
    },
}

impl LinkSurvey {
    /// From the captures that hold, for all blades or one; to the head's target unless told otherwise.
    ///
    /// # Errors
    /// When no blade was read, or not the one that was named; when the lean or the zero leaves open how a blade stands.
    pub fn new(
        head: &Head,
        entries: &[Entry],
        only: Option<BladeName>,
        to: Option<Angle>,
    ) -> Result<Self, LinkSurveyError> {
        let mut stand = stands(head, entries);
        if let Some(only) = only {
            stand.retain(|standing| standing.blade == only);
        }
        if stand.is_empty() {
            return Err(only.map_or(LinkSurveyError::NoCaptures, LinkSurveyError::NotRead));
        }
        plate_is_level(head, entries)?;
        let learned = learned(&Timeline::on(head, entries), head.station_error);
        let described = head.link.lengthening;
        let geometry = geometry(head, learned.map(|(_, measured)| measured));
        let said = to.is_some();
        let to = to.unwrap_or_else(|| head.targets.blade_zero.value());
        let tolerance = head.targets.blade_zero.tolerance().unwrap_or_else(|| Angle::from_degrees(0.5));
        for blade in &stand {
            knows(blade, to, tolerance)?;
        }
        let pitches: Vec<Angle> = stand.iter().map(|standing| standing.pitch).collect();
        let is_off = said || is_off(head, &Timeline::on(head, entries), &stand, to, tolerance);
        let blades = stand
            .into_iter()
            .zip(turn_links(&geometry, &pitches, to, tolerance))
            .map(|(Standing { blade, budget: now, .. }, advice)| {
                let leaves = !is_off || (advice.now - to).abs() < tolerance * WORTH_TURNING;
                let advice = if leaves { left_alone(advice) } else { advice };
                let turning = Contribution::new(Component::Shape, advice.u_turn).shrunk_by(Remedy::MeasureHalfTurn);
                BladeLink { blade, advice, then: now.clone().with(turning), now }
            })
            .collect();
        Ok(Self {
            to,
            tolerance,
            blades,
            geometry,
            lengthening: learned.map(|(way, _)| way).or(described),
            contradicted: learned.is_some_and(|(way, _)| described.is_some_and(|said| said != way)),
        })
    }

    /// What half-turns of this head's links were seen to do, whether or not its blades still stand as they were read.
    #[must_use]
    pub fn as_measured(head: &Head, entries: &[Entry]) -> Option<MeasuredHalfTurn> {
        learned(&Timeline::on(head, entries), head.station_error).map(|(_, measured)| measured)
    }

    /// What a half-turn of a link moves a blade by near its zero, by arm and thread of the head's description.
    #[must_use]
    pub fn by_description(head: &Head) -> Angle {
        half_turn(head)
    }

    /// The largest difference between two blades when the advice has been taken; none of a single blade.
    #[must_use]
    pub fn split_then(&self) -> Option<Angle> {
        let pitches = || self.blades.iter().map(|blade| blade.advice.turn.pitch.degrees());
        let split = pitches().fold(f64::MIN, f64::max) - pitches().fold(f64::MAX, f64::min);
        (self.blades.len() > 1).then(|| Angle::from_degrees(split))
    }

    /// U of that split, for 95 %: of the two blades that stand furthest apart then.
    #[must_use]
    pub fn split_expanded(&self) -> Option<Angle> {
        let then = |link: &&BladeLink| link.advice.turn.pitch.degrees();
        let by_pitch = |one: &&BladeLink, other: &&BladeLink| then(one).total_cmp(&then(other));
        let (low, high) = self.blades.iter().min_by(by_pitch).zip(self.blades.iter().max_by(by_pitch))?;
        Some(high.then.difference(&low.then).expanded().expanded)
    }

    /// How far off the nearest seat may leave a blade, where that is more than is wanted: then luck decides whether a seat is
    /// within.
    #[must_use]
    pub fn too_coarse(&self) -> Option<Angle> {
        let Seating::Every(seat) = self.geometry.seating else { return None };
        let step = self.geometry.per_half_turn(self.to).abs() * f64::from(seat);
        (step / 2.0 > self.tolerance).then_some(step / 2.0)
    }

    /// So many half-turns, also as the person turns them.
    #[must_use]
    pub fn half_turns(&self, raising: HalfTurns) -> BothWays {
        let longer = self.lengthening.map(|way| if way == Lengthening::Raises { raising } else { -raising });
        BothWays { raising, longer }
    }
}

/// How each blade stands that was read and still holds. A blade that was read more than once at one station stands at the mean.
fn stands(head: &Head, entries: &[Entry]) -> Vec<Standing> {
    let timeline = Timeline::on(head, entries);
    let standings = Standings::new(head, entries, &timeline);
    let track = TrackSurvey::new(head, entries, None).ok();
    let mean = |blade| {
        let pitches = track.iter().flat_map(|survey| &survey.track.pitch);
        pitches.into_iter().find(|(name, _)| *name == blade).map(|(_, pitch)| *pitch)
    };
    let standing = |blade| {
        let found = standings.of(blade).filter(Standing::is_fresh)?;
        let pitch = mean(blade).filter(|_| !found.is_free_of_lean()).unwrap_or(found.pitch);
        Some(Standing { pitch, ..found })
    };
    head.blades.names().filter_map(standing).collect()
}

/// Whether a blade or a track split is off as it was read: no link is turned where all are as they should be.
fn is_off(head: &Head, timeline: &Timeline<'_>, stand: &[Standing], to: Angle, tolerance: Angle) -> bool {
    let split = |blade| {
        let cell = track_cell(head, timeline, blade);
        cell.value.is_some_and(|value| cell.target.margin(value.angle.abs()) < Angle::ZERO)
    };
    stand.iter().any(|standing| (standing.pitch - to).abs() > tolerance) || head.blades.names().skip(1).any(split)
}

/// The link as it is.
const fn left_alone(advice: LinkAdvice) -> LinkAdvice {
    let turn = advice::Turned { half_turns: HalfTurns::ZERO, pitch: advice.now };
    LinkAdvice { turn, next_best: None, u_turn: Angle::ZERO, ..advice }
}

/// Whether nothing speaks against a level swashplate.
fn plate_is_level(head: &Head, entries: &[Entry]) -> Result<(), LinkSurveyError> {
    let timeline = Timeline::on(head, entries);
    let cell = swash_level_cell(head, &Standings::new(head, entries, &timeline));
    match cell {
        Some(cell) if is_owed_round(&cell) => Err(LinkSurveyError::PlateNotLevel { questioned: true }),
        Some(Cell { verdict: Verdict::Outside, .. }) => Err(LinkSurveyError::PlateNotLevel { questioned: false }),
        Some(Cell {
            verdict: Verdict::Undecided { by: by @ (Undecided::PlateUntold | Undecided::PlateNeedsReversal) },
            ..
        }) => Err(LinkSurveyError::PlateUntold(by)),
        _ => Ok(()),
    }
}

/// Whether it is known well enough how a blade stands to turn its link: its zero, and of its lean at least that it is not what
/// the blade is off by.
fn knows(standing: &Standing, to: Angle, tolerance: Angle) -> Result<(), LinkSurveyError> {
    let blade = standing.blade;
    let of_zero = |c: &&Contribution| matches!(c.component, Component::Calibration | Component::Datum);
    let zero = Budget::new(standing.budget.contributions().iter().filter(of_zero).cloned());
    let expanded = zero.expanded().expanded;
    if expanded > tolerance
        && let Some(largest) = zero.largest()
    {
        return Err(LinkSurveyError::ZeroUnknown { blade, expanded, remedy: largest.shrink });
    }
    let target = Target::Band { target: to, tolerance };
    match (standing.half_turn_on, decide(target, standing.pitch, &standing.budget)) {
        (Some(station), Decision::Undecided(_)) => Err(LinkSurveyError::LeanUnknown { blade, station }),
        _ => Ok(()),
    }
}

/// What a half-turn of a link moves a blade by near its zero, by the head's description.
pub(super) fn half_turn(head: &Head) -> Angle {
    geometry(head, None).per_half_turn(head.targets.blade_zero.value())
}

fn geometry(head: &Head, measured: Option<MeasuredHalfTurn>) -> LinkGeometry {
    let link = &head.link;
    let share = if link.turnbuckle { 1.0 } else { 0.5 };
    LinkGeometry {
        arm: link.pitch_arm(),
        half_turn: Millimetres::new(link.thread.pitch().value() * share),
        seating: seating(link.seats, link.turnbuckle),
        square_at: link.square_at,
        measured,
    }
}

/// By how much a link can be turned: a turnbuckle sits where it is and takes any fraction.
pub(super) const fn seating(seats: LinkSeat, turnbuckle: bool) -> Seating {
    match (turnbuckle, seats) {
        (true, _) => Seating::Any,
        (false, LinkSeat::FullTurn) => Seating::Every(2),
        (false, LinkSeat::HalfTurn) => Seating::Every(1),
    }
}

/// What half-turns were seen to do, all links taken together: Σ n·Δ / Σ n², and which way a longer link moves a blade.
fn learned(timeline: &Timeline<'_>, error: Angle) -> Option<(Lengthening, MeasuredHalfTurn)> {
    let captures: Vec<&Dated<'_>> = timeline.of(MID).collect();
    let pairs = captures.iter().enumerate().filter_map(|(at, after)| {
        let before = captures[..at].iter().rfind(|before| same_place(before.subject(), after.subject()))?;
        turned_between(before, after)
    });
    let pairs: Vec<Turned<'_, '_>> = pairs.collect();
    let squares: f64 = pairs.iter().map(|pair| pair.half_turns.powi(2)).sum();
    if squares == 0.0 {
        return None;
    }
    let longer = pairs.iter().map(|pair| pair.half_turns * pair.moved().radians()).sum::<f64>() / squares;
    // A capture that ends one pair and begins the next is one error in both.
    let budgets: Vec<(f64, Budget)> = pairs
        .iter()
        .flat_map(|pair| {
            let weight = pair.half_turns / squares;
            [(weight, at_station(pair.after.capture, error)), (-weight, at_station(pair.before.capture, error))]
        })
        .collect();
    let terms: Vec<(f64, &Budget)> = budgets.iter().map(|(weight, budget)| (*weight, budget)).collect();
    let u = Budget::combination(&terms).standard().radians();
    let way = if longer > 0.0 { Lengthening::Raises } else { Lengthening::Lowers };
    let measured = MeasuredHalfTurn { raises: Angle::from_radians(longer.abs()), u: Angle::from_radians(u) };
    (longer.abs() > TELLING * u).then_some((way, measured))
}

/// Two captures of a blade between which nothing but its own link was turned.
struct Turned<'t, 'a> {
    before: &'t Dated<'a>,
    after: &'t Dated<'a>,
    half_turns: f64,
}

impl Turned<'_, '_> {
    fn moved(&self) -> Angle {
        self.after.capture.reading.angle - self.before.capture.reading.angle
    }
}

fn turned_between<'t, 'a>(before: &'t Dated<'a>, after: &'t Dated<'a>) -> Option<Turned<'t, 'a>> {
    let between = before.stale_by.strip_suffix(after.stale_by.as_slice())?;
    let turned = between.iter().map(|adjustment| match adjustment {
        Adjustment::Link { half_turns, .. } => Some(*half_turns),
        _ => None,
    });
    let half_turns = turned.sum::<Option<HalfTurns>>()?;
    if half_turns.rounded().is_zero() || !before.is_comparable(after) {
        return None;
    }
    Some(Turned { before, after, half_turns: half_turns.value() })
}
