//! A blade's zero on a model that leans: judged by the collective, and undecided where the lean is in it.

use clinoblade::record::{
    Advice, Answered, Basis, Cell, Event, Interruption, LinkSurvey, LinkSurveyError, LinkTurn, Question, Seat, Task,
    Undecided, Verdict, plan, remedy,
};
use clinoblade::rig::noise::Random;
use clinoblade::rotor::{BladeName, Collective, Deflection, Spot};
use clinoblade::uncertainty::{Component, Contribution, Remedy, Source};
use support::advice::{Bench, at, deg, head};
use uuid::Uuid;

fn blade(name: &str) -> BladeName {
    name.parse().unwrap()
}

/// Both blades by themselves at +0.05°, the model leaning by 1.2° to the nose and 0.9° to the left.
const LEANING: &str =
    "head = { nose_deg = 1.2, left_deg = 0.9 }\nblades = { link_error_deg = [0.05, 0.05], droop_deg = [-1.0, -1.2] }";
const LEVEL: &str = "blades = { link_error_deg = [0.05, 0.05], droop_deg = [-1.0, -1.2] }";

fn bench(scenario: &str) -> Bench {
    Bench::new(scenario, head(&[]), 3)
}

/// As the guide leads: each blade on both sides of the boom, the clip left on.
fn both_sides(bench: &mut Bench) {
    for name in ["A", "B"] {
        for station in [90.0, 270.0] {
            bench.capture("collective mid", name, station);
        }
    }
}

fn figures(cell: &Cell) -> (f64, f64, Basis) {
    let value = cell.value.as_ref().unwrap();
    (value.angle.degrees(), value.expanded.degrees(), value.basis)
}

fn advice(bench: &Bench, name: &str) -> Option<Advice> {
    let record = bench.record();
    remedy(&bench.head, &bench.entries, &record, &bench.cell(name))
}

/// A right head on a bench that leans as far as any does: no reading on the way says that a link must be turned.
#[test]
fn a_model_that_leans_by_three_degrees_is_in_peace_from_the_first_reading_on() {
    for lean in ["nose_deg = 3.0", "left_deg = 3.0", "nose_deg = -2.2, left_deg = 2.0"] {
        let mut bench = bench(&format!("head = {{ {lean} }}\nblades = {{ link_error_deg = [0.05, 0.05] }}"));
        for (name, station) in [("A", 90.0), ("A", 270.0), ("B", 90.0), ("B", 270.0)] {
            bench.capture("collective mid", name, station);
            let record = bench.record();
            for cell in &record.cells {
                let red = cell.question.is_some() || cell.verdict == Verdict::Outside;
                assert!(!red, "{lean}, {name} at {station}: {cell:#?}");
                assert!(!matches!(remedy(&bench.head, &bench.entries, &record, cell), Some(Advice::Links(_))));
            }
        }
    }
    // What no lean makes is outside from one station too.
    let mut bench = bench("blades = { link_error_deg = [7.0, 0.05] }");
    bench.capture("collective mid", "A", 90.0);
    assert_eq!(bench.cell("blade A zero").verdict, Verdict::Outside);
}

#[test]
fn one_station_of_a_leaning_model_is_undecided_and_says_what_would_decide_it() {
    let mut bench = bench(LEANING);
    for name in ["A", "B"] {
        bench.capture("collective mid", name, 90.0);
    }
    for name in ["A", "B"] {
        let cell = bench.cell(&format!("blade {name} zero"));
        let (value, expanded, basis) = figures(&cell);
        assert!(value < -1.0, "the lean is in it: {value}");
        assert!((value - 0.05).abs() <= expanded && basis == Basis::Absolute, "{value} ± {expanded}");
        let by = Undecided::LeanUnknown { blade: blade(name), station: "270".parse().unwrap() };
        assert_eq!(cell.verdict, Verdict::Undecided { by });
        assert!(cell.value.unwrap().budget.has(Component::Lean));
        assert_eq!(advice(&bench, &format!("blade {name} zero")), None);
    }
    let refused = LinkSurvey::new(&bench.head, &bench.entries, None, None).unwrap_err();
    assert_eq!(refused, LinkSurveyError::LeanUnknown { blade: BladeName::A, station: "270".parse().unwrap() });
    assert!(!bench.record().good);
}

#[test]
fn both_sides_of_the_boom_with_the_clip_left_on_give_the_collective() {
    for rotation in ["clockwise", "anticlockwise"] {
        for (nose, left) in [(1.2, 0.9), (-3.0, 0.0), (0.0, 3.0), (0.0, 0.0)] {
            let scenario = format!(
                "head = {{ rotation = \"{rotation}\", nose_deg = {nose}, left_deg = {left} }}\n\
                 blades = {{ link_error_deg = [0.05, 0.05], droop_deg = [-1.0, -1.2] }}"
            );
            let described = head(&[("rotation = \"clockwise\"", &format!("rotation = \"{rotation}\""))]);
            let mut bench = Bench::new(&scenario, described, 3);
            both_sides(&mut bench);
            for name in ["blade A zero", "blade B zero"] {
                let cell = bench.cell(name);
                let (value, expanded, basis) = figures(&cell);
                assert_eq!(basis, Basis::Collective);
                // On a model that leans by 3° the head set by eye leaves more open.
                let room = if f64::hypot(nose, left) < 2.0 { 0.25 } else { 0.6 };
                assert!(
                    cell.verdict == Verdict::Inside || room > 0.25 && cell.verdict.word() == "undecided",
                    "{cell:#?}"
                );
                assert!((value - 0.05).abs() <= expanded && expanded < room, "{nose}, {left}: {value} ± {expanded}");
                assert_eq!(advice(&bench, name), None);
            }
            let split = bench.cell("track B - A").verdict;
            assert!(
                split == Verdict::Inside || f64::hypot(nose, left) > 2.0 && split.word() == "undecided",
                "{split:?}"
            );
        }
    }
}

#[test]
fn a_zero_that_is_truly_wrong_is_found_on_a_model_that_leans() {
    let mut bench = bench(&LEANING.replace("[0.05, 0.05]", "[0.05, 1.6]"));
    both_sides(&mut bench);
    assert_eq!(bench.cell("blade A zero").verdict, Verdict::Inside);
    let cell = bench.cell("blade B zero");
    let (value, expanded, _) = figures(&cell);
    assert!(cell.verdict == Verdict::Outside && (value - 1.6).abs() <= expanded, "{cell:#?}");
    let Some(Advice::Links(turns)) = advice(&bench, "blade B zero") else { panic!("no advice") };
    let [LinkTurn { blade: turned, then, .. }] = turns.as_slice() else { panic!("{turns:?}") };
    assert!(*turned == blade("B") && then.degrees().abs() < 0.5, "{turns:?}");
    // A blade that is off by far more than a model leans is found from one station.
    let mut far = Bench::new(LEVEL, head(&[]), 4);
    far.capture_as("collective mid", "A", at(90.0), 100.0, |capture| capture.reading.angle += deg(4.0));
    assert_eq!(far.cell("blade A zero").verdict, Verdict::Outside);
    assert!(matches!(advice(&far, "blade A zero"), Some(Advice::Links(_))));
}

#[test]
fn a_model_whose_span_slopes_more_than_a_blade_hangs_may_lean_as_much_across() {
    let mut bench = bench("head = { nose_deg = 4.0, left_deg = 4.0 }\nblades = { link_error_deg = [0.0, 0.0] }");
    bench.capture("collective mid", "A", 90.0);
    let cell = bench.cell("blade A zero");
    let (value, expanded, _) = figures(&cell);
    assert!(value.abs() <= expanded && cell.verdict.word() == "undecided", "{value} ± {expanded}: {:?}", cell.verdict);
}

#[test]
fn a_pair_is_of_one_seat_one_zero_and_one_stand_of_the_model() {
    let pair = |between: &dyn Fn(&mut Bench), change: &dyn Fn(&mut clinoblade::record::Capture)| {
        let mut bench = bench(LEANING);
        bench.capture("collective mid", "A", 90.0);
        between(&mut bench);
        bench.capture_as("collective mid", "A", at(270.0), 100.0, |capture| change(capture));
        figures(&bench.cell("blade A zero")).2
    };
    let pause = |pause: Interruption| {
        move |bench: &mut Bench| {
            bench.happened(Event::Resumed { pause, note: String::new() });
        }
    };
    assert_eq!(pair(&|_| {}, &|_| {}), Basis::Collective);
    let moved = Interruption { model_moved: true, ..Interruption::default() };
    let off = Interruption { clip_taken_off: true, ..Interruption::default() };
    assert_eq!(pair(&pause(moved), &|_| {}), Basis::Absolute);
    assert_eq!(pair(&pause(off), &|_| {}), Basis::Absolute);
    assert_eq!(pair(&|_| {}, &|capture| capture.datum.id = Uuid::from_u128(5)), Basis::Absolute);
    assert_eq!(
        pair(
            &|bench| {
                bench.capture("collective mid", "B", 90.0);
            },
            &|_| {}
        ),
        Basis::Absolute
    );
    // The link turned in between: the older half does not hold.
    assert_eq!(pair(&|bench| bench.adjust("link A +1 half-turn"), &|_| {}), Basis::Absolute);
}

#[test]
fn a_later_reading_at_one_station_does_not_displace_the_pair() {
    let mut bench = bench(LEANING);
    both_sides(&mut bench);
    let before = bench.cell("blade A zero").value;
    bench.capture("collective mid", "A", 0.0);
    let after = bench.cell("blade A zero");
    assert_eq!(after.value, before);
    assert_eq!(after.history.len(), 1);
}

#[test]
fn a_solved_rotor_gives_the_collective_where_no_two_stations_are_opposite() {
    for (nose, left) in [(1.2, 0.9), (-2.0, 1.5)] {
        let scenario = format!(
            "head = {{ nose_deg = {nose}, left_deg = {left} }}\nblades = {{ link_error_deg = [0.3, 0.3], droop_deg = [-1.0, -1.2] }}"
        );
        let mut bench = bench(&scenario);
        for station in [0.0, 120.0, 240.0] {
            bench.capture("collective mid", "A", station);
        }
        let cell = bench.cell("blade A zero");
        let (value, expanded, basis) = figures(&cell);
        assert!(basis == Basis::Collective && (value - 0.3).abs() <= expanded, "{value} ± {expanded}");
        assert!(expanded < 1.0, "{expanded}");
    }
}

#[test]
fn the_true_collective_lies_within_u_of_the_pair_on_heads_as_they_come() {
    const HEADS: u64 = 400;
    let (mut pairs, mut singles) = (0, 0);
    for seed in 0..HEADS {
        let mut random = Random::new(seed);
        let mut drawn = |half: f64| random.between(-half, half);
        let (nose, left, error) = (drawn(1.0), drawn(1.0), drawn(3.0));
        let scenario = format!(
            "head = {{ nose_deg = {nose}, left_deg = {left} }}\nblades = {{ link_error_deg = [{error}, 0.0], droop_deg = [-1.0, -1.0] }}"
        );
        let mut bench = Bench::new(&scenario, head(&[]), seed);
        bench.by_eye = 5.0;
        bench.capture("collective mid", "A", 90.0);
        let holds = |bench: &Bench| {
            let (value, expanded, _) = figures(&bench.cell("blade A zero"));
            usize::from((value - error).abs() <= expanded)
        };
        singles += holds(&bench);
        bench.capture("collective mid", "A", 270.0);
        pairs += holds(&bench);
    }
    println!("{singles} single readings and {pairs} pairs of {HEADS} hold the truth");
    assert!(singles * 100 >= 95 * HEADS as usize && pairs * 100 >= 93 * HEADS as usize);
}

#[test]
fn no_link_is_turned_for_a_zero_that_is_not_known() {
    let mut bench = bench(&LEVEL.replace("[0.05, 0.05]", "[1.5, 1.5]"));
    for station in [90.0, 270.0] {
        bench.capture_as("collective mid", "A", at(station), 100.0, |capture| {
            let case = Contribution::new(Component::Calibration, deg(1.15))
                .shrunk_by(Remedy::CaseTurn)
                .shared(Source::calibration("bench"));
            capture.reading.budget = capture.reading.budget.clone().with(case);
        });
    }
    let refused = LinkSurvey::new(&bench.head, &bench.entries, None, None).unwrap_err();
    let LinkSurveyError::ZeroUnknown { blade, expanded, remedy } = &refused else { panic!("{refused:?}") };
    assert_eq!((*blade, remedy), (BladeName::A, &Remedy::CaseTurn));
    assert!((expanded.degrees() - 1.96 * 1.15).abs() < 0.01, "{expanded}");
    assert_eq!(advice(&bench, "blade A zero"), Some(Advice::NoLinks(refused)));
}

/// Where the zeros are read, in order.
fn zeros_of(blades: u8, bench: &Bench) -> Vec<(String, f64, bool)> {
    let mut head = bench.head.clone();
    head.blades = blades.try_into().unwrap();
    let zero = Task::Capture(Deflection::Collective(Collective::Mid));
    plan::plan(&head, &bench.entries)
        .into_iter()
        .filter(|line| line.task == zero)
        .filter_map(|line| match line.seat {
            Seat { blade, spot: Spot::Main(station) } => Some((blade.to_string(), f64::from(station), line.held)),
            _ => None,
        })
        .collect()
}

#[test]
fn each_blade_is_read_on_both_sides_with_as_few_moves_as_can_be() {
    let fresh = bench(LEVEL);
    let order = |blades| zeros_of(blades, &fresh).into_iter().map(|(b, s, _)| format!("{b}{s}")).collect::<Vec<_>>();
    assert_eq!(order(2), ["A90", "A270", "B90", "B270"]);
    // The opposite blade stands where it is read next; of the other two each is a quarter turn away.
    assert_eq!(order(4)[..4], ["A90", "A270", "C90", "C270"]);
    for blades in 2..=8_u8 {
        let lines = zeros_of(blades, &fresh);
        assert_eq!(lines.len(), 2 * usize::from(blades));
        let mut turned = 0.0;
        let stands = |(name, station, _): &(String, f64, bool)| {
            station - 360.0 * f64::from(name.as_bytes()[0] - b'A') / f64::from(blades)
        };
        for pair in lines.windows(2) {
            turned += ((stands(&pair[1]) - stands(&pair[0]) + 180.0).rem_euclid(360.0) - 180.0).abs();
        }
        for both in lines.chunks(2) {
            assert_eq!(both[0].0, both[1].0, "the clip stays on");
            assert!(((both[0].1 - both[1].1).abs() - 180.0).abs() < 1e-9, "{both:?}");
        }
        // Half a turn for each blade, and to the next one at most a quarter.
        assert!(turned <= 180.0 * f64::from(blades) + 90.0 * f64::from(blades - 1) + 1e-6, "{blades}: {turned}");
    }
}

#[test]
fn a_zero_is_held_once_it_is_free_of_lean_and_half_of_it_only_while_the_clip_stays() {
    let held = |bench: &Bench| zeros_of(2, bench).into_iter().map(|(_, _, held)| held).collect::<Vec<_>>();
    let mut bench = bench(LEVEL);
    bench.capture("collective mid", "A", 90.0);
    assert_eq!(held(&bench), [true, false, false, false]);
    bench.capture("collective mid", "B", 90.0);
    assert_eq!(held(&bench), [false, false, true, false], "the clip has left blade A");
    bench.capture("collective mid", "B", 270.0);
    assert_eq!(held(&bench), [false, false, true, true]);
    bench.capture("collective mid", "A", 90.0);
    bench.capture("collective mid", "A", 270.0);
    assert_eq!(held(&bench), [true; 4]);
}

/// A pair that no longer is true does not overrule what was read since.
#[test]
fn a_reading_that_contradicts_the_pair_is_asked_about_and_what_was_said_to_be_right_takes_its_half_turn() {
    for (by, asked) in [(0.1, false), (1.5, true)] {
        let mut bench = bench(LEVEL);
        both_sides(&mut bench);
        bench.capture_as("collective mid", "A", at(90.0), 100.0, |capture| {
            capture.seat += 40;
            capture.reading.angle += deg(by);
        });
        let cell = bench.cell("blade A zero");
        assert_eq!(matches!(cell.question, Some(Question::NeutralMoved { .. })), asked, "{by}: {cell:#?}");
        assert_eq!(cell.verdict == Verdict::Undecided { by: Undecided::Questioned }, asked);
        if asked {
            bench.capture_as("collective mid", "A", at(90.0), 100.0, |capture| {
                capture.seat += 41;
                capture.reading.angle += deg(by);
                (capture.accepted, capture.answered) = (true, vec![Answered::NeutralMoved]);
            });
            let cell = bench.cell("blade A zero");
            assert!(cell.question.is_none(), "{cell:#?}");
            let Verdict::Undecided { by: Undecided::LeanUnknown { station, .. } } = cell.verdict else {
                panic!("{cell:#?}")
            };
            assert_eq!(f64::from(station), 270.0);
        }
    }
}
