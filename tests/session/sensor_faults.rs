//! A sensor that sends what cannot be true is told of, by every command, and no reading is made of it.

use std::fmt::Write;
use support::bench::{Answer, Bench, calibration};
use support::dice::Dice;

/// One g in counts.
const G: f64 = 16384.0;
/// The blade's pitch, degrees.
const PITCH: f64 = 11.5;

/// What the sensor measures of a blade at rest, with its noise of 1 mg.
fn at_rest(dice: &mut Dice) -> [f64; 3] {
    let mut noise = || (0..12).map(|_| dice.between(0, 1001) as f64 / 1000.0).sum::<f64>() - 6.0;
    let (chord, normal) = PITCH.to_radians().sin_cos();
    [G * (chord + 0.001 * noise()), G * 0.001 * noise(), G * (normal + 0.001 * noise())]
}

/// A recording at 200 Hz, as the firmware sends it.
fn recording(seconds: u32, mut sends: impl FnMut(u32, [f64; 3]) -> [f64; 3]) -> String {
    let mut dice = Dice::new(20_261_130);
    let mut text = String::new();
    for k in 0..seconds * 200 {
        let [x, y, z] = sends(k, at_rest(&mut dice)).map(|counts| counts.round().clamp(-32767.0, 32767.0));
        let sentence = format!("PCLIN,{},{},{x:.0},{y:.0},{z:.0}", k % 65536, 5000 * k);
        let checksum = sentence.bytes().fold(0, |sum, byte| sum ^ byte);
        write!(text, "${sentence}*{checksum:02X}\r\n").unwrap();
    }
    text
}

/// A bench with this recording, and a calibration of the sensor.
struct Told {
    bench: Bench,
    log: String,
    calibration: String,
}

impl Told {
    fn of(text: &str) -> Self {
        let bench = Bench::with_setup();
        let log = bench.write("sensor.log", text);
        let calibration = bench.write("clip.toml", calibration("club clip"));
        Self { bench, log, calibration }
    }

    fn run(&self, words: &[&str]) -> Answer {
        self.bench.run(&[words, &["--replay", &self.log, "--calibration", &self.calibration]].concat())
    }

    fn bare(&self, words: &[&str]) -> Answer {
        self.bench.run(&[words, &["--replay", &self.log]].concat())
    }
}

/// Commands that make readings.
const READING: [&[&str]; 4] = [
    &["read", "--within", "5"],
    &["capture", "elevator", "neutral", "--within", "5"],
    &["datum", "surface", "--station", "90", "--within", "5"],
    &["sweep", "elevator"],
];

#[track_caller]
fn refused_by_all(told: &Told, because: &str) {
    for words in READING {
        let answer = told.run(words);
        assert!(answer.code != 0 && answer.stderr.contains(because), "{words:?}\n{answer}");
    }
    let answer = told.run(&["watch", "--plain", "--for", "4"]);
    assert!(answer.stdout.contains(because), "{answer}");
    let last = answer.stdout.lines().last().unwrap();
    assert!(!last.contains('°'), "no angle is shown: {last}");
}

#[test]
fn halved_counts_are_no_gravity_for_a_calibrated_sensor_and_none_without_a_calibration() {
    let told = Told::of(&recording(6, |_, counts| counts.map(|count| count / 2.0)));
    refused_by_all(&told, "0.500 g instead of 1 g");
    let answer = told.bare(&["read"]);
    assert!(answer.code == 1 && answer.stderr.contains("counts per g are wrong"), "{answer}");
}

#[test]
fn a_dead_a_frozen_and_a_stuck_sensor_are_told_as_what_they_are() {
    refused_by_all(&Told::of(&recording(6, |_, _| [0.0; 3])), "sends 0, 0, 0");
    let (chord, normal) = (3f64.to_radians().sin() * G, 3f64.to_radians().cos() * G);
    refused_by_all(&Told::of(&recording(6, |_, _| [chord, 5.0, normal])), "The sensor is frozen");
    let swinging = |k: u32, [_, y, z]: [f64; 3]| [chord, y, z - 60.0 * (f64::from(k) / 60.0).sin().powi(2)];
    refused_by_all(&Told::of(&recording(6, swinging)), "Axis x of the sensor is stuck");
}

#[test]
fn a_saturated_axis_ends_a_reading_in_time_and_shows_no_angle() {
    let told = Told::of(&recording(8, |_, [x, y, _]| [x, y, 32767.0]));
    for words in &READING[..3] {
        let answer = told.run(words);
        assert!(
            answer.code != 0 && answer.stderr.contains("Axis z of the sensor is at the end"),
            "{words:?}\n{answer}"
        );
    }
    let answer = told.run(&["watch", "--plain", "--for", "4"]);
    assert!(answer.stdout.lines().last().unwrap().contains("at the end of its range"), "{answer}");
}

#[test]
fn a_sound_sensor_reads_its_angle_with_and_without_a_calibration() {
    let told = Told::of(&recording(6, |_, counts| counts.map(|count| 1.01 * count)));
    for answer in [told.run(&["read", "--json"]), told.bare(&["read", "--json"])] {
        assert_eq!(answer.code, 0, "{answer}");
        let angle = answer.json()["angle_deg"].as_f64().unwrap();
        assert!((angle - PITCH).abs() < 0.05, "{answer}");
    }
    assert_eq!(told.run(&["capture", "elevator", "neutral", "--as-read"]).code, 0);
    let watched = told.run(&["watch", "--plain", "--for", "4"]);
    let last = watched.stdout.lines().last().unwrap();
    assert!(last.contains("+11.") && last.contains("still for"), "{watched}");
}

#[test]
fn no_picture_and_no_document_takes_the_place_of_the_logbook() {
    let told = Told::of(&recording(20, |_, counts| counts));
    for direction in ["neutral", "up"] {
        let capture = told.run(&["capture", "elevator", direction, "--as-read"]);
        assert_eq!(capture.code, 0, "{capture}");
    }
    // Another club's, which no command has open.
    let logbook = told.bench.path("club.sqlite");
    std::fs::copy(told.bench.logbook(), &logbook).unwrap();
    let path = logbook.to_str().unwrap();
    let whole = std::fs::read(&logbook).unwrap();
    let rows = [(1.0, -1.0), (1.5, -0.5), (1.1, -1.1), (0.4, -1.5)].into_iter().zip([0, 90, 180, 270]);
    let mut table = "# rotation=clockwise\nblade,station_deg,clip,apparent_deg,span_deg\n".to_owned();
    for ((apparent, span), station) in rows {
        writeln!(table, "1,{station},forward,{apparent},{span}\n2,{station},forward,{},{span}", apparent + 0.2)
            .unwrap();
    }
    let table = told.bench.write("table.csv", table);
    let commands: [&[&str]; 4] = [
        &["history", "Workshop trainer", "--cell", "elevator up", "--plot"],
        &["sensor", "check", "--replay", &told.log, "--plot"],
        &["rotor", "--readings", &table, "--plot"],
        &["rig", "--tcp", "127.0.0.1:0", "--end-with-input", "--truth"],
    ];
    for words in commands {
        let answer = told.bench.run(&[words, &[path]].concat());
        assert!(std::fs::read(&logbook).unwrap() == whole, "{words:?} wrote over the logbook\n{answer}");
        assert!(answer.code == 2 && answer.stderr.contains("another kind"), "{words:?}\n{answer}");
        let picture = told.bench.path("new.file");
        let answer = told.bench.run(&[words, &[picture.to_str().unwrap()]].concat());
        let again = told.bench.run(&[words, &[picture.to_str().unwrap()]].concat());
        assert!(answer.code < 2 && again.code == answer.code && picture.exists(), "{words:?}\n{answer}\n{again}");
        std::fs::remove_file(picture).unwrap();
    }
}
