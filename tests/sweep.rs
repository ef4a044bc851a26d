//! Every stick to its ends once more, from the pseudo-terminal to the printed line.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test ends where it fails")]

mod bench_kit;

use bench_kit::{Answer, Bench, LONG, SimulatedHead, calibration, number};
use serde_json::Value;

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
        let bench = Bench::with_setup();
        let calibration = bench.write("calibration.toml", calibration("club sensor"));
        let head = SimulatedHead::start(&bench, SCENARIO);
        Self { bench, head, calibration }
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
    assert!((lost - 0.1).abs() < 0.03, "lost motion of 0.1° shows at centre: {lost}");

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
    assert!(checked.stdout.contains("elevator up does not move: is its end point set"), "{checked}");
    assert!(checked.stdout.contains("elevator down reaches only"), "{checked}");
    // A new end point makes what was seen before it old.
    job.bench.done(&["adjust", "elevator up end point 100 %"]);
    let checked = job.bench.run(&["check"]);
    assert!(!checked.stdout.contains("does not move: is its end point set"), "{checked}");
}

#[test]
fn an_axis_that_the_blade_hardly_shows_is_refused_with_where_to_read_it() {
    let job = Job::new();
    let answer = job.bench.run(&job.arguments("sweep aileron --station 90"));
    assert_eq!(answer.code, 2, "{answer}");
    assert!(answer.stderr.contains("aileron near 0"), "{answer}");
    let answer = job.bench.run(&job.arguments("sweep collective"));
    assert_eq!(answer.code, 2, "{answer}");
}
