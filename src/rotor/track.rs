//! Track at rest: how the blades differ at one place of the turn.
//!
//! Two blades at the same station, the head turned in between, see the same lean of shaft and swashplate: their
//! difference, blade less reference, is the track split. At different stations it is not, and is refused. Each blade
//! may be read several times; its mean counts. Read in the order A-B-B-A, a steady drift drops out of the split (the
//! weighing designs of mass metrology: NIST SP 952, SOP 5, from memory), and re-seating the clip for every reading
//! averages the seats.
//!
//! What the readings share (calibration, datum) cancels by the budget's own arithmetic.

use super::{BladeName, Place, Spot};
use crate::uncertainty::Budget;
use crate::units::Angle;

/// One reading of one blade for the track.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackReading {
    /// Blade, spot and clip.
    pub place: Place,
    /// Its pitch against any datum, or apparent.
    pub pitch: Angle,
    /// What makes it uncertain; errors that readings share must name their source.
    pub budget: Budget,
}

/// One blade against the reference.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackSplit {
    /// The blade.
    pub blade: BladeName,
    /// Its pitch less the reference blade's.
    pub split: Angle,
    /// What makes the difference uncertain.
    pub budget: Budget,
}

/// All blades at one place of the turn.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// Where they were read.
    pub spot: Spot,
    /// The blade that the others are held against: A, or the first that was read.
    pub reference: BladeName,
    /// Mean pitch of each blade, in the order of names.
    pub pitch: Vec<(BladeName, Angle)>,
    /// Every other blade against the reference.
    pub splits: Vec<TrackSplit>,
}

/// Why readings give no track.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum TrackError {
    /// Fewer than two blades.
    #[error("one blade")]
    OneBlade,
    /// Different places of the turn.
    #[error("places: {first}, {second}")]
    Places {
        /// A blade.
        first: BladeName,
        /// Where it was read.
        first_spot: Spot,
        /// A reading elsewhere.
        second: BladeName,
        /// Where that was.
        second_spot: Spot,
    },
    /// Clips both ways.
    #[error("clips both ways")]
    Clips,
}

/// Holds all blades against the reference.
///
/// # Errors
/// When fewer than two blades were read, or not all at one place with the clip one way.
pub fn track(readings: &[TrackReading]) -> Result<Track, TrackError> {
    let (first, rest) = readings.split_first().ok_or(TrackError::OneBlade)?;
    for other in rest {
        check_same(first.place, other.place)?;
    }
    let mut blades: Vec<BladeName> = readings.iter().map(|r| r.place.blade).collect();
    blades.sort_unstable();
    blades.dedup();
    let (&reference, others) = blades.split_first().ok_or(TrackError::OneBlade)?;
    if others.is_empty() {
        return Err(TrackError::OneBlade);
    }
    let splits = others.iter().map(|&blade| split(readings, reference, blade)).collect();
    let pitch = blades.iter().map(|&blade| (blade, mean(readings, blade))).collect();
    Ok(Track { spot: first.place.spot, reference, pitch, splits })
}

fn check_same(first: Place, second: Place) -> Result<(), TrackError> {
    if !first.spot.is_same(second.spot) {
        return Err(TrackError::Places {
            first: first.blade,
            first_spot: first.spot,
            second: second.blade,
            second_spot: second.spot,
        });
    }
    if first.clip == second.clip { Ok(()) } else { Err(TrackError::Clips) }
}

fn of(readings: &[TrackReading], blade: BladeName) -> impl Iterator<Item = &TrackReading> {
    readings.iter().filter(move |r| r.place.blade == blade)
}

fn mean(readings: &[TrackReading], blade: BladeName) -> Angle {
    of(readings, blade).map(|r| r.pitch).sum::<Angle>() / of(readings, blade).count().max(1) as f64
}

fn split(readings: &[TrackReading], reference: BladeName, blade: BladeName) -> TrackSplit {
    let weighed = |blade, sign: f64| {
        let share = sign / of(readings, blade).count().max(1) as f64;
        of(readings, blade).map(move |r| (share, &r.budget))
    };
    let terms: Vec<(f64, &Budget)> = weighed(blade, 1.0).chain(weighed(reference, -1.0)).collect();
    TrackSplit { blade, split: mean(readings, blade) - mean(readings, reference), budget: Budget::combination(&terms) }
}

/// The blade to read next, in the order A-B-B-A (A-B-C-C-B-A and so on): there and back again.
#[must_use]
pub fn next_blade(blades: &[BladeName], taken: usize) -> Option<BladeName> {
    let count = blades.len();
    let place = taken.checked_rem(2 * count)?;
    blades.get(if place < count { place } else { 2 * count - 1 - place }).copied()
}

/// How many readings of each blade would decide a split.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moves {
    /// So many readings of each blade, all seats counted, the ones already taken among them.
    Each(u32),
    /// No number of readings would: what the readings share, or the target itself, leaves no room.
    Never,
}

/// Foresees how many readings of each blade bring U (k = 2) under `room`.
///
/// `u_reading` is what changes from reading to reading (repeat, seat, station), `u_shared` what is left of the
/// rest in the difference. `room` is the tolerance before the first reading (a split can then be found inside only where
/// U is under it), later the distance of the split from the nearest limit of its target.
#[must_use]
pub fn moves_to_decide(u_reading: Angle, u_shared: Angle, room: Angle) -> Moves {
    /// More than this nobody turns a head.
    const MOST: f64 = 50.0;
    let wanted = (room.radians() / 2.0).powi(2) - u_shared.radians().powi(2);
    let each = (2.0 * u_reading.radians().powi(2) / wanted).ceil();
    if room > Angle::ZERO && wanted > 0.0 && each <= MOST { Moves::Each((each as u32).max(1)) } else { Moves::Never }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertainty::{Component, Contribution, Source};
    use crate::{Clip, LeadingEdge, Station};

    fn deg(value: f64) -> Angle {
        Angle::from_degrees(value)
    }

    fn blade(index: usize) -> BladeName {
        BladeName::from_index(index).unwrap()
    }

    /// A reading with its own 0.05°, and 0.5° of a calibration that all share.
    fn reading(index: usize, azimuth: f64, pitch: f64) -> TrackReading {
        TrackReading {
            place: Place {
                blade: blade(index),
                spot: Spot::Main(Station::from_degrees(azimuth).unwrap()),
                clip: Clip::Forward,
            },
            pitch: deg(pitch),
            budget: Budget::new([
                Contribution::new(Component::Repeat, deg(0.05)),
                Contribution::new(Component::Calibration, deg(0.5)).shared(Source::calibration("bench")),
            ]),
        }
    }

    #[test]
    fn what_the_readings_share_drops_out_of_the_split() {
        let found = track(&[reading(0, 90.0, 1.0), reading(1, 90.0, 1.4)]).unwrap();
        assert_eq!(found.reference, BladeName::A);
        assert!((found.splits[0].split.degrees() - 0.4).abs() < 1e-12);
        assert!((found.splits[0].budget.standard().degrees() - 0.05 * 2f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn there_and_back_again_a_steady_drift_drops_out() {
        let blades = [blade(0), blade(1)];
        let order: Vec<BladeName> = (0..4).filter_map(|n| next_blade(&blades, n)).collect();
        assert_eq!(order.iter().map(ToString::to_string).collect::<String>(), "ABBA");
        let drifting = |n: usize| {
            let index = order[n].index();
            reading(index, 0.0, 0.3 * index as f64 + 0.1 * n as f64)
        };
        let found = track(&[drifting(0), drifting(1), drifting(2), drifting(3)]).unwrap();
        assert!((found.splits[0].split.degrees() - 0.3).abs() < 1e-12);
        assert!((found.splits[0].budget.standard().degrees() - 0.05).abs() < 1e-9);
        let three: String =
            (0..7).filter_map(|n| next_blade(&[blade(0), blade(1), blade(2)], n)).map(|b| b.to_string()).collect();
        assert_eq!(three, "ABCCBAA");
        assert_eq!(next_blade(&[], 3), None);
    }

    #[test]
    fn blades_at_different_stations_are_no_track() {
        let refused = track(&[reading(0, 0.0, 1.0), reading(1, 180.0, 1.4)]).unwrap_err();
        let spot = |degrees| Spot::Main(Station::from_degrees(degrees).unwrap());
        let wanted =
            TrackError::Places { first: blade(0), first_spot: spot(0.0), second: blade(1), second_spot: spot(180.0) };
        assert_eq!(refused, wanted);
        let mut tail = reading(1, 0.0, 1.0);
        tail.place.spot = Spot::Tail(LeadingEdge::Up);
        assert!(matches!(track(&[reading(0, 0.0, 1.0), tail]), Err(TrackError::Places { .. })));
        let mut turned = reading(1, 0.0, 1.0);
        turned.place.clip = Clip::Reversed;
        assert_eq!(track(&[reading(0, 0.0, 1.0), turned]), Err(TrackError::Clips));
        assert_eq!(track(&[reading(0, 0.0, 1.0), reading(0, 0.0, 1.0)]), Err(TrackError::OneBlade));
        assert_eq!(track(&[]), Err(TrackError::OneBlade));
    }

    #[test]
    fn five_blades_are_held_against_the_first() {
        let readings: Vec<TrackReading> = (0..5).map(|i| reading(i, 72.0, i as f64 / 10.0)).collect();
        let found = track(&readings).unwrap();
        let splits: Vec<f64> = found.splits.iter().map(|s| (s.split.degrees() * 10.0).round()).collect();
        assert_eq!(splits, [1.0, 2.0, 3.0, 4.0]);
    }

    #[test]
    fn it_says_beforehand_how_many_moves_a_tolerance_takes() {
        // One seat each of 0.1°: U = 2·0.141° = 0.28°, too much for 0.2°; two seats each just do.
        assert_eq!(moves_to_decide(deg(0.1), Angle::ZERO, deg(0.29)), Moves::Each(1));
        assert_eq!(moves_to_decide(deg(0.1), Angle::ZERO, deg(0.2001)), Moves::Each(2));
        assert_eq!(moves_to_decide(deg(0.1), Angle::ZERO, deg(0.1)), Moves::Each(8));
        // A calibration that leaves 0.15° in the difference decides nothing within 0.2°.
        assert_eq!(moves_to_decide(deg(0.01), deg(0.15), deg(0.2)), Moves::Never);
        assert_eq!(moves_to_decide(deg(0.1), Angle::ZERO, Angle::ZERO), Moves::Never);
    }
}
