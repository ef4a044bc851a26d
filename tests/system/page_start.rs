//! `clinoblade` alone, and the page where nothing is set up yet.

use serde_json::json;
use support::bench::{Bench, SimulatedHead};

#[test]
fn alone_it_says_where_things_stand_and_never_fails_for_want_of_anything() {
    let bench = Bench::new();
    let answer = bench.run(&[]);
    assert_eq!(answer.code, 0, "{answer}");
    assert!(answer.stdout.contains("clinoblade bench") && answer.stdout.contains("none described yet"), "{answer}");
    assert!(!bench.logbook().exists(), "looking begins no logbook");
    let state = bench.json(&[]);
    assert_eq!(
        (&state["next"], &state["open"], &state["helicopters"]),
        (&json!("new_helicopter"), &json!(null), &json!([]))
    );

    let bench = Bench::with_setup();
    let answer = bench.run(&[]);
    assert_eq!(answer.code, 0, "{answer}");
    assert!(answer.stdout.lines().any(|line| line.starts_with("setup") && line.contains("0 of")), "{answer}");
    assert_eq!(bench.json(&[])["open"]["number"], 1);
}

/// A page is served whatever is missing: no setup, no sensor, no logbook, a port that cannot be opened.
#[test]
fn the_page_is_served_with_nothing_there() {
    let bench = Bench::new();
    for arguments in [&["bench", "--no-open"][..], &["bench", "--no-open", "--port", "/dev/nobody"]] {
        let arguments: Vec<&str> = arguments.iter().copied().chain(["--listen", "127.0.0.1:0"]).collect();
        let mut running = bench.start(&arguments);
        let line = running.wait_for_said("The bench page: ");
        let host = line.split("http://").nth(1).unwrap().split('/').next().unwrap().to_owned();
        let state = support::page::get(&host, "/api/state");
        assert_eq!(state["next"], "new_helicopter", "{state:#}");
        let kind = if arguments.contains(&"--port") { "refused" } else { state["sensor"]["kind"].as_str().unwrap() };
        assert_eq!(state["sensor"]["kind"], kind, "{state:#}");
        assert!(!state["sensor"]["said"].as_str().unwrap().is_empty());
        assert!(
            !state["sensor"]["said"].as_str().unwrap().contains('`'),
            "no command where none can be typed: {state:#}"
        );
    }
    assert!(!bench.logbook().exists());
}

/// A sensor that comes after the page is found by itself, and a setup goes on with it.
#[test]
fn a_sensor_that_is_plugged_in_later_is_taken_up() {
    let bench = Bench::with_setup();
    let port = bench.name("sensor");
    let mut running = bench.start(&["bench", "--no-open", "--port", &port, "--listen", "127.0.0.1:0"]);
    let line = running.wait_for_said("The bench page: ");
    let host = line.split("http://").nth(1).unwrap().split('/').next().unwrap().to_owned();
    let state = support::page::get(&host, "/api/state");
    assert_eq!((&state["open"]["on_bench"], &state["sensor"]["kind"]), (&json!(true), &json!("refused")), "{state:#}");
    let head = SimulatedHead::start(&bench, "seed = 4");
    assert_eq!(head.port, port);
    support::page::until(&host, "/api/state", |state| state["sensor"]["kind"] == "reading");
}
