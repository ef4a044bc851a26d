//! Track at rest from the captures of a setup: all blades at one station, judged, with what it still takes to decide it.
//!
//! Used are the captures at mid stick that still hold, at one station and against one datum. Each blade may have been
//! read several times; its mean counts. How many readings a decision takes follows from what changes from reading to
//! reading (repeat and the clip's seat) and what is left of the rest in a difference.

use super::capture::Capture;
use super::head::Head;
use super::setup::Entry;
use super::timeline::{Timeline, one_zero, same_station};
use super::travel::at_station;
use super::zero_cell::MID;
use crate::rotor::{BladeName, Moves, Spot, Station, Track, TrackError, TrackReading, moves_to_decide, track};
use crate::sensor::reseat::Reseat;
use crate::uncertainty::{Budget, Component, Decision, Target, decide};
use crate::units::Angle;
use uuid::Uuid;

/// What a reading is uncertain by from reading to reading while none was taken: a clip's seat and a steady hold.
/// [common practice, no source]
const EXPECTED_SEAT_DEGREES: f64 = 0.1;
const EXPECTED_REPEAT_DEGREES: f64 = 0.025;
/// And by how much its pitch may change with the station, degrees a radian. [common practice, no source]
const EXPECTED_SLOPE_DEGREES: f64 = 1.0;

/// One blade against the reference, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedSplit {
    /// The blade.
    pub blade: BladeName,
    /// Its pitch less the reference blade's.
    pub split: Angle,
    /// What makes it uncertain.
    pub budget: Budget,
    /// Against what is wanted.
    pub decision: Decision,
    /// How many readings of each blade would decide it, those already taken among them.
    pub moves: Moves,
}

/// Track from the captures of a setup.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackSurvey {
    /// All blades at one place.
    pub track: Track,
    /// Every other blade against the reference.
    pub splits: Vec<JudgedSplit>,
    /// What is wanted.
    pub target: Target,
    /// How often each blade was read, in the order of `track.pitch`.
    pub taken: Vec<(BladeName, u32)>,
    /// The captures used, oldest first.
    pub captures: Vec<Uuid>,
}

impl TrackSurvey {
    /// The track at `station`; without one, at the station of the newest capture at mid stick.
    ///
    /// # Errors
    /// When fewer than two blades were read there, or blades were read at different stations.
    pub fn new(head: &Head, entries: &[Entry], station: Option<Station>) -> Result<Self, TrackError> {
        let timeline = Timeline::on(head, entries);
        let fresh: Vec<&Capture> = timeline.of(MID).filter(|d| d.is_fresh()).map(|d| d.capture).collect();
        let newest = fresh.last().ok_or(TrackError::OneBlade)?;
        let at = station.or_else(|| newest.subject.station()).ok_or(TrackError::OneBlade)?;
        let near = |capture: &&&Capture| capture.subject.station().is_some_and(|s| s.distance(at) <= same_station());
        let here: Vec<&Capture> = fresh.iter().filter(near).copied().collect();
        // Of each sensor what was read against its newest datum, where that is one zero with the newest reading's.
        let last = *here.last().ok_or(TrackError::OneBlade)?;
        let newest =
            |of: &Capture| here.iter().rev().find(|c| c.sensor.carrier == of.sensor.carrier).map(|c| c.datum.id);
        let here: Vec<&Capture> =
            here.iter().copied().filter(|c| newest(c) == Some(c.datum.id) && one_zero(c, last)).collect();
        let readings: Vec<TrackReading> = here.iter().map(|capture| reading(capture, at, head.station_error)).collect();
        let track = track(&readings).map_err(|error| elsewhere(error, &fresh, &here))?;
        let target = head.targets.track_split;
        let taken: Vec<(BladeName, u32)> =
            track.pitch.iter().map(|&(blade, _)| (blade, readings_of(&readings, blade))).collect();
        let fewest = taken.iter().map(|(_, n)| *n).min().unwrap_or(0);
        let stays = last.sensor.carrier.is_some();
        let splits = track.splits.iter().map(|split| judged(split, target, fewest, stays)).collect();
        Ok(Self { track, splits, target, taken, captures: here.iter().map(|capture| capture.id).collect() })
    }

    /// Whether every split is inside or outside for certain.
    #[must_use]
    pub fn is_decided(&self) -> bool {
        self.splits.iter().all(|split| !matches!(split.decision, Decision::Undecided(_)))
    }

    /// Whether every split is inside.
    #[must_use]
    pub fn is_good(&self) -> bool {
        self.splits.iter().all(|split| split.decision == Decision::Inside)
    }

    /// How many readings are still to be taken of all blades together; 0 when it is decided, none when no number would do.
    #[must_use]
    pub fn remaining(&self) -> Option<u32> {
        if self.is_decided() {
            return Some(0);
        }
        let undecided = self.splits.iter().filter(|s| matches!(s.decision, Decision::Undecided(_)));
        let mut wanted = 0;
        for split in undecided {
            match split.moves {
                Moves::Each(each) => wanted = wanted.max(each),
                Moves::Never => return None,
            }
        }
        // An even number of rounds, there and back again, lets a drift drop out. At least one more round is due.
        Some(self.taken.iter().map(|(_, n)| wanted.saturating_sub(*n).max(1)).sum())
    }
}

/// What a track will take, said before its first reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackForecast {
    /// U to be expected of a split with one reading of each blade.
    pub expected: Angle,
    /// The room there is: the tolerance, or the ceiling.
    pub room: Angle,
    /// How many readings of each blade a split in the middle of what is wanted takes.
    pub moves: Moves,
    /// What changes from reading to reading, and the part of it that is the clip's seat.
    own: Angle,
    seat: Angle,
    /// Whether each blade's own sensor stays where it is, and its seat with it.
    pub stays: bool,
}

impl TrackForecast {
    /// Foretold from the newest capture of a main blade and what a re-seat study found, else from what is usual. `stays` says
    /// whether each blade has a sensor of its own; where nobody knows yet, it is as the newest capture was read.
    #[must_use]
    pub fn new(head: &Head, entries: &[Entry], reseat: Option<&Reseat>, stays: Option<bool>) -> Self {
        let timeline = Timeline::on(head, entries);
        let newest_on_main = timeline.on_main_rotor().next_back().map(|dated| dated.capture);
        let newest = newest_on_main.map(|capture| capture.reading.budget.components());
        let of = |component, usual: f64| {
            let known = newest.as_ref().and_then(|components| components.get(&component).copied());
            known.unwrap_or(Angle::from_degrees(usual))
        };
        let seat = reseat.map_or_else(|| of(Component::Clip, EXPECTED_SEAT_DEGREES), |study| study.u);
        let stand = head.station_error * (EXPECTED_SLOPE_DEGREES.to_radians() / 3f64.sqrt());
        let stand = newest_on_main.map_or(stand, |capture| turned(capture, head.station_error));
        let hand = stand.hypot(of(Component::Repeat, EXPECTED_REPEAT_DEGREES));
        let clip = seat.hypot(of(Component::Skew, 0.0));
        let room = room(head.targets.track_split, None);
        let expected = hand.hypot(clip) * (2.0 * std::f64::consts::SQRT_2);
        let stays = stays.unwrap_or_else(|| newest_on_main.is_some_and(|capture| capture.sensor.carrier.is_some()));
        let (own, shared) =
            if stays { (hand, clip * std::f64::consts::SQRT_2) } else { (hand.hypot(clip), Angle::ZERO) };
        Self { expected, room, moves: moves_to_decide(own, shared, room), own, seat, stays }
    }

    /// What would make a track decidable that is not.
    #[must_use]
    pub fn remedy(&self) -> Option<TrackRemedy> {
        if self.moves != Moves::Never {
            return None;
        }
        if self.stays {
            return Some(TrackRemedy::OneSensor);
        }
        // What is left when the seat is known to a third of itself.
        let rest = self.own.radians().powi(2) - self.seat.radians().powi(2) * (8.0 / 9.0);
        let studied = Angle::from_radians(rest.max(0.0).sqrt());
        Some(match moves_to_decide(studied, Angle::ZERO, self.room) {
            Moves::Each(readings) => TrackRemedy::BetterSeat { readings },
            Moves::Never => TrackRemedy::WiderTolerance,
        })
    }
}

/// What would make a track decidable.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TrackRemedy {
    /// One sensor that goes from blade to blade: how each blade's own sensor sits is the same in all its readings.
    OneSensor,
    /// A clip that seats three times as well.
    BetterSeat {
        /// So many readings of each blade would then do.
        readings: u32,
    },
    /// A wider tolerance.
    WiderTolerance,
}

/// What turning the head by eye adds to a reading like this one.
fn turned(capture: &Capture, error: Angle) -> Angle {
    at_station(capture, error).components().get(&Component::Azimuth).copied().unwrap_or_default()
}

fn reading(capture: &Capture, at: Station, error: Angle) -> TrackReading {
    let mut place = capture.subject.place(capture.clip);
    // Set by eye to one station: within five degrees it is the same.
    place.spot = Spot::Main(at);
    TrackReading { place, pitch: capture.reading.angle, budget: at_station(capture, error) }
}

fn readings_of(readings: &[TrackReading], blade: BladeName) -> u32 {
    readings.iter().filter(|r| r.place.blade == blade).map(|_| 1).sum()
}

/// Where only one blade was read here, another one elsewhere is the better answer.
fn elsewhere(error: TrackError, fresh: &[&Capture], here: &[&Capture]) -> TrackError {
    let (TrackError::OneBlade, Some(first)) = (error, here.last()) else { return error };
    let other = fresh.iter().rev().find(|capture| capture.subject.blade() != first.subject.blade());
    other.map_or(error, |other| TrackError::Places {
        first: first.subject.blade(),
        first_spot: first.subject.spot(),
        second: other.subject.blade(),
        second_spot: other.subject.spot(),
    })
}

fn judged(split: &crate::rotor::TrackSplit, target: Target, taken: u32, stays: bool) -> JudgedSplit {
    let judged = if matches!(target, Target::AtMost(_)) { split.split.abs() } else { split.split };
    let decision = decide(target, judged, &split.budget);
    // Of the mean of n readings each, u² = 2·u_reading²/n + u_shared².
    let mut own = Angle::ZERO;
    let mut shared = Angle::ZERO;
    for (component, u) in split.budget.components() {
        if changes(component, stays) {
            own = own.hypot(u);
        } else {
            shared = shared.hypot(u);
        }
    }
    let own = own * (f64::from(taken) / 2.0).sqrt();
    let moves = moves_to_decide(own, shared, room(target, Some(judged)));
    JudgedSplit { blade: split.blade, split: split.split, budget: split.budget.clone(), decision, moves }
}

/// Whether a component is drawn anew with every reading of a track, for which the head is moved, and the clip too unless
/// each blade's own sensor `stays` where it is.
const fn changes(component: Component, stays: bool) -> bool {
    match component {
        Component::Repeat | Component::Azimuth => true,
        Component::Clip | Component::Skew => !stays,
        _ => false,
    }
}

/// How small U must become: the tolerance before a value is known, later its distance from the nearest limit.
fn room(target: Target, value: Option<Angle>) -> Angle {
    match (value, target) {
        (Some(value), _) => target.margin(value).abs(),
        (None, Target::Band { tolerance, .. }) => tolerance,
        (None, Target::AtMost(ceiling)) => ceiling,
    }
}
