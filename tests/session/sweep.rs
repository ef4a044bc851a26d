//! Every stick to its ends once more, and the corners of the controls, from the pseudo-terminal to the printed line.

use clinoblade::guide::Guide;
use clinoblade::record::{Head, Task};
use clinoblade::rotor::{Axis, BladeName, Collective, Deflection, Spot, Station};
use serde_json::Value;
use std::io::Write;
use support::bench::{Answer, Bench, HEAD, LONG, SimulatedHead, calibration, number};

const SCENARIO: &str = r#"
seed = 9
[head]
station_deg = 90.0
left_deg = -1.5
cyclic_deg = 9.0
slop_deg = 0.1
[tail]
travel_deg = 28.0
neutral_deg = 3.0
[sensor]
noise_density_ug_rthz = 150.0
"#;

struct Job {
    bench: Bench,
    head: SimulatedHead,
    calibration: String,
}

impl Job {
    fn new() -> Self {
        Self::on(SCENARIO)
    }

    fn on(scenario: &str) -> Self {
        let bench = Bench::with_setup();
        let calibration = bench.write("calibration.toml", calibration("club sensor"));
        let head = SimulatedHead::start(&bench, scenario);
        Self { bench, head, calibration }
    }

    fn tell(&mut self, lines: &[&str]) {
        for line in lines {
            self.head.tell(line);
        }
    }

    fn arguments<'a>(&'a self, words: &'a str) -> Vec<&'a str> {
        let source = ["--port", &self.head.port, "--calibration", &self.calibration, "--json"];
        words.split(' ').chain(source).collect()
    }

    fn capture(&mut self, stick: &str, words: &str) {
        self.head.tell(stick);
        self.head.tell("wait 0.6");
        let answer = self.bench.run(&self.arguments(&format!("capture {words}")));
        assert_eq!(answer.code, 0, "{answer}");
    }

    /// Sweeps, the stick moved as each line says when the program asks for it.
    fn sweep(&mut self, words: &str, moves: &[(&str, &str)]) -> Answer {
        let mut command = self.bench.start(&self.arguments(&format!("sweep {words}")));
        for (asked, stick) in moves {
            command.wait_for_said(asked);
            self.head.tell(stick);
        }
        command.end(LONG)
    }
}

fn end<'a>(document: &'a Value, deflection: &str) -> &'a Value {
    let (axis, direction) = deflection.split_once(' ').unwrap();
    let is =
        |end: &&Value| end["deflection"] == deflection || end["deflection"] == serde_json::json!({ axis: direction });
    let ends = document["ends"].as_array().unwrap();
    ends.iter().find(is).unwrap_or_else(|| panic!("no {deflection} in {document}"))
}

const UP: (&str, &str) = ("Now elevator up", "stick elevator 100 over 0.6");
const DOWN: (&str, &str) = ("Now elevator down", "stick elevator -100 over 0.9");
const BACK: (&str, &str) = ("Let the stick go back", "stick elevator 0 over 0.6");

#[test]
fn every_end_is_reached_as_recorded_and_one_that_was_lost_is_named() {
    let mut job = Job::new();
    job.capture("stick elevator 0", "elevator neutral");
    job.capture("stick elevator 100 over 0.5", "elevator up");
    job.capture("stick elevator -100 over 0.5", "elevator down");
    job.head.tell("stick elevator 0 over 0.5");
    job.head.tell("wait 1");

    let answer = job.sweep("elevator", &[UP, BACK, DOWN, BACK]);
    assert_eq!(answer.code, 0, "{answer}");
    let document = answer.json();
    let neutral = job.head.pitch(0);
    for (way, stick) in [("elevator up", "stick elevator 100"), ("elevator down", "stick elevator -100")] {
        job.head.tell(stick);
        job.head.tell("wait 1.5");
        let truth = (job.head.pitch(0) - neutral).abs();
        let end = end(&document, way);
        assert_eq!(end["reach"], "as_recorded", "{end}");
        // Lost motion of 0.1° may stand on either side of the neutral.
        assert!((number(&end["reached_deg"]) - truth).abs() < 0.15, "{end} against {truth}");
    }
    let lost = number(&end(&document, "elevator up")["lost_motion_deg"]);
    assert!((lost - 0.1).abs() < 0.06, "lost motion of 0.1° shows at centre: {lost}");

    // Half of the way down is gone, and all of the way up.
    job.head.tell("stick elevator 0 over 0.5");
    job.head.tell("endpoint elevator down 50");
    job.head.tell("endpoint elevator up 0");
    job.head.tell("wait 1");
    let mut command = job.bench.start(&job.arguments("sweep elevator"));
    command.wait_for_said("Now elevator up");
    for moved in [
        "stick elevator 100 over 0.6",
        "wait 1.5",
        "stick elevator -100 over 0.9",
        "wait 2",
        "stick elevator 0 over 0.6",
    ] {
        job.head.tell(moved);
    }
    let answer = command.end(LONG);
    assert_eq!(answer.code, 1, "{answer}");
    let document = answer.json();
    assert_eq!(end(&document, "elevator up")["reach"], "stands_still");
    assert_eq!(end(&document, "elevator down")["reach"], "short");
    // The record keeps what was seen, and says it with the cells.
    let checked = job.bench.run(&["check"]);
    assert!(checked.stdout.contains("elevator up does not move. Is its end point set"), "{checked}");
    assert!(checked.stdout.contains("elevator down reaches only"), "{checked}");
    // A new end point makes what was seen before it old.
    job.bench.done(&["adjust", "elevator up end point 100 %"]);
    let checked = job.bench.run(&["check"]);
    assert!(!checked.stdout.contains("does not move. Is its end point set"), "{checked}");
}

#[test]
fn an_axis_that_the_blade_hardly_shows_is_refused_with_where_to_read_it() {
    let job = Job::new();
    let answer = job.bench.run(&job.arguments("sweep aileron --station 90"));
    assert_eq!(answer.code, 2, "{answer}");
    assert!(answer.stderr.contains("read it near 0°"), "{answer}");
    let answer = job.bench.run(&job.arguments("sweep collective"));
    assert_eq!(answer.code, 2, "{answer}");
}

/// How far a blade truly goes from its neutral with the stick at this end.
fn travel(job: &mut Job, axis: &str, stick: i32, pitch: fn(&mut SimulatedHead) -> f64) -> f64 {
    let at = |job: &mut Job, stick: i32| {
        job.tell(&[&format!("stick {axis} {stick} over 0.5"), "wait 1.5"]);
        pitch(&mut job.head)
    };
    let neutral = at(job, 0);
    let travel = (at(job, stick) - neutral).abs();
    at(job, 0);
    travel
}

/// Both ends of an axis are captured and then swept, the blade truly going as far as is said, within so many degrees.
fn reached_as_recorded(
    job: &mut Job,
    axis: &str,
    moves: &[(&str, &str)],
    pitch: fn(&mut SimulatedHead) -> f64,
    within: f64,
) {
    job.capture(&format!("stick {axis} 0"), &format!("{axis} neutral"));
    job.capture(&format!("stick {axis} -100 over 0.5"), &format!("{axis} left"));
    job.capture(&format!("stick {axis} 100 over 0.5"), &format!("{axis} right"));
    job.tell(&[&format!("stick {axis} 0 over 0.5"), "wait 1"]);
    let answer = job.sweep(axis, moves);
    assert_eq!(answer.code, 0, "{answer}");
    let document = answer.json();
    for (way, stick) in [("left", -100), ("right", 100)] {
        let end = end(&document, &format!("{axis} {way}"));
        let truth = travel(job, axis, stick, pitch);
        assert_eq!(end["reach"], "as_recorded", "{end}");
        assert!((number(&end["reached_deg"]) - truth).abs() < within, "{end} against {truth}");
    }
}

#[test]
fn the_aileron_is_swept_along_the_boom_and_its_ends_are_told_from_the_blade() {
    let mut job = Job::new();
    job.tell(&["head 0", "wait 1"]);
    // The other end first: nobody has to obey the order.
    let moves = [
        ("Now aileron left", "stick aileron 100 over 0.6"),
        ("Let the stick go back", "stick aileron 0 over 0.6"),
        ("Now aileron left", "stick aileron -100 over 0.6"),
        ("Let the stick go back", "stick aileron 0 over 0.6"),
    ];
    reached_as_recorded(&mut job, "aileron", &moves, |head| head.pitch(0), 0.15);
}

#[test]
fn the_rudder_is_not_swept_before_somebody_has_said_which_way_it_goes() {
    let mut job = Job::new();
    let untold = HEAD.replace("positive = \"right\"", "");
    let head = job.bench.write("untold.toml", untold);
    job.bench.done(&[
        "setup",
        "new",
        "--head",
        &head,
        "--reason",
        "a head of which less is known",
        "--cautions-read",
        "--close-open",
    ]);
    job.tell(&["clip tail A", "tail up", "wait 1"]);
    let unknown = job.bench.run(&job.arguments("sweep rudder"));
    assert_eq!(unknown.code, 2, "{unknown}");
    assert!(unknown.stderr.contains("clinoblade capture rudder right"), "{unknown}");

    // Once rudder right was captured, it shows in the blade which end is which.
    let moves = [
        ("Now rudder left", "stick rudder -100 over 0.6"),
        ("Let the stick go back", "stick rudder 0 over 0.6"),
        ("Now rudder right", "stick rudder 100 over 0.6"),
        ("Let the stick go back", "stick rudder 0 over 0.6"),
    ];
    reached_as_recorded(&mut job, "rudder", &moves, |head| head.tail_pitch(0), 0.3);
}

/// The blade swings past its end and comes back to where it was captured.
#[test]
fn an_end_that_is_overshot_is_reached_and_the_swing_past_it_said() {
    let mut job = Job::new();
    job.tell(&["endpoint elevator up 90"]);
    job.capture("stick elevator 0", "elevator neutral");
    job.capture("stick elevator 100 over 0.5", "elevator up");
    job.capture("stick elevator -100 over 0.5", "elevator down");
    job.tell(&["stick elevator 0 over 0.5", "endpoint elevator up 100", "wait 1"]);
    let mut command = job.bench.start(&job.arguments("sweep elevator"));
    command.wait_for_said("Now elevator up");
    job.tell(&["stick elevator 100 over 0.5", "wait 0.7", "stick elevator 90 over 0.3"]);
    command.wait_for_said("Let the stick go back");
    job.head.tell(BACK.1);
    for (asked, stick) in [DOWN, BACK] {
        command.wait_for_said(asked);
        job.head.tell(stick);
    }
    let answer = command.end(LONG);
    assert_eq!(answer.code, 0, "{answer}");
    let document = answer.json();
    let (up, down) = (end(&document, "elevator up"), end(&document, "elevator down"));
    assert_eq!(
        (up["reach"].as_str(), down["reach"].as_str()),
        (Some("as_recorded"), Some("as_recorded")),
        "{document:#}"
    );
    let past = travel(&mut job, "elevator", 100, |head| head.pitch(0))
        - travel(&mut job, "elevator", 90, |head| head.pitch(0));
    assert!((number(&up["overshoot_deg"]) - past).abs() < 0.2, "{up}, truly {past:.2} past its end");
    assert!(down["overshoot_deg"].is_null(), "{down}");
    let checked = job.bench.run(&["check"]);
    assert!(checked.stdout.contains("past its end"), "{checked}");
}

/// Without an axis all three are moved in one run, the clip put where each shows.
#[test]
fn elevator_aileron_and_rudder_are_swept_in_one_run() {
    let mut job = Job::new();
    let places: [(&str, [&str; 2], &[&str]); 3] = [
        ("elevator", ["up", "down"], &[]),
        ("aileron", ["left", "right"], &["head 0", "wait 1"]),
        ("rudder", ["left", "right"], &["clip tail A", "tail up", "wait 1"]),
    ];
    // With a stick the first direction of elevator is positive, of the others negative.
    let stick =
        |axis: &str, way: &str| format!("stick {axis} {}", if matches!(way, "up" | "right") { 100 } else { -100 });
    for (axis, ways, place) in &places {
        job.tell(place);
        job.capture(&format!("stick {axis} 0"), &format!("{axis} neutral"));
        for way in ways {
            job.capture(&format!("{} over 0.5", stick(axis, way)), &format!("{axis} {way}"));
        }
        job.tell(&[&format!("stick {axis} 0 over 0.5"), "wait 1"]);
    }
    job.tell(&["clip A", "head 90", "wait 1"]);
    let mut command = job.bench.command(&job.arguments("sweep"));
    command.stdin(std::process::Stdio::piped());
    let mut command = support::bench::Running::new(command);
    let mut hand = command.child.stdin.take().unwrap();
    for (axis, ways, place) in &places {
        command.wait_for_said("press Enter");
        job.tell(place);
        writeln!(hand).unwrap();
        for way in ways {
            command.wait_for_said(&format!("Now {axis} {way}"));
            job.head.tell(&format!("{} over 0.6", stick(axis, way)));
            command.wait_for_said("Let the stick go back");
            job.head.tell(&format!("stick {axis} 0 over 0.6"));
        }
    }
    let answer = command.end(LONG);
    assert_eq!(answer.code, 0, "{answer}");
    let document = answer.json();
    assert_eq!(document["ends"].as_array().unwrap().len(), 6, "{document:#}");
    for (axis, ways, _) in &places {
        for way in ways {
            assert_eq!(end(&document, &format!("{axis} {way}"))["reach"], "as_recorded", "{document:#}");
        }
    }
    let checked = job.bench.run(&["check", "--json"]).json();
    assert_eq!(checked["swept"].as_array().map(Vec::len), Some(6), "{checked:#}");
}

/// The limit was not taken over: the stick goes further than what was captured as its end.
#[test]
fn an_end_beyond_the_record_is_named() {
    let mut job = Job::new();
    job.tell(&["endpoint elevator up 80", "endpoint elevator down 80"]);
    job.capture("stick elevator 0", "elevator neutral");
    job.capture("stick elevator 100 over 0.5", "elevator up");
    job.capture("stick elevator -100 over 0.5", "elevator down");
    job.tell(&["stick elevator 0 over 0.5", "endpoint elevator up 100", "wait 1"]);
    let answer = job.sweep("elevator", &[UP, BACK, DOWN, BACK]);
    assert_eq!(answer.code, 1, "{answer}");
    let document = answer.json();
    let (up, down) = (end(&document, "elevator up"), end(&document, "elevator down"));
    assert_eq!((up["reach"].as_str(), down["reach"].as_str()), (Some("beyond"), Some("as_recorded")), "{document:#}");
    let truth = travel(&mut job, "elevator", 100, |head| head.pitch(0));
    assert!((number(&up["reached_deg"]) - truth).abs() < 0.15, "{up} against {truth}");
    let checked = job.bench.run(&["check"]);
    assert!(checked.stdout.contains("elevator up goes to") && checked.stdout.contains("capture it again"), "{checked}");
}

/// The limit was recorded just short of a bind, and its end point was never lowered: full stick pushes against the stop.
#[test]
fn a_limit_that_was_not_taken_over_is_found_by_its_buzz() {
    let bound = format!("{SCENARIO}[servos]\nbind_buzz_deg = 0.12\n[[bind]]\nat = 'elevator down'\ntravel_deg = 8.0\n");
    let mut job = Job::on(&bound);
    job.capture("stick elevator 0", "elevator neutral");
    job.capture("stick elevator 100 over 0.5", "elevator up");
    job.capture("stick elevator -84 over 0.5", "elevator down --bound --stick -84");
    let said = job.bench.run(&["check"]).stdout;
    assert!(said.contains("full stick still goes into it. Lower its end point to 84 %"), "{said}");
    job.tell(&["stick elevator 0 over 0.5", "wait 1"]);
    let answer = job.sweep("elevator", &[UP, BACK, DOWN, BACK]);
    assert_eq!(answer.code, 1, "{answer}");
    let document = answer.json();
    let (up, down) = (end(&document, "elevator up"), end(&document, "elevator down"));
    assert_eq!((&up["buzzes"], &down["buzzes"]), (&Value::from(false), &Value::from(true)), "{document}");
    let checked = job.bench.run(&["check"]).stdout;
    assert!(checked.contains("A servo buzzes there") && checked.contains("lower its end point"), "{checked}");
    // Lowered, it is quiet.
    job.tell(&["endpoint elevator down 84", "wait 1"]);
    job.bench.done(&["adjust", "elevator", "down", "end", "point", "84"]);
    let answer = job.sweep("elevator", &[UP, BACK, DOWN, BACK]);
    let down = end(&answer.json(), "elevator down").clone();
    assert_eq!((answer.code, &down["buzzes"]), (0, &Value::from(false)), "{answer}");
}

/// What has moved at centre by more than the description allows is named.
#[test]
fn lost_motion_that_is_more_than_allowed_is_named() {
    let mut job = Job::on(&SCENARIO.replace("slop_deg = 0.1", "slop_deg = 0.7"));
    let answer = job.sweep("elevator", &[UP, BACK, DOWN, BACK]);
    assert_eq!(answer.code, 0, "{answer}");
    let checked = job.bench.run(&["check"]).stdout;
    assert_eq!(checked.matches("apart from either side, 0.30° are allowed").count(), 1, "{checked}");
    // It is measured on purpose before the record is complete.
    let slop = |job: &Job| {
        let document = job.bench.run(&["check", "--json"]).json();
        let cells = document["cells"].as_array().unwrap().clone();
        cells.into_iter().find(|cell| cell["cell"] == "blade A slop").map(|cell| cell["verdict"].clone())
    };
    assert_eq!(slop(&job), Some("missing".into()));
    let mut tight = Job::on(SCENARIO);
    assert_eq!(tight.sweep("elevator", &[UP, BACK, DOWN, BACK]).code, 0);
    assert_eq!(slop(&tight), None, "what is allowed owes nothing");
}

/// The elevator alone comes to its end; with the collective up as well the linkage stops it short.
#[test]
fn a_corner_that_binds_is_captured_named_and_bound_just_short_of_it() {
    const GENTLE: &str = "seed = 9\nsensor.noise_density_ug_rthz = 150.0\n[head]\nstation_deg = 90.0\ncollective_deg = 5.0\ncyclic_deg = 5.0\n";
    let corner = ["stick collective 100 over 0.5", "stick elevator 100 over 0.5", "wait 1.5"];
    let mut job = Job::on(GENTLE);
    job.tell(&corner);
    // Before its parts are there it is kept, and says what it needs.
    let early =
        job.arguments("capture corner high up").into_iter().filter(|word| *word != "--json").collect::<Vec<_>>();
    let early = job.bench.done(&early).stdout;
    assert!(early.contains("To judge this corner, capture here too (--blade A --station 90)"), "{early}");
    job.tell(&["stick elevator 0 over 0.5"]);
    job.capture("stick collective 50 over 0.5", "collective mid --station 90");
    job.capture("stick collective 100 over 0.5", "collective high --station 90");
    job.capture("stick collective 50 over 0.5", "elevator neutral");
    job.capture("stick elevator 100 over 0.5", "elevator up");
    let parts = job.bench.run(&["check", "--json"]).json();
    let found = |document: &Value| {
        let cells = document["cells"].as_array().unwrap().clone();
        cells.into_iter().find(|cell| cell["cell"] == "corner high up").unwrap_or_else(|| panic!("{document:#}"))
    };
    assert_eq!(found(&parts)["verdict"], "inside", "{:#}", found(&parts));

    // Where both go together something touches: the same head with a stop in the way of the elevator.
    job.head = SimulatedHead::start(&job.bench, &format!("{GENTLE}[[bind]]\nat = 'elevator up'\ntravel_deg = 4.0\n"));
    job.tell(&corner);
    let bound = job.bench.run(&job.arguments("capture corner high up"));
    assert_eq!(bound.code, 0, "{bound}");
    let checked = job.bench.run(&["check", "--json"]).json();
    let cell = found(&checked);
    assert_eq!(cell["verdict"], "outside", "{cell:#}");
    let binds = &cell["findings"][0];
    assert_eq!((&binds["kind"], &binds["sign"]["sign"]), (&"corner_binds".into(), &"buzz".into()), "{cell:#}");
    let advice = number(&binds["short"]["limit_percent"]);
    assert!((70.0..=80.0).contains(&advice), "4 of 5 degrees are left: {binds}");

    // Backed off to there it is quiet, and the person says so.
    job.tell(&[&format!("stick elevator {advice} over 0.5"), "wait 1.5"]);
    assert_eq!(job.head.truth_at_rest()["binding"].as_array().map(Vec::len), Some(0));
    job.bench.done(&job.arguments(&format!("capture corner high up --stick {advice} --bound")));
    assert_eq!(found(&job.bench.run(&["check", "--json"]).json())["verdict"], "bound");
}

/// A phase that the pitch arm makes turns the cyclic on in the turn: an elevator read square to the boom would show its
/// cosine alone. Whoever names a station names the axis' own.
#[test]
fn with_a_control_phase_everybody_reads_an_axis_at_its_own_station() {
    for (phase, elevator, aileron) in [(0.0, 90.0, 0.0), (20.0, 110.0, 20.0), (80.0, 170.0, 80.0)] {
        let description = HEAD.replace("control_phase_deg = 0.0", &format!("control_phase_deg = {phase:.1}"));
        let head = Head::from_toml(&description).unwrap();
        let at = |station| Spot::Main(Station::from_degrees(station).unwrap());
        let mut zeros: Vec<(BladeName, Spot)> = Vec::new();
        for line in Guide::new(&head, &[], &[], true).order().map(|(line, _)| line) {
            let own = match (line.task, line.deflection().axis()) {
                (_, Axis::Rudder) => continue,
                (_, Axis::Aileron) => at(aileron),
                (Task::Capture(Deflection::Collective(Collective::Mid)), _) => {
                    zeros.push((line.seat.blade, line.seat.spot));
                    continue;
                }
                _ => at(elevator),
            };
            assert_eq!(line.seat.spot, own, "{:?}", line.task);
        }
        // Each blade once on each side of the boom, so that the lean of the model drops out.
        for blade in head.blades.names() {
            let mut read: Vec<Spot> = zeros.iter().filter(|(of, _)| *of == blade).map(|(_, spot)| *spot).collect();
            read.sort_by_key(|spot| *spot != at(elevator));
            assert_eq!(read, [at(elevator), at(elevator + 180.0)], "blade {blade}");
        }

        let scenario = SCENARIO.replace("[tail]", &format!("link_lead_deg = {:.1}\n[tail]", 90.0 - phase));
        let mut job = Job::on(&scenario.replace("station_deg = 90.0", &format!("station_deg = {elevator:.1}")));
        let file = job.bench.write("phase.toml", description);
        job.bench.done(&["setup", "new", "--head", &file, "--reason", "a phase", "--cautions-read", "--close-open"]);
        let wanted = job.bench.run(&["check", "--json"]).json()["to_measure"].clone();
        for wanted in wanted.as_array().unwrap() {
            let own = match wanted["axis"].as_str().unwrap() {
                "rudder" => continue,
                "aileron" => vec![aileron],
                "elevator" => vec![elevator],
                _ => vec![elevator, elevator + 180.0],
            };
            assert!(own.contains(&number(&wanted["station_deg"])), "{phase}°: {wanted}");
        }

        let neutral = job.head.pitch(0);
        job.capture("stick elevator 0", "elevator neutral");
        job.capture("stick elevator 100 over 0.5", "elevator up");
        let truth = job.head.pitch(0) - neutral;
        assert!((truth - 9.0).abs() < 0.3, "the whole deflection shows there: {truth}");
        let record = job.bench.run(&["check", "--json"]).json();
        let up = record["cells"].as_array().unwrap().iter().find(|cell| cell["cell"] == "elevator up").unwrap().clone();
        let off = number(&up["value_deg"]) - truth;
        assert!(off.abs() <= number(&up["expanded_uncertainty_deg"]), "{phase}°: {up} against {truth}");

        job.head.tell("stick elevator 0 over 0.5");
        job.head.tell("wait 1");
        let answer = job.sweep("elevator", &[UP, BACK, DOWN, BACK]);
        let document = answer.json();
        assert_eq!(end(&document, "elevator up")["reach"], "as_recorded", "{phase}°: {answer}");
    }
}

/// A servo that buzzes at full stick may be held against something. Whoever has looked says that the reading is right.
#[test]
fn an_end_that_buzzes_is_in_question_until_it_is_said_to_be_right() {
    let bind = "[servos]\nbind_buzz_deg = 0.15\nbuzz_hz = 31.0\n[[bind]]\nat = \"elevator down\"\ntravel_deg = 8.0";
    let mut job = Job::on(&format!("{SCENARIO}{bind}"));
    let verdict = |job: &Job| {
        let record = job.bench.run(&["check", "--json"]).json();
        let cells = record["cells"].as_array().unwrap().clone();
        cells.into_iter().find(|cell| cell["cell"] == "elevator down").unwrap()["verdict"].clone()
    };
    job.capture("stick elevator 0", "elevator neutral");
    job.capture("stick elevator -100 over 0.5", "elevator down");
    assert_eq!(verdict(&job), "in_question");
    job.capture("stick elevator -100 over 0.5", "elevator down --as-read");
    assert_eq!(verdict(&job), "inside");
}
