//! The rotor's own frame at a simulated bench: bytes from a pseudo-terminal, commands of the program, printed lines, and the
//! truth that only the simulated head knows.

use clinoblade::logbook::{Location, Logbook};
use clinoblade::record::Head;
use clinoblade::rig::Rig;
use clinoblade::sensor::{Calibration, Model};
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use support::rig::Process;
use uuid::Uuid;

const PROGRAM: &str = env!("CARGO_BIN_EXE_clinoblade");

/// A simulated head on a pseudo-terminal, with a folder for a logbook; ended with the test.
struct Bench {
    head: Process,
    folder: tempfile::TempDir,
}

impl Bench {
    fn new(scenario: &str, head: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("scenario.toml");
        std::fs::write(&path, scenario).unwrap();
        std::fs::write(folder.path().join("head.toml"), head).unwrap();
        let bench = Self { head: Process::start(&[path.to_str().unwrap()]), folder };
        let head = bench.path("head.toml");
        bench.done(&["setup", "new", "--head", head.to_str().unwrap(), "--cautions-read"]);
        bench.calibration("bench", |_| ());
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// A calibration of the ordinary sensor that claims a hundredth of what an uncalibrated one is uncertain by.
    fn calibration(&self, name: &str, change: impl FnOnce(&mut Calibration)) -> PathBuf {
        let nominal = Calibration::nominal(16_384.0);
        let covariance = nominal.covariance * 1e-4;
        let mut calibration = Calibration { name: name.to_owned(), model: Model::Full, covariance, ..nominal };
        change(&mut calibration);
        let path = self.path(&format!("{name}.toml"));
        std::fs::write(&path, calibration.to_toml().unwrap()).unwrap();
        path
    }

    /// The hands: every word is done before the next.
    fn hands(&mut self, lines: &[&str]) {
        for line in lines {
            let answer = self.head.tell(line);
            assert!(answer.starts_with("ok"), "{line}: {answer}");
        }
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(PROGRAM);
        command.arg("--logbook").arg(self.path("logbook.sqlite")).args(arguments);
        command
    }

    fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().unwrap()
    }

    fn done(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        assert!(output.status.success(), "{arguments:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    }

    fn json(&self, arguments: &[&str]) -> (Value, Option<i32>) {
        let output = self.run(&[arguments, &["--json"]].concat());
        let document = serde_json::from_slice(&output.stdout);
        (document.unwrap_or_else(|e| panic!("{e}: {arguments:?}: {output:?}")), output.status.code())
    }

    /// One capture from the pseudo-terminal with a calibration.
    fn capture(&self, what: &[&str], calibration: &str) -> Value {
        let file = self.path(&format!("{calibration}.toml"));
        let source = ["--port", &self.head.port, "--calibration", file.to_str().unwrap()];
        let (document, code) = self.json(&[&["capture"], what, &source].concat());
        assert_eq!(code, Some(0), "{document}");
        document
    }

    /// A command that asks for something and waits for Enter: `hands` gets each line it says, and answers whether it is a
    /// question that is now done.
    fn guided(&mut self, arguments: &[&str], mut hands: impl FnMut(&mut Self, &str) -> bool) -> Value {
        let mut running = self
            .command(&[arguments, &["--json", "--port", &self.head.port, "--calibration"]].concat())
            .arg(self.path("bench.toml"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut enter = running.stdin.take().unwrap();
        for line in BufReader::new(running.stderr.take().unwrap()).lines() {
            if hands(self, &line.unwrap()) {
                writeln!(enter).unwrap();
            }
        }
        serde_json::from_slice(&running.wait_with_output().unwrap().stdout).unwrap()
    }

    /// Puts the clip on a blade of two and turns the head until that blade stands at the station.
    fn place(&mut self, blade: &str, station: f64) {
        let head = if blade == "A" { station } else { station + 180.0 };
        self.hands(&[&format!("clip {blade} forward over 0.2"), &format!("head {head} over 0.2"), "wait 0.3"]);
    }
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("no number: {value}"))
}

fn head(track_split: &str) -> String {
    let text = Head::template("Club trainer");
    let targets = format!("track_split = \"{track_split}\"");
    text.lines()
        .map(|line| if line.starts_with("track_split") { targets.as_str() } else { line })
        .map(|line| if line.starts_with("rotation") { "rotation = \"clockwise\"" } else { line })
        .collect::<Vec<_>>()
        .join("\n")
}

/// Four degrees out of level, swashplate tilted by unequal sub-trims, tips two degrees down, blade B high.
const OUT_OF_LEVEL: &str = "
seed = 7
head = { rotation = \"clockwise\", nose_deg = 2.6, left_deg = -3.1 }
blades = { link_error_deg = [0.2, 0.9], droop_deg = [-2.0, -2.2] }
servos = { sub_trim_deg = [3.0, -2.0, 0.0] }
sensor = { noise_density_ug_rthz = 150.0, offset_mg = [0.3, -0.2, 0.2] }
clip = { reseat_deg = 0.06 }
";

/// Value and twice its standard uncertainty against the truth.
fn within(what: &str, value: f64, standard: f64, truth: f64) {
    println!("{what}: {value:+.3}° ± {:.3}°, truth {truth:+.3}°", 2.0 * standard);
    assert!((value - truth).abs() <= 2.0 * standard, "{what}: {value} ± {} for {truth}", 2.0 * standard);
    assert!(standard < 0.5, "{what} is known to {standard}° only");
}

#[test]
fn a_helicopter_four_degrees_out_of_level_gives_collectives_and_track_within_their_uncertainties() {
    let mut bench = Bench::new(OUT_OF_LEVEL, &head("at most 0.5"));
    for blade in ["A", "B"] {
        for station in [0.0, 90.0, 180.0, 270.0] {
            bench.place(blade, station);
            bench.capture(&["collective", "mid", "--blade", blade, "--station", &station.to_string()], "bench");
        }
    }
    let truth = bench.head.truth();
    let tilt = number(&truth["shaft_tilt"]["nose_deg"]).hypot(number(&truth["shaft_tilt"]["left_deg"]));
    assert!(
        tilt > 4.0 && number(&truth["swash"]["cos_deg"]).hypot(number(&truth["swash"]["sin_deg"])) > 1.0,
        "{truth}"
    );
    let (document, code) = bench.json(&["rotor"]);
    assert_eq!(code, Some(0), "{document}");
    let u = |name: &str| number(&document["standard_errors"][name]);
    let collective =
        |blade: usize| number(&truth["swash"]["collective_deg"]) + number(&truth["blades"][blade]["link_error_deg"]);
    for blade in 0..2 {
        let found = &document["blades"][blade];
        let (c, d) = (format!("collective_deg[{}]", blade + 1), format!("droop_deg[{}]", blade + 1));
        within(&c, number(&found["collective_deg"]), u(&c), collective(blade));
        within(&d, number(&found["droop_deg"]), u(&d), number(&truth["blades"][blade]["droop_deg"]));
    }
    within("track split", number(&document["track_split_deg"]), u("track_split_deg"), collective(0) - collective(1));
    for (name, part, key) in [
        ("nose_deg", "shaft_tilt", "nose_deg"),
        ("left_deg", "shaft_tilt", "left_deg"),
        ("cos_deg", "swash", "cos_deg"),
        ("sin_deg", "swash", "sin_deg"),
    ] {
        within(name, number(&document[part][name]), u(name), number(&truth[part][key]));
    }
    // The printed lines say the same.
    let printed = bench.done(&["rotor"]);
    println!("{printed}");
    let figure = format!("{:+.2}°", number(&document["blades"][1]["collective_deg"]));
    assert!(printed.contains(&format!("blade B: collective {figure}")), "{printed}");

    // Against the shaft a blade reads its own pitch, whatever the model's lean.
    let (datum, _) = bench.json(&["datum", "shaft"]);
    assert_eq!(datum["kind"], "shaft");
    bench.place("B", 0.0);
    let read = bench.capture(&["collective", "mid", "--blade", "B", "--station", "0"], "bench");
    let pitch = number(&bench.head.truth()["blades"][1]["pitch_deg"]);
    let (angle, expanded) = (number(&read["angle_deg"]), number(&read["expanded_uncertainty_deg"]));
    println!("blade B against the shaft: {angle:+.3}° ± {expanded:.3}°, truth {pitch:+.3}°");
    assert!((angle - pitch).abs() <= expanded && expanded < 1.0, "{angle} ± {expanded} for {pitch}");
    assert!((number(&read["apparent_pitch_deg"]) - pitch).abs() > 1.0, "the lean is no small matter");
}

#[test]
fn blades_at_different_stations_are_refused_and_two_stations_do_not_tell_the_lean() {
    let mut bench = Bench::new(OUT_OF_LEVEL, &head("at most 0.5"));
    for (blade, station) in [("A", "0"), ("B", "180")] {
        bench.place(blade, station.parse().unwrap());
        bench.capture(&["collective", "mid", "--blade", blade, "--station", station], "bench");
    }
    let refused = bench.run(&["track"]);
    assert_eq!(refused.status.code(), Some(1));
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(said.contains("at station 180°") && said.contains("at station 0°"), "{said}");
    let (document, code) = bench.json(&["rotor"]);
    assert_eq!(code, Some(1));
    assert!(document["shaft_tilt"]["left_deg"].is_null() && !document["suggest"].as_array().unwrap().is_empty());
    assert_eq!(bench.run(&["datum", "shaft"]).status.code(), Some(1));
}

#[test]
fn a_guided_track_goes_there_and_back_until_the_tolerance_is_decided() {
    // U is above 0.34° after one reading of each blade and falls with every other: 0.30° from its limit, a split of 0.20° takes
    // more than one. The clip seats well, so that chance moves the split by a tenth of what is left.
    let scenario = OUT_OF_LEVEL.replace("[0.2, 0.9]", "[0.2, 0.4]").replace("reseat_deg = 0.06", "reseat_deg = 0.01");
    let mut bench = Bench::new(&scenario, &head("at most 0.5"));
    let (mut forecast, mut order) = (String::new(), String::new());
    let document = bench.guided(&["track", "--live", "--station", "90", "--within", "120"], |bench, line| {
        if forecast.is_empty() {
            line.clone_into(&mut forecast);
        }
        let Some((_, rest)) = line.split_once(": blade ") else { return false };
        assert!(line.contains("station 90°"), "{line}");
        bench.place(&rest[..1], 90.0);
        order += &rest[..1];
        true
    });
    assert!(forecast.contains("One reading of each blade is good to ± 0.3"), "{forecast}");
    let (split, u) =
        (number(&document["splits"][0]["split_deg"]), number(&document["splits"][0]["expanded_uncertainty_deg"]));
    println!("{order}: split {split:+.3}° ± {u:.3}°, truth +0.20°: {}", document["splits"][0]["verdict"]);
    assert!(order.starts_with("ABBA"), "a split 0.30° from its limit is not decided by one reading of each: {order}");
    assert_eq!(document["decided"], true);
    assert_eq!(document["splits"][0]["verdict"], "inside");
    assert_eq!(document["remaining_readings"], 0);
    assert!((split - 0.20).abs() <= u, "{split} ± {u}");
}

#[test]
fn a_tolerance_that_cannot_be_decided_is_said_before_anything_is_read() {
    let bench = Bench::new("seed = 1\n", &head("at most 0.01"));
    let (document, code) = bench.json(&["track", "--forecast"]);
    assert_eq!(code, Some(1));
    assert_eq!(document["forecast"]["decidable"], false);
    let says = document["forecast"]["says"].as_str().unwrap();
    assert!(says.contains("Not even fifty of each decide this."), "{says}");
    let easy = Bench::new("seed = 1\n", &head("at most 0.5"));
    assert_eq!(easy.json(&["track", "--forecast"]).0["forecast"]["readings_of_each_blade"], 1);
}

/// One axis of the cyclic as the rig has it: amplitude, phase and leak of a full stick, from the first harmonic of what blade A
/// moves round the turn. On a clockwise rotor elevator up is A·sin(ψ − P) and aileron right A·cos(ψ − P); the leak is A·sinP.
fn cyclic_truth(scenario: &str, axis: &str) -> [(&'static str, f64); 3] {
    let mut rig = Rig::new(scenario.parse().unwrap()).unwrap();
    let mut pitch = |station: f64, stick: f64| {
        rig.command(&format!("head {station}")).unwrap();
        rig.command(&format!("stick {axis} {stick}")).unwrap();
        rig.truth().blades[0].pitch_deg.degrees()
    };
    let (mut sin, mut cos) = (0.0, 0.0);
    for station in (0..24).map(|i| 15.0 * f64::from(i)) {
        let moved = (pitch(station, 100.0) - pitch(station, 0.0)) / 12.0;
        sin += moved * station.to_radians().sin();
        cos += moved * station.to_radians().cos();
    }
    let (own, leak) = if axis == "elevator" { (sin, -cos) } else { (cos, sin) };
    [("amplitude", own.hypot(leak)), ("phase", leak.atan2(own).to_degrees()), ("leak", leak)]
}

/// Captures both cyclic axes at two stations on a head with `phase` in its linkage and `described` in its description, and holds
/// what comes out against the rig. What is said about the linkage must begin and go on with the words of `says`.
fn phase(linkage: &str, described: f64, says: &[&str]) {
    let scenario = OUT_OF_LEVEL.replace("left_deg = -3.1", &format!("left_deg = -3.1, {linkage}"));
    phase_of(&scenario, &format!("control_phase_deg = {described}"), &["0", "90"], says);
}

fn phase_of(scenario: &str, described: &str, stations: &[&str], says: &[&str]) {
    let words: String =
        head("at most 0.5").lines().filter(|l| !l.starts_with("station_error")).map(|l| format!("{l}\n")).collect();
    let plain = "control_phase_deg = 0.0";
    assert!(words.contains(plain));
    let mut bench = Bench::new(scenario, &words.replace(plain, described));
    for &station in stations {
        bench.place("A", station.parse().unwrap());
        bench.capture(&["elevator", "neutral", "--station", station], "bench");
        for (axis, direction) in [("elevator", "up"), ("aileron", "right")] {
            bench.hands(&[&format!("stick {axis} 100 over 0.2"), "wait 0.3"]);
            bench.capture(&[axis, direction, "--station", station, "--as-read"], "bench");
            bench.hands(&[&format!("stick {axis} 0 over 0.2"), "wait 0.3"]);
        }
    }
    let (document, code) = bench.json(&["rotor", "--phase"]);
    assert_eq!(code, Some(0), "{document}");
    for axis in ["elevator", "aileron"] {
        for (name, truth) in cyclic_truth(scenario, axis) {
            let (value, u) = (
                number(&document[axis][format!("{name}_deg")]),
                number(&document[axis][format!("{name}_standard_uncertainty_deg")]),
            );
            println!("{axis}: {name} {value:+.2}° ± {:.2}°, truth {truth:+.2}°", 2.0 * u);
            assert!((value - truth).abs() <= 2.0 * u && u < 4.0, "{axis} {name}: {value} ± {} for {truth}", 2.0 * u);
        }
    }
    let said = document["linkage"].as_str().unwrap();
    println!("{said}");
    let mut rest = said;
    for words in says {
        rest = rest.split_once(words).unwrap_or_else(|| panic!("no '{words}' in: {said}")).1;
    }
}

#[test]
fn a_phase_that_nobody_described_is_the_arms_or_the_mixings_and_both_are_said() {
    let says = [
        "Both axes are turned alike",
        "A pitch arm that leads its blade by 100° does this",
        "If it stays there, the mixing makes it",
    ];
    phase("link_lead_deg = 100.0", 0.0, &says);
}

#[test]
fn a_phase_that_the_described_arm_makes_is_the_arms() {
    let says = ["Both axes are turned alike", "leads its blade by 100°, explains it", "Nothing needs to change."];
    phase("link_lead_deg = 100.0", -10.0, &says);
}

/// The mixer of the rig turns the plate's tilt in the direction of rotation, which is later: minus is earlier.
#[test]
fn a_phase_beyond_that_of_the_described_arm_is_the_mixings() {
    let says = [
        "Both axes are turned alike, by \u{2212}2",
        "leads its blade by 100°, explains \u{2212}10.0°. The mixing makes the other \u{2212}1",
    ];
    phase("link_lead_deg = 100.0, mixing_phase_deg = -15.0", -10.0, &says);
}

/// A servo arm that stands 40° off its square moves less for the same output (by cos 40°), on the left alone: elevator then tilts
/// the plate to the side and aileron not as much, which no arm and no phase of the mixing does. It carries collective along as
/// well, which three stations tell.
#[test]
fn unequal_servo_arms_turn_the_axes_against_each_other() {
    // Level, since travels that are known to 0.03° show the lean's second order.
    let scenario = OUT_OF_LEVEL
        .replace("nose_deg = 2.6, left_deg = -3.1", "nose_deg = 0.0, left_deg = 0.0")
        .replace("servos = { ", "servos = { arm_offset_deg = [0.0, 40.0, 0.0], ");
    let described = "control_phase_deg = 0.0\nstation_error_deg = 1.0";
    let says = ["Elevator and aileron are not square to each other", "unequal servo arms"];
    // The links' balls keep their distance on the leaning plate, which makes 0.1° three times per turn: at stations a third of a turn
    // apart that is alike, at quarters it would pass for amplitude.
    phase_of(&scenario, described, &["0", "120", "240"], &says);
}

#[test]
fn a_plain_head_has_no_phase() {
    phase("link_lead_deg = 90.0", 0.0, &["Both axes act as on a plain head: no phase is built in"]);
}

/// The spindle of a simulated head, read at these seats: its cell.
fn spindle(bend: f64, toward: f64, seats: &[&str]) -> Value {
    let scenario = format!(
        "seed = 3\nsensor.noise_density_ug_rthz = 150.0\n\
         head = {{ spindle_bend_deg = {bend}, spindle_bend_azimuth_deg = {toward}, link_span_mm = 25.0 }}\n"
    );
    let mut bench = Bench::new(&scenario, &head("at most 0.5"));
    bench.place("A", 0.0);
    let mut rest = seats.iter().skip(1);
    let named = seats.join(",");
    let mut words = vec!["spindle", "--blade", "A", "--station", "0"];
    if seats != ["0", "90", "180", "270"] {
        words.extend(["--seats", &named]);
    }
    let found = bench.guided(&words, |bench, line| {
        if line.starts_with("Turn the spindle") {
            let seat = rest.next().unwrap();
            bench.hands(&[&format!("spindle {seat} over 0.3"), "wait 0.5"]);
        }
        line.contains("press Enter")
    });
    let (record, code) = bench.json(&["check"]);
    assert_eq!(code, Some(1));
    assert!(record["cells"].as_array().unwrap().iter().any(|c| c["cell"] == "blade A spindle"));
    found["cell"].clone()
}

/// The head's bend is the simulation's own, made of rotation matrices.
#[test]
fn a_spindle_that_is_bent_across_is_found_at_quarter_turns() {
    let found = |cell: &Value, kind: &str| {
        let findings = cell["findings"].as_array().unwrap();
        findings.iter().find(|finding| finding["kind"] == kind).unwrap_or_else(|| panic!("no {kind}: {cell:#}")).clone()
    };
    for (bend, toward) in [(0.0, 0.0), (1.0, 0.0), (1.0, 90.0), (1.0, 215.0)] {
        let cell = spindle(bend, toward, &["0", "90", "180", "270"]);
        let (value, u) = (number(&cell["value_deg"]), number(&cell["expanded_uncertainty_deg"]));
        println!("bend {value:+.3}° ± {u:.3}°, truth {bend:+.3}° toward {toward}°");
        // The model stands level here, so that the station's part of U, which it does not know to be nothing, is idle.
        assert!((value - bend).abs() < 0.02 && u < 0.2, "{value} ± {u} for {bend}");
        assert_eq!(cell["verdict"], if bend > 0.5 { "outside" } else { "inside" });
        if bend > 0.5 {
            let found = number(&found(&cell, "bent_toward")["toward_deg"]);
            assert!(((found - toward + 180.0).rem_euclid(360.0) - 180.0).abs() < 2.0, "{cell:#}");
        }
    }
}

#[test]
fn two_seats_find_a_bend_in_their_plane_and_clear_none() {
    let bent = spindle(0.6, 0.0, &["0", "180"]);
    // The reading after the turn has the sign of the bend as the spindle then sits.
    assert!((number(&bent["value_deg"]) + 0.6).abs() < 0.02, "{bent:#}");
    assert_eq!(bent["verdict"], "outside");
    for (bend, toward) in [(0.0, 0.0), (1.0, 90.0)] {
        let cell = spindle(bend, toward, &["0", "180"]);
        assert_eq!(
            (&cell["verdict"], &cell["findings"][0]["kind"]),
            (&"undecided".into(), &"one_plane".into()),
            "{cell:#}"
        );
    }
}

async fn raw(path: &Path, captures: &[Uuid]) -> Vec<String> {
    let logbook = Logbook::open(&Location::from(path)).await.unwrap();
    let mut all = Vec::new();
    for capture in captures {
        all.push(format!("{:?}", logbook.raw_samples(*capture).await.unwrap()));
    }
    logbook.close().await;
    all
}

#[tokio::test]
async fn one_changed_coefficient_moves_the_cells_that_used_it_and_no_raw_sample() {
    let mut bench = Bench::new(OUT_OF_LEVEL, &head("at most 0.5"));
    bench.calibration("other", |_| ());
    bench.place("A", 90.0);
    let mut captures = Vec::new();
    let mut id = |document: Value| captures.push(document["id"].as_str().unwrap().parse::<Uuid>().unwrap());
    id(bench.capture(&["collective", "mid"], "bench"));
    id(bench.capture(&["elevator", "neutral"], "bench"));
    bench.hands(&["stick elevator 100 over 0.3", "wait 0.5"]);
    id(bench.capture(&["elevator", "up"], "bench"));
    bench.hands(&["stick elevator 0 over 0.3"]);
    bench.place("B", 90.0);
    id(bench.capture(&["collective", "mid", "--blade", "B"], "other"));
    bench.place("A", 0.0);
    id(bench.capture(&["aileron", "neutral", "--station", "0"], "other"));
    bench.hands(&["stick aileron 100 over 0.3", "wait 0.5"]);
    id(bench.capture(&["aileron", "right", "--station", "0"], "other"));
    let logbook = bench.path("logbook.sqlite");
    let before = raw(&logbook, &captures).await;
    let (bench_file, other_file) = (bench.path("bench.toml"), bench.path("other.toml"));
    let (bench_file, other_file) = (bench_file.to_str().unwrap(), other_file.to_str().unwrap());
    let recompute = ["setup", "recompute", "--calibration", bench_file, "--calibration", other_file];

    let (same, code) = bench.json(&recompute);
    assert_eq!(code, Some(0), "{same}");
    for capture in same["captures"].as_array().unwrap() {
        println!("unchanged: {} moved by {}", capture["capture"], capture["moved_deg"]);
        assert!(number(&capture["moved_deg"]).abs() < 0.01, "{capture}");
    }

    // 100 counts of offset along the chord: 100/16384 of a right angle's sine.
    let wanted = -(100.0f64 / 16_384.0).to_degrees();
    bench.calibration("bench", |calibration| calibration.offset[0] += 100.0);
    let (changed, code) = bench.json(&[&recompute[..], &["--keep"]].concat());
    assert_eq!(code, Some(0), "{changed}");
    let unmoved = |name: &str| number(&cell(&same, name)["moved_deg"]);
    let moved = |name: &str| number(&cell(&changed, name)["moved_deg"]) - unmoved(name);
    for name in ["blade A zero", "elevator up", "blade B zero", "aileron right", "track B - A"] {
        println!("{name} moved by {:+.6}°", moved(name));
    }
    assert!((moved("blade A zero") - wanted).abs() < 0.01);
    assert!(moved("elevator up").abs() > 1e-6, "a travel moves by what the offset's effect changes along it");
    assert_eq!(moved("blade B zero"), 0.0);
    assert_eq!(moved("aileron right"), 0.0);
    assert!((moved("track B - A") + wanted).abs() < 0.01, "one of its two blades used the coefficient");
    assert_eq!(raw(&logbook, &captures).await, before, "the raw samples are as they were");

    // What was kept counts from here on.
    let (record, _) = bench.json(&["check"]);
    let kept = record["cells"].as_array().unwrap().iter().find(|c| c["cell"] == "blade A zero").unwrap();
    assert_eq!(kept["value_deg"], cell(&changed, "blade A zero")["new_deg"]);
    assert!(bench.done(&["setup", "show"]).contains("recalculated: 6 captures"));
}

fn cell<'a>(document: &'a Value, name: &str) -> &'a Value {
    document["cells"].as_array().unwrap().iter().find(|c| c["cell"] == name).unwrap_or_else(|| panic!("{document}"))
}

/// A phase of the control turns the elevator's own station, and with it the one at which a spindle is read.
#[test]
fn a_spindle_is_read_where_the_elevator_is() {
    for (phase, station) in [("0.0", "station 90°"), ("20.0", "station 110°")] {
        let bench = support::bench::Bench::new();
        let described =
            support::bench::HEAD.replace("control_phase_deg = 0.0", &format!("control_phase_deg = {phase}"));
        let described = bench.write("head.toml", described);
        bench.done(&["setup", "new", "--head", &described, "--reason", "a test", "--cautions-read"]);
        let head = support::bench::SimulatedHead::start(&bench, "seed = 3\n");
        let mut spindle = bench.start(&["spindle", "--blade", "A", "--port", &head.port]);
        let asked = spindle.wait_for_said("Take the links off");
        assert!(asked.contains(station), "{phase}: {asked}");
    }
}
