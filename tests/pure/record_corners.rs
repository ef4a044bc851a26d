//! Corners of the controls: a bind, the mixer's limit, or neither.

use clinoblade::filter::Vibration;
use clinoblade::record::{Answered, BindSign, Capture, Cell, CellFinding, LimitRecord, LimitedBy, Undecided, Verdict};
use clinoblade::units::{Angle, Hertz, Percent};
use support::advice::{Bench, at, head};

/// Small throws: the arcs of the servo arms take nothing away that would show.
const GENTLE: &str = "head = { collective_deg = 5.0, cyclic_deg = 5.0 }";

fn parts_of(bench: &mut Bench, cyclic: &str) {
    for what in ["collective mid", "collective high", "collective low", cyclic] {
        bench.capture(what, "A", 90.0);
    }
}

#[test]
fn a_corner_that_comes_to_the_sum_of_its_parts_is_inside() {
    let mut bench = Bench::new(GENTLE, head(&[]), 1);
    parts_of(&mut bench, "elevator up");
    let truth = bench.capture("corner high up", "A", 90.0);
    let cell = bench.cell("corner high up");
    assert_eq!(cell.verdict, Verdict::Inside, "{cell:#?}");
    let value = cell.value.unwrap();
    assert!((value.angle.degrees() - truth).abs() <= value.expanded.degrees(), "{value:?}, truly {truth}");
    // 5° of each.
    assert!((cell.target.value().degrees() - 10.0).abs() < 0.3, "{}", cell.target);
}

/// A part that was read just short of a bind is that much already: the corner with the stick at the same place is held against
/// all of it, and with the stick all the way over against more.
#[test]
fn a_corner_is_held_against_parts_as_far_over_as_it_is() {
    for (corner_stick, cyclic) in [(80.0, 4.0), (100.0, 5.0), (40.0, 2.0)] {
        let mut bench = Bench::new(GENTLE, head(&[]), 1);
        for what in ["collective mid", "collective high"] {
            bench.capture(what, "A", 90.0);
        }
        bench.capture_as("elevator up", "A", at(90.0), 80.0, |capture| capture.limited_by = LimitedBy::Bind);
        bench.capture_as("corner high up", "A", at(90.0), corner_stick, |_| {});
        let cell = bench.cell("corner high up");
        assert!((cell.target.value().degrees() - (5.0 + cyclic)).abs() < 0.3, "{corner_stick}: {cell:#?}");
        assert_eq!(cell.verdict, Verdict::Inside, "{cell:#?}");
    }
}

#[test]
fn collective_and_cyclic_against_each_other_may_cancel() {
    let mut bench = Bench::new(GENTLE, head(&[]), 2);
    parts_of(&mut bench, "elevator down");
    bench.capture("corner high down", "A", 90.0);
    let cell = bench.cell("corner high down");
    assert_eq!(cell.verdict, Verdict::Inside, "{cell:#?}");
    assert!(cell.value.unwrap().angle.abs().degrees() < 0.5);
}

/// A part that was backed off from a bind says how far full stick goes, and nothing of a stick part of the way.
#[test]
fn a_corner_part_of_the_way_is_not_held_against_a_part_that_was_backed_off() {
    for (corner_stick, is_judged) in [(100.0, true), (50.0, false)] {
        let mut bench = Bench::new(GENTLE, head(&[]), 1);
        for what in ["collective mid", "collective high"] {
            bench.capture(what, "A", 90.0);
        }
        bench.capture_as("elevator up", "A", at(90.0), 80.0, |capture| {
            (capture.limited_by, capture.stick, capture.stick_said) = (LimitedBy::Bind, Percent::new(100.0), false);
        });
        bench.capture_as("corner high up", "A", at(90.0), corner_stick, |_| {});
        let judged = bench.record().cells.iter().any(|cell| cell.name.to_string() == "corner high up");
        assert_eq!(judged, is_judged, "at {corner_stick} %");
    }
}

/// Where nothing stops, a corner falls short by what the mixer holds back, more than arcs take away, and nobody buzzes.
#[test]
fn short_of_the_sum_without_a_sign_of_a_bind_is_asked_and_never_called_one() {
    let mut bench = Bench::new("head = { collective_deg = 11.0, cyclic_deg = 11.0 }", head(&[]), 3);
    parts_of(&mut bench, "elevator up");
    // The mixer gives 80 % of the cyclic at the end of the collective.
    bench.capture_as("corner high up", "A", at(90.0), 80.0, |capture| capture.stick = Percent::new(100.0));
    let cell = bench.cell("corner high up");
    assert_eq!(cell.verdict, Verdict::Undecided { by: Undecided::DoesItBind }, "{cell:#?}");
    assert!(matches!(cell.consequence, Some(CellFinding::FallsShort(_))), "{cell:#?}");
    assert!(cell.remarks.iter().any(|remark| matches!(remark, CellFinding::PastStall { .. })), "{cell:#?}");

    // The person looked, and says that nothing touches.
    bench.capture_as("corner high up", "A", at(90.0), 80.0, |capture| {
        (capture.stick, capture.accepted) = (Percent::new(100.0), true);
    });
    let cell = bench.cell("corner high up");
    assert_eq!(cell.verdict, Verdict::Inside);
    assert!(cell.remarks.iter().any(|remark| matches!(remark, CellFinding::FallsShortUnbound { .. })), "{cell:#?}");
}

/// The stop stands just beyond what the elevator alone reaches.
fn bound() -> Bench {
    let mut bench = Bench::new(&format!("{GENTLE}\nbind = [{{ at = 'elevator up', travel_deg = 5.2 }}]"), head(&[]), 4);
    parts_of(&mut bench, "elevator up");
    bench
}

#[test]
fn a_corner_whose_servo_buzzes_is_a_bind_with_a_limit_just_short_of_it() {
    let mut bench = bound();
    // The stop moves in: what the parts reached alone is not reached any more.
    bench.rig = Bench::new(&format!("{GENTLE}\nbind = [{{ at = 'elevator up', travel_deg = 4.0 }}]"), head(&[]), 4).rig;
    bench.capture("corner high up", "A", 90.0);
    let cell = bench.cell("corner high up");
    assert_eq!(cell.verdict, Verdict::Outside, "{cell:#?}");
    let Some(CellFinding::CornerBinds { short: Some(short), sign: BindSign::Buzz { vibration } }) = cell.consequence
    else {
        panic!("{cell:#?}")
    };
    assert_eq!(vibration.frequency.value().round(), 33.0);
    // 4 of 5 degrees are left: just short of that is a little under 80 %.
    let advice = short.limit.value();
    assert!(!short.of_collective && (74.0..=80.0).contains(&advice), "{short:?}");

    // Backed off to there, it no longer buzzes, and the person says that it is just short of the bind.
    bench.capture_as("corner high up", "A", at(90.0), advice, |capture| capture.limited_by = LimitedBy::Bind);
    let cell = bench.cell("corner high up");
    assert_eq!(cell.verdict, Verdict::Bound, "{cell:#?}");
    assert_eq!(cell.history.len(), 1);
}

#[test]
fn a_corner_that_creeps_between_two_readings_is_a_bind() {
    let mut bench = bound();
    bench.capture("corner high up", "A", 90.0);
    bench.capture_as("corner high up", "A", at(90.0), 100.0, |capture| {
        capture.reading.angle += Angle::from_degrees(-0.4)
    });
    let cell = bench.cell("corner high up");
    assert_eq!(cell.verdict, Verdict::Outside, "{cell:#?}");
    let Some(CellFinding::CornerBinds { sign: BindSign::Creep { by, .. }, .. }) = cell.consequence else {
        panic!("{cell:#?}")
    };
    assert!((-1.0..0.0).contains(&by.degrees()), "{by}");
}

#[test]
fn a_corner_without_its_parts_is_kept_and_says_what_it_needs() {
    let mut bench = Bench::new(GENTLE, head(&[]), 5);
    bench.capture("corner low down-left", "A", 90.0);
    assert!(bench.record().cells.iter().all(|cell| !cell.name.to_string().starts_with("corner")));
    let needs = |bench: &Bench| {
        let corner = bench.captures().find(|capture| capture.subject.to_string().starts_with("corner")).unwrap();
        let needs = LimitRecord::corner_needs(&bench.head, &bench.entries, corner);
        needs.iter().map(ToString::to_string).collect::<Vec<_>>()
    };
    assert_eq!(needs(&bench), ["collective mid", "collective low", "elevator down", "aileron left"]);
    for what in ["elevator neutral", "elevator down", "collective low"] {
        bench.capture(what, "A", 90.0);
    }
    assert_eq!(needs(&bench), ["aileron left"]);
    // Square to the boom the aileron hardly shows: along it, it was read well enough.
    bench.capture("aileron neutral", "A", 0.0);
    bench.capture("aileron left", "A", 0.0);
    assert!(needs(&bench).is_empty());
    assert_eq!(
        bench.cell("corner low down-left").verdict,
        Verdict::Inside,
        "{:#?}",
        bench.cell("corner low down-left")
    );
}

#[test]
fn what_is_turned_makes_a_corner_stale_and_nobody_owes_it() {
    let mut bench = Bench::new(GENTLE, head(&[]), 6);
    parts_of(&mut bench, "elevator up");
    bench.capture("corner high up", "A", 90.0);
    let owed = bench.record().to_measure.len();
    bench.adjust("aileron end point 90");
    assert_eq!(bench.cell("corner high up").verdict, Verdict::Inside, "the aileron is not in it");
    bench.adjust("elevator end point 90");
    assert!(matches!(bench.cell("corner high up").verdict, Verdict::Stale { .. }));
    let wanted = bench.record().to_measure;
    assert!(wanted.iter().all(|wanted| !wanted.to_string().starts_with("corner")), "{wanted:?}");
    assert_eq!(wanted.len(), owed + 1, "the elevator's end alone is owed anew");
}

/// The arcs of the servo arms alone take less than a degree off these throws: nothing is asked.
#[test]
fn what_the_arcs_alone_take_off_is_not_asked_about() {
    let mut bench = Bench::new("head = { collective_deg = 8.0, cyclic_deg = 8.0 }", head(&[]), 41);
    parts_of(&mut bench, "elevator up");
    bench.capture("corner high up", "A", 90.0);
    let cell = bench.cell("corner high up");
    assert_eq!(cell.verdict, Verdict::Inside, "{cell:#?}");
}

/// A tenth of a degree between two readings, however certain, is no creep, and neither is a change from one hold to another.
#[test]
fn creep_counts_within_one_hold_and_from_a_fifth_of_a_degree() {
    for (by, in_between, creeps) in [(-0.15, false, false), (-0.4, false, true), (-0.4, true, false)] {
        let mut bench = Bench::new(GENTLE, head(&[]), 42);
        parts_of(&mut bench, "elevator up");
        bench.capture("corner high up", "A", 90.0);
        if in_between {
            bench.capture("elevator up", "A", 90.0);
        }
        bench.capture_as("corner high up", "A", at(90.0), 100.0, |capture| {
            capture.reading.angle += Angle::from_degrees(by);
            capture.reading.budget = clinoblade::uncertainty::Budget::default();
        });
        let cell = bench.cell("corner high up");
        assert_eq!(cell.verdict == Verdict::Outside, creeps, "{by}, {in_between}: {cell:#?}");
    }
}

/// Elevator up and aileron right at full collective stick's middle, read where the elevator shows whole.
fn on_the_diagonal(cyclic: f64, share: f64, answered: &[Answered]) -> Cell {
    let scenario = format!("head = {{ collective_deg = 8.0, cyclic_deg = {cyclic:.1} }}");
    let mut bench = Bench::new(&scenario, head(&[]), 5);
    for (what, station) in [
        ("aileron neutral", 0.0),
        ("aileron right", 0.0),
        ("collective mid", 90.0),
        ("elevator neutral", 90.0),
        ("elevator up", 90.0),
    ] {
        bench.capture(what, "A", station);
    }
    bench.capture_as("corner mid up-right", "A", at(90.0), 100.0 * share, |capture| {
        capture.stick = Percent::new(100.0);
        (capture.accepted, capture.answered) = (!answered.is_empty(), answered.to_vec());
    });
    bench.cell("corner mid up-right")
}

fn diagonal_of(cell: &Cell) -> (f64, f64, f64, bool) {
    let found = cell.consequence.iter().chain(&cell.remarks).find_map(|finding| match finding {
        CellFinding::OnTheDiagonal { amplitude, expanded, of_square, is_ring, .. } => {
            Some((amplitude.degrees(), expanded.degrees(), of_square.value() / 100.0, *is_ring))
        }
        _ => None,
    });
    found.unwrap_or_else(|| panic!("nothing of the diagonal: {cell:#?}"))
}

/// Two travels at right angles add as sides of a triangle do (Pythagoras): 11° and 11° are 15.6°.
#[test]
fn a_stick_that_nothing_limits_is_past_the_ceiling_on_its_diagonal() {
    let cell = on_the_diagonal(11.0, 1.0, &[]);
    let (amplitude, u, of_square, is_ring) = diagonal_of(&cell);
    assert_eq!(cell.verdict, Verdict::Outside, "at most 12: {cell:#?}");
    assert!((amplitude - 11.0 * 2f64.sqrt()).abs() < u.max(0.4) && !is_ring, "{amplitude} ± {u}");
    assert!((of_square - 1.0).abs() < 0.05, "{of_square}");
}

#[test]
fn a_small_throw_keeps_its_ceiling_on_the_diagonal_too() {
    let cell = on_the_diagonal(7.0, 1.0, &[]);
    let (amplitude, u, ..) = diagonal_of(&cell);
    assert!((amplitude - 7.0 * 2f64.sqrt()).abs() < u.max(0.3), "{amplitude} ± {u}");
    assert_eq!(cell.verdict, Verdict::Inside, "{cell:#?}");
}

/// A ring lets the stick go as far on the diagonal as on one axis: 1/√2 of both.
#[test]
fn a_ring_is_told_from_a_square_stick_and_keeps_the_ceiling() {
    let cell = on_the_diagonal(10.0, 0.5f64.sqrt(), &[]);
    let (amplitude, u, of_square, is_ring) = diagonal_of(&cell);
    assert!((amplitude - 10.0).abs() < u.max(0.3) && is_ring, "{amplitude} ± {u}");
    assert!((of_square - 0.5f64.sqrt()).abs() < 0.04, "{of_square}");
    assert_eq!(cell.verdict, Verdict::Undecided { by: Undecided::DoesItBind }, "{cell:#?}");
    let cell = on_the_diagonal(10.0, 0.5f64.sqrt(), &[Answered::FallsShort]);
    assert_eq!(cell.verdict, Verdict::Inside, "{cell:#?}");
}

/// What cannot be judged does not take the place of what was, and a servo that buzzes there is asked about.
#[test]
fn a_corner_that_bound_does_not_vanish_with_a_later_reading_that_nothing_is_held_against() {
    let buzzing = |capture: &mut Capture| {
        capture.reading.vibration =
            Some(Vibration { frequency: Hertz::new(33.0), amplitude: Angle::from_degrees(0.2) });
    };
    let mut bench = Bench::new(GENTLE, head(&[]), 7);
    parts_of(&mut bench, "elevator up");
    bench.capture_as("corner high up", "A", at(90.0), 100.0, buzzing);
    assert_eq!(bench.cell("corner high up").verdict, Verdict::Outside);
    bench.capture_as("corner high up", "B", at(90.0), 100.0, |_| {});
    assert_eq!(bench.cell("corner high up").verdict, Verdict::Outside, "nothing is read on B");
    bench.capture_as("corner high up", "B", at(90.0), 100.0, buzzing);
    assert!(matches!(bench.cell("corner high up").verdict, Verdict::InQuestion { .. }));
    assert!(!bench.record().good);
    // Quiet, it leaves what was judged alone.
    let mut bench = Bench::new(GENTLE, head(&[]), 7);
    parts_of(&mut bench, "elevator up");
    bench.capture("corner high up", "A", 90.0);
    bench.capture("corner high up", "B", 90.0);
    assert_eq!(bench.cell("corner high up").verdict, Verdict::Inside);
}

#[test]
fn a_buzz_at_a_corner_can_be_said_to_be_no_bind() {
    let mut bench = Bench::new(GENTLE, head(&[]), 8);
    parts_of(&mut bench, "elevator up");
    for (answered, verdict) in [(false, Verdict::Outside), (true, Verdict::Inside)] {
        bench.capture_as("corner high up", "A", at(90.0), 100.0, |capture| {
            let amplitude = Angle::from_degrees(0.2);
            capture.reading.vibration = Some(Vibration { frequency: Hertz::new(33.0), amplitude });
            (capture.accepted, capture.answered) = (answered, vec![Answered::Buzzes]);
        });
        assert_eq!(bench.cell("corner high up").verdict, verdict);
    }
}

#[test]
fn a_corner_that_comes_nearer_to_its_sum_has_not_crept_into_a_bind() {
    for (by, verdict) in [(-0.4, Verdict::Inside), (0.4, Verdict::Outside)] {
        let mut bench = Bench::new(GENTLE, head(&[]), 43);
        parts_of(&mut bench, "elevator up");
        let first =
            |capture: &mut Capture| capture.reading.angle += Angle::from_degrees(if by < 0.0 { by } else { 0.0 });
        bench.capture_as("corner high up", "A", at(90.0), 100.0, first);
        let second =
            |capture: &mut Capture| capture.reading.angle += Angle::from_degrees(if by > 0.0 { -by } else { 0.0 });
        bench.capture_as("corner high up", "A", at(90.0), 100.0, second);
        assert_eq!(bench.cell("corner high up").verdict, verdict, "{by}");
    }
}

/// Lowering an end point may not have taken a corner out of its bind.
#[test]
fn a_corner_that_bound_is_owed_after_something_was_turned() {
    for (buzzes, owed) in [(true, true), (false, false)] {
        let mut bench = Bench::new(GENTLE, head(&[]), 9);
        parts_of(&mut bench, "elevator up");
        bench.capture_as("corner high up", "A", at(90.0), 100.0, |capture| {
            let amplitude = Angle::from_degrees(if buzzes { 0.2 } else { 0.0 });
            capture.reading.vibration = Some(Vibration { frequency: Hertz::new(33.0), amplitude });
        });
        bench.adjust("elevator end point 95");
        bench.capture("elevator up", "A", 90.0);
        let cell = bench.cell("corner high up");
        assert!(matches!(cell.verdict, Verdict::Stale { .. }));
        let listed = bench.record().to_measure.iter().any(|wanted| wanted.to_string().starts_with("corner"));
        assert_eq!((cell.is_owed(), listed), (owed, owed));
    }
}
