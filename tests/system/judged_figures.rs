//! One figure for one quantity: what commands advise, print, compare and follow over the seasons is what the record judges by.

use clinoblade::record::{Advice, Event, Head, Interruption, remedy};
use clinoblade::rotor::{Datum, LeadingEdge, Spot};
use serde_json::Value;
use support::advice::{Bench as Captured, at, head};
use support::bench::{Answer, Bench, number};

/// A description that wants 10° low and 12° high.
fn wants(high: &str) -> Head {
    head(&[
        ("# collective_low = \"-10 ± 0.5\"", "collective_low = \"-10 ± 0.5\""),
        ("# collective_high = \"10 ± 0.5\"", &format!("collective_high = \"{high}\"")),
        ("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0"),
        ("# positive = \"right\"", "positive = \"right\""),
    ])
}

/// A collective of ±11.5° about a zero that both links put here, its zero read half a turn on too.
fn collective(zero: f64, seed: u64) -> Captured {
    let rig = format!("head.collective_deg = 11.5\nblades.link_error_deg = [{zero}, {zero}]");
    let mut captured = Captured::new(&rig, wants("12 ± 0.5"), seed);
    for (what, station) in
        [("collective mid", 270.0), ("collective mid", 90.0), ("collective low", 90.0), ("collective high", 90.0)]
    {
        captured.capture(what, "A", station);
    }
    captured
}

fn kept(captured: &[&Captured]) -> Bench {
    let bench = Bench::new();
    for one in captured {
        one.keep(&bench.logbook());
    }
    bench
}

fn cell(document: &Value, name: &str) -> Value {
    let cells = document["cells"].as_array().unwrap();
    cells.iter().find(|cell| cell["cell"] == name).unwrap_or_else(|| panic!("no {name}: {document:#}")).clone()
}

/// Where a blade stands at an end when the end point is set, degrees.
fn set(captured: &mut Captured, direction: &str, percent: f64) -> f64 {
    captured.hands(&[&format!("endpoint collective {direction} {percent}")]);
    captured.capture(&format!("collective {direction}"), "A", 90.0)
}

/// The zero stands at +2°: whoever aims at 12° of movement stands at 14°.
#[test]
fn an_end_of_the_collective_is_advised_by_the_pitch_that_is_wanted() {
    for zero in [2.0, 0.0] {
        let mut captured = collective(zero, 61);
        let bench = kept(&[&captured]);
        let document = bench.json(&["advise", "collective"]);
        assert!((number(&document["zero_deg"]) - zero).abs() < 0.3, "{document:#}");
        let by_travel = bench.json(&["advise", "travel", "collective", "high"]);
        let (record, entries) = (captured.record(), captured.entries.clone());
        for (direction, wanted) in [("low", -10.0), ("high", 12.0)] {
            let advised = document["advice"].as_array().unwrap();
            let one = advised.iter().find(|one| one["direction"] == direction).unwrap();
            let percent = number(&one["set_percent"]);
            // The page says the same, and where the blade then stands.
            let amiss = record.cells.iter().find(|cell| cell.name.to_string() == format!("collective {direction}"));
            let Some(Advice::EndPoint(end)) = remedy(&captured.head, &entries, &record, amiss.unwrap()) else {
                panic!("{direction}: no advice at zero {zero}: {amiss:?}")
            };
            assert_eq!(end.set.value(), percent, "{direction}, zero {zero}");
            assert!((end.gives.degrees() - wanted).abs() < 0.3, "{end:?}");
            let stands = set(&mut captured, direction, percent);
            assert!((stands - wanted).abs() < 0.3, "{direction} at {percent} %: {stands}, zero {zero}");
            assert!(
                (stands - number(&one["expected_deg"])).abs() <= number(&one["expanded_uncertainty_deg"]),
                "{one:#}"
            );
            assert!((number(&one["movement_deg"]) - (wanted - zero)).abs() < 0.3, "{one:#}");
            if direction == "high" {
                assert_eq!(number(&by_travel["set_percent"]), percent, "zero {zero}");
                assert_eq!(number(&by_travel["wanted_pitch_deg"]), wanted);
            }
        }
    }
}

/// Every place of the stick as pitch, judged where something is wanted, and the percent for a pitch that is asked for.
#[test]
fn the_curve_of_the_collective_tells_pitch_and_verdicts() {
    let mut captured = collective(1.6, 62);
    captured.capture("collective 75%", "A", 90.0);
    let bench = kept(&[&captured]);
    let asked = ["advise", "collective", "--high", "9"];
    let document = bench.json(&asked);
    let points = document["pitches"].as_array().unwrap();
    let told = |stick: f64| points.iter().find(|point| (number(&point["stick_percent"]) - stick).abs() < 0.5).unwrap();
    for (stick, pitch, verdict) in [(0.0, -9.9, "inside"), (50.0, 1.6, "outside"), (100.0, 13.1, "outside")] {
        let point = told(stick);
        assert!((number(&point["pitch_deg"]) - pitch).abs() < 0.3, "{point:#}");
        assert!(number(&point["expanded_uncertainty_deg"]) > 0.0 && point["verdict"] == verdict, "{point:#}");
    }
    assert!(told(75.0)["verdict"].is_null() && number(&told(75.0)["pitch_deg"]) > 6.5, "{document:#}");
    let high = document["advice"].as_array().unwrap().iter().find(|one| one["direction"] == "high").unwrap().clone();
    let stands = set(&mut captured, "high", number(&high["set_percent"]));
    assert!((stands - 9.0).abs() < 0.3, "{stands}: {high:#}");
    let text = bench.done(&asked).stdout;
    assert!(text.contains("at 100 % stick") && text.contains(": outside (12 ± 0.5° is wanted)"), "{text}");
}

/// One station of the zero leaves the lean in it: no end point is chosen for the description by that.
#[test]
fn a_zero_with_the_lean_in_it_chooses_no_end_point() {
    let mut captured = Captured::new("head.collective_deg = 11.5", wants("12 ± 0.5"), 63);
    for what in ["collective mid", "collective low", "collective high"] {
        captured.capture(what, "A", 90.0);
    }
    let bench = kept(&[&captured]);
    let refused = bench.run(&["advise", "travel", "collective", "high"]);
    assert_eq!(refused.code, 2, "{refused}");
    assert!(refused.stderr.contains("turn the head half round with the clip left on"), "{refused}");
    // A movement that is asked for needs no zero, and a pitch that is asked for is told with the lean in its uncertainty.
    bench.done(&["advise", "travel", "collective", "high", "--to", "10"]);
    let document = bench.json(&["advise", "collective", "--high", "11"]);
    let high = document["advice"].as_array().unwrap().iter().find(|one| one["direction"] == "high").unwrap().clone();
    assert!(number(&high["expanded_uncertainty_deg"]) > 1.0, "{high:#}");
    assert!(bench.done(&["advise", "collective"]).stdout.contains("The zero was read at one station"));
}

/// What stands beside a verdict on pitch is the pitch, and its budget.
#[test]
fn the_budget_that_is_explained_is_that_of_the_figure_that_is_judged() {
    let bench = kept(&[&collective(2.0, 64)]);
    let high = cell(&bench.run(&["check", "--json"]).json(), "collective high");
    let said = bench.run(&["check", "--explain"]).stdout;
    let block = said.split("\ncollective high, ").nth(1).unwrap();
    let pitch = number(&high["stands"]["pitch_deg"]);
    assert!((pitch - 13.5).abs() < 0.3 && block.starts_with(&format!("+{pitch:.2}°")), "{pitch}: {block}");
    let whole = format!("U = {:.3}°", number(&high["stands"]["expanded_uncertainty_deg"]));
    assert!(block.contains(&whole), "{whole}: {block}");
    // An end of the elevator is judged by its travel, as before.
    let mut plain = Captured::new("", head(&[]), 65);
    plain.capture("elevator neutral", "A", 90.0);
    plain.capture("elevator up", "A", 90.0);
    let bench = kept(&[&plain]);
    let up = cell(&bench.run(&["check", "--json"]).json(), "elevator up");
    let said = bench.run(&["check", "--explain"]).stdout;
    assert!(said.contains(&format!("\nelevator up, +{:.2}°", number(&up["value_deg"]))), "{said}");
}

/// Both links were turned: every end of the collective stands 1.3° higher, and travels as far as before.
#[test]
fn setups_are_compared_and_followed_by_the_figures_that_the_record_judges_by() {
    let (before, after) = (collective(0.0, 66), collective(1.3, 67));
    let bench = kept(&[&before, &after]);
    let document = bench.run(&["compare", "1", "2", "--json"]).json();
    for (name, first) in [("collective low", -11.5), ("collective high", 11.5)] {
        let told = cell(&document, name);
        assert!((number(&told["first_deg"]) - first).abs() < 0.3, "{told:#}");
        assert!((number(&told["difference_deg"]) - 1.3).abs() < 0.3 && told["change"] == "changed", "{told:#}");
    }
    let history = bench.run(&["history", "Workshop trainer", "--json"]).json();
    let values = cell(&history, "collective high")["values"].clone();
    assert!((number(&values[1]["value_deg"]) - 12.8).abs() < 0.3, "{values:#}");
    // On the card of the pilot too.
    let sheet = bench.run(&["report", "2"]).stdout;
    let now = format!("now +{:.2}° ± ", number(&values[1]["value_deg"]));
    assert!(sheet.contains("collective high: ") && sheet.contains(&now), "{now}: {sheet}");
    // The same head twice has changed in nothing.
    let same = kept(&[&collective(0.0, 68), &collective(0.0, 69)]);
    assert_eq!(same.run(&["compare", "1", "2"]).code, 0);
}

/// So with the rudder: the neutral was moved, and with it the pitch of both ends.
#[test]
fn a_tail_is_compared_by_the_pitch_at_its_ends() {
    let tail = |neutral: f64, seed| {
        let rig = format!("tail = {{ travel_deg = 28.0, neutral_deg = {neutral} }}");
        let mut captured = Captured::new(&rig, wants("12 ± 0.5"), seed);
        for edge in [LeadingEdge::Up, LeadingEdge::Down] {
            for what in ["rudder neutral", "rudder left", "rudder right"] {
                captured.capture_as(what, "A", Spot::Tail(edge), 100.0, |_| {});
            }
        }
        captured
    };
    let bench = kept(&[&tail(2.0, 70), &tail(5.0, 71)]);
    let document = bench.run(&["compare", "1", "2", "--json"]).json();
    let right = cell(&document, "rudder right");
    let check = cell(&bench.run(&["check", "--setup", "1", "--json"]).json(), "rudder right");
    assert_eq!(right["first_deg"], check["stands"]["pitch_deg"], "{right:#}");
    assert_eq!(right["change"], "changed", "{right:#}");
}

/// A value that was read in another way makes no row with the others, and that is said.
#[test]
fn setups_that_were_read_in_another_way_are_named_in_the_history() {
    let elevator = |with_neutral: bool, seed| {
        let mut captured = Captured::new("head.cyclic_deg = 9.0", head(&[]), seed);
        if with_neutral {
            captured.capture("elevator neutral", "A", 90.0);
        }
        captured.capture("elevator up", "A", 90.0);
        captured
    };
    let told = |bench: &Bench| {
        let up = cell(&bench.run(&["history", "Workshop trainer", "--json"]).json(), "elevator up");
        (up["otherwise_in_setups"].clone(), up["values"].as_array().unwrap().len())
    };
    let bench = kept(&[&elevator(false, 72), &elevator(true, 73), &elevator(true, 74)]);
    assert_eq!(told(&bench), (serde_json::json!([1]), 2));
    let text = bench.run(&["history", "Workshop trainer"]).stdout;
    assert!(text.contains("Setup 1 is not in this row"), "{text}");
    let alike = kept(&[&elevator(true, 75), &elevator(true, 76)]);
    assert_eq!(told(&alike), (serde_json::json!([]), 2));
    assert!(!alike.run(&["history", "Workshop trainer"]).stdout.contains("not in this row"));
}

/// Where no cell holds values in both setups, nobody knows that nothing has changed.
#[test]
fn a_sheet_says_when_nothing_can_be_compared() {
    let one = |what: &[&str], station: f64, seed| {
        let mut captured = Captured::new("head.cyclic_deg = 9.0", head(&[]), seed);
        for what in what {
            captured.capture(what, "A", station);
        }
        captured
    };
    let (elevator, aileron) = (["elevator neutral", "elevator up"], ["aileron neutral", "aileron left"]);
    let changed = |bench: &Bench, name: &str| {
        let path = bench.name(name);
        bench.done(&["report", "2", "--out", &path]);
        std::fs::read_to_string(path).unwrap()
    };
    let bench = kept(&[&one(&elevator, 90.0, 77), &one(&aileron, 0.0, 78)]);
    let alike = kept(&[&one(&elevator, 90.0, 79), &one(&elevator, 90.0, 80)]);
    for name in ["sheet.txt", "sheet.html"] {
        let (apart, same) = (changed(&bench, name), changed(&alike, name));
        assert!(apart.contains("Nothing can be compared") && !apart.contains("Nothing beyond its"), "{name}: {apart}");
        assert!(same.contains("Nothing beyond its") && !same.contains("Nothing can be compared"), "{name}: {same}");
    }
    assert!(bench.run(&["compare", "1", "2"]).stdout.contains("Nothing can be compared"));
    assert!(!alike.run(&["compare", "1", "2"]).stdout.contains("Nothing can be compared"));
}

fn moved(captured: &mut Captured) {
    let pause = Interruption { model_moved: true, ..Interruption::default() };
    captured.happened(Event::Resumed { pause, note: String::new() });
}

fn round(captured: &mut Captured, stations: [f64; 4]) {
    for station in stations {
        captured.capture("collective mid", "A", station);
    }
}

const LEANS: &str = "head = { nose_deg = 1.2, left_deg = 0.9 }\nblades = { droop_deg = [-1.0, -1.2] }";

/// Two stands of the model lean differently: they are no one rotor, and the old lean is no zero any more.
#[test]
fn a_shaft_is_no_zero_once_the_model_was_moved() {
    let mut captured = Captured::new(LEANS, head(&[]), 81);
    round(&mut captured, [0.0, 90.0, 180.0, 270.0]);
    let still = kept(&[&captured]);
    assert_eq!(still.json(&["rotor"])["moved_since"], false);
    still.done(&["datum", "shaft"]);
    moved(&mut captured);
    let bench = kept(&[&captured]);
    let refused = bench.run(&["datum", "shaft"]);
    assert_eq!(refused.code, 1, "{refused}");
    assert!(refused.stderr.contains("the model was moved"), "{refused}");
    let document = bench.run(&["rotor", "--json"]).json();
    assert_eq!(document["moved_since"], true, "{document:#}");
    assert!((number(&document["shaft_tilt"]["nose_deg"]) - 1.2).abs() < 0.2, "{document:#}");
    // Read again elsewhere round the turn, as it stands now: only that counts.
    captured.hands(&["tilt -0.8 0.4"]);
    round(&mut captured, [45.0, 135.0, 225.0, 315.0]);
    let bench = kept(&[&captured]);
    let document = bench.run(&["rotor", "--json"]).json();
    let truth = captured.truth();
    let nose = number(&document["shaft_tilt"]["nose_deg"]);
    assert!((nose - truth.shaft_tilt.nose_deg.degrees()).abs() < 0.2, "{nose}: {document:#}");
    bench.done(&["datum", "shaft"]);
}

/// Against a surface the sensor's own error is in every reading: `rotor` tells no tilt of the plate where `check` decides none.
#[test]
fn a_surface_tells_no_rotor() {
    let against = |surface: bool| {
        let mut captured = Captured::new(LEANS, head(&[]), 82);
        for station in [0.0, 90.0, 180.0, 270.0] {
            captured.capture_as("collective mid", "A", at(station), 100.0, |capture| {
                if surface {
                    let up = clinoblade::units::BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
                    let heading = "90".parse().unwrap();
                    capture.datum.datum =
                        Datum::Surface { up, heading, instrument: None, u: support::advice::deg(0.05) };
                }
            });
        }
        kept(&[&captured])
    };
    let refused: Answer = against(true).run(&["rotor"]);
    assert_ne!(refused.code, 0, "{refused}");
    assert!(refused.stderr.contains("the sensor's own error"), "{refused}");
    assert!(number(&against(false).run(&["rotor", "--json"]).json()["shaft_tilt"]["nose_deg"]) > 1.0);
}
