//! The sensor on the bench, from its bytes to the printed line: health, calibration, the clip's seat. The simulated head
//! knows what is true.

use clinoblade::rig::Rig;
use clinoblade::sensor::poses::{Facing, guided};
use clinoblade::sensor::{Calibration, Model};
use clinoblade::stream::{Profile, SampleDecoder};
use clinoblade::units::Seconds;
use nalgebra::{Matrix3, Vector3};
use serde_json::Value;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Offsets of ±80 mg, scales of ±5 %, axes that lean by 2°.
const POOR: &str = "
offset_mg = [80.0, -65.0, 40.0]
scale_percent = [5.0, -5.0, 3.0]
cross_axis_deg = [2.0, -1.5, 2.0]
";
const NOISE: &str = "noise_density_ug_rthz = 200.0\n";

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_clinoblade")).args(arguments).output().unwrap()
}

fn said(output: &Output) -> (Option<i32>, String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

/// The answer of a command with `--json`, which must end with this code.
fn answer(arguments: &[&str], code: i32) -> Value {
    let (ended, out, err) = said(&run(&[&["--json"], arguments].concat()));
    assert_eq!(ended, Some(code), "{out}\n{err}");
    serde_json::from_str(&out).unwrap()
}

fn path(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The rig's words for turning a direction of the sensor up: rolled about x, then pitched about its y, the vertical
/// stands along (−cos r·sin p, sin r, cos r·cos p).
fn pose(facing: Facing) -> String {
    let [x, y, z] = facing.unit();
    format!("pose {:.1} {:.1}", y.asin().to_degrees(), (-x).atan2(z).to_degrees())
}

/// A scenario in which hands seat the clip so, one after the other.
fn turned(folder: &Path, sensor: &str, more: &str, seats: &[String], every: f64) -> PathBuf {
    let events = seats.iter().enumerate().map(|(i, seat)| {
        format!(
            "[[timeline]]\nat_s = {:.2}\ncommand = \"{seat}{}\"\n",
            every * i as f64,
            if seat.starts_with("wait") { "" } else { " over 0.4" }
        )
    });
    let end = format!("[[timeline]]\nat_s = {:.2}\ncommand = \"quit\"\n", every * seats.len() as f64);
    let file = folder.join("scenario.toml");
    std::fs::write(&file, format!("{more}\n[sensor]\n{sensor}\n{}{end}", events.collect::<String>())).unwrap();
    file
}

fn tumbled(facings: &[Facing]) -> Vec<String> {
    facings.iter().map(|facing| format!("clip {}", pose(*facing))).collect()
}

/// Counts of a sensor, free of noise, in each of many attitudes.
fn counts(sensor: &str) -> Vec<[f64; 3]> {
    let mut rig = Rig::new(format!("[sensor]\n{sensor}").parse().unwrap()).unwrap();
    let mut all = Vec::new();
    for roll in (-170..180).step_by(40) {
        for pitch in (-80..90).step_by(32) {
            rig.command(&format!("clip pose {roll} {pitch}")).unwrap();
            let mut bytes = Vec::new();
            rig.advance(rig.now() + Seconds::new(0.02), &mut bytes);
            all.push(SampleDecoder::all(&Profile::sentence(), &bytes).0.last().unwrap().counts);
        }
    }
    all
}

/// Root mean square, over the sphere, of the angle between what the calibration says and the truth, degrees; how the axes
/// sit in the case, which no tumble shows, is taken out when asked.
fn error(calibration: &Calibration, sensor: &str, is_turn_free: bool) -> f64 {
    let found: Vec<Vector3<f64>> = counts(sensor).iter().map(|raw| Vector3::from(calibration.apply(*raw).0)).collect();
    let truth: Vec<Vector3<f64>> = counts("").iter().map(|raw| Vector3::from(*raw).normalize()).collect();
    assert!(truth.len() > 40);
    let product: Matrix3<f64> = found.iter().zip(&truth).map(|(f, t)| f * t.transpose()).sum();
    let svd = product.svd(true, true);
    let turn = if is_turn_free { svd.u.unwrap() * svd.v_t.unwrap() } else { Matrix3::identity() };
    let squares: f64 = found.iter().zip(&truth).map(|(f, t)| f.angle(&(turn * t)).powi(2)).sum();
    (squares / truth.len() as f64).sqrt().to_degrees()
}

#[test]
fn twelve_rests_bring_a_poor_sensor_within_a_twentieth_of_a_degree() {
    let folder = tempfile::tempdir().unwrap();
    let scenario = turned(folder.path(), &format!("{POOR}{NOISE}"), "seed = 5", &tumbled(&guided(12)), 4.0);
    let (out, log) = (folder.path().join("clip 2.toml"), folder.path().join("tumble.log"));
    let arguments = ["sensor", "calibrate", "tumble", "--out", path(&out), "--sensor", "clip 2"];
    let rig = ["--rig", path(&scenario), "--save-raw", path(&log)];
    let found = answer(&[&arguments[..], &rig].concat(), 0);
    let calibration = Calibration::from_toml(&std::fs::read_to_string(&out).unwrap()).unwrap();
    let rms = error(&calibration, POOR, true);
    println!("{rms:.4}° RMS over the sphere; {found}");
    assert!(rms < 0.05, "{rms}");
    assert_eq!(
        (calibration.model, calibration.name.as_str(), calibration.sensor.as_str()),
        (Model::Full, "clip 2", "clip 2")
    );
    assert_eq!(found["poses"], 12);
    assert!(found["residual_rms_mg"].as_f64().unwrap() < 1.0);
    assert!(found["u_travel_deg"].as_f64().unwrap() < 0.05);
    assert!(error(&Calibration::nominal(16384.0), POOR, true) > 1.0, "it was a poor sensor");

    // The recording gives the same once more, and never over what is there.
    let (code, _, words) = said(&run(&[&arguments[..], &["--replay", path(&log)]].concat()));
    assert_eq!(code, Some(2));
    assert!(words.contains("not overwritten"), "{words}");
    let again = folder.path().join("again.toml");
    answer(&["sensor", "calibrate", "tumble", "--out", path(&again), "--replay", path(&log)], 0);
    let again = Calibration::from_toml(&std::fs::read_to_string(&again).unwrap()).unwrap();
    assert_eq!((again.offset, again.matrix), (calibration.offset, calibration.matrix));
}

#[test]
fn the_person_is_led_from_rest_to_rest() {
    let folder = tempfile::tempdir().unwrap();
    let mut seats = tumbled(&guided(7));
    // Once nearly as before.
    seats.insert(3, "clip pose 90 0".to_owned());
    seats.insert(4, "clip pose 100 4".to_owned());
    let scenario = turned(folder.path(), &format!("{POOR}{NOISE}"), "", &seats, 4.0);
    let out = folder.path().join("seven.toml");
    let arguments = ["sensor", "calibrate", "tumble", "--poses", "7", "--out", path(&out), "--rig", path(&scenario)];
    let (code, text, led) = said(&run(&arguments));
    assert_eq!(code, Some(0), "{led}");
    assert!(text.contains("offsets and scales only") && text.contains("Residual"), "{text}");
    assert!(led.contains("1 of 7: +z straight up") && led.contains("% of the sphere covered"), "{led}");
    assert!(led.contains("Nearly as before"), "{led}");
    assert_eq!(led.matches("Recorded: ").count(), 7);
    let kept = Calibration::from_toml(&std::fs::read_to_string(&out).unwrap()).unwrap();
    assert_eq!(kept.model, Model::OffsetsAndScales);
}

#[test]
fn a_cable_pulled_in_the_middle_of_a_tumble_loses_no_rest() {
    let bench = support::bench::Bench::new();
    let mut head = support::bench::SimulatedHead::start(&bench, &format!("seed = 8\nsensor = {{ {} }}", NOISE.trim()));
    let out = bench.name("whole.toml");
    let port = head.port.clone();
    let mut run = bench.start(&["sensor", "calibrate", "tumble", "--poses", "12", "--out", &out, "--port", &port]);
    run.wait_for_said("1 of 12");
    for (taken, seat) in tumbled(&guided(12)).iter().enumerate() {
        head.tell(&format!("{seat} over 0.3"));
        run.wait_for_said("Recorded: ");
        if taken == 3 {
            head.tell("unplug");
            run.wait_for_said("waiting for the sensor");
            head.tell("replug");
            run.wait_for_said("The sensor is back");
        }
    }
    let ended = run.end(support::bench::LONG);
    assert_eq!(ended.code, 0, "{ended}");
    // Every rest once: the one in which the cable was pulled is not taken for a new one.
    assert!(!ended.stderr.contains("Nearly as before"), "{ended}");
    let kept = Calibration::from_toml(&std::fs::read_to_string(&out).unwrap()).unwrap();
    assert_eq!(kept.model, Model::Full);
}

#[test]
fn a_calibration_is_not_found_on_top_of_another() {
    let bench = support::bench::Bench::new();
    let other = bench.write("other.toml", support::bench::calibration("other"));
    let out = bench.name("new.toml");
    let refused =
        bench.run(&["sensor", "calibrate", "tumble", "--out", &out, "--calibration", &other, "--replay", "never.log"]);
    assert_eq!(refused.code, 2, "{refused}");
    assert!(refused.stderr.contains("Leave --calibration out"), "{refused}");
}

/// At a terminal the person says when the clip sits; what the sensor saw on its way there is no seating.
#[test]
fn a_re_seat_study_at_a_terminal_waits_for_enter() {
    let bench = support::bench::Bench::new();
    let mut head = support::bench::SimulatedHead::start(
        &bench,
        &format!("seed = 9\nsensor = {{ {} }}\nclip = {{ reseat_deg = 0.05 }}", NOISE.trim()),
    );
    let (mut keys, terminal) = terminal();
    let port = head.port.clone();
    let mut command = bench.command(&["sensor", "reseat", "--times", "3", "--port", &port]);
    command.stdin(terminal);
    let mut run = support::bench::Running::new(command);
    for (blade, station) in [("A", 90.0), ("B", 270.0)] {
        run.wait_for_said("Press Enter when it is on");
        // In the hand, and at rest there for longer than a reading takes.
        head.tell("clip pose 20 40 over 0.3");
        head.tell("wait 2.5");
        head.tell(&format!("head {station}"));
        head.tell(&format!("clip {blade} over 0.3"));
        head.tell("wait 0.5");
        keys.write_all(b"\n").unwrap();
        for seating in 1..=3 {
            run.wait_for_said(&format!("{seating} of 3"));
            if seating < 3 {
                head.tell("clip pose 20 40 over 0.3");
                head.tell("wait 0.6");
                head.tell(&format!("clip {blade} over 0.3"));
            }
        }
    }
    // What was found is shown before it is kept.
    let asked = run.wait_for_said("Save it for every later reading");
    assert!(!asked.contains("from the others"), "{asked}");
    keys.write_all(b"y\n").unwrap();
    let ended = run.end(support::bench::LONG);
    assert_eq!(ended.code, 0, "{ended}");
    assert!(ended.stdout.contains("6 seatings on 2 blades") && ended.stdout.contains("Saved: "), "{ended}");
}

/// The two sides of a terminal: what is typed, and what a program reads from.
fn terminal() -> (std::fs::File, std::fs::File) {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    let typed = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&typed).unwrap();
    unlockpt(&typed).unwrap();
    let name = ptsname(&typed, Vec::new()).unwrap();
    let read = std::fs::File::options().read(true).write(true).open(name.to_str().unwrap()).unwrap();
    (typed.into(), read)
}

#[test]
fn poses_about_one_axis_are_refused_with_the_one_that_would_help() {
    let folder = tempfile::tempdir().unwrap();
    let round: Vec<Facing> = Facing::all().filter(|facing| facing.unit()[1].abs() < 0.1).collect();
    assert_eq!(round.len(), 8);
    let scenario = turned(folder.path(), &format!("{POOR}{NOISE}"), "", &tumbled(&round), 4.0);
    let out = folder.path().join("never.toml");
    let arguments = ["sensor", "calibrate", "tumble", "--poses", "8", "--out", path(&out), "--rig", path(&scenario)];
    let (code, _, words) = said(&run(&arguments));
    assert_eq!(code, Some(1), "{words}");
    assert!(words.contains("part of the sphere unseen") && words.contains("y straight up as well"), "{words}");
    assert!(!out.exists());
    let (code, _, words) = said(&run(&["sensor", "calibrate", "tumble", "--poses", "5", "--out", path(&out)]));
    assert_eq!(code, Some(2));
    assert!(words.contains("too few"), "{words}");
}

/// In real time, through a pseudo-terminal.
#[test]
fn six_faces_on_a_port_show_how_the_axes_sit_in_the_case() {
    let folder = tempfile::tempdir().unwrap();
    // Laid round after round: on a busy machine a side may go by before it is read, and comes again.
    let round = ["+x", "-x", "+y", "-y", "+z", "-z"].map(|face| format!("clip face {face}"));
    let faces = vec![round; 10].concat();
    let tilted = format!("{POOR}misalignment_deg = [1.5, -2.0, 1.0]\n");
    let scenario = turned(folder.path(), &format!("{tilted}{NOISE}"), "", &faces, 3.0);
    let link = folder.path().join("sensor");
    let mut rig = Command::new(env!("CARGO_BIN_EXE_clinoblade"))
        .args(["rig", path(&scenario), "--link", path(&link)])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let begun = std::time::Instant::now();
    while !link.exists() {
        assert!(begun.elapsed() < support::bench::LONG, "the simulated head never came up");
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    let out = folder.path().join("faces.toml");
    let found =
        answer(&["sensor", "calibrate", "faces", "--square", "0.02", "--out", path(&out), "--port", path(&link)], 0);
    rig.kill().unwrap();
    rig.wait().unwrap();
    let calibration = Calibration::from_toml(&std::fs::read_to_string(&out).unwrap()).unwrap();
    let rms = error(&calibration, &tilted, false);
    println!("{rms:.4}° RMS over the sphere, the case's axes included; {found}");
    assert!(rms < 0.05, "{rms}");
    assert_eq!(calibration.model, Model::Faces);
}

#[test]
fn a_health_check_says_what_the_scenario_put_in() {
    let folder = tempfile::tempdir().unwrap();
    let more = "stream = { jitter_ms = 0.1, loss_percent = 0.5, damage_percent = 0.3 }";
    let scenario =
        turned(folder.path(), "noise_density_ug_rthz = 150.0\nflicker_mg = 0.2\n", more, &["wait 0".into()], 70.0);
    let plot = folder.path().join("allan.svg");
    let arguments = ["sensor", "check", "--for", "60", "--rig", path(&scenario)];
    let found = answer(&[&arguments[..], &["--plot", path(&plot)]].concat(), 0);
    let number = |name: &str| found[name].as_f64().unwrap();
    assert!((number("rate_hz") - 200.0).abs() < 0.02, "{found}");
    assert!((number("jitter_s") / (0.1e-3 * 2f64.sqrt()) - 1.0).abs() < 0.1, "{found}");
    assert!(number("lost_samples") > 40.0 && number("damaged_frames") > 15.0);
    assert_eq!(found["grade"], "usable");
    let floor = found["floor"]["deviation_deg"].as_f64().unwrap();
    // Octaves of 0.2 mg each: a floor of √2 times that.
    let truth = (2f64.sqrt() * 0.2e-3).to_degrees();
    println!("floor {floor:.4}°, truth {truth:.4}°");
    assert!((floor / truth - 1.0).abs() < 0.3);
    assert!(found["allan"].as_array().unwrap().len() > 25);
    let svg = std::fs::read_to_string(&plot).unwrap();
    assert!(svg.starts_with("<svg") && svg.contains("Allan deviation") && svg.contains("<polyline"));

    let (code, text, _) = said(&run(&arguments));
    assert_eq!(code, Some(0));
    assert!(text.starts_with("The sensor is usable.") && text.contains("samples a second"), "{text}");
}

#[test]
fn a_bad_line_is_said_so_and_ends_with_one() {
    let folder = tempfile::tempdir().unwrap();
    let more = "stream = { damage_percent = 8.0 }";
    let scenario = turned(folder.path(), NOISE, more, &["wait 0".into()], 12.0);
    let (code, text, _) = said(&run(&["sensor", "check", "--for", "10", "--rig", path(&scenario)]));
    assert_eq!(code, Some(1));
    assert!(text.contains("Do not measure") && text.contains("shorter cable"), "{text}");
    let (code, _, words) = said(&run(&["sensor", "check", "--for", "0.5", "--rig", path(&scenario)]));
    assert_eq!(code, Some(1));
    assert!(words.contains("too short"), "{words}");
}

#[test]
fn the_floor_that_a_check_finds_of_the_saved_sensor_is_in_its_later_readings() {
    let bench = support::bench::Bench::new();
    let rest = |flicker: f64| {
        let scenario = format!("seed = 5\nsensor = {{ noise_density_ug_rthz = 150.0, flicker_mg = {flicker} }}");
        let mut rig = Rig::new(scenario.parse().unwrap()).unwrap();
        let mut bytes = Vec::new();
        rig.advance(Seconds::new(60.0), &mut bytes);
        bytes
    };
    let log = bench.write("rest.log", rest(0.2));
    let repeat = |document: &Value| support::bench::number(&document["components"]["repeat"]);
    // Another sensor's floor is nobody's business.
    bench.done(&["sensor", "default", "--replay", &log]);
    let other = bench.write("other.log", rest(0.4));
    assert_eq!(bench.json(&["sensor", "check", "--for", "55", "--replay", &other])["floor_kept"], false);
    let before = bench.json(&["read", "--want", "0.01"]);

    let check = bench.json(&["sensor", "check", "--for", "55"]);
    assert_eq!(check["floor_kept"], true, "{check:#}");
    let floor = support::bench::number(&check["floor"]["deviation_deg"]);
    let after = bench.json(&["read", "--want", "0.01"]);
    println!("floor {floor:.4}°: repeat {:.4}° before, {:.4}° after", repeat(&before), repeat(&after));
    assert!(repeat(&before) < floor && repeat(&after) >= floor, "{before:#} {after:#}");
    assert_eq!(after["ended_by"], "floor", "no waiting makes it better: {after:#}");
    assert!(bench.done(&["sensor", "check", "--for", "55"]).stdout.contains("Floor saved: from now on"));

    bench.done(&["sensor", "default", "--forget"]);
    bench.done(&["sensor", "default", "--replay", &log]);
    assert!(repeat(&bench.json(&["read", "--want", "0.01"])) < floor, "forgotten with the rest");
}

#[test]
fn a_re_seat_study_replaces_the_assumed_clip() {
    let folder = tempfile::tempdir().unwrap();
    let (logbook, log) = (folder.path().join("logbook.sqlite"), folder.path().join("still.log"));
    // On and off each blade, eight times; turned over in the hand in between.
    let on = |blade: &str| (0..8).flat_map(|_| [format!("clip {blade}"), "clip face -z".into()]).collect::<Vec<_>>();
    let seats = [on("A"), vec!["head 270".into()], on("B")].concat();
    let more = "seed = 21\n[head]\nstation_deg = 90.0\n[clip]\nreseat_deg = 0.2";
    let scenario = turned(folder.path(), NOISE, more, &seats, 3.0);
    let kept = ["--logbook", path(&logbook)];
    let study = ["sensor", "reseat", "--times", "8", "--rig", path(&scenario), "--save-raw", path(&log)];
    let found = answer(&[&kept[..], &study].concat(), 0);
    let (u, freedom) = (&found["reseat"]["u_clip_deg"], found["reseat"]["degrees_of_freedom"].as_f64().unwrap());
    let u = u.as_f64().unwrap();
    println!("u of the seat {u:.3}°, put in 0.2°, {freedom:.1} degrees of freedom");
    // χ² on 14 degrees of freedom: 99 % of studies lie within these.
    assert!((0.2 * (4.07f64 / 14.0).sqrt()..0.2 * (31.3f64 / 14.0).sqrt()).contains(&u), "{u}");
    assert!((12.0..14.01).contains(&freedom));
    assert_eq!((&found["reseat"]["seatings"], &found["kept"]), (&Value::from(16), &Value::from(true)));

    // A reading on a blade from the saved source carries it.
    answer(&[&kept[..], &["sensor", "default", "--replay", path(&log)]].concat(), 0);
    let reading = ["read", "--blade", "A", "--station", "90"];
    let read = answer(&[&kept[..], &reading].concat(), 0);
    assert!((read["components"]["clip"].as_f64().unwrap() - u).abs() < 1e-9, "{read}");
    let (_, text, _) = said(&run(&[&kept[..], &reading, &["--explain"]].concat()));
    let clip = text.lines().find(|line| line.starts_with("clip")).unwrap();
    assert!(!clip.contains("assumed"), "{text}");
    // A reading that names its own source stands alone.
    let alone = answer(&[&kept[..], &reading, &["--replay", path(&log)]].concat(), 0);
    assert!((alone["components"]["clip"].as_f64().unwrap() - 0.1).abs() < 1e-9, "{alone}");
}
