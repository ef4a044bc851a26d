//! The spindle bend check: a blade's span slope as the spindle is turned in its grips, links off, the blade at the same station.
//!
//! A spindle that is bent by b lifts the grip by the part of b that lies in the flap plane. Turned by γ in its grips, the slope is
//!
//! ```text
//! s(γ) = s₀ + b·cos(γ − α)        α: where it is bent to, counted from its first seat
//! ```
//!
//! Three or more seats a quarter turn apart give b and α by least squares, each check with an s₀ of its own. Two seats half a turn
//! apart show the part of b in their plane alone, half the change: a spindle that is bent across lifts the blade in neither. They can
//! find a bend, and never that there is none. The readings round the turn of the head cannot tell it, since a bend turns with the
//! head and shows as a constant split and unequal droop at every azimuth. (Common practice, no source.)
//!
//! Clip, calibration and lean of the shaft are in all readings and drop out. What remains is each reading's own scatter,
//! and the blade's station: where the shaft leans by λ, a blade that stands δ off reads up to λ·δ otherwise.
//!
//! Assumed: the clip stays where it sits throughout a check. A clip that is taken off in between adds its seat.

use super::adjustment::Adjustment;
use super::cell::{Basis, Cell, CellName, Value, Verdict};
use super::collective::{LEAN_DEGREES, PLATE_DEGREES, Standings};
use super::finding::{CellFinding, Undecided};
use super::head::Head;
use super::limit_cell::judge;
use super::setup::{Entry, Event, turned};
use crate::rotor::{BladeName, Station};
use crate::uncertainty::{Budget, Component, Contribution, Remedy};
use crate::units::Angle;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::f64::consts::FRAC_PI_2;
use uuid::Uuid;

/// By how much the pitch of a blade may change round the turn while nobody has measured it: model and swashplate together.
const UNKNOWN_LEAN_DEGREES: f64 = LEAN_DEGREES + PLATE_DEGREES;

/// A straight spindle's two components are nothing, each known to u: the size that they make together stays within 2.448·u in 95 %
/// of all cases, √(−2·ln 0.05), where one value stays within 2·u.
const OF_TWO_COMPONENTS: f64 = 1.224;

/// One blade's span slope at seats of the spindle a quarter turn apart.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SpindleCheck {
    /// The blade that carries the clip.
    pub blade: BladeName,
    /// Where it stood, each time.
    #[serde(rename = "station_deg")]
    pub station: Station,
    /// Span slope at one seat, tip up positive.
    #[serde(rename = "before_deg")]
    pub before: Angle,
    /// Span slope half a turn of the spindle on.
    #[serde(rename = "after_deg")]
    pub after: Angle,
    /// Standard uncertainty of the change from the scatter of both readings.
    #[serde(rename = "u_repeat_deg")]
    pub u_repeat: Angle,
    /// Span slope with the spindle turned by 0°, 90°, 180° and 270° from its mark, where it was read. None in a record of earlier
    /// versions, which knew two seats at no particular mark.
    #[serde(default, rename = "quarters_deg", skip_serializing_if = "Option::is_none")]
    pub quarters: Option<[Option<Angle>; 4]>,
}

/// Why seats make no check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SpindleError {
    /// A seat that is no quarter turn.
    #[error("no quarter turn: {0}")]
    NoQuarter(u16),
    /// The same seat twice.
    #[error("twice: {0}")]
    Twice(u16),
    /// No two seats half a turn apart.
    #[error("no opposite seats")]
    NoOpposite,
}

impl SpindleCheck {
    /// Whether these seats, in degrees from the spindle's mark, make a check: quarter turns, two of them half a turn apart.
    ///
    /// # Errors
    /// When they do not.
    pub fn seats(degrees: &[u16]) -> Result<(), SpindleError> {
        for (place, &seat) in degrees.iter().enumerate() {
            if seat % 90 != 0 || seat >= 360 {
                return Err(SpindleError::NoQuarter(seat));
            }
            if degrees[..place].contains(&seat) {
                return Err(SpindleError::Twice(seat));
            }
        }
        let opposite = |seat: &u16| degrees.contains(&((seat + 180) % 360));
        if degrees.iter().any(opposite) { Ok(()) } else { Err(SpindleError::NoOpposite) }
    }

    /// The check of a blade at a station, from its span slope at each seat and the standard uncertainty of that by scatter.
    ///
    /// # Errors
    /// When the seats make no check.
    pub fn new(blade: BladeName, station: Station, read: &[(u16, Angle, Angle)]) -> Result<Self, SpindleError> {
        Self::seats(&read.iter().map(|(seat, ..)| *seat).collect::<Vec<_>>())?;
        let mut quarters = [None; 4];
        for &(seat, slope, _) in read {
            quarters[usize::from(seat / 90)] = Some(slope);
        }
        let pair = |first: usize| quarters[first].zip(quarters[first + 2]);
        let (before, after) = pair(0).or_else(|| pair(1)).ok_or(SpindleError::NoOpposite)?;
        let squares = read.iter().fold(Angle::ZERO, |sum, (.., u)| sum.hypot(*u));
        let u_repeat = squares * (2.0 / read.len() as f64).sqrt();
        Ok(Self { blade, station, before, after, u_repeat, quarters: Some(quarters) })
    }

    /// The slopes with the angle that the spindle was turned by, radians, in order of that angle.
    fn slopes(&self) -> Vec<(f64, Angle)> {
        let quarters = self.quarters.unwrap_or([Some(self.before), None, Some(self.after), None]);
        let at = |(quarter, slope): (usize, Option<Angle>)| Some((quarter as f64 * FRAC_PI_2, slope?));
        quarters.into_iter().enumerate().filter_map(at).collect()
    }

    /// The slopes with the angle that the spindle was turned by, degrees from its mark.
    pub fn turned(&self) -> impl Iterator<Item = (u16, Angle)> {
        self.slopes().into_iter().map(|(turned, slope)| (turned.to_degrees().round() as u16, slope))
    }

    /// How far the spindle is bent in the plane of two opposite seats, with the sign of the reading after half a turn.
    #[must_use]
    pub fn bend(&self) -> Angle {
        (self.after - self.before) / 2.0
    }

    /// Standard uncertainty of one slope: scatter, and how far off its station the blade may have stood.
    fn u_slope(&self, off: Angle) -> [Angle; 2] {
        [self.u_repeat / std::f64::consts::SQRT_2, off]
    }
}

/// What a blade that is put at its station once more may read otherwise, and whether the lean in it is assumed.
pub(super) fn off_its_station(head: &Head, standings: &Standings<'_, '_>) -> (Angle, bool) {
    let lean = standings.lean();
    let u_station = head.station_error.radians() / 3f64.sqrt();
    (lean.unwrap_or(Angle::from_degrees(UNKNOWN_LEAN_DEGREES)) * u_station, lean.is_none())
}

/// Least squares over the slopes of checks, each with an s₀ of its own: b·cosα and b·sinα.
struct Fit {
    /// b·cosα, b·sinα.
    bend: [Angle; 2],
    /// Standard uncertainty by scatter and by station, of the worse known direction.
    u: [Angle; 2],
}

impl Fit {
    /// `None` where all seats lie in one plane.
    fn of(checks: &[&SpindleCheck], off: Angle) -> Option<Self> {
        // A row of each slope: cos, sin, each less its mean within the check; slope; its two uncertainties.
        let mut rows: Vec<([f64; 2], f64, [f64; 2])> = Vec::new();
        for check in checks {
            let slopes = check.slopes();
            let mean =
                |of: &dyn Fn(f64) -> f64| slopes.iter().map(|(at, _)| of(*at)).sum::<f64>() / slopes.len() as f64;
            let means = [mean(&f64::cos), mean(&f64::sin)];
            let u = check.u_slope(off).map(Angle::radians);
            rows.extend(
                slopes.iter().map(|(at, slope)| ([at.cos() - means[0], at.sin() - means[1]], slope.radians(), u)),
            );
        }
        let weight = |u: [f64; 2]| 1.0 / u[0].hypot(u[1]).max(1e-9).powi(2);
        let sum = |of: &dyn Fn(&[f64; 2]) -> f64| rows.iter().map(|(x, _, u)| weight(*u) * of(x)).sum::<f64>();
        let (cc, cs, ss) = (sum(&|x| x[0] * x[0]), sum(&|x| x[0] * x[1]), sum(&|x| x[1] * x[1]));
        let determinant = cc * ss - cs * cs;
        if determinant <= 1e-6 * (cc + ss).powi(2) {
            return None;
        }
        // What one slope adds to each component.
        let gain = |x: &[f64; 2], u: [f64; 2]| {
            let w = weight(u) / determinant;
            [w * (ss * x[0] - cs * x[1]), w * (cc * x[1] - cs * x[0])]
        };
        let along = |axis: usize| rows.iter().map(|(x, slope, u)| gain(x, *u)[axis] * slope).sum::<f64>();
        let bend = [along(0), along(1)];
        let u_of = |axis: usize, part: usize| {
            rows.iter().map(|(x, _, u)| (gain(x, *u)[axis] * u[part]).powi(2)).sum::<f64>().sqrt()
        };
        let u = [0, 1].map(|part| Angle::from_radians(u_of(0, part).max(u_of(1, part))));
        Some(Self { bend: bend.map(Angle::from_radians), u })
    }

    fn size(&self) -> Angle {
        self.bend[0].hypot(self.bend[1])
    }

    /// Where the spindle is bent to, from its mark in the sense in which it was turned, 0° to 360°.
    fn toward(&self) -> Angle {
        Angle::from_degrees(self.bend[1].radians().atan2(self.bend[0].radians()).to_degrees().rem_euclid(360.0))
    }
}

/// The bend as the newest checks tell it, as few of them as do, and which those are: an older one says nothing more of a spindle
/// that may have been bent or changed since. Seats of different checks go together only where they are counted from one mark.
fn newest_fit(all: &[(Uuid, SpindleCheck)], off: Angle) -> Option<(Fit, Vec<Uuid>)> {
    let marked: Vec<&(Uuid, SpindleCheck)> = all.iter().filter(|(_, check)| check.quarters.is_some()).collect();
    (1..=marked.len()).find_map(|count| {
        let newest = &marked[marked.len() - count..];
        let fit = Fit::of(&newest.iter().map(|(_, check)| check).collect::<Vec<_>>(), off)?;
        Some((fit, newest.iter().map(|(id, _)| *id).collect()))
    })
}

/// The cell of one blade's spindle, from its checks.
pub(super) fn spindle_cell(
    head: &Head,
    entries: &[Entry],
    standings: &Standings<'_, '_>,
    blade: BladeName,
) -> Option<Cell> {
    let of_blade = |entry: &'_ Entry| match &entry.event {
        Event::Spindle { check } if check.blade == blade => Some((entry.id, *check)),
        _ => None,
    };
    let read: Vec<(Uuid, SpindleCheck)> = entries.iter().filter_map(of_blade).collect();
    let newest = *read.last()?;
    // What was read before a new spindle, or a crash, says nothing of the one that was read last.
    let at = |id| entries.iter().position(|entry| entry.id == id);
    let before = |by: &(usize, Adjustment)| by.1.renews_spindle(blade) && Some(by.0) < at(newest.0);
    let renewed = turned(entries).rfind(before).map(|(at, _)| at);
    let all: Vec<_> = read.into_iter().filter(|(id, _)| renewed.is_none() || at(*id) > renewed).collect();
    let (off, assumed) = off_its_station(head, standings);
    let budget = |[repeat, azimuth]: [Angle; 2]| {
        let azimuth = Contribution::new(Component::Azimuth, azimuth);
        let azimuth = if assumed { azimuth.assumed() } else { azimuth }.shrunk_by(Remedy::LevelModel);
        Budget::new([Contribution::new(Component::Repeat, repeat), azimuth])
    };
    let value = |angle, basis, budget: Budget, captures| Value {
        angle,
        expanded: budget.expanded().expanded,
        basis,
        as_read: newest.1.after,
        budget,
        captures,
    };
    let mut cell = Cell::missing(CellName::Spindle(blade), head.targets.spindle);
    let (id, check) = newest;
    // Two slopes, each with its own error, and half their difference.
    let halves = check.u_slope(off).map(|u| u / std::f64::consts::SQRT_2);
    let in_plane = value(check.bend(), Basis::Turned, budget(halves), vec![id]);
    let judged = judge(cell.target, &in_plane, false, false);
    let in_all = newest_fit(&all, off).map(|(fit, captures)| {
        let value = value(fit.size(), Basis::Bend, budget(fit.u.map(|u| u * OF_TWO_COMPONENTS)), captures);
        (judge(cell.target, &value, false, false), fit.toward(), value)
    });
    // What is bent in the plane that was read last is bent, whatever was read before.
    let in_all = in_all.filter(|(with_older, _, value)| {
        value.captures == [id] || judged != Verdict::Outside || *with_older == Verdict::Outside
    });
    if let Some((verdict, toward, value)) = in_all {
        cell.verdict = verdict;
        cell.remarks.extend((value.angle > value.expanded).then_some(CellFinding::BentToward { toward }));
        cell.value = Some(value);
    } else {
        cell.verdict = match judged {
            Verdict::Inside => Verdict::Undecided { by: Undecided::OnePlane },
            verdict => verdict,
        };
        cell.value = Some(in_plane);
    }
    cell.consequence = cell.plain_consequence();
    Some(cell)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::LimitRecord;
    use jiff::Timestamp;

    fn head() -> Head {
        Head::from_toml(&Head::template("Club trainer")).unwrap()
    }

    fn deg(degrees: f64) -> Angle {
        Angle::from_degrees(degrees)
    }

    fn entry(check: SpindleCheck) -> Entry {
        Entry { id: Uuid::nil(), at: Timestamp::UNIX_EPOCH, event: Event::Spindle { check } }
    }

    fn station() -> Station {
        Station::from_degrees(90.0).unwrap()
    }

    /// A record of two seats as earlier versions kept it.
    fn cell_of(before: f64, after: f64) -> Cell {
        let check = SpindleCheck {
            blade: BladeName::A,
            station: station(),
            before: deg(before),
            after: deg(after),
            u_repeat: deg(0.01),
            quarters: None,
        };
        of(&[entry(check)])
    }

    /// A spindle bent by `bend` toward `toward`, read at these seats.
    fn read(bend: f64, toward: f64, seats: &[u16]) -> SpindleCheck {
        let slope = |seat: u16| -2.0 + bend * (f64::from(seat) - toward).to_radians().cos();
        let read: Vec<_> = seats.iter().map(|&seat| (seat, deg(slope(seat)), deg(0.007))).collect();
        SpindleCheck::new(BladeName::A, station(), &read).unwrap()
    }

    fn of(entries: &[Entry]) -> Cell {
        LimitRecord::new(&head(), entries).cell(CellName::Spindle(BladeName::A)).unwrap().clone()
    }

    fn judged(checks: &[SpindleCheck]) -> Cell {
        let entries: Vec<Entry> = checks.iter().map(|check| entry(*check)).collect();
        of(&entries)
    }

    fn angle(cell: &Cell) -> f64 {
        cell.value.as_ref().unwrap().angle.degrees()
    }

    #[test]
    fn two_seats_find_a_bend_in_their_plane_and_never_that_there_is_none() {
        let straight = Verdict::Undecided { by: Undecided::OnePlane };
        assert_eq!(cell_of(-2.0, -2.02).verdict, straight);
        let bent = cell_of(-2.0, -0.8);
        assert!((angle(&bent) - 0.6).abs() < 1e-12);
        assert_eq!(bent.verdict.word(), "outside");
        // Two degrees of lean that nobody measured, five degrees of station: u = 2·(5/√3·π/180)/√2 = 0.0713°.
        let u = bent.value.as_ref().unwrap().budget.standard().degrees();
        assert!((u - 0.0713f64.hypot(0.005)).abs() < 1e-4, "{u}");
        assert!(matches!(cell_of(-2.0, -1.7).verdict, Verdict::Undecided { by: Undecided::TooClose(_) }));
        // What lies across lifts the blade in neither seat.
        assert_eq!(judged(&[read(1.0, 90.0, &[0, 180])]).verdict, straight);
    }

    #[test]
    fn quarter_turns_find_a_bend_wherever_it_lies_and_where_to() {
        for seats in [&[0, 90, 180, 270][..], &[0, 90, 180], &[270, 90, 0]] {
            for toward in [0.0, 37.0, 90.0, 200.0, 315.0] {
                let cell = judged(&[read(1.0, toward, seats)]);
                assert!((angle(&cell) - 1.0).abs() < 1e-9, "{seats:?} {toward}: {}", angle(&cell));
                assert_eq!(cell.verdict.word(), "outside");
                let [CellFinding::BentToward { toward: found }] = cell.remarks.as_slice() else { panic!("{cell:?}") };
                assert!(((found.degrees() - toward + 180.0).rem_euclid(360.0) - 180.0).abs() < 1e-9, "{found}");
            }
        }
    }

    #[test]
    fn the_newest_check_counts_whatever_was_read_before() {
        let (all, across) = (&[0, 90, 180, 270][..], &[0, 180][..]);
        let straight = || read(0.0, 0.0, all);
        for bent in [read(0.6, 0.0, all), read(0.6, 0.0, across)] {
            let cell = judged(&[straight(), straight(), straight(), bent]);
            assert_eq!(cell.verdict.word(), "outside");
            assert!((angle(&cell).abs() - 0.6).abs() < 1e-9, "{}", angle(&cell));
        }
        // A new spindle after a bent one.
        let cell = judged(&[read(1.0, 0.0, all), straight()]);
        assert_eq!((cell.verdict.word(), cell.value.unwrap().captures.len()), ("inside", 1));
        // Straight in the plane that was read last: what was read before says the rest.
        assert_eq!(judged(&[straight(), read(0.0, 0.0, across)]).verdict.word(), "inside");
        assert_eq!(judged(&[read(1.0, 90.0, all), read(0.0, 0.0, across)]).verdict.word(), "outside");
    }

    #[test]
    fn what_was_read_before_a_new_spindle_says_nothing_of_it() {
        let (all, across) = (&[0, 90, 180, 270][..], &[0, 180][..]);
        let turned = |what: &str| {
            let event = Event::Adjustment { adjustment: what.parse().unwrap(), note: None };
            Entry { id: Uuid::from_u128(2), at: Timestamp::UNIX_EPOCH, event }
        };
        let check = |id: u128, check| Entry { id: Uuid::from_u128(id), ..entry(check) };
        let verdict =
            |by: &str| of(&[check(1, read(1.0, 90.0, all)), turned(by), check(3, read(0.0, 0.0, across))]).verdict;
        assert_eq!(verdict("spindle replaced"), Verdict::Undecided { by: Undecided::OnePlane });
        assert_eq!(verdict("link B +1"), Verdict::Outside);
    }

    #[test]
    fn a_straight_spindle_is_inside_at_quarter_turns() {
        let cell = judged(&[read(0.0, 0.0, &[0, 90, 180, 270])]);
        assert_eq!((cell.verdict.word(), cell.remarks.len()), ("inside", 0));
        // Each slope 0.1008° by its station and 0.007° by scatter; √(2/4) of it in each component, times 1.224.
        let u = cell.value.as_ref().unwrap().budget.standard().degrees();
        assert!((u - 1.224 * 0.1008f64.hypot(0.007) / 2f64.sqrt()).abs() < 1e-4, "{u}");
    }

    #[test]
    fn a_second_check_a_quarter_on_decides_the_first_and_a_third_does_not_undo_it() {
        let (first, across) = (read(0.6, 90.0, &[0, 180]), read(0.6, 90.0, &[90, 270]));
        let both = judged(&[first, across]);
        assert!((angle(&both) - 0.6).abs() < 1e-9 && both.verdict == Verdict::Outside, "{both:?}");
        let again = judged(&[first, across, first]);
        assert!((angle(&again) - 0.6).abs() < 1e-9 && again.verdict == Verdict::Outside, "{again:?}");
        // Seats at no particular mark are no quarter of anything.
        let unmarked = SpindleCheck { quarters: None, ..first };
        assert_eq!(judged(&[across, unmarked]).verdict, Verdict::Undecided { by: Undecided::OnePlane });
    }

    #[test]
    fn seats_that_make_no_check_are_refused() {
        assert_eq!(SpindleCheck::seats(&[0, 45, 180]), Err(SpindleError::NoQuarter(45)));
        assert_eq!(SpindleCheck::seats(&[0, 360]), Err(SpindleError::NoQuarter(360)));
        assert_eq!(SpindleCheck::seats(&[0, 180, 0]), Err(SpindleError::Twice(0)));
        assert_eq!(SpindleCheck::seats(&[0, 90]), Err(SpindleError::NoOpposite));
        assert_eq!(SpindleCheck::seats(&[0]), Err(SpindleError::NoOpposite));
        assert_eq!(SpindleCheck::seats(&[90, 270]), Ok(()));
    }

    #[test]
    fn a_check_of_earlier_versions_is_read() {
        let old = r#"{"blade":"A","station_deg":90.0,"before_deg":-2.0,"after_deg":-2.02,"u_repeat_deg":0.01}"#;
        let check: SpindleCheck = serde_json::from_str(old).unwrap();
        assert_eq!(check.quarters, None);
        assert_eq!(serde_json::to_value(check).unwrap(), serde_json::from_str::<serde_json::Value>(old).unwrap());
    }
}
