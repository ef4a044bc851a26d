//! A swashplate that does not stand level at stick centre: found, or asked about, and no pitch link is turned for it.

use clinoblade::record::{
    Advice, Basis, Cell, CellName, Event, Interruption, LevelPlate, LinkSurvey, LinkSurveyError, Question, RotorSurvey,
    SurveyError, Task, Undecided, Verdict, plan, remedy,
};
use clinoblade::rotor::{BladeName, Datum, Spot, Station};
use clinoblade::units::{Angle, BladeVector};
use support::advice::{Bench, at, head};

const LEVEL: &str = "blades = { link_error_deg = [0.05, 0.05], droop_deg = [-1.0, -1.2] }";
const LEANING: &str =
    "head = { nose_deg = 1.2, left_deg = 0.9 }\nblades = { link_error_deg = [0.05, 0.05], droop_deg = [-1.0, -1.2] }";

/// Sub-trim of the two aft servos against each other: the plate leans sideways by 2.1° of pitch, and level fore and aft.
const TILTED: [&str; 2] = ["subtrim 2 4", "subtrim 3 -4"];

fn bench(scenario: &str, hands: &[&str]) -> Bench {
    let mut bench = Bench::new(scenario, head(&[("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0")]), 3);
    bench.hands(hands);
    bench
}

fn level(bench: &Bench) -> Option<Cell> {
    bench.record().cell(CellName::SwashLevel).cloned()
}

fn round(bench: &mut Bench) {
    for station in [0.0, 90.0, 180.0, 270.0] {
        bench.capture("collective mid", "A", station);
    }
}

/// As the guide leads: both zeros on both sides, and blade A along the boom for the aileron.
fn guided(bench: &mut Bench) {
    for name in ["A", "B"] {
        for station in [90.0, 270.0] {
            bench.capture("collective mid", name, station);
        }
    }
    bench.capture("elevator neutral", "A", 90.0);
    bench.capture("aileron neutral", "A", 0.0);
}

#[test]
fn a_tilted_plate_is_outside_when_a_blade_was_read_round_the_turn() {
    for scenario in [LEVEL, LEANING] {
        let mut bench = bench(scenario, &TILTED);
        let swash = bench.truth().swash;
        let truth = swash.cos_deg.degrees().hypot(swash.sin_deg.degrees());
        assert!((truth - 2.08).abs() < 0.02, "{truth}");
        round(&mut bench);
        let cell = level(&bench).unwrap();
        let value = cell.value.unwrap();
        assert_eq!((cell.verdict, value.basis), (Verdict::Outside, Basis::Round));
        let (angle, expanded) = (value.angle.degrees(), value.expanded.degrees());
        assert!((angle - truth).abs() <= expanded && expanded < 0.5, "{angle} ± {expanded}, truly {truth}");
        assert!(!bench.record().good);
        let refused = LinkSurvey::new(&bench.head, &bench.entries, None, None).unwrap_err();
        assert_eq!(refused, LinkSurveyError::PlateNotLevel { questioned: false });
    }
}

#[test]
fn the_guided_order_finds_a_tilted_plate() {
    let mut bench = bench(LEVEL, &TILTED);
    guided(&mut bench);
    assert_eq!(bench.cell("blade A zero").verdict, Verdict::Inside, "the tilt cancels in the mean");
    assert_eq!(level(&bench).unwrap().verdict, Verdict::Outside);
}

#[test]
fn two_neutrals_that_no_lean_explains_are_a_question() {
    let mut bench = bench(LEVEL, &TILTED);
    bench.capture("aileron neutral", "A", 0.0);
    bench.capture("collective mid", "A", 90.0);
    let cell = level(&bench).unwrap();
    assert_eq!(cell.verdict, Verdict::Undecided { by: Undecided::Questioned });
    let Some(Question::PlateOrLean { blade, difference, .. }) = cell.question else { panic!("{cell:?}") };
    assert!(blade == BladeName::A && (difference.degrees() + 2.0).abs() < 0.15, "{difference}");
    let record = bench.record();
    assert!(!record.good && record.questions().any(|(cell, _)| cell.name == CellName::SwashLevel));
    let refused = LinkSurvey::new(&bench.head, &bench.entries, None, None).unwrap_err();
    assert_eq!(refused, LinkSurveyError::PlateNotLevel { questioned: true });
}

#[test]
fn no_pitch_link_is_advised_on_while_the_plate_is_tilted() {
    let mut bench = bench(&LEVEL.replace("[0.05, 0.05]", "[0.05, 1.6]"), &TILTED);
    guided(&mut bench);
    let cell = bench.cell("blade B zero");
    assert_eq!(cell.verdict, Verdict::Outside);
    let said = remedy(&bench.head, &bench.entries, &bench.record(), &cell);
    assert_eq!(said, Some(Advice::NoLinks(LinkSurveyError::PlateNotLevel { questioned: false })));
}

#[test]
fn a_level_plate_stays_quiet_and_is_inside_when_it_was_read_round_the_turn() {
    for scenario in [LEVEL, LEANING] {
        let mut quiet = bench(scenario, &[]);
        guided(&mut quiet);
        assert_eq!(level(&quiet), None, "{scenario}");
        let mut two = bench(scenario, &[]);
        two.capture("aileron neutral", "A", 0.0);
        assert_eq!(level(&two), None);
        let mut all = bench(scenario, &[]);
        round(&mut all);
        let cell = level(&all).unwrap();
        let value = cell.value.unwrap();
        assert!(value.angle <= value.expanded, "{scenario}: {} ± {}", value.angle, value.expanded);
        assert!(
            matches!(cell.verdict, Verdict::Inside),
            "{scenario}: {} ± {}: {:?}",
            value.angle,
            value.expanded,
            cell.verdict
        );
    }
}

/// The link of one servo is too long: the description's measures of the plate say which, and by how much.
#[test]
fn the_servo_whose_link_is_too_long_is_named() {
    let swash = "swash = { servo_radius_mm = 25.0, link_radius_mm = 15.0, thread = \"M2.5\", horn_mm = 15.0 }";
    for (rotation, servo, half_turns) in [("clockwise", 3, 3.0), ("clockwise", 1, -4.0), ("anticlockwise", 2, 3.0)] {
        let rotates = format!("rotation = \"{rotation}\"");
        let described = head(&[
            ("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0"),
            ("rotation = \"clockwise\"", &rotates),
            ("# swash = { servo_radius_mm = 25.0, link_radius_mm = 15.0, thread = \"M2.5\", horn_mm = 15.0 }", swash),
        ]);
        let scenario = format!("head = {{ rotation = \"{rotation}\", nose_deg = 0.5, left_deg = -0.6 }}");
        let mut bench = Bench::new(&scenario, described, 5);
        bench.hands(&[&format!("rod {servo} {half_turns}")]);
        round(&mut bench);
        let record = bench.record();
        let cell = level(&bench).unwrap();
        assert_eq!(cell.verdict, Verdict::Outside);
        let Some(Advice::LevelPlate(LevelPlate { servos, collective })) =
            remedy(&bench.head, &bench.entries, &record, &cell)
        else {
            panic!("no advice on servo {servo}")
        };
        let [turn] = servos.as_slice() else { panic!("{rotation}, servo {servo}: {servos:?}") };
        assert_eq!((turn.servo, turn.teeth), (servo, None));
        let (turned, expanded) = (turn.half_turns.value(), turn.expanded.value());
        assert!((turned + half_turns).abs() <= expanded && expanded < 1.5, "{turn:?}");
        // The plate stands on three balls: a third of what one rises, on an arm of 20 mm.
        let takes = -(half_turns * 0.225 / 3.0 / 20.0_f64).to_degrees();
        assert!((collective.degrees() - takes).abs() < 0.3, "{collective} instead of {takes}");
        // Turned so, the plate is level.
        bench.hands(&[&format!("rod {servo} {}", -half_turns)]);
        bench.adjust(&format!("swash link {servo} {:+} half-turns", -half_turns));
        round(&mut bench);
        assert_eq!(level(&bench).unwrap().verdict, Verdict::Inside);
    }
}

/// A phase of 20° moves the pitch links' balls round the plate where the pitch arms make it, and leaves them where the transmitter
/// mixes it: the servo whose link is too long is named either way.
#[test]
fn the_servo_is_named_whichever_way_a_phase_is_made() {
    let plate = "# swash = { servo_radius_mm = 25.0, link_radius_mm = 15.0, thread = \"M2.5\", horn_mm = 15.0 }";
    for rotation in ["clockwise", "anticlockwise"] {
        for (made_by, lead) in [("link_lead_deg = 70.0", ""), ("mixing_phase_deg = 20.0", ", lead_deg = 90.0")] {
            for servo in [1, 2, 3] {
                let swash = format!(
                    "swash = {{ servo_radius_mm = 25.0, link_radius_mm = 15.0, thread = \"M2.5\", horn_mm = 15.0{lead} }}"
                );
                let rotates = format!("rotation = \"{rotation}\"");
                let described = head(&[
                    ("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0"),
                    ("rotation = \"clockwise\"", &rotates),
                    ("control_phase_deg = 0.0", "control_phase_deg = 20.0"),
                    (plate, &swash),
                ]);
                let scenario = format!("head = {{ rotation = \"{rotation}\", nose_deg = 0.5, {made_by} }}");
                let mut bench = Bench::new(&scenario, described, 6);
                bench.hands(&[&format!("rod {servo} 4")]);
                round(&mut bench);
                let told = LevelPlate::new(&bench.head, &bench.entries).unwrap();
                let [turn] = told.servos.as_slice() else { panic!("{rotation}, {made_by}, servo {servo}: {told:?}") };
                let (turned, expanded) = (turn.half_turns.value(), turn.expanded.value());
                assert!(turn.servo == servo && (turned + 4.0).abs() <= expanded, "{rotation}, {made_by}: {turn:?}");
                // The horn of 15 mm lowers its ball by as much: asin(0.9/15).
                let trim = turn.sub_trim.unwrap();
                let by = -(0.9_f64 / 15.0).asin().to_degrees();
                assert!((trim.by.degrees() - by).abs() <= trim.expanded.degrees(), "{trim:?} instead of {by}");
            }
        }
    }
}

/// The two aft servos against each other by so much sub-trim, percent.
fn tilted_by(percent: f64, seed: u64) -> Bench {
    let mut bench = Bench::new(LEANING, head(&[("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0")]), seed);
    bench.hands(&[&format!("subtrim 2 {percent}"), &format!("subtrim 3 -{percent}")]);
    bench
}

fn moved(bench: &mut Bench) {
    let pause = Interruption { model_moved: true, ..Interruption::default() };
    bench.happened(Event::Resumed { pause, note: String::new() });
}

#[test]
fn a_plate_that_is_tilted_by_little_more_than_it_should_be_is_read_round_the_turn() {
    let mut bench = tilted_by(0.8, 4);
    guided(&mut bench);
    let cell = level(&bench).unwrap();
    assert_eq!(cell.verdict, Verdict::Undecided { by: Undecided::PlateUnread { blade: BladeName::A } });
    let refused = LinkSurvey::new(&bench.head, &bench.entries, None, None).unwrap_err();
    assert_eq!(refused, LinkSurveyError::PlateNotLevel { questioned: true });
    // The guide has a line for each of the four, and they are read on one seat.
    let open = |bench: &Bench| -> Vec<String> {
        let lines = plan::plan(&bench.head, &bench.entries).into_iter();
        let zeros = lines.filter(|line| !line.held && line.task == Task::Capture("collective mid".parse().unwrap()));
        zeros
            .map(|line| match line.seat.spot {
                Spot::Main(station) => format!("{} {:.0}", line.seat.blade, f64::from(station)),
                Spot::Tail(_) => panic!("{line:?}"),
            })
            .collect()
    };
    // On the seat of its zeros two quarters are missing; on another all four are read.
    assert_eq!(open(&bench), ["A 0", "A 180"]);
    bench.capture("collective mid", "A", 0.0);
    assert_eq!(open(&bench), ["A 90", "A 270", "A 180"]);
    round(&mut bench);
    let value = level(&bench).unwrap().value.unwrap();
    assert!((value.angle.degrees() - 0.42).abs() < value.expanded.degrees() && value.basis == Basis::Round);
    assert_eq!(open(&bench), [""; 0]);
    // A plate as level as it should be leaves the guide as it is.
    let mut quiet = tilted_by(0.2, 4);
    guided(&mut quiet);
    assert_eq!((level(&quiet), open(&quiet).len()), (None, 0));
}

#[test]
fn what_was_found_of_the_plate_holds_when_the_model_is_moved_and_one_neutral_read() {
    let mut bench = bench(LEANING, &TILTED);
    guided(&mut bench);
    moved(&mut bench);
    bench.hands(&["tilt 0.2 -0.4"]);
    bench.capture("collective mid", "A", 90.0);
    assert_eq!(level(&bench).unwrap().verdict, Verdict::Outside);
    let refused = LinkSurvey::new(&bench.head, &bench.entries, None, None).unwrap_err();
    assert_eq!(refused, LinkSurveyError::PlateNotLevel { questioned: false });
    let mut quiet = tilted_by(0.0, 6);
    guided(&mut quiet);
    moved(&mut quiet);
    quiet.capture("collective mid", "A", 90.0);
    assert_eq!(level(&quiet), None);
}

/// What was found before the model was moved says nothing of a horn that slipped since.
#[test]
fn a_plate_that_tilts_after_the_model_was_moved_is_asked_about() {
    let since = |hands: &[&str]| {
        let mut bench = tilted_by(0.0, 8);
        guided(&mut bench);
        moved(&mut bench);
        bench.hands(hands);
        bench.capture("elevator neutral", "A", 90.0);
        bench.capture("aileron neutral", "A", 0.0);
        level(&bench)
    };
    let slipped = since(&["tilt 0 0", "subtrim 2 14", "subtrim 3 -14"]).unwrap();
    assert!(matches!(slipped.question, Some(Question::PlateOrLean { .. })), "{slipped:?}");
    assert_eq!(since(&["tilt 0 0"]), None);
}

#[test]
fn a_model_that_moves_unsaid_among_the_readings_is_a_question() {
    let mut bench = bench(LEVEL, &[]);
    for station in [0.0, 90.0] {
        bench.capture("collective mid", "A", station);
    }
    bench.hands(&["tilt 2.5 0"]);
    for station in [180.0, 270.0] {
        bench.capture("collective mid", "A", station);
    }
    let cell = level(&bench).unwrap();
    assert!(matches!(cell.question, Some(Question::NoRotor { .. })), "{cell:?}");
    round(&mut bench);
    assert_eq!(level(&bench).unwrap().verdict, Verdict::Inside);
}

/// A sensor that sends one angle shows no slope of the span: a model that leans makes no plate tilted.
#[test]
fn a_sensor_of_one_angle_tells_no_tilt_from_a_lean() {
    let blind = |tilted: &[&str]| {
        let mut bench = bench(LEANING, tilted);
        for station in [0.0, 90.0, 180.0, 270.0] {
            bench.capture_as("collective mid", "A", at(station), 100.0, |capture| {
                capture.reading.span_inclination = Angle::ZERO;
                capture.reading.up.span = 0.0;
            });
        }
        bench
    };
    let upright = |tilted: &[&str]| {
        let mut bench = bench(LEVEL, tilted);
        for station in [0.0, 90.0] {
            bench.capture_as("collective mid", "A", at(station), 100.0, |capture| {
                capture.reading.span_inclination = Angle::ZERO;
                capture.reading.up.span = 0.0;
            });
        }
        level(&bench)
    };
    assert_eq!(upright(&[]), None);
    // What a model leaning by a degree and a half shows, a plate shows as well: that is no question, and not decided.
    let untold = Verdict::Undecided { by: Undecided::PlateUntold };
    let leans = blind(&[]);
    for cell in [level(&leans), upright(&TILTED)] {
        let cell = cell.unwrap();
        assert!(cell.verdict == untold && cell.question.is_none(), "{cell:#?}");
    }
    assert_eq!(RotorSurvey::new(&leans.head, &leans.entries, None).unwrap_err(), SurveyError::NoSpan);
    // A tilt that no lean makes is asked about all the same.
    let question = level(&blind(&["subtrim 2 12", "subtrim 3 -12"])).unwrap().question;
    assert!(matches!(question, Some(Question::PlateOrLean { .. })), "{question:?}");
}

/// Whatever was turned may not have levelled the plate: it is owed until it is read round the turn again.
#[test]
fn a_plate_that_was_tilted_is_owed_after_a_servo_was_trimmed() {
    let mut bench = bench(LEVEL, &TILTED);
    round(&mut bench);
    assert_eq!(level(&bench).unwrap().verdict, Verdict::Outside);
    bench.adjust("sub-trim 2 1");
    for station in [90.0, 270.0] {
        bench.capture("collective mid", "A", station);
    }
    let cell = level(&bench).unwrap();
    assert!(matches!(cell.verdict, Verdict::Stale { .. }) && cell.is_owed(), "{cell:#?}");
    let record = bench.record();
    assert!(!record.complete && !record.good);
    let wanted: Vec<String> = record.to_measure.iter().map(ToString::to_string).collect();
    for station in [0, 180] {
        assert!(wanted.contains(&format!("collective mid, blade A at {station}°")), "{wanted:?}");
    }
    bench.hands(&["subtrim 2 0", "subtrim 3 0"]);
    round(&mut bench);
    assert_eq!(level(&bench).unwrap().verdict, Verdict::Inside, "{:#?}", level(&bench));
}

/// A zero set by a surface that nobody held the sensor against twice leaves its own error in every reading: round the turn they tell
/// no lean, and what decides is another zero.
#[test]
fn a_surface_zero_names_the_reversal_and_asks_for_no_round() {
    let up = BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
    let heading = Station::from_degrees(90.0).unwrap();
    let surface = Datum::Surface { up, heading, instrument: None, u: Angle::from_degrees(0.02) };
    for (scenario, by) in [(LEANING, Some(Undecided::PlateNeedsReversal)), (LEVEL, None)] {
        let mut bench = bench(scenario, &[]);
        for station in [0.0, 90.0, 180.0, 270.0] {
            bench.capture_as("collective mid", "A", at(station), 100.0, |capture| capture.datum.datum = surface);
        }
        let cell = level(&bench);
        let verdict = by.map(|by| Verdict::Undecided { by });
        assert_eq!(cell.as_ref().map(|cell| cell.verdict.clone()), verdict, "{cell:#?}");
        assert!(cell.is_none_or(|cell| cell.question.is_none()));
    }
}

/// A level plate on a perfect head, from a logbook that keeps twelve digits: its readings fit but for rounding, and are solved.
#[test]
fn readings_that_fit_but_for_rounding_are_solved() {
    let mut bench = support::advice::Bench::new("blades.droop_deg = [-1.0, -1.2]", support::advice::head(&[]), 21);
    for station in [0.0, 90.0, 180.0, 270.0] {
        bench.capture("collective mid", "A", station);
    }
    let kept: Vec<clinoblade::record::Entry> =
        serde_json::from_value(serde_json::to_value(&bench.entries).unwrap()).unwrap();
    for entries in [&bench.entries, &kept] {
        let survey = clinoblade::record::RotorSurvey::new(&bench.head, entries, None);
        assert!(survey.is_ok(), "{survey:?}");
        let record = clinoblade::record::LimitRecord::new(&bench.head, entries);
        let level = record.cells.iter().find(|cell| cell.name.to_string() == "swash level").unwrap();
        assert_eq!(level.verdict.word(), "inside", "{level:#?}");
    }
}
