//! The command line as scripts and hurried people meet it: exit codes, one JSON document, plain words for what is wrong.

use serde_json::Value;
use std::io::Write;
use std::net::TcpListener;
use std::time::Duration;
use support::bench::{Answer, Bench, HEAD, LONG, SimulatedHead, calibration, number, recorded};

/// A blade at rest, its sensor neither too quiet nor too loud.
const RESTING: &str = "seed = 5\n[clip]\nchord_offset_deg = 2.5\n[sensor]\nnoise_density_ug_rthz = 150.0\n";

/// A blade that never rests: the stick goes from end to end and back for as long as the log lasts.
fn restless() -> String {
    let head = "seed = 6\n[head]\nstation_deg = 90.0\n[sensor]\nnoise_density_ug_rthz = 150.0\n".to_owned();
    let to_and_fro = (0..12).map(|n| {
        let end = if n % 2 == 0 { 100 } else { -100 };
        format!("[[timeline]]\nat_s = {n}\ncommand = \"stick elevator {end} over 1\"\n")
    });
    head + &to_and_fro.collect::<String>()
}

/// What others rely on in a reading.
const OF_A_READING: [&str; 17] = [
    "angle_deg",
    "expanded_uncertainty_deg",
    "coverage_factor",
    "standard_uncertainty_deg",
    "samples",
    "effective_samples",
    "dropped_samples",
    "damaged_frames",
    "lost_samples",
    "settled_at_s",
    "finished_at_s",
    "steady",
    "ended_by",
    "observability",
    "components",
    "apparent_pitch_deg",
    "span_inclination_deg",
];

/// And besides in a capture.
const OF_A_CAPTURE: [&str; 12] = [
    "setup",
    "axis",
    "direction",
    "blade",
    "station_deg",
    "clip",
    "datum",
    "travel_deg",
    "target_deg",
    "tolerance_deg",
    "verdict",
    "limited_by",
];

fn with_log(scenario: &str, seconds: f64) -> (Bench, String) {
    let bench = Bench::new();
    let log = bench.write("blade.log", recorded(scenario, seconds));
    (bench, log)
}

#[track_caller]
fn holds(document: &Value, fields: &[&str]) {
    let object = document.as_object().unwrap();
    for field in fields {
        assert!(object.contains_key(*field), "no {field} in {document:#}");
    }
}

/// Fails with this code, prints nothing as an answer, and says these words.
#[track_caller]
fn fails(answer: &Answer, code: i32, words: &[&str]) {
    assert_eq!(answer.code, code, "{answer}");
    assert_eq!(answer.stdout, "", "{answer}");
    for word in words {
        assert!(answer.stderr.contains(word), "no '{word}' in:\n{answer}");
    }
    assert!(!answer.stderr.contains("panicked") && !answer.stderr.contains("Error("), "{answer}");
}

/// The same with `--json`: the one document says what went wrong.
#[track_caller]
fn fails_with_document(answer: &Answer, code: i32, words: &[&str]) {
    let document = answer.json();
    assert_eq!((answer.code, &document["exit_code"]), (code, &Value::from(code)), "{answer}");
    let error = document["error"].as_str().unwrap();
    assert!(words.iter().all(|word| error.contains(word)), "{words:?} in:\n{answer}");
}

// Exit codes

#[test]
fn a_blade_at_rest_is_read_with_exit_code_0() {
    let (bench, log) = with_log(RESTING, 3.0);
    let answer = bench.done(&["read", "--replay", &log]);
    assert!(answer.stdout.contains("+2.5") && answer.stdout.contains('±'), "{answer}");
    assert!(!bench.logbook().exists(), "a reading records nothing, and begins no logbook");
}

#[test]
fn a_blade_that_never_rests_is_told_with_exit_code_1() {
    let (bench, log) = with_log(&restless(), 10.0);
    let answer = bench.run(&["read", "--replay", &log, "--json"]);
    assert_eq!(answer.code, 1, "{answer}");
    let document = answer.json();
    assert_eq!((&document["steady"], &document["ended_by"]), (&Value::from(false), &Value::from("end")));
    assert!(document["angle_deg"].is_number(), "the best figure there is: {document:#}");
    let text = bench.run(&["read", "--replay", &log]);
    assert!(text.code == 1 && text.stdout.contains("never still"), "{text}");
}

#[test]
fn a_restless_blade_is_never_recorded() {
    let bench = Bench::with_setup();
    let log = bench.write("blade.log", recorded(&restless(), 10.0));
    let answer = bench.run(&["capture", "elevator", "up", "--replay", &log, "--json"]);
    assert_eq!((answer.code, &answer.json()["steady"]), (1, &Value::from(false)), "{answer}");
    assert_eq!(bench.json(&["setup", "show"])["entries"], serde_json::json!([]));
}

#[test]
fn a_blade_that_the_head_does_not_have_is_wrong_use_and_is_never_recorded() {
    let bench = Bench::with_setup();
    let log = bench.write("blade.log", recorded(RESTING, 3.0));
    let answer = bench.run(&["capture", "collective", "mid", "--blade", "E", "--replay", &log]);
    assert!(answer.code == 2 && answer.stderr.contains("has no blade E: that rotor has 2 blades"), "{answer}");
    assert_eq!(bench.json(&["setup", "show"])["entries"], serde_json::json!([]));
    bench.done(&["capture", "collective", "mid", "--blade", "B", "--replay", &log]);
}

#[test]
fn an_impossible_direction_is_wrong_use_and_the_right_ones_are_named() {
    let bench = Bench::new();
    fails(&bench.run(&["capture", "elevator", "left"]), 2, &["left", "elevator", "up", "down", "neutral"]);
    fails(&bench.run(&["capture", "aileron", "up"]), 2, &["aileron", "left", "right", "neutral"]);
    fails(&bench.run(&["capture", "throttle", "up"]), 2, &["elevator", "aileron", "rudder", "collective"]);
    fails(&bench.run(&["capture", "rudder", "left", "--station", "90"]), 2, &["tail"]);
    fails(&bench.run(&["no-such-command"]), 2, &["no-such-command"]);
    fails(&bench.run(&["read", "--port", "a", "--tcp", "b:1"]), 2, &["--port", "--tcp"]);
    assert!(!bench.logbook().exists());
}

#[test]
fn no_such_port_is_a_failure_of_the_link_in_plain_words() {
    let bench = Bench::new();
    let missing = bench.name("no-sensor-here");
    fails(&bench.run(&["read", "--port", &missing]), 3, &[&missing, "clinoblade ports", "Plug the sensor in"]);
    fails(&bench.run(&["watch", "--plain", "--port", &missing]), 3, &[&missing]);
    fails(&bench.run(&["read", "--tcp", "127.0.0.1:1"]), 3, &["127.0.0.1:1", "port number"]);
    // A log that is not there, or holds nothing, is a slip of the command, not of the sensor.
    fails(&bench.run(&["read", "--replay", &missing]), 2, &[&missing]);
    let empty = bench.write("empty.log", "");
    fails(&bench.run(&["read", "--replay", &empty]), 2, &["empty.log", "nothing to replay"]);
    // A file is no port.
    let file = bench.write("notes.txt", "12 degrees\n");
    fails(&bench.run(&["read", "--port", &file]), 3, &["not a serial port"]);
}

#[test]
fn a_damaged_logbook_is_refused_with_exit_code_4_and_left_as_it_is() {
    let bench = Bench::new();
    let mut garbage = b"SQLite format 3\0".to_vec();
    garbage.extend((0u32..8000).map(|n| (n.wrapping_mul(2_654_435_761) >> 13) as u8));
    for content in [garbage, b"a shopping list, no logbook\n".to_vec()] {
        bench.write("logbook.sqlite", &content);
        for arguments in
            [&["check"][..], &["setup", "list"], &["capture", "elevator", "up"], &["adjust", "link", "A", "1"]]
        {
            fails(&bench.run(arguments), 4, &["logbook.sqlite"]);
            assert_eq!(std::fs::read(bench.logbook()).unwrap(), content, "{arguments:?} left the file as it was");
        }
    }
}

#[test]
fn with_json_a_failure_is_the_document() {
    let bench = Bench::new();
    fails_with_document(&bench.run(&["capture", "elevator", "left", "--json"]), 2, &["elevator", "up"]);
    fails_with_document(&bench.run(&["--json", "read", "--tcp", "127.0.0.1:1"]), 3, &["127.0.0.1:1"]);
    fails_with_document(&bench.run(&["watch", "--json", "--tcp", "127.0.0.1:1"]), 3, &["127.0.0.1:1"]);
    bench.write("logbook.sqlite", "no logbook\n");
    fails_with_document(&bench.run(&["check", "--json"]), 4, &["logbook.sqlite"]);
    // A slip that shows before the command begins as well; help is no failure.
    fails_with_document(&bench.run(&["--json", "capture", "throttle", "up"]), 2, &["throttle"]);
    fails_with_document(&bench.run(&["read", "--no-such-option", "--json"]), 2, &["--no-such-option"]);
    let help = bench.run(&["read", "--help", "--json"]);
    assert!(help.code == 0 && help.stdout.contains("Usage"), "{help}");
}

#[test]
fn a_stick_that_cannot_stand_there_is_wrong_use() {
    let bench = Bench::with_setup();
    let log = bench.write("blade.log", recorded(RESTING, 1.0));
    for (direction, stick) in [
        ("elevator up", "-100"),
        ("elevator up", "0"),
        ("elevator up", "500"),
        ("elevator up", "nan"),
        ("elevator up", "inf"),
        ("elevator down", "100"),
        ("aileron neutral", "80"),
        ("rudder left", "50"),
        ("collective low", "-1"),
        ("collective low", "100"),
        ("collective high", "20"),
        ("collective mid", "90"),
    ] {
        let words = std::iter::once("capture").chain(direction.split(' '));
        let words: Vec<&str> = words.chain(["--stick", stick, "--replay", &log]).collect();
        fails(&bench.run(&words), 2, &["--stick"]);
    }
    assert_eq!(bench.json(&["setup", "show"])["entries"], serde_json::json!([]));
    let held = bench.json(&["capture", "elevator", "neutral", "--stick", "2", "--replay", &log]);
    assert_eq!(held["stick_percent"], 2.0);
}

#[test]
fn looking_begins_no_logbook() {
    let bench = Bench::new();
    fails(&bench.run(&["check"]), 2, &["no logbook yet", "setup new"]);
    fails(&bench.run(&["setup", "show"]), 2, &["no logbook yet"]);
    assert_eq!(bench.json(&["setup", "list"])["setups"], serde_json::json!([]));
    assert!(bench.done(&["setup", "list"]).stdout.contains("no logbook yet"));
    for arguments in [&["sensor", "default"][..], &["sensor", "default", "--forget"]] {
        assert!(bench.json(arguments).as_object().unwrap().values().all(Value::is_null));
    }
    assert!(!bench.logbook().exists());
}

#[test]
fn whoever_has_read_enough_ends_the_watch_without_a_failure() {
    let (bench, log) = with_log(RESTING, 4.0);
    let mut watch = bench.command(&["watch", "--plain", "--paced", "--replay", &log]).spawn().unwrap();
    drop(watch.stdout.take());
    let ended = watch.wait_with_output().unwrap();
    assert!(ended.status.success() && ended.stderr.is_empty(), "{ended:?}");
}

#[test]
fn without_a_setup_the_next_step_is_named() {
    let bench = Bench::new();
    let log = bench.write("blade.log", recorded(RESTING, 1.0));
    for arguments in [&["check"][..], &["capture", "elevator", "up", "--replay", &log], &["adjust", "link", "A", "1"]] {
        fails(&bench.run(arguments), 2, &["setup new"]);
    }
    bench.done(&["sensor", "default", "--profile", "sentence"]);
    fails(&bench.run(&["check", "--setup", "7"]), 2, &["7", "setup list"]);
}

// The sensor and its link

#[test]
fn a_sensor_unplugged_in_the_middle_of_a_capture_leaves_nothing_behind() {
    let bench = Bench::with_setup();
    let mut head = SimulatedHead::in_life(&bench, RESTING, "sensor");
    // A stick that is still on its way keeps the capture waiting: a hand begins slowly, and after a quarter of its minute the
    // blade moves by some tenths of a degree a second.
    head.tell("head 90");
    head.tell("stick elevator -100");
    head.tell("wait 1");
    head.tell("stick elevator 100 over 60");
    head.tell("wait 15");
    let raw = bench.name("raw.log");
    let capture = bench.start(&["capture", "elevator", "up", "--port", &head.port, "--save-raw", &raw]);
    bench.wait_for_content("raw.log");
    head.tell("unplug");
    let answer = capture.end(LONG);
    fails(&answer, 3, &["gone", "Plug it in again"]);
    assert_eq!(bench.json(&["setup", "show"])["entries"], serde_json::json!([]));
    // With the cable back the same command goes on as if nothing had been.
    head.tell("stick elevator 0");
    head.tell("replug");
    bench.done(&["capture", "elevator", "neutral", "--port", &head.port]);
}

#[test]
fn a_profile_that_does_not_fit_is_recognised_and_the_right_one_is_named() {
    let bench = Bench::new();
    let head = SimulatedHead::in_life(&bench, "[stream]\nprofile = \"labelled\"\nrate_hz = 100.0\n", "sensor");
    let answer = bench.run(&["read", "--port", &head.port]);
    fails(&answer, 3, &["does not fit the profile sentence", "It begins \"", "use --profile labelled"]);
    bench.done(&["read", "--port", &head.port, "--profile", "labelled"]);
}

/// Serves noise on a loopback port, as a line of the wrong speed does, until nobody listens any more.
fn noise() -> String {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap().to_string();
    std::thread::spawn(move || {
        let (mut client, _) = listener.accept().unwrap();
        let mut state = 1u32;
        loop {
            let bytes: Vec<u8> = (0..100)
                .map(|_| {
                    state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    (state >> 24) as u8
                })
                .collect();
            if client.write_all(&bytes).is_err() {
                break;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    });
    address
}

#[test]
fn random_bytes_are_recognised() {
    let bench = Bench::with_setup();
    let answer = bench.run(&["capture", "elevator", "neutral", "--tcp", &noise(), "--json"]);
    fails_with_document(&answer, 3, &["does not fit the profile sentence. It begins ", "(hexadecimal)"]);
    assert_eq!(bench.json(&["setup", "show"])["entries"], serde_json::json!([]));
}

#[test]
fn a_saved_stream_replays_to_the_same_angle_bit_for_bit() {
    let bench = Bench::new();
    let head = SimulatedHead::start(&bench, RESTING);
    let log = bench.name("kept.log");
    let live = bench.json(&["read", "--port", &head.port, "--save-raw", &log]);
    let replayed = bench.json(&["read", "--replay", &log]);
    for field in
        ["angle_deg", "samples", "settled_at_s", "finished_at_s", "components", "effective_samples", "ended_by"]
    {
        assert_eq!(live[field], replayed[field], "{field}");
    }
    let bits = |document: &Value| number(&document["angle_deg"]).to_bits();
    assert_eq!(bits(&live), bits(&replayed));
    let kept = std::fs::read(&log).unwrap();
    fails(&bench.run(&["read", "--port", &head.port, "--save-raw", &log]), 2, &["kept.log", "another file"]);
    assert_eq!(std::fs::read(&log).unwrap(), kept, "an earlier recording is never overwritten");
}

#[test]
fn watch_prints_one_plain_line_an_update() {
    let (bench, log) = with_log(RESTING, 4.0);
    let answer = bench.done(&["watch", "--replay", &log, "--plain", "--rate", "5"]);
    let lines: Vec<&str> = answer.stdout.lines().collect();
    assert!((19..=21).contains(&lines.len()), "5 a second for 4 s\n{answer}");
    for line in &lines {
        let (clock, rest) = line.trim_start().split_once(" s  ").unwrap();
        let _: f64 = clock.parse().unwrap();
        let angle: f64 = rest.trim_start().split_once('°').unwrap().0.parse().unwrap();
        assert!((angle - 2.5).abs() < 0.5, "{line}");
    }
    assert!(lines.last().unwrap().contains("still for"), "{answer}");
    assert!(!answer.stdout.contains('\u{1b}') && !answer.stdout.contains('\r'), "no control characters in a pipe");
    let updates = bench.json(&["watch", "--replay", &log, "--rate", "5"]);
    assert_eq!(updates.as_array().unwrap().len(), lines.len());
    let short = bench.done(&["watch", "--replay", &log, "--plain", "--rate", "5", "--for", "1"]);
    assert_eq!(short.stdout.lines().count(), 5, "{short}");
}

#[test]
fn a_span_too_steep_shows_no_figure() {
    let (bench, log) = with_log(
        "seed = 5\nsensor.noise_density_ug_rthz = 150.0\n[[timeline]]\nat_s = 0\ncommand = \"clip pose 85 0 over 0.1\"\n",
        3.0,
    );
    fails(&bench.run(&["read", "--replay", &log]), 1, &["span slopes by"]);
    let answer = bench.done(&["watch", "--replay", &log, "--plain"]);
    assert!(answer.stdout.lines().last().unwrap().contains("span too steep"), "{answer}");
    let updates = bench.json(&["watch", "--replay", &log]);
    let update = updates.as_array().unwrap().last().unwrap();
    assert_eq!((&update["angle_deg"], &update["steady_angle_deg"]), (&Value::Null, &Value::Null), "{update:#}");
    assert!(update["reason"].as_str().unwrap().contains("span slopes by"), "{update:#}");
}

#[test]
fn watch_waits_for_an_unplugged_sensor_and_goes_on_when_it_is_back() {
    let bench = Bench::new();
    let mut head = SimulatedHead::start(&bench, RESTING);
    let mut watch = bench.start(&["watch", "--plain", "--port", &head.port]);
    watch.wait_for_line("an angle", |line| line.contains('°'));
    head.tell("unplug");
    let said = watch.wait_for_said("Waiting for it");
    assert!(said.contains("gone"), "{said}");
    head.tell("replug");
    watch.wait_for_said("is back");
    watch.wait_for_line("proven still anew", |line| line.contains("moving"));
    watch.wait_for_line("still again", |line| line.contains("still for"));
    // Ctrl-C is how a watch is meant to end.
    rustix::process::kill_process(rustix::process::Pid::from_child(&watch.child), rustix::process::Signal::INT)
        .unwrap();
    let answer = watch.end(LONG);
    assert_eq!(answer.code, 0, "{answer}");
}

// Options and documents

#[test]
fn global_options_stand_before_or_after_the_command() {
    let bench = Bench::new();
    let head = bench.write("head.toml", HEAD);
    let elsewhere = bench.name("elsewhere.sqlite");
    let elsewhere = elsewhere.as_str();
    bench.done(&["--logbook", elsewhere, "setup", "new", "--head", &head]);
    assert!(!bench.logbook().exists(), "the option beats the environment");
    let ways: [&[&str]; 4] = [
        &["--logbook", elsewhere, "--json", "setup", "list"],
        &["setup", "--logbook", elsewhere, "list", "--json"],
        &["setup", "list", "--json", "--logbook", elsewhere],
        &["-v", "setup", "list", "--logbook", elsewhere, "--json", "-v"],
    ];
    let answers: Vec<Value> = ways.iter().map(|way| bench.done(way).json()).collect();
    assert_eq!(answers[0]["setups"].as_array().unwrap().len(), 1);
    assert!(answers.iter().all(|answer| answer == &answers[0]), "{answers:#?}");
}

#[test]
fn read_and_capture_print_one_document_with_what_others_rely_on() {
    let bench = Bench::with_setup();
    let log = bench.write("blade.log", recorded(RESTING, 3.0));
    let read = bench.json(&["read", "--replay", &log]);
    holds(&read, &OF_A_READING);
    assert!((number(&read["angle_deg"]) - 2.5).abs() < 0.05, "{read:#}");
    assert!(read["components"]["repeat"].is_number(), "{read:#}");
    let squares: f64 = read["components"].as_object().unwrap().values().map(|u| number(u).powi(2)).sum();
    assert!((squares.sqrt() - number(&read["standard_uncertainty_deg"])).abs() < 1e-9, "components add up: {read:#}");
    let k = number(&read["coverage_factor"]);
    let u = number(&read["standard_uncertainty_deg"]);
    assert!((k * u - number(&read["expanded_uncertainty_deg"])).abs() < 1e-9, "U = k·u: {read:#}");

    let capture = bench.json(&["capture", "collective", "mid", "--blade", "A", "--station", "90", "--replay", &log]);
    holds(&capture, &OF_A_READING);
    holds(&capture, &OF_A_CAPTURE);
    assert_eq!((&capture["setup"], &capture["datum"]), (&Value::from(1), &Value::from("gravity")));
    assert_eq!((&capture["target_deg"], &capture["tolerance_deg"]), (&Value::from(0.0), &Value::from(0.5)));
    assert_eq!(capture["travel_deg"], Value::Null, "a zero is no travel");
}

#[test]
fn every_answer_with_json_is_one_document() {
    let bench = Bench::with_setup();
    let ports = bench.json(&["ports"]);
    assert!(ports["ports"].is_array());
    assert!(bench.json(&["sensor", "profiles"])["profiles"].as_array().unwrap().len() >= 3);
    assert_eq!(bench.json(&["head", "show", &bench.name("head.toml")])["name"], "Workshop trainer");
    assert_eq!(bench.json(&["datum", "gravity"])["kind"], "gravity");
    assert_eq!(bench.json(&["adjust", "elevator", "end", "point", "95"])["stale"], serde_json::json!([]));
    let shown = bench.json(&["setup", "show"]);
    assert_eq!(shown["entries"].as_array().unwrap().len(), 2);
    assert!(bench.json(&["completions", "zsh"])["script"].is_string());
    assert!(bench.json(&["setup", "close"])["closed_at"].is_string());
}

#[test]
fn a_setup_taken_up_again_says_what_still_holds() {
    let bench = Bench::with_setup();
    // Gravity is what zero means where nothing was said.
    let resumed = bench.run(&["setup", "resume", "--json"]);
    assert!(resumed.code == 0 && resumed.stdout.contains("gravity zero"), "{resumed}");
    // A calibration without a date is one all the same.
    let undated = bench.write("undated.toml", calibration("undated"));
    let resumed = bench.done(&["setup", "resume", "--calibration", &undated]);
    assert!(resumed.stdout.contains("does not say when it was made"), "{resumed}");
    fails(&bench.run(&["setup", "resume", "--port", "anything"]), 2, &["--port"]);
    bench.done(&["datum", "gravity"]);
    bench.done(&["setup", "close"]);
    let resumed = bench.json(&["setup", "resume", "1", "--temperature", "21"]);
    assert_eq!(resumed["setup"], 1);
    for finding in resumed["findings"].as_array().unwrap() {
        assert!(finding["holds"].is_boolean() && finding["sentence"].as_str().is_some_and(|text| text.len() > 10));
    }
    bench.done(&["datum", "gravity"]);
    // Gravity's level does not move with the model; what was neutral does.
    let holds = |answer: &Answer, about: &str| {
        let findings = answer.json()["findings"].as_array().unwrap().clone();
        findings.iter().filter(|f| f["about"] == about).all(|f| f["holds"] == true)
    };
    let moved = bench.run(&["setup", "resume", "--moved", "--clip-off", "--json"]);
    assert!(moved.code == 1 && holds(&moved, "datum") && !holds(&moved, "neutrals"), "{moved}");
    let other = bench.run(&["setup", "resume", "--other-sensor"]);
    assert!(other.code == 1 && other.stdout.contains("another sensor"), "{other}");
    // A level taken from a surface moved with the model: it cannot be gone on with.
    let log = bench.write("blade.log", recorded(RESTING, 3.0));
    bench.done(&["datum", "surface", "--station", "90", "--replay", &log]);
    let moved = bench.run(&["setup", "resume", "--moved", "--json"]);
    assert_eq!((moved.code, &moved.json()["can_go_on"]), (1, &Value::from(false)), "{moved}");
    assert!(!holds(&moved, "datum"), "{moved}");
}

#[test]
fn a_head_description_that_somebody_filled_in_is_never_overwritten() {
    let bench = Bench::new();
    let file = bench.name("trainer.toml");
    bench.done(&["head", "new", "--name", "Workshop \"trainer\"", "--out", &file]);
    assert_eq!(bench.json(&["head", "show", &file])["name"], "Workshop \"trainer\"");
    let filled_in = std::fs::read_to_string(&file).unwrap() + "\n# filled in\n";
    std::fs::write(&file, &filled_in).unwrap();
    fails(&bench.run(&["head", "new", "--name", "Another", "--out", &file]), 2, &["trainer.toml"]);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), filled_in);
    let wrong = bench.write("wrong.toml", HEAD.replace("blades = 2\ncontrol", "blades = 1\ncontrol"));
    fails(&bench.run(&["head", "show", &wrong]), 2, &["blades"]);
    fails(&bench.run(&["setup", "new", "--head", &wrong]), 2, &["blades"]);
}

#[test]
fn a_kept_sensor_is_used_where_nothing_is_said_and_forgotten_on_request() {
    let bench = Bench::with_setup();
    let log = bench.write("blade.log", recorded(RESTING, 3.0));
    fails(&bench.run(&["sensor", "default", "--profile", "no-such-profile"]), 2, &["no-such-profile"]);
    let kept = bench.json(&["sensor", "default", "--replay", &log, "--profile", "sentence"]);
    assert_eq!(kept["profile"], "sentence");
    assert!(kept["source"].as_str().unwrap().contains("blade.log"), "{kept:#}");
    assert_eq!(bench.json(&["sensor", "default"]), kept);
    let capture = bench.json(&["capture", "collective", "mid"]);
    assert!((number(&capture["angle_deg"]) - 2.5).abs() < 0.05);
    // With a setup the saved calibration goes with the saved source, and with no other.
    let calibration = bench.write("workshop.toml", calibration("workshop sensor"));
    bench.done(&["sensor", "default", "--calibration", &calibration]);
    let other = bench.write("other.log", recorded(RESTING, 3.0));
    let capture = ["capture", "collective", "mid"];
    let read = ["read", "--setup", "1", "--blade", "A", "--station", "90"];
    for (source, used) in [(&[][..], true), (&["--replay", &log], true), (&["--replay", &other], false)] {
        let calibration = if used { Value::from("workshop sensor") } else { Value::Null };
        let said = if used { "Using the saved calibration" } else { "No calibration is used" };
        let answer = bench.run(&[&capture, source, &["--json"]].concat());
        assert!(answer.code == 0 && answer.stderr.contains(said), "{answer}");
        assert_eq!(answer.json()["sensor"]["calibration"], calibration, "{answer}");
        let answer = bench.run(&[&read, source, &["--json"]].concat());
        assert!(answer.code == 0 && answer.stderr.contains(said), "{answer}");
        assert_eq!(answer.json()["calibration"], calibration, "{answer}");
    }
    // A reading outside of a setup stands alone.
    assert_eq!(bench.json(&["read"])["calibration"], Value::Null);
    assert_eq!(bench.json(&["read", "--replay", &log])["calibration"], Value::Null);
    // A source that is named is not understood by the profile of another sensor.
    bench.done(&["sensor", "default", "--profile", "columns"]);
    bench.done(&["read", "--replay", &other]);
    bench.done(&["capture", "collective", "mid", "--replay", &other]);
    let forgotten = bench.json(&["sensor", "default", "--forget"]);
    assert!(forgotten.as_object().unwrap().values().all(Value::is_null), "{forgotten:#}");
}

#[test]
fn completions_are_a_script_of_the_shell() {
    let bench = Bench::new();
    let script = bench.done(&["completions", "bash"]).stdout;
    for word in ["capture", "--leading-edge", "reversal", "complete -F"] {
        assert!(script.contains(word), "no {word}");
    }
    fails(&bench.run(&["completions", "abacus"]), 2, &["abacus", "bash"]);
}

// Help

#[test]
fn help_says_what_there_is() {
    let bench = Bench::new();
    insta::assert_snapshot!("help", bench.done(&["--help"]).stdout);
    insta::assert_snapshot!("help_capture", bench.done(&["capture", "--help"]).stdout);
    let short = bench.done(&["capture", "-h"]).stdout;
    assert!(short.lines().count() <= 40, "the short help is one screen");
    insta::assert_snapshot!("help_capture_short", short);
}
