//! `rotor --readings` as another program meets it: a table in, one JSON document and an exit code out.

use clinoblade::rotor::{Clip, Unknown};
use clinoblade::units::Angle;
use serde_json::Value;
use std::fmt::Write;
use std::path::Path;
use std::process::{Command, Output};
use support::rotor::{Dice, Head, head};

fn rotor(folder: &Path, table: &str, more: &[&str]) -> Output {
    let path = folder.join("round.csv");
    std::fs::write(&path, table).unwrap();
    Command::new(env!("CARGO_BIN_EXE_clinoblade"))
        .args(["rotor", "--readings", path.to_str().unwrap()])
        .args(more)
        .output()
        .unwrap()
}

fn document(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|e| panic!("{e}: {output:?}"))
}

/// A table of one head; noise in degrees, with a column of uncertainties where it is told.
fn table(head: &Head, dice: &mut Dice, turn_clip: bool, noise: f64, told: bool) -> String {
    let mut text = format!("# rotation={}\nblade,station_deg,clip,apparent_deg,span_deg", head.rotation);
    text += if told { ",u_apparent_deg,u_span_deg\n" } else { "\n" };
    for mut reading in head.survey(dice, turn_clip) {
        reading.apparent += Angle::from_degrees(noise * dice.normal());
        reading.span += Angle::from_degrees(noise * dice.normal());
        let u = if told { format!(",{noise},{noise}") } else { String::new() };
        let (blade, at) = (reading.blade.index() + 1, f64::from(reading.station));
        writeln!(
            text,
            "{blade},{at},{},{:.10},{:.10}{u}",
            reading.clip,
            reading.apparent.degrees(),
            reading.span.degrees()
        )
        .unwrap();
    }
    text
}

/// Every unknown of a document with its truth.
fn beside_truth(document: &Value, head: &Head, turn_clip: bool) -> Vec<(String, f64, f64)> {
    let number = |value: &Value| value.as_f64().unwrap();
    let mut rows = vec![
        (Unknown::Nose, number(&document["shaft_tilt"]["nose_deg"])),
        (Unknown::Left, number(&document["shaft_tilt"]["left_deg"])),
        (Unknown::Cos, number(&document["swash"]["cos_deg"])),
        (Unknown::Sin, number(&document["swash"]["sin_deg"])),
    ];
    if turn_clip {
        rows.push((Unknown::ClipOffset, number(&document["clip_offset_deg"])));
        rows.push((Unknown::ClipSpanOffset, number(&document["clip_span_offset_deg"])));
    }
    for (index, blade) in document["blades"].as_array().unwrap().iter().enumerate() {
        assert_eq!(blade["blade"], index + 1);
        let name = clinoblade::rotor::BladeName::from_index(index).unwrap();
        rows.push((Unknown::Collective(name), number(&blade["collective_deg"])));
        rows.push((Unknown::Droop(name), number(&blade["droop_deg"])));
    }
    rows.into_iter().map(|(unknown, value)| (unknown.to_string(), value, head.truth(unknown, turn_clip))).collect()
}

#[test]
fn noiseless_tables_come_back_and_noisy_ones_err_as_much_as_they_say() {
    let folder = tempfile::tempdir().unwrap();
    let mut dice = Dice(8_128);
    let (mut worst, mut squares, mut count) = (0.0f64, 0.0, 0);
    for case in 0..48 {
        let turn_clip = case % 2 == 0;
        let head = head(&mut dice, 2 + case % 4, turn_clip);
        let exact = rotor(folder.path(), &table(&head, &mut dice, turn_clip, 0.0, false), &["--json"]);
        assert_eq!(exact.status.code(), Some(0));
        for (name, value, truth) in beside_truth(&document(&exact), &head, turn_clip) {
            worst = worst.max((value - truth).abs());
            assert!((value - truth).abs() < 1e-6, "{name}: {value} for {truth}");
        }
        let noisy = rotor(folder.path(), &table(&head, &mut dice, turn_clip, 0.05, case % 3 == 0), &["--json"]);
        assert_eq!(noisy.status.code(), Some(0));
        let noisy = document(&noisy);
        for (name, value, truth) in beside_truth(&noisy, &head, turn_clip) {
            squares += ((value - truth) / noisy["standard_errors"][&name].as_f64().unwrap()).powi(2);
            count += 1;
        }
        let split = head.blades[0].0 - head.blades[1].0;
        assert!((document(&exact)["track_split_deg"].as_f64().unwrap() - split).abs() < 1e-6);
    }
    let ratio = (squares / f64::from(count)).sqrt();
    println!("48 tables without noise: {worst:.1e}° at most; with noise rms(error / standard error) {ratio:.3}");
    assert!((0.85..1.15).contains(&ratio), "{ratio}");
}

#[test]
fn the_two_stations_along_the_boom_are_refused_by_name() {
    let folder = tempfile::tempdir().unwrap();
    let mut dice = Dice(11);
    let head = head(&mut dice, 2, false);
    let mut text = "blade,station_deg,clip,apparent_deg,span_deg\n".to_owned();
    for blade in 0..2 {
        for azimuth in [0.0, 180.0] {
            let (apparent, span) = head.read(blade, azimuth, Clip::Forward);
            writeln!(text, "{},{azimuth},forward,{apparent:.9},{span:.9}", ["A", "B"][blade]).unwrap();
        }
    }
    let rotation = head.rotation.to_string();
    let refused = rotor(folder.path(), &text, &["--rotation", &rotation, "--json"]);
    assert_eq!(refused.status.code(), Some(1));
    let refused = document(&refused);
    let named: Vec<&str> = refused["unobservable"].as_array().unwrap().iter().map(|n| n.as_str().unwrap()).collect();
    for name in ["left_deg", "cos_deg", "sin_deg"] {
        assert!(named.contains(&name), "{named:?}");
    }
    assert!(refused["swash"]["amplitude_deg"].is_null() && refused["shaft_tilt"]["left_deg"].is_null());
    let suggested = refused["suggest"][0].as_f64().unwrap();
    assert!(suggested == 90.0 || suggested == 270.0);
    let said = rotor(folder.path(), &text, &["--rotation", &rotation]);
    let said = String::from_utf8(said.stdout).unwrap();
    assert!(said.contains("do not tell") && said.contains(&format!("at station {suggested}°")), "{said}");
}

#[test]
fn a_bad_table_is_answered_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let good = "# rotation=clockwise\nblade,station_deg,clip,apparent_deg,span_deg\n";
    for (text, wanted) in [
        (format!("{good}A,0,forward,1.0,0\nA,ninety,forward,1.0,0\n"), "line 4, station_deg"),
        (format!("{good}A,0,sideways,1.0,0\n"), "line 3, clip"),
        (format!("{good}A,0,forward,1.0\n"), "line 3 has 4 fields"),
        (format!("{good}A,0,forward,nan,0\n"), "line 3"),
        (format!("{good}A,0,forward,1.0,0\nA,9000,forward,1.0,0\n"), "line 4, station_deg"),
        (format!("{good}A,0,forward,400,0\n"), "line 3, apparent_deg"),
        ("blade,station_deg,clip,apparent_deg,span_deg\nA,0,forward,1,0\n".to_owned(), "which way does the rotor turn"),
        ("# rotation=clockwise\nblade,station_deg\n".to_owned(), "line 2: the table has no column 'clip'"),
        (String::new(), "empty"),
    ] {
        let output = rotor(folder.path(), &text, &["--json"]);
        let said = format!("{}{}", String::from_utf8_lossy(&output.stderr), String::from_utf8_lossy(&output.stdout));
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains(wanted) && said.contains("round.csv"), "{said}");
    }
}

#[test]
fn a_file_that_is_no_text_is_no_table_of_readings() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.xlsx");
    std::fs::write(&path, [0x50, 0x4b, 3, 4, 0xff, 0xfe, 0x80, 0]).unwrap();
    let output =
        Command::new(env!("CARGO_BIN_EXE_clinoblade")).arg("rotor").arg("--readings").arg(&path).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("sheet.xlsx is not a table of readings"), "{said}");
}

#[test]
fn the_signs_of_a_split_are_said_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let head = head(&mut Dice(17), 2, false);
    let output = rotor(folder.path(), &table(&head, &mut Dice(19), false, 0.0, false), &[]);
    let said = String::from_utf8(output.stdout).unwrap();
    let higher = if head.blades[0].0 > head.blades[1].0 { "+" } else { "\u{2212}" };
    let line = said.lines().find(|line| line.starts_with("track split 1 less 2: ")).unwrap();
    assert!(line.starts_with(&format!("track split 1 less 2: {higher}")), "{line}");
    assert!(line.contains("positive: blade 1 stands higher") && line.contains("say 2 less 1"), "{line}");
}

#[test]
fn the_plot_shows_every_reading_and_a_fit_for_every_blade() {
    let folder = tempfile::tempdir().unwrap();
    let mut dice = Dice(13);
    let head = head(&mut dice, 3, false);
    let text = table(&head, &mut dice, false, 0.02, false);
    let picture = folder.path().join("rotor.svg");
    let output = rotor(folder.path(), &text, &["--plot", picture.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0));
    let svg = std::fs::read_to_string(&picture).unwrap();
    let readings = text.lines().count() - 2;
    assert_eq!(svg.matches("<circle").count(), readings, "a dot for every reading");
    assert_eq!(svg.matches("<polyline").count(), 3);
    assert!(svg.contains("blade 3, fitted"));
}
