//! Ends of the axes on a simulated head that does what the record must not believe, and on one that is right.

use clinoblade::record::{
    Basis, Cell, CellFinding, Entry, Event, Head, InQuestion, LimitedBy, PhaseSurvey, Question, Sweep, Swept,
    Undecided, Unused, Verdict, neutral_question, trade,
};
use clinoblade::rotor::{LeadingEdge, PhaseCause, PhaseFinding, Spot};
use clinoblade::uncertainty::{Budget, Component, Contribution};
use clinoblade::units::{Angle, Percent};
use support::advice::{Bench, at, head};

/// An arm and a mixer that make 13° at full cyclic, past the ceiling of 12°.
const TOO_FAR: &str = "head = { cyclic_deg = 13.0 }";
const RIGHT: &str = "head = { cyclic_deg = 9.0 }";

fn value(cell: &Cell) -> f64 {
    cell.value.as_ref().unwrap().angle.degrees()
}

fn expanded(cell: &Cell) -> f64 {
    cell.value.as_ref().unwrap().expanded.degrees()
}

/// Elevator up with its neutral, at a station; gives what the blade truly moves at its own.
fn elevator_at(bench: &mut Bench, station: f64) -> f64 {
    let neutral = bench.capture("elevator neutral", "A", station);
    bench.capture("elevator up", "A", station) - neutral
}

#[test]
fn thirteen_degrees_of_cyclic_are_inside_at_no_station() {
    for station in [90.0, 60.0, 120.0, 45.0, 135.0, 300.0, 270.0] {
        let mut bench = Bench::new(TOO_FAR, head(&[]), 21);
        // The arcs of the linkage make the two sides of the turn differ by half a degree.
        let own = if station > 180.0 { 270.0 } else { 90.0 };
        let truth = elevator_at(&mut Bench::new(TOO_FAR, head(&[]), 21), own).abs();
        elevator_at(&mut bench, station);
        let cell = bench.cell("elevator up");
        assert!(!cell.verdict.is_good(), "{station}°: {cell:#?}");
        assert!((value(&cell) - truth).abs() <= expanded(&cell), "{station}°: {} for {truth}", value(&cell));
    }
}

#[test]
fn a_right_head_is_inside_read_off_its_station() {
    for station in [90.0, 120.0, 60.0] {
        let mut bench = Bench::new(RIGHT, head(&[]), 22);
        elevator_at(&mut bench, station);
        let cell = bench.cell("elevator up");
        assert_eq!(cell.verdict, Verdict::Inside, "{station}°: {cell:#?}");
    }
}

#[test]
fn where_less_than_half_of_an_axis_shows_no_cell_is_filled() {
    let mut bench = Bench::new(TOO_FAR, head(&[]), 23);
    elevator_at(&mut bench, 20.0);
    let cell = bench.cell("elevator up");
    assert_eq!(cell.verdict, Verdict::Missing, "{cell:#?}");
    let why = cell.remarks.iter().find_map(|remark| match remark {
        CellFinding::NotUsed { why: Unused::OffItsStation { share, .. }, .. } => Some(*share),
        _ => None,
    });
    // sin 20°
    assert!((why.unwrap() - 0.342).abs() < 0.001, "{cell:#?}");
}

/// Read for the phase at other stations, the cell stays what it was; read again at its own, it is the newer.
#[test]
fn a_capture_for_the_phase_replaces_no_cell() {
    let mut bench = Bench::new(TOO_FAR, head(&[]), 24);
    elevator_at(&mut bench, 90.0);
    let before = bench.cell("elevator up").value;
    for station in [45.0, 120.0] {
        elevator_at(&mut bench, station);
        let cell = bench.cell("elevator up");
        assert_eq!(cell.value, before);
        assert!(
            matches!(cell.remarks[..], [CellFinding::NotUsed { why: Unused::OffItsStation { .. }, .. }]),
            "{cell:#?}"
        );
    }
    elevator_at(&mut bench, 90.0);
    assert_ne!(bench.cell("elevator up").value, before);
}

#[test]
fn a_capture_without_a_neutral_replaces_no_travel() {
    let mut bench = Bench::new(RIGHT, head(&[]), 25);
    elevator_at(&mut bench, 90.0);
    let before = bench.cell("elevator up").value;
    // The other blade's place, of which no neutral was read.
    bench.capture("elevator up", "A", 270.0);
    let cell = bench.cell("elevator up");
    assert_eq!(cell.value, before);
    assert_eq!(cell.value.unwrap().basis, Basis::Travel);
    assert!(matches!(cell.remarks[..], [CellFinding::NotUsed { why: Unused::NoNeutral, .. }]), "{:#?}", cell.remarks);
    // With its neutral it is as good, and newer.
    bench.capture("elevator neutral", "A", 270.0);
    assert_ne!(bench.cell("elevator up").value, before);
}

#[test]
fn a_stick_that_was_never_moved_is_never_inside() {
    for (what, spot) in [
        ("aileron left", at(0.0)),
        ("aileron right", at(0.0)),
        ("elevator up", at(90.0)),
        ("rudder left", Spot::Tail(LeadingEdge::Up)),
        ("rudder right", Spot::Tail(LeadingEdge::Down)),
    ] {
        let neutral = what.split(' ').next().unwrap().to_owned() + " neutral";
        for (with_neutral, share) in [(false, 0.0), (true, 0.0), (true, 5.0)] {
            let mut bench = Bench::new(RIGHT, head(&[]), 26);
            if with_neutral {
                bench.capture_as(&neutral, "A", spot, 100.0, |_| {});
            }
            // The person takes the stick to be all the way over.
            bench.capture_as(what, "A", spot, share, |capture| {
                capture.stick = capture.subject.deflection().full_stick()
            });
            let cell = bench.cell(what);
            let Verdict::Undecided { by } = &cell.verdict else { panic!("{what}: {cell:#?}") };
            if with_neutral {
                assert!(matches!(cell.question, Some(Question::Unmoved { .. })), "{what}: {cell:#?}");
            } else {
                assert_eq!(*by, Undecided::NoNeutral { neutral: neutral.parse().unwrap() });
            }
        }
        // Moved, and held against its neutral, nothing is asked.
        let mut bench = Bench::new(RIGHT, head(&[]), 26);
        bench.capture_as(&neutral, "A", spot, 100.0, |_| {});
        bench.capture_as(what, "A", spot, 100.0, |_| {});
        let cell = bench.cell(what);
        assert!(cell.verdict == Verdict::Inside && cell.question.is_none(), "{what}: {cell:#?}");
    }
}

/// The other stick's way by a little more than nothing, with a sensor so poor that its uncertainty is larger.
#[test]
fn the_wrong_way_is_a_question_however_uncertain_it_is() {
    let mut bench = Bench::new(RIGHT, head(&[]), 27);
    bench.capture("elevator neutral", "A", 90.0);
    bench.capture_as("elevator up", "A", at(90.0), 100.0, |capture| {
        capture.reading.angle = Angle::from_degrees(-3.0);
        capture.reading.budget = Budget::new([Contribution::new(Component::Repeat, Angle::from_degrees(2.0))]);
    });
    let cell = bench.cell("elevator up");
    assert!(matches!(cell.question, Some(Question::Contradiction(_))), "{cell:#?}");
}

/// Whoever has said that a neutral is right is not asked about every one after it.
#[test]
fn a_neutral_that_was_said_to_be_right_bears_out_the_next() {
    let mut bench = Bench::new(RIGHT, head(&[]), 32);
    bench.capture("elevator neutral", "A", 90.0);
    let asked = |bench: &mut Bench, by: f64, accepted: bool| {
        bench.capture_as("elevator neutral", "A", at(90.0), 100.0, |capture| {
            capture.reading.angle += Angle::from_degrees(by);
            capture.accepted = accepted;
        });
        let newest = bench.captures().next_back().unwrap().clone();
        neutral_question(&bench.head, &bench.entries, &newest).is_some()
    };
    assert!(!asked(&mut bench, 3.0, true));
    assert!(!asked(&mut bench, 3.0, false), "as the one before it");
    assert!(asked(&mut bench, 6.0, false), "as none before it");
}

#[test]
fn a_neutral_far_from_the_last_one_is_asked_about() {
    let mut bench = Bench::new(RIGHT, head(&[]), 28);
    bench.capture("elevator neutral", "A", 90.0);
    bench.capture("elevator down", "A", 90.0);
    assert_eq!(bench.cell("elevator down").question, None);
    // The stick was left over a third of its way.
    bench.capture_as("elevator neutral", "A", at(90.0), 100.0, |capture| {
        capture.reading.angle += Angle::from_degrees(3.0)
    });
    let odd = bench.captures().next_back().unwrap().clone();
    let asked = neutral_question(&bench.head, &bench.entries, &odd);
    assert!(matches!(asked, Some(Question::NeutralMoved { by, .. }) if (by.degrees() - 3.0).abs() < 0.3), "{asked:?}");
    assert!(matches!(bench.cell("elevator down").question, Some(Question::NeutralMoved { .. })));
    // A third one bears the first out.
    bench.capture("elevator neutral", "A", 90.0);
    bench.capture("elevator neutral", "A", 90.0);
    bench.capture("elevator down", "A", 90.0);
    assert_eq!(bench.cell("elevator down").question, None);
    let again = bench.captures().next_back().unwrap().clone();
    assert_eq!(neutral_question(&bench.head, &bench.entries, &again), None);
}

fn swept(bench: &mut Bench, up: f64, down: f64) {
    let end = |deflection: &str, reached: f64| Swept {
        furthest: Angle::from_degrees(reached),
        held: Some(Angle::from_degrees(reached)),
        ..Swept::still(deflection.parse().unwrap())
    };
    let sweep = Sweep {
        blade: "A".parse().unwrap(),
        spot: at(90.0),
        ends: vec![end("elevator up", up), end("elevator down", down)],
    };
    let last = bench.entries.last().unwrap().clone();
    bench.entries.push(Entry { id: uuid::Uuid::from_u128(7 << 96), at: last.at, event: Event::Swept { sweep } });
}

/// An end point lowered, or raised, without a word shows in the sweep, and stays in question until the end is captured again.
#[test]
fn an_end_that_a_sweep_contradicts_is_in_question_until_it_is_captured_again() {
    for (reached, is_right) in [(4.83, false), (8.9, true), (11.5, false), (0.2, false)] {
        let mut bench = Bench::new(RIGHT, head(&[]), 29);
        for what in ["elevator neutral", "elevator up", "elevator down"] {
            bench.capture(what, "A", 90.0);
        }
        let travel = value(&bench.cell("elevator down"));
        swept(&mut bench, reached, travel);
        let (up, down) = (bench.cell("elevator up"), bench.cell("elevator down"));
        assert_eq!(down.verdict, Verdict::Inside, "{down:#?}");
        assert_eq!(up.verdict == Verdict::Inside, is_right, "{reached}: {up:#?}");
        assert_eq!(matches!(up.verdict, Verdict::InQuestion { .. }), !is_right, "{reached}: {up:#?}");
        let asked = bench.record().to_measure.iter().any(|wanted| wanted.to_string().starts_with("elevator up"));
        assert_eq!(asked, !is_right);
        bench.capture("elevator up", "A", 90.0);
        assert_eq!(bench.cell("elevator up").verdict, Verdict::Inside);
    }
}

/// Against a zero that was set since, the end alone would be no travel: its neutral is wanted with it, and ends the question.
#[test]
fn an_end_in_question_is_wanted_with_its_neutral_after_a_new_zero() {
    let mut bench = Bench::new(RIGHT, head(&[]), 31);
    for (blade, station) in [("A", 90.0), ("A", 270.0), ("B", 90.0), ("B", 270.0)] {
        bench.capture("collective mid", blade, station);
    }
    for what in ["elevator neutral", "elevator up", "elevator down"] {
        bench.capture(what, "A", 90.0);
    }
    let travel = value(&bench.cell("elevator down"));
    swept(&mut bench, 4.83, travel);
    let mut datum = bench.captures().next_back().unwrap().datum;
    datum.id = uuid::Uuid::from_u128(5);
    bench.happened(Event::Datum { datum });
    let wanted: Vec<String> = bench.record().to_measure.iter().map(ToString::to_string).collect();
    let of_elevator = |line: &&String| line.starts_with("elevator");
    assert_eq!(
        wanted.iter().filter(of_elevator).collect::<Vec<_>>(),
        ["elevator neutral, blade A at 90°", "elevator up, blade A at 90°"]
    );
    for what in ["elevator neutral", "elevator up"] {
        bench.capture_as(what, "A", at(90.0), 100.0, |capture| capture.datum = datum);
    }
    assert_eq!(bench.cell("elevator up").verdict, Verdict::Inside);
}

/// A stop stands in the way of full stick.
const STOPPED: &str = "head = { cyclic_deg = 9.0 }\nbind = [{ at = 'elevator up', travel_deg = 6.0 }]";

#[test]
fn a_buzz_at_full_stick_is_in_question_until_it_is_answered() {
    let mut bench = Bench::new(STOPPED, head(&[]), 30);
    bench.capture("elevator neutral", "A", 90.0);
    bench.capture("elevator up", "A", 90.0);
    bench.capture("elevator down", "A", 90.0);
    let up = bench.cell("elevator up");
    let Verdict::InQuestion { because } = &up.verdict else { panic!("{up:#?}") };
    assert!(matches!(because[..], [InQuestion::Buzzes { .. }]), "{because:?}");
    assert_eq!(bench.cell("elevator down").verdict, Verdict::Inside);
    bench.capture_as("elevator up", "A", at(90.0), 100.0, |capture| capture.accepted = true);
    assert_eq!(bench.cell("elevator up").verdict, Verdict::Inside);
    bench.capture_as("elevator up", "A", at(90.0), 60.0, |capture| capture.limited_by = LimitedBy::Bind);
    assert_eq!(bench.cell("elevator up").verdict, Verdict::Bound);
}

fn end_point(bench: &mut Bench, text: &str) {
    let last = bench.entries.last().unwrap().clone();
    let event = Event::Adjustment { adjustment: text.parse().unwrap(), note: None };
    bench.entries.push(Entry { id: uuid::Uuid::from_u128(9 << 96), at: last.at, event });
}

#[test]
fn a_bind_stays_through_the_end_point_that_is_set_for_it() {
    for (set, is_bound) in [(60.0, true), (95.0, false)] {
        let mut bench = Bench::new(RIGHT, head(&[]), 31);
        bench.capture("elevator neutral", "A", 90.0);
        bench.capture_as("elevator up", "A", at(90.0), 60.0, |capture| capture.limited_by = LimitedBy::Bind);
        assert_eq!(bench.cell("elevator up").verdict, Verdict::Bound);
        bench.hands(&[&format!("endpoint elevator up {set}")]);
        end_point(&mut bench, &format!("elevator up end point {set} %"));
        bench.capture("elevator up", "A", 90.0);
        let up = bench.cell("elevator up");
        assert_eq!(up.verdict == Verdict::Bound, is_bound, "{set}: {up:#?}");
        if !is_bound {
            let Verdict::InQuestion { because } = &up.verdict else { panic!("{up:#?}") };
            assert!(matches!(because[..], [InQuestion::PastBind { .. }]), "{because:?}");
        }
    }
    // The end point was recorded above the stick at which it then bound.
    let mut bench = Bench::new(RIGHT, head(&[]), 32);
    bench.capture("elevator neutral", "A", 90.0);
    end_point(&mut bench, "elevator up end point 100 %");
    bench.capture_as("elevator up", "A", at(90.0), 60.0, |capture| capture.limited_by = LimitedBy::Bind);
    assert!(matches!(bench.cell("elevator up").verdict, Verdict::InQuestion { .. }));
}

/// The example of a head with a phase and its simulated head mean one thing by it: nothing is to be turned back.
#[test]
fn the_three_blade_examples_agree_on_the_sign_of_the_phase() {
    let described = Head::from_toml(include_str!("../../examples/head-three-blade.toml")).unwrap();
    let phase = described.control_phase.degrees();
    let mut bench = Bench::new(include_str!("../../examples/scenario-three-blade.toml"), described, 33);
    for station in [90.0, 0.0, 210.0] {
        bench.capture("elevator neutral", "A", station);
        for what in ["elevator up", "elevator down", "aileron left", "aileron right"] {
            bench.capture(what, "A", station);
        }
    }
    let pair = PhaseSurvey::new(&bench.head, &bench.entries).pair.unwrap();
    assert!((pair.mean().0.degrees() - phase).abs() < 1.5, "{pair:?}");
    let PhaseFinding::Turned { cause, .. } = pair.finding() else { panic!("{:?}", pair.finding()) };
    assert!(matches!(cause, PhaseCause::Arm { .. }), "{cause:?}");
    // At its own station an axis shows all that it has.
    let up = |station: f64| {
        let mut bench = Bench::new(include_str!("../../examples/scenario-three-blade.toml"), bench.head.clone(), 34);
        elevator_at(&mut bench, station)
    };
    let own = f64::from(trade::own_station(&bench.head, "elevator up".parse().unwrap()));
    assert!(up(own) > up(own - 16.0) && up(own) > up(own + 16.0));
}

/// What the transmitter trims moves the stick's end, and takes no bind out of the linkage; a longer link may.
#[test]
fn a_bind_is_not_forgotten_when_something_else_was_set() {
    for (set, forgotten) in
        [("elevator trim 1", false), ("cyclic range 90", false), ("swash link 1 +1 half-turn", true)]
    {
        let mut bench = Bench::new(RIGHT, head(&[]), 33);
        bench.capture("elevator neutral", "A", 90.0);
        bench.capture_as("elevator up", "A", at(90.0), 60.0, |capture| {
            (capture.limited_by, capture.stick, capture.stick_said) = (LimitedBy::Bind, Percent::new(100.0), false);
        });
        end_point(&mut bench, set);
        bench.capture("elevator neutral", "A", 90.0);
        bench.capture("elevator up", "A", 90.0);
        let up = bench.cell("elevator up");
        assert_eq!(matches!(up.verdict, Verdict::InQuestion { .. }), !forgotten, "{set}: {up:#?}");
    }
}

/// A head whose command acts later than its description says shows less where it is read, and the readings round the turn know.
#[test]
fn an_end_read_by_a_phase_that_the_readings_contradict_is_in_question() {
    for (phase, asked) in [(0.0, false), (18.0, true)] {
        let scenario = format!("head = {{ mixing_phase_deg = {phase:.1}, cyclic_deg = 11.0 }}");
        let mut bench = Bench::new(&scenario, head(&[]), 34);
        for station in [90.0, 0.0, 45.0, 135.0] {
            bench.capture("elevator neutral", "A", station);
            bench.capture("elevator up", "A", station);
            bench.capture("elevator down", "A", station);
        }
        let up = bench.cell("elevator up");
        let of_phase = matches!(&up.verdict, Verdict::InQuestion { because } if matches!(because[..], [InQuestion::PhaseDiffers { .. }]));
        assert_eq!(of_phase, asked, "{phase}: {up:#?}");
        assert_eq!(up.verdict.is_good(), !asked);
    }
}

/// Once the phase in the mixing was set, an end that was read where the description has it says that it may not show whole there.
#[test]
fn an_end_read_after_the_phase_was_set_asks_for_a_second_station() {
    let says_so = |cell: &Cell| cell.remarks.iter().any(|remark| matches!(remark, CellFinding::PhaseSet { .. }));
    let read = |bench: &mut Bench, station: f64| {
        for what in ["elevator neutral", "elevator up", "elevator down"] {
            bench.capture(what, "A", station);
        }
    };
    let mut bench = Bench::new(RIGHT, head(&[]), 35);
    read(&mut bench, 90.0);
    assert!(!says_so(&bench.cell("elevator up")), "nobody has set it");
    bench.adjust("phase 5");
    read(&mut bench, 90.0);
    let up = bench.cell("elevator up");
    assert!(says_so(&up) && up.verdict.is_captured(), "{up:#?}");
    for station in [45.0, 135.0] {
        read(&mut bench, station);
    }
    assert!(!says_so(&bench.cell("elevator up")), "both together show it");
}
