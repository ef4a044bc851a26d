//! What lies in `examples/` and stands in the README is what the program really reads and runs.

use clinoblade::rig::Rig;
use clinoblade::units::Seconds;
use serde_json::Value;
use support::bench::{Bench, calibration, number, recorded};
use support::place::project;

const LOG: &str = "examples/blade-rest.log";
const SCENARIO: &str = "examples/blade-rest-scenario.toml";
const LASTS: f64 = 8.0;

fn text(path: &str) -> String {
    std::fs::read_to_string(project(path)).unwrap()
}

/// Apparent pitch of blade A at a moment of the recorded scenario, degrees.
fn truth(at: f64) -> f64 {
    let mut rig = Rig::new(text(SCENARIO).parse().unwrap()).unwrap();
    rig.advance(Seconds::new(at), &mut Vec::new());
    rig.truth().blades[0].apparent_deg.degrees()
}

/// Run with `-- --ignored` to record the log anew after the scenario was changed.
#[test]
#[ignore = "writes examples/blade-rest.log"]
fn record_the_example_log() {
    std::fs::write(project(LOG), recorded(&text(SCENARIO), LASTS)).unwrap();
    println!("truth: {:.3} at rest, {:.3} with the stick over", truth(2.0), truth(LASTS));
}

#[test]
fn the_recorded_log_is_what_its_scenario_sends() {
    let log = std::fs::read(project(LOG)).unwrap();
    assert!(log.len() < 60_000, "{} bytes", log.len());
    assert!(
        log == recorded(&text(SCENARIO), LASTS),
        "same seed, same bytes: record it anew if the scenario was changed"
    );
}

#[test]
fn the_recorded_log_reads_what_its_description_says() {
    let described = text("examples/blade-rest.expected.md");
    for (angle, at) in [("at rest", 2.0), ("held over", LASTS)] {
        let line = described.lines().find(|line| line.starts_with(&format!("| {angle}"))).unwrap();
        let stated: f64 = line.split('|').nth(3).unwrap().trim().parse().unwrap();
        assert!((stated - truth(at)).abs() < 0.0006, "{line}: truly {}", truth(at));
    }
    let bench = Bench::new();
    let log = project(LOG).display().to_string();
    let read = bench.json(&["read", "--replay", &log, "--want", "0.02"]);
    let error = (number(&read["angle_deg"]) - truth(2.0)).abs();
    assert!(error <= 3.0 * number(&read["components"]["repeat"]), "{read:#}");
    assert!(number(&read["finished_at_s"]) < 3.0 && read["damaged_frames"] == 0 && read["lost_samples"] == 0);
    // The live value goes from one rest to the other.
    let updates = bench.json(&["watch", "--replay", &log, "--rate", "10"]);
    let last = updates.as_array().unwrap().last().unwrap();
    assert!((number(&last["angle_deg"]) - truth(LASTS)).abs() < 0.1 && last["steady"] == true, "{last:#}");
    let moving = |update: &&Value| (3.2..3.6).contains(&number(&update["clock_s"])) && update["steady"] == true;
    assert_eq!(updates.as_array().unwrap().iter().filter(moving).count(), 0, "nothing is steady while the stick moves");
}

#[test]
fn every_example_is_read() {
    let bench = Bench::new();
    let (mut heads, mut scenarios) = (0, 0);
    for entry in std::fs::read_dir(project("examples")).unwrap() {
        let path = entry.unwrap().path();
        let (name, file) = (path.file_name().unwrap().to_str().unwrap(), path.display().to_string());
        if name.starts_with("head-") {
            heads += 1;
            bench.json(&["head", "show", &file]);
        } else if path.extension().is_some_and(|ext| ext == "toml") {
            scenarios += 1;
            Rig::new(std::fs::read_to_string(&path).unwrap().parse().unwrap()).unwrap();
        }
    }
    assert!(heads >= 2 && scenarios >= 2, "{heads} heads, {scenarios} scenarios");
    for entry in std::fs::read_dir(project("examples/profiles")).unwrap() {
        let profile = entry.unwrap().path().display().to_string();
        // A profile that cannot be read is wrong use; a log that it does not fit is a failure of the link.
        let answer = bench.run(&["read", "--replay", &project(LOG).display().to_string(), "--profile", &profile]);
        assert!(answer.code != 2, "{profile}: {answer}");
    }
}

/// The words of a command line, quotes taken off.
fn words(line: &str) -> Vec<String> {
    let quoted = line.split('"').enumerate();
    let words = quoted.flat_map(|(n, part)| match n % 2 {
        0 => part.split_whitespace().map(str::to_owned).collect::<Vec<_>>(),
        _ => vec![part.to_owned()],
    });
    words.collect()
}

/// The README's walk, step by step, in a fresh folder. Where it says which port, the recorded log takes its place.
#[test]
fn every_command_of_the_readme_runs() {
    let bench = Bench::new();
    let readme = text("README.md");
    let lines: Vec<&str> = readme.lines().map(str::trim).filter(|line| line.starts_with("clinoblade ")).collect();
    assert!(lines.len() >= 18, "the walk has its steps: {lines:#?}");
    let log = project(LOG).display().to_string();
    for line in lines {
        let mut words = words(line.strip_prefix("clinoblade ").unwrap());
        if words.iter().any(|word| word == "reseat") {
            // Needs a hand that takes the clip off and puts it on again.
            words.truncate(words.len() - 2);
            words.extend(["--tcp".to_owned(), "127.0.0.1:1".to_owned()]);
        } else if words.iter().any(|word| word == "calibrate") {
            // Needs a sensor that is turned in the hand: that it gets as far as looking for one is enough here.
            words.truncate(words.len() - 2);
            words.extend(["--tcp".to_owned(), "127.0.0.1:1".to_owned()]);
        } else if let Some(at) = words.iter().position(|word| word == "--port") {
            words.splice(at..at + 2, ["--replay".to_owned(), log.clone()]);
        } else if words[0] == "capture" || words[0] == "sweep" {
            words.extend(["--replay".to_owned(), log.clone()]);
        } else if words[0] == "datum" {
            words.extend(["--tcp".to_owned(), "127.0.0.1:1".to_owned()]);
        }
        if words.iter().any(|word| word == "default") {
            bench.write("clip.toml", calibration("clip"));
        }
        let arguments: Vec<&str> = words.iter().map(String::as_str).collect();
        let answer = bench.run(&arguments);
        // A recorded main blade is no tail blade and does not move with every stick: refusing that is right (1).
        let allowed: &[i32] = match arguments.as_slice() {
            ["capture", "collective", ..] | ["capture", _, "neutral", "--blade", "A", "--station", ..] => &[0],
            ["capture", ..] | ["check" | "advise" | "sweep" | "history", ..] | ["rotor", "--phase"] => &[0, 1],
            // The recorded sensor moves half way: no record at rest.
            ["sensor", "check", ..] => &[0, 1],
            ["datum", "reversal", ..] | ["sensor", "calibrate" | "reseat", ..] => &[3],
            _ => &[0],
        };
        assert!(allowed.contains(&answer.code), "{line}\n{answer}");
    }
    let listed = bench.json(&["setup", "list"]);
    let reasons: Vec<&str> = (0..2).map(|at| listed["setups"][at]["reason"].as_str().unwrap()).collect();
    assert_eq!(reasons, ["after the winter", "new links"]);
}

/// The first command of the README is the demo; the next test of the demo runs it, here it only has to be understood.
#[test]
fn the_readmes_first_command_is_understood() {
    let readme = text("README.md");
    let line = readme.lines().map(str::trim).find(|line| line.starts_with("cargo run")).unwrap();
    let (_, arguments) = line.split_once(" -- ").unwrap();
    let arguments: Vec<&str> = arguments.split(' ').chain(["--help"]).collect();
    Bench::new().done(&arguments);
}
