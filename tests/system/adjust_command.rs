//! `adjust`, `setup withdraw`, `setup skip` and `setup new --after`, as they are typed.

use serde_json::json;
use support::advice::{Bench as Captured, head};
use support::bench::Bench;

/// The trainer with its zeros read, the tail's servo number 5.
fn club() -> Bench {
    let mut captured = Captured::new("", head(&[("# servo = 4", "servo = 5")]), 4);
    for blade in ["A", "B"] {
        for station in [90.0, 270.0] {
            captured.capture("collective mid", blade, station);
        }
    }
    let bench = Bench::new();
    captured.keep(&bench.logbook());
    bench
}

fn verdict(bench: &Bench, cell: &str) -> String {
    let checked: serde_json::Value = serde_json::from_str(&bench.run(&["check", "--json"]).stdout).unwrap();
    let cells = checked["cells"].as_array().unwrap();
    let found = cells.iter().find(|one| one["cell"] == cell).unwrap_or_else(|| panic!("no {cell}: {checked:#}"));
    found["verdict"].as_str().unwrap().to_owned()
}

#[test]
fn a_link_is_recorded_by_any_fraction_and_a_wrong_one_is_withdrawn() {
    let bench = club();
    let recorded = bench.json(&["adjust", "link", "B", "0.5"]);
    assert_eq!(recorded["adjustment"], "link B +0.5 half-turns");
    assert_eq!(recorded["stale"], json!(["blade B zero", "track B - A"]));
    assert_eq!(recorded["between_seats"], true, "the description says that it snaps on");
    let said = bench.done(&["adjust", "link", "B", "+0.64"]).stdout;
    assert!(said.contains("Recorded: link B +0.64 half-turns.") && said.contains("`turnbuckle = true`"), "{said}");
    assert_eq!(said.lines().next(), Some("Setup 1, Workshop trainer"), "{said}");
    assert!(said.contains("collective mid, blade B at 90°\n  collective mid, blade B at 270°"), "{said}");

    let taken_back = bench.json(&["setup", "withdraw", "--because", "it was the other link"]);
    assert_eq!(taken_back["adjustment"], "link B +0.64 half-turns");
    assert_eq!(verdict(&bench, "blade B zero"), "stale", "the first one stands");
    let said = bench.done(&["setup", "withdraw", "5"]).stdout;
    assert!(said.starts_with("Taken back: link B +0.5 half-turns."), "{said}");
    assert_ne!(verdict(&bench, "blade B zero"), "stale");
    let shown = bench.done(&["setup", "show"]).stdout;
    assert!(shown.contains("taken back: link B +0.64 half-turns (it was the other link)"), "{shown}");
    // Taken back once; then the newest capture is what is left.
    let refused = bench.run(&["setup", "withdraw", "5"]);
    assert!(refused.code == 2 && refused.stderr.contains("Entry 5 is no capture, adjustment or skip"), "{refused}");
    assert_eq!(bench.json(&["setup", "withdraw"])["subject"]["blade"], "B");
}

#[test]
fn what_cannot_be_is_refused_and_the_tails_servo_is_the_descriptions() {
    let bench = club();
    for (words, says) in [
        (&["link", "B", "40"][..], "more than a link can be turned"),
        (&["link", "B", "0"], "is not an adjustment"),
        (&["servo", "arm", "6"], "There is no swashplate servo 6"),
        (&["servo", "arm", "1", "+20", "teeth"], "more than half a servo's spline"),
        (&["grip", "C", "replaced"], "there is no blade C"),
    ] {
        let refused = bench.run(&[&["adjust"][..], words].concat());
        assert!(refused.code == 2 && refused.stderr.contains(says), "{words:?}: {refused}");
    }
    for words in [&["servo", "arm", "5"][..], &["sub-trim", "5", "-4"], &["tail", "sub-trim", "-4"]] {
        let recorded = bench.json(&[&["adjust"][..], words].concat());
        assert_eq!(recorded["stale"], json!([]), "{words:?}: no main cell");
    }
}

#[test]
fn a_cell_is_left_out_with_a_reason_and_the_record_says_so() {
    let bench = club();
    bench.done(&["adjust", "link", "B", "+1"]);
    for cell in [
        "blade B zero",
        "track B - A",
        "elevator up",
        "elevator down",
        "aileron left",
        "aileron right",
        "rudder left",
        "rudder right",
    ] {
        let words: Vec<&str> = cell.split(' ').collect();
        let words = [&["setup", "skip", "--reason", "the belt is off", "--"][..], &words].concat();
        let said = bench.done(&words).stdout;
        assert!(said.starts_with(&format!("Skipped: {cell} (the belt is off).")), "{said}");
    }
    let checked = bench.run(&["check"]);
    assert_eq!(checked.code, 1, "{checked}");
    assert!(
        checked.stdout.contains("All 2 captured and within limits but for what was left out (blade B zero, "),
        "{checked}"
    );
    let checked: serde_json::Value = serde_json::from_str(&bench.run(&["check", "--json"]).stdout).unwrap();
    assert_eq!((&checked["complete"], &checked["good"]), (&json!(true), &json!(false)));
    let sheet = bench.done(&["report"]).stdout;
    assert!(sheet.contains("track B - A, left out: the belt is off"), "{sheet}");
    // The newest is owed again.
    assert_eq!(bench.json(&["setup", "withdraw"])["left_out"], "rudder right");
    let checked: serde_json::Value = serde_json::from_str(&bench.run(&["check", "--json"]).stdout).unwrap();
    assert_eq!(checked["complete"], false);
    let refused = bench.run(&["setup", "skip", "blade", "A", "zero", "--because", "no time"]);
    assert!(refused.code == 2 && refused.stderr.contains("it holds a value"), "{refused}");
}

#[test]
fn a_setup_after_a_crash_owes_what_is_otherwise_measured_at_will() {
    let bench = Bench::new();
    std::fs::write(bench.path("head.toml"), clinoblade::record::Head::template("Club trainer")).unwrap();
    let named = bench.name("head.toml");
    let said = bench.done(&["setup", "new", "--head", &named, "--after", "crash"]).stdout;
    for owed in
        ["spindle on blade A", "lost motion of blade B", "corner high up-right", "tail blade B", "sweep of the rudder"]
    {
        assert!(said.contains(owed), "{owed}: {said}");
    }
    assert_eq!(verdict(&bench, "blade A spindle"), "missing");
    let checked = bench.run(&["check"]).stdout;
    assert!(
        checked.contains("Still owed: sweep of the elevator, sweep of the aileron, sweep of the rudder."),
        "{checked}"
    );
    assert!(checked.contains("sum of parts"), "{checked}");
    let shown = bench.done(&["setup", "show"]).stdout;
    assert!(shown.contains("turned: crash"), "{shown}");
    bench.done(&["setup", "close"]);
    let said = bench.done(&["setup", "new", "--head", &named]).stdout;
    assert!(!said.contains("spindle"), "{said}");
    assert!(!bench.run(&["check"]).stdout.contains("spindle"), "nothing of it is owed");
    let refused = bench.run(&["setup", "new", "--head", &named, "--after", "rain"]);
    assert!(refused.code == 2 && refused.stderr.contains("write crash or parts"), "{refused}");
}
