//! Holds what is measured at will against the second account: corners, spindles, and the collective on its way.

use super::book::Written;
use super::held::sum;
use super::reference::{Corner, Pool, Rules, Setup, Stands, Sum};
use super::verdict::{SLOP, weighed};
use clinoblade::record::{
    self, Basis, Cell, CellFinding, CollectiveSurvey, Entry, TravelSurveyError, Undecided, Verdict,
};
use clinoblade::uncertainty::Target;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// So much the arcs of the servo arms may take off a sum.
const ARCS: f64 = 1.0;
/// A part that moves a blade by less has no direction.
const NO_WAY: f64 = 1.0;
/// What five degrees off its station make of a cyclic movement, at most.
const STATION: f64 = 1.5;
/// A corner is told to a hundredth.
const ROUNDED: f64 = 0.0051;
/// Two readings of one movement differ by no more.
const ALIKE: f64 = 0.3;
/// Outputs nearer than this are one, percent.
const ONE_OUTPUT: f64 = 0.05;

fn angle(shares: &Sum, written: &[Written]) -> f64 {
    sum(shares, written, |written| written.angle)
}

/// What a corner's parts add up to, in all and of the cyclic stick alone.
fn sums(corner: &Corner, written: &[Written]) -> (f64, f64) {
    let all = |parts: &[Sum]| parts.iter().map(|part| angle(part, written)).sum::<f64>();
    let cyclic = all(&corner.cyclic);
    (all(&corner.collective) + cyclic, cyclic)
}

/// How far the blade moved, and what is wanted of it: positive the way the cyclic stick alone moves it.
pub fn holds_the_corner(cell: &Cell, corner: &Corner, stands: &Stands, written: &[Written], told: &str) {
    let value = cell.value.as_ref().unwrap_or_else(|| panic!("{told} has no value"));
    let read = stands.shares.iter().map(|(_, at)| written[*at].id).collect::<BTreeSet<Uuid>>();
    let newest = written[stands.shares[0].1].id;
    let made_of: BTreeSet<Uuid> = value.captures.iter().copied().collect();
    assert!(made_of.contains(&newest) && made_of.is_subset(&read), "what {told} is made of: {made_of:?}");
    let Target::Band { target, .. } = cell.target else { panic!("{told} has no sum: {:?}", cell.target) };
    let (whole, cyclic) = sums(corner, written);
    let way = if cyclic < 0.0 { -1.0 } else { 1.0 };
    // Where the cyclic moves nothing it has no way.
    let turned = |angle: f64| if cyclic.abs() < 1e-6 { angle.abs() } else { way * angle };
    let sized = |angle: f64| if cyclic.abs() < 1e-6 { angle.abs() } else { angle };
    let (moved, truth) = (angle(&stands.shares, written), sum(&stands.shares, written, |written| written.truth));
    let (is, claimed) = (sized(value.angle.degrees()), value.expanded.degrees());
    assert!((is - turned(moved)).abs() < 1e-9, "{told} is {is}, and should be {}", turned(moved));
    assert!((is - turned(truth)).abs() < 2.5 * claimed.max(0.05), "{told} is {is}, in truth {truth}, U {claimed}");
    let added = sized(target.degrees());
    assert!((added - turned(whole)).abs() < ROUNDED, "the parts of {told} add up to {added}, and should to {whole}");
}

/// Inside unless it falls short of the sum by more than arcs and lost motion do, its uncertainty allowed for: then it is asked
/// whether it binds.
pub fn holds_the_sum(
    cell: &Cell,
    corner: &Corner,
    stands: &Stands,
    (record, written): (&BTreeMap<String, Stands>, &[Written]),
    told: &str,
) -> bool {
    let Target::Band { tolerance, .. } = cell.target else { panic!("{told} has no sum: {:?}", cell.target) };
    let slop = record.get(&format!("blade {} slop", corner.blade)).filter(|slop| slop.stale.is_empty());
    let allowed = ARCS + slop.map_or(SLOP, |slop| angle(&slop.shares, written).abs());
    let tolerance = tolerance.degrees();
    // A reading of a cyclic part is off by as much as its blade is off its station.
    let most = allowed + 4.0 * cell.value.as_ref().unwrap().expanded.degrees() + STATION * corner.cyclic.len() as f64;
    assert!(allowed - ROUNDED < tolerance && tolerance < most, "{told} may be {tolerance} off, {allowed} to {most}");
    let off = angle(&stands.shares, written) - sums(corner, written).0;
    let parts = corner.collective.iter().chain(&corner.cyclic).map(|part| angle(part, written));
    let falls_short = parts.filter(|part| part.abs() > NO_WAY).any(|part| part * off < 0.0);
    let by = off.abs() - tolerance;
    let asked = falls_short && by > 0.0;
    let wanted = match (corner.bound, asked) {
        (true, _) => "bound",
        (false, true) => "undecided",
        (false, false) => "inside",
    };
    let is = cell.verdict.word();
    // How far the plate tilts on a diagonal is held elsewhere: it makes a corner outside, or not decided, that adds up.
    let on_diagonal = |finding: &CellFinding| match finding {
        CellFinding::OnTheDiagonal { amplitude, expanded, ceiling: Some(ceiling), .. } => {
            *amplitude + *expanded > *ceiling
        }
        _ => false,
    };
    if cell.findings().any(on_diagonal) {
        assert!(matches!(is, "outside" | "undecided"), "{told} may be past the ceiling: {:?}", cell.verdict);
        return false;
    }
    // Within what the tolerance is rounded by it is either.
    let either = !corner.bound && falls_short && by.abs() < ROUNDED && matches!(is, "undecided" | "inside");
    assert!(is == wanted || either, "the verdict on {told}: {:?}, {off} off and {tolerance} allowed", cell.verdict);
    false
}

/// How far a spindle is bent, and where to.
pub fn holds_the_spindle(cell: &Cell, pool: &Pool, stands: &Stands, written: &[Written], told: &str) {
    let value = cell.value.as_ref().unwrap_or_else(|| panic!("{told} has no value"));
    let (is, newest) = (value.angle.degrees(), written[stands.shares[0].1].id);
    match (value.basis, pool.whole()) {
        (Basis::Turned, _) => {
            assert_eq!(value.captures, [newest], "what {told} is made of");
            assert!((is - pool.in_plane()).abs() < 1e-9, "{told} is {is}, and should be {}", pool.in_plane());
        }
        (Basis::Bend, Some((bend, checks))) => {
            let ids: Vec<Uuid> = checks.iter().map(|at| written[*at].id).collect();
            assert_eq!(value.captures, ids, "what {told} is made of");
            let whole = bend[0].hypot(bend[1]);
            assert!((is - whole).abs() < 1e-9, "{told} is {is}, and should be {whole}");
            let toward = cell.remarks.iter().find_map(|remark| match remark {
                CellFinding::BentToward { toward } => Some(toward.degrees()),
                _ => None,
            });
            assert_eq!(toward.is_some(), is > value.expanded.degrees(), "whether it is said where {told} is bent to");
            let off = toward.map_or(0.0, |toward| (toward.to_radians() - bend[1].atan2(bend[0])).sin().abs());
            assert!(off < 1e-6, "{told} is bent toward {toward:?}, and should be {bend:?}");
        }
        (basis, whole) => panic!("{told} is a {basis:?}, of {whole:?}"),
    }
}

/// Two opposite seats find a bend, and never that there is none. What is bent in the plane that was read last is bent, whatever was
/// read before.
pub fn holds_the_bend(cell: &Cell, pool: &Pool, told: &str) -> bool {
    let value = cell.value.as_ref().unwrap();
    let (is, u) = (value.angle.degrees(), value.expanded.degrees());
    let Target::AtMost(most) = cell.target else { panic!("{told} has no ceiling") };
    let most = most.degrees();
    let by_value = weighed(cell.target, (is, u), false);
    let wanted = match value.basis {
        Basis::Turned if by_value == "inside" && !pool.one_plane_is_all => "undecided",
        _ => by_value,
    };
    assert_eq!(cell.verdict.word(), wanted, "the verdict on {told}: {is}, U {u}, {:?}", pool);
    if let (Verdict::Undecided { by }, "inside") = (&cell.verdict, by_value) {
        assert_eq!(*by, Undecided::OnePlane, "what would decide {told}");
    }
    if value.basis == Basis::Turned
        && let Some((bend, _)) = pool.whole()
    {
        let whole = bend[0].hypot(bend[1]);
        let speaks_last = !pool.is_of_the_newest() && by_value == "outside" && whole < most + 2.0 * u;
        assert!(speaks_last, "{told} is told of one plane, and is known in all: {bend:?}");
    } else if value.basis == Basis::Bend && !pool.is_of_the_newest() && pool.in_plane().abs() > most + u {
        assert_eq!(wanted, "outside", "{told} is bent in the plane that was read last");
    }
    false
}

/// The collective on its way, as the program draws it.
pub fn holds_the_curve(of: &record::Setup, entries: &[Entry], setup: &Setup, rules: Rules, written: &[Written]) {
    let told = format!("the collective of setup {}", of.number);
    let (mut points, mut free, mut binds) = (Vec::new(), Vec::new(), Vec::new());
    for point in setup.points(rules) {
        let moved = angle(&point.moved, written);
        let beyond = |bind: &(f64, f64), (output, moved): (f64, f64)| {
            bind.0 * output > 0.0 && moved.abs() > bind.1.abs() + ALIKE
        };
        let here = (point.output, moved);
        if point.bound {
            // Whoever has gone further since has cleared it.
            if !free.iter().any(|newer| beyond(&here, *newer)) {
                binds.push(here);
            }
            continue;
        }
        if binds.iter().any(|bind| beyond(bind, here)) {
            continue;
        }
        free.push(here);
        if points.iter().all(|(output, ..): &(f64, f64, Uuid)| (output - point.output).abs() >= ONE_OUTPUT) {
            points.push((point.output, moved, written[point.at].id));
        }
    }
    points.sort_by(|one, other| one.0.total_cmp(&other.0));
    match CollectiveSurvey::new(&of.head, entries, None) {
        Ok(survey) => {
            let pairs = &survey.travel.pairs;
            let is: Vec<(f64, Uuid)> = pairs.iter().map(|pair| (pair.output.value(), pair.capture)).collect();
            let same = is.len() == points.len()
                && is.iter().zip(&points).all(|(is, point)| (is.0 - point.0).abs() < 1e-9 && is.1 == point.2);
            assert!(same, "{told} has {is:?}, and should have {points:?}");
            for (pair, (output, moved, _)) in pairs.iter().zip(&points) {
                let is = pair.moved.degrees();
                assert!((is - moved).abs() < 1e-9, "{told} at {output} % is {is}, and should be {moved}");
            }
        }
        Err(TravelSurveyError::NoCaptures(_)) => {
            assert!(points.is_empty() && binds.is_empty(), "{told} has {points:?}");
        }
        Err(TravelSurveyError::BoundOnly(..)) => assert!(points.is_empty() && !binds.is_empty(), "{told}: {points:?}"),
        Err(error) => {
            // Nothing to draw a line through, or more output and less pitch.
            let mut line = points.clone();
            line.push((0.0, 0.0, Uuid::nil()));
            line.sort_by(|one, other| one.0.total_cmp(&other.0));
            let rises = line.windows(2).all(|pair| pair[1].1 > pair[0].1);
            assert!(points.is_empty() || !rises, "{told}: {error}, {points:?}");
        }
    }
}
