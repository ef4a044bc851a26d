//! The commands that advise, run as a person runs them on a logbook whose captures come from the simulated head.

use serde_json::Value;
use support::advice::head;
use support::bench::number;

/// A folder with what was captured so far in its logbook.
fn kept(captured: &support::advice::Bench) -> support::bench::Bench {
    let bench = support::bench::Bench::new();
    captured.keep(&bench.logbook());
    bench
}

/// A trainer whose elevator goes further up than down, because its servo arms stand off square.
fn trainer() -> support::advice::Bench {
    let rig = "head.cyclic_deg = 12.5\nservos.arm_offset_deg = [8.0, -3.0, 5.0]";
    let mut captured = support::advice::Bench::new(rig, head(&[("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0")]), 11);
    for what in ["elevator neutral", "elevator up", "elevator down"] {
        captured.capture(what, "A", 90.0);
    }
    captured.part_way("elevator up", "A", 90.0, 50.0);
    captured
}

#[test]
fn travel_is_advised_in_words_and_as_a_document() {
    let mut captured = trainer();
    let bench = kept(&captured);
    let document = bench.json(&["advise", "travel", "elevator", "up", "--to", "10.5"]);
    let (set, expected) = (number(&document["set_percent"]), number(&document["expected_deg"]));
    assert!((80.0..100.0).contains(&set) && (expected - 10.5).abs() < 0.1, "{document:#}");
    assert_eq!((&document["blade"], &document["end_point_assumed"]), (&Value::from("A"), &Value::from(true)));
    assert_eq!(document["pairs"].as_array().unwrap().len(), 2);

    let text = bench.done(&["advise", "travel", "elevator", "up", "--to", "10.5"]).stdout;
    for words in [
        format!("Set the end point of elevator up to {set:.0} %"),
        format!("clinoblade adjust elevator up end point {set:.0}"),
        "taken as 100 %".to_owned(),
    ] {
        assert!(text.contains(&words), "{words}\n{text}");
    }
    // What it says next is done on the simulated head, recorded, and captured again.
    bench.done(&["adjust", "elevator", "up", "end", "point", &format!("{set:.0}")]);
    captured.hands(&[&format!("endpoint elevator up {set:.0}")]);
    let neutral = captured.capture("elevator neutral", "A", 90.0);
    let travel = captured.capture("elevator up", "A", 90.0) - neutral;
    assert!((travel - expected).abs() <= number(&document["expanded_uncertainty_deg"]), "{travel} {document:#}");
}

#[test]
fn a_ceiling_of_the_description_is_stayed_under_for_certain() {
    let bench = kept(&trainer());
    let document = bench.json(&["advise", "travel", "elevator", "up"]);
    assert!((number(&document["wanted_deg"]) - 12.0).abs() < 1e-9, "{document:#}");
    let reached = number(&document["expected_deg"]) + number(&document["expanded_uncertainty_deg"]);
    assert!(reached <= 12.0 && reached > 11.5, "{document:#}");
    let text = bench.done(&["advise", "travel", "elevator", "up"]).stdout;
    assert!(text.contains("For at most 12° (the description's)"), "{text}");
}

#[test]
fn what_nobody_has_seen_is_refused_with_what_to_capture() {
    let bench = kept(&trainer());
    // A little further than was captured is advised with a caution, much further is not.
    let seen = bench.json(&["advise", "travel", "elevator", "up", "--to", "11"]);
    assert!(number(&seen["set_percent"]) < 100.0 && seen["caution"].is_null(), "{seen:#}");
    let further = bench.json(&["advise", "travel", "elevator", "up", "--to", "12.4"]);
    assert!((101.0..=110.0).contains(&number(&further["set_percent"])), "{further:#}");
    assert!(further["caution"].as_str().unwrap().contains("further than you captured"), "{further:#}");
    let words = bench.done(&["advise", "travel", "elevator", "up", "--to", "12.4"]).stdout;
    assert!(words.contains("listen for a bind, and back off at the first buzz."), "{words}");
    let far = bench.run(&["advise", "travel", "elevator", "up", "--to", "14"]);
    assert_eq!(far.code, 1, "{far}");
    assert!(far.stderr.contains("Set the end point to 110 %, check that nothing binds, capture there"), "{far}");
    let never = bench.run(&["advise", "travel", "aileron", "left", "--to", "10"]);
    assert_eq!(never.code, 1, "{never}");
    assert!(never.stderr.contains("Capture aileron neutral, then aileron left"), "{never}");
    let neutral = bench.run(&["advise", "travel", "elevator", "neutral", "--to", "1"]);
    assert_eq!(neutral.code, 2, "{neutral}");
}

#[test]
fn one_way_against_the_other_and_both_remedies() {
    let mut captured = trainer();
    let bench = kept(&captured);
    let document = bench.json(&["advise", "symmetry"]);
    let axes = document["axes"].as_array().unwrap();
    assert_eq!(axes.len(), 1, "the elevator alone was captured both ways: {document:#}");
    assert_eq!(axes[0]["significant"], true, "{document:#}");
    let difference = number(&axes[0]["difference_deg"]);
    assert!((number(&axes[0]["neutral_shift_deg"]) - difference / 2.0).abs() < 1e-9);
    // The end that is too long is taken back on the simulated head: both go equally far then.
    let (long, set) =
        (axes[0]["end_point"]["direction"].as_str().unwrap(), number(&axes[0]["end_point"]["set_percent"]));
    captured.hands(&[&format!("endpoint elevator {long} {set}")]);
    let neutral = captured.capture("elevator neutral", "A", 90.0);
    let (up, down) = (captured.capture("elevator up", "A", 90.0), captured.capture("elevator down", "A", 90.0));
    let left = (up - neutral) + (down - neutral);
    assert!(left.abs() < 0.15 && left.abs() < difference.abs() / 2.0, "{left} of {difference}");
    let refused = bench.run(&["advise", "symmetry", "rudder"]);
    assert_eq!(refused.code, 1, "{refused}");
}

#[test]
fn the_collective_is_drawn_and_advised() {
    let rig = "head.collective_deg = 11.0\nservos.arm_offset_deg = [9.0, 9.0, 9.0]";
    let mut captured = support::advice::Bench::new(rig, head(&[]), 12);
    for what in ["collective mid", "collective low", "collective 25%", "collective 75%", "collective high"] {
        captured.capture(what, "A", 90.0);
    }
    let bench = kept(&captured);
    let picture = bench.name("pitch.svg");
    let arguments = ["advise", "collective", "--low", "-10", "--high", "10", "--plot", &picture];
    let document = bench.json(&arguments);
    let svg = std::fs::read_to_string(&picture).unwrap();
    assert_eq!(svg.matches("<circle").count(), 5, "every capture and the neutral");
    assert!(svg.contains("pitch from mid stick") && svg.contains("<polyline"));
    assert!(number(&document["asymmetry_deg"]) < -0.3, "arms off square shorten the high end: {document:#}");
    let advice = document["advice"].as_array().unwrap();
    assert_eq!(advice.len(), 2, "{document:#}");
    // A little further than was captured is said with its caution.
    assert!(advice.iter().all(|one| one["caution"].is_null()), "{document:#}");
    let words = bench.done(&["advise", "collective", "--high", "11.6"]).stdout;
    assert!(words.contains("further than you captured: move there slowly"), "{words}");
    for one in advice {
        let (direction, set) = (one["direction"].as_str().unwrap(), number(&one["set_percent"]));
        captured.hands(&[&format!("endpoint collective {direction} {set}")]);
        let neutral = captured.capture("collective mid", "A", 90.0);
        let pitch = captured.capture(&format!("collective {direction}"), "A", 90.0) - neutral;
        let (expected, u) = (number(&one["expected_deg"]), number(&one["expanded_uncertainty_deg"]));
        assert!((pitch - expected).abs() <= u, "{direction}: {pitch}, foretold {expected} ± {u}");
    }
    let text = bench.done(&arguments).stdout;
    assert!(text.contains("low is ") && text.contains(" more than high."), "{text}");
}

/// A head whose servo 3 has its link three half-turns too long, read round the turn.
fn leaning(hands: &[&str]) -> support::advice::Bench {
    let plate = "swash = { servo_radius_mm = 25.0, link_radius_mm = 15.0, thread = \"M2.5\", horn_mm = 15.0 }";
    let commented = format!("# {plate}");
    let described = head(&[("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0"), (commented.as_str(), plate)]);
    let mut captured = support::advice::Bench::new("blades.droop_deg = [-1.0, -1.2]", described, 21);
    captured.hands(hands);
    for station in [0.0, 90.0, 180.0, 270.0] {
        captured.capture("collective mid", "A", station);
    }
    captured
}

/// What levels the plate is said by `advise swash` and by `check`, with the size of the sub-trim that does the same.
#[test]
fn the_servo_that_levels_the_plate_is_named_in_the_terminal() {
    let bench = kept(&leaning(&["rod 3 3"]));
    let document = bench.json(&["advise", "swash"]);
    let servos = document["level_plate"]["servos"].as_array().unwrap();
    assert!(servos.len() == 1 && servos[0]["servo"] == 3, "{document:#}");
    assert!((number(&servos[0]["half_turns"]) + 3.0).abs() <= number(&servos[0]["expanded_uncertainty_half_turns"]));
    // asin(0.675/15)
    let trim = &servos[0]["sub_trim"];
    assert!((number(&trim["by_deg"]) + 2.58).abs() <= number(&trim["expanded_uncertainty_deg"]), "{document:#}");
    let text = bench.done(&["advise", "swash"]).stdout;
    let check = bench.run(&["check"]);
    for said in [&text, &check.stdout] {
        assert!(said.contains("Turn the link of servo 3") && said.contains("sub-trim: its horn "), "{said}");
    }
    assert_eq!(bench.run(&["check", "--json"]).json()["level_plate"], document["level_plate"]);
    // A level plate is left alone, and of one that nobody read nothing is said.
    let level = kept(&leaning(&[]));
    assert!(level.json(&["advise", "swash"])["level_plate"].is_null());
    assert!(level.done(&["advise", "swash"]).stdout.contains("stands level"));
    assert!(!level.run(&["check"]).stdout.contains("To turn"));
    let unread = kept(&trainer()).run(&["advise", "swash"]);
    assert_eq!(unread.code, 1, "{unread}");
    assert!(unread.stderr.contains("at 0°, 90°, 180° and 270°"), "{unread}");
}

/// Ends that differ for certain and by little are left alone, and so is the side that holds the torque unless it is asked for.
#[test]
fn nothing_is_advised_that_nobody_flies() {
    let elevator = |arm: f64| {
        let rig = format!("head.cyclic_deg = 9.0\nservos.arm_offset_deg = [{arm}, 0.0, 0.0]");
        let described = head(&[
            ("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0"),
            ("station_error_deg = 5.0", "station_error_deg = 0.5"),
        ]);
        let mut captured = support::advice::Bench::new(&rig, described, 22);
        for what in ["elevator neutral", "elevator up", "elevator down"] {
            captured.capture(what, "A", 90.0);
        }
        kept(&captured).json(&["advise", "symmetry"])["axes"][0].clone()
    };
    let little = elevator(3.0);
    let by = number(&little["difference_deg"]).abs();
    assert!(by > number(&little["expanded_uncertainty_deg"]) && by < 0.25, "{little:#}");
    assert!(little["end_point"].is_null() && little["left_alone"] == "too_little", "{little:#}");
    let much = elevator(20.0);
    assert!(number(&much["difference_deg"]).abs() > 0.25 && much["left_alone"].is_null(), "{much:#}");
    assert!(!much["end_point"].is_null(), "{much:#}");
    // Nose right holds the torque of a clockwise rotor.
    let rudder = |end: &str| {
        let described = head(&[("# positive = \"right\"", "positive = \"right\"")]);
        let mut captured = support::advice::Bench::new("tail = { travel_deg = 28.0 }", described, 23);
        captured.hands(&[&format!("endpoint rudder {end} 80")]);
        for edge in [clinoblade::rotor::LeadingEdge::Up, clinoblade::rotor::LeadingEdge::Down] {
            for what in ["rudder neutral", "rudder left", "rudder right"] {
                captured.capture_as(what, "A", clinoblade::rotor::Spot::Tail(edge), 100.0, |_| {});
            }
        }
        kept(&captured)
    };
    let bench = rudder("left");
    let axis = bench.json(&["advise", "symmetry"])["axes"][0].clone();
    assert!(axis["significant"] == true && axis["left_alone"] == "holds_the_torque", "{axis:#}");
    assert!(axis["end_point"].is_null(), "{axis:#}");
    assert!(bench.done(&["advise", "symmetry"]).stdout.contains("holds the torque of the main rotor: leave it"));
    assert_eq!(bench.json(&["advise", "symmetry", "rudder"])["axes"][0]["end_point"]["direction"], "right");
    let other = rudder("right").json(&["advise", "symmetry"])["axes"][0].clone();
    assert!(other["left_alone"].is_null() && other["end_point"]["direction"] == "left", "{other:#}");
}
