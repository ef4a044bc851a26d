//! The tail on the simulated head: judged by the pitch at which its blades stand, which the rig knows.

use clinoblade::record::{Cell, CellName, KnownFrom, LimitRecord, Undecided, Verdict};
use clinoblade::rig::{Rotation, Scenario};
use clinoblade::rotor::{BladeName, LeadingEdge};
use clinoblade::uncertainty::Remedy;
use clinoblade::units::Angle;
use support::coverage::Bench;

const EDGES: [LeadingEdge; 2] = [LeadingEdge::Up, LeadingEdge::Down];
const ALL: [&str; 3] = ["neutral", "left", "right"];

fn deg(degrees: f64) -> Angle {
    Angle::from_degrees(degrees)
}

/// A clockwise head whose model leans by 2° to the left; rudder right holds the torque.
fn bench(neutral: f64, travel: f64, errors: [f64; 2]) -> Bench {
    let mut world = Scenario::default();
    world.head.rotation = Rotation::Clockwise;
    world.head.left_deg = deg(2.0);
    world.tail.neutral_deg = deg(neutral);
    world.tail.travel_deg = deg(travel);
    world.tail.blade_error_deg = errors.map(deg);
    Bench::new(7, world)
}

fn a() -> BladeName {
    BladeName::A
}

fn b() -> BladeName {
    BladeName::from_index(1).unwrap()
}

fn cell<'r>(record: &'r LimitRecord, name: &str) -> &'r Cell {
    record.cell(name.parse::<CellName>().unwrap()).unwrap()
}

#[test]
fn a_large_neutral_takes_the_tail_past_its_ceiling_with_a_travel_below_it() {
    let mut bench = bench(14.0, 34.0, [-0.2, 2.4]);
    bench.tail(a(), &EDGES, &ALL);
    let record = bench.record();
    let right = cell(&record, "rudder right");
    assert_eq!(right.verdict, Verdict::Outside, "{right:#?}");
    // Its travel alone would be inside.
    assert!((33.0..35.0).contains(&right.travel().unwrap().degrees()), "{right:#?}");
    let stands = right.stands.as_ref().unwrap();
    assert!((stands.angle - bench.tail_pitch(0, "right")).abs() <= stands.expanded, "{stands:#?}");
    assert_eq!(stands.known_from, KnownFrom::BothEdges);
    if let Some(clinoblade::record::Advice::EndPoint(end_point)) = bench.advice("rudder right") {
        assert!(end_point.set.value() < 100.0, "{end_point:?}");
    }
    assert!(!record.good);

    // The other blade, read at neutral only, stands further still.
    bench.tail(b(), &[LeadingEdge::Up], &["neutral"]);
    let record = bench.record();
    let stands = cell(&record, "rudder right").stands.clone().unwrap();
    assert_eq!((stands.blade, stands.known_from), (b(), KnownFrom::OtherBlade));
    assert!((stands.angle - bench.tail_pitch(1, "right")).abs().degrees() < 0.5, "{stands:#?}");
    assert_eq!(cell(&record, "tail split").verdict, Verdict::Outside);
}

#[test]
fn a_tail_that_stands_below_its_ceiling_is_inside_and_quiet() {
    let mut bench = bench(6.0, 32.0, [0.0, 0.1]);
    bench.head_mut().targets.tail_neutral = Some("6 ± 1".parse().unwrap());
    for blade in [b(), a()] {
        bench.tail(blade, &EDGES, &ALL);
    }
    let record = bench.record();
    for name in ["rudder left", "rudder right", "tail neutral", "tail split"] {
        let cell = cell(&record, name);
        assert_eq!(cell.verdict, Verdict::Inside, "{cell:#?}");
        assert!(cell.remarks.is_empty() && cell.consequence.is_none(), "{cell:#?}");
        assert_eq!(bench.advice(name), None);
    }
    let neutral = cell(&record, "tail neutral").value.as_ref().unwrap();
    assert!((neutral.angle - deg(6.0)).abs() <= neutral.expanded, "{neutral:#?}");
}

#[test]
fn a_neutral_known_with_both_edges_makes_one_edge_enough_at_the_end() {
    let mut bench = bench(6.0, 32.0, [0.0; 2]);
    bench.tail(a(), &EDGES, &["neutral"]);
    bench.tail(a(), &[LeadingEdge::Down], &["neutral", "right"]);
    let record = bench.record();
    let stands = cell(&record, "rudder right").stands.clone().unwrap();
    assert_eq!(stands.known_from, KnownFrom::NeutralAndTravel);
    assert!((stands.angle - bench.tail_pitch(0, "right")).abs() <= stands.expanded, "{stands:#?}");
    assert!(stands.expanded.degrees() < 1.0, "{stands:#?}");
}

#[test]
fn one_edge_alone_is_not_decided_near_the_ceiling_and_says_what_decides_it() {
    let mut bench = bench(10.0, 34.0, [0.0; 2]);
    bench.tail(a(), &[LeadingEdge::Up], &ALL);
    let record = bench.record();
    let right = cell(&record, "rudder right");
    let Verdict::Undecided { by: Undecided::TooClose(doubt) } = &right.verdict else { panic!("{right:#?}") };
    assert_eq!(doubt.steps.first(), Some(&Remedy::OtherEdge));
    assert_eq!(bench.advice("rudder right"), None, "no end point follows from a pitch with the model's roll in it");
}

#[test]
fn a_neutral_off_what_is_wanted_is_outside_and_moves_no_end_point() {
    let mut bench = bench(14.0, 34.0, [0.0; 2]);
    bench.head_mut().targets.tail_neutral = Some("6 ± 1".parse().unwrap());
    assert_eq!(cell(&bench.record(), "tail neutral").verdict, Verdict::Missing);
    assert!(cell(&bench.record(), "tail neutral").is_owed());
    bench.tail(a(), &EDGES, &ALL);
    assert_eq!(cell(&bench.record(), "tail neutral").verdict, Verdict::Outside);
    assert_eq!(bench.advice("rudder right"), None);
}

#[test]
fn a_neutral_to_the_other_side_of_the_torque_is_outside() {
    let mut bench = bench(-6.0, 30.0, [0.0; 2]);
    bench.head_mut().targets.tail_neutral = Some("6 ± 1".parse().unwrap());
    bench.tail(a(), &EDGES, &ALL);
    let record = bench.record();
    let neutral = cell(&record, "tail neutral");
    assert_eq!(neutral.verdict, Verdict::Outside, "{neutral:#?}");
    assert!((neutral.value.as_ref().unwrap().angle - deg(-6.0)).abs().degrees() < 1.0, "{neutral:#?}");
}

#[test]
fn a_head_that_wants_no_neutral_shows_it_only_when_it_was_captured() {
    let mut bench = bench(6.0, 30.0, [0.0; 2]);
    assert!(bench.record().cell(CellName::TailNeutral).is_none());
    bench.tail(a(), &EDGES, &["neutral"]);
    let record = bench.record();
    assert!(!cell(&record, "tail neutral").is_owed());
    assert!(record.cell(CellName::TailSplit).is_none());
}

#[test]
fn the_tails_sub_trim_makes_the_rudder_stale_and_no_main_blade() {
    let stale = |bench: &Bench| {
        let record = bench.record();
        let stale = record.cells.iter().filter(|c| matches!(c.verdict, Verdict::Stale { .. }));
        stale.map(|c| c.name.to_string()).collect::<Vec<_>>()
    };
    let tail = ["rudder left", "rudder right", "tail neutral"];
    for (servo, said) in [(None, "tail sub-trim 5 %"), (Some(4), "sub-trim 4 5 %"), (Some(2), "servo arm 2")] {
        let mut bench = bench(6.0, 30.0, [0.0; 2]);
        bench.head_mut().tail.servo = servo;
        bench.job();
        bench.adjust(said);
        assert_eq!(stale(&bench), tail, "{said}");
    }
    // A fourth servo is the swashplate's where the tail's is another.
    let mut bench = bench(6.0, 30.0, [0.0; 2]);
    bench.head_mut().tail.servo = Some(5);
    bench.job();
    bench.adjust("sub-trim 4 5 %");
    let names = stale(&bench);
    assert!(!names.is_empty() && names.iter().all(|name| !tail.contains(&name.as_str())), "{names:?}");
}
