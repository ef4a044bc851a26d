//! An unknown sensor becomes a described one: identified, given a profile, and its axes found by gesture, with the binary.

use clinoblade::rig::noise::Random;
use clinoblade::stream::codec::Frame;
use clinoblade::stream::{Format, Profile};
use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use support::port::pseudo_terminal;

fn clinoblade(folder: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_clinoblade"));
    command.current_dir(folder).env("CLINOBLADE_LOGBOOK", folder.join("logbook.db")).args(arguments);
    command.output().unwrap()
}

fn document(output: &Output) -> serde_json::Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| {
        panic!("{error}: {} {}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
    })
}

/// A sensor on a pseudo-terminal which, like a real one, is understood at its own baud only; a hundred lines a second.
fn sensor(line: impl Fn(u32, &mut Random) -> Vec<u8> + Send + 'static, baud: u32) -> (String, Arc<AtomicBool>) {
    let (mut master, path) = pseudo_terminal();
    let stop = Arc::new(AtomicBool::new(false));
    let stopped = stop.clone();
    // Held, so that the terminal does not hang up before it is opened.
    let other_end = File::options().read(true).write(true).open(&path).unwrap();
    std::thread::spawn(move || {
        let mut random = Random::new(7);
        for n in 0.. {
            if stopped.load(Ordering::Relaxed) {
                break;
            }
            let speed = rustix::termios::tcgetattr(&master).unwrap().output_speed();
            let mut bytes = line(n, &mut random);
            if speed != baud {
                bytes.iter_mut().for_each(|byte| *byte = random.bits() as u8);
            }
            // Nobody reads now and then: the line is only lost then.
            if n > 0
                && rustix::event::poll(
                    &mut [rustix::event::PollFd::new(&master, rustix::event::PollFlags::OUT)],
                    Some(&rustix::event::Timespec { tv_sec: 0, tv_nsec: 0 }),
                ) == Ok(1)
            {
                let _ = master.write_all(&bytes);
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        drop(other_end);
    });
    (path, stop)
}

#[test]
fn a_sensor_on_a_real_line_is_identified_with_its_baud() {
    let folder = tempfile::tempdir().unwrap();
    let line = |_, random: &mut Random| {
        let g = [0.26, 0.0, 0.966].map(|g| g + 0.004 * random.normal());
        format!("x:{:.4} y:{:.4} z:{:.4}\r\n", g[0], g[1], g[2]).into_bytes()
    };
    let (path, stop) = sensor(line, 57_600);
    let output = clinoblade(folder.path(), &["sensor", "identify", "--json", "--port", &path]);
    let told = clinoblade(folder.path(), &["sensor", "identify", "--port", &path, "--baud", "57600"]);
    let wrong = clinoblade(folder.path(), &["sensor", "identify", "--port", &path, "--baud", "9600", "--for", "0.5"]);
    stop.store(true, Ordering::Relaxed);
    let found = document(&output);
    assert_eq!((&found["verdict"], output.status.code()), (&"fits".into(), Some(0)), "{found}");
    let fits = &found["fits"];
    assert_eq!((&fits["profile"], &fits["baud"]), (&"labelled".into(), &57_600.into()), "{found}");
    assert!(
        fits["share_good"].as_f64().unwrap() > 0.95 && (fits["gravity_g"].as_f64().unwrap() - 1.0).abs() < 0.02,
        "{found}"
    );
    assert!((50.0..120.0).contains(&fits["rate_hz"].as_f64().unwrap()), "{found}");
    let told = String::from_utf8(told.stdout).unwrap();
    assert!(told.contains("labelled fits at 57600 baud") && told.contains("--profile labelled --baud 57600"), "{told}");
    let said = String::from_utf8(wrong.stdout).unwrap();
    assert_eq!(wrong.status.code(), Some(1));
    assert!(
        said.starts_with("No profile fits. This was seen:\n  at 9600 baud ") && said.contains("hexadecimal"),
        "{said}"
    );
}

#[test]
fn a_sensor_that_nobody_described_gets_a_profile_from_its_line() {
    let folder = tempfile::tempdir().unwrap();
    // Milliseconds, a counter, three axes in mg, a temperature; 38400 baud.
    let line = |n: u32, random: &mut Random| {
        let mg = [259.0, -12.0, 966.0].map(|mg: f64| (mg + 4.0 * random.normal()).round());
        format!("{}\t{}\t{}\t{}\t{}\t23.5\r\n", 5000 + 10 * n, n, mg[0], mg[1], mg[2]).into_bytes()
    };
    let (path, stop) = sensor(line, 38_400);
    let out = folder.path().join("club.toml");
    let arguments = [
        "sensor",
        "profile",
        "new",
        "--json",
        "--port",
        &path,
        "--out",
        "club.toml",
        "--temperature",
        "6",
        "--chord=-y",
    ];
    let output = clinoblade(folder.path(), &arguments);
    let made = document(&output);
    assert_eq!(output.status.code(), Some(0), "{made}");
    assert_eq!((&made["gravity_fits"], &made["damaged_frames"]), (&true.into(), &0.into()), "{made}");
    let profile = Profile::find(out.to_str().unwrap()).unwrap();
    let Format::Columns(layout) = profile.format() else { panic!("{made}") };
    assert_eq!(layout.axes.map(|column| column.get()), [3, 4, 5]);
    let place = |place: Option<std::num::NonZeroU8>| place.map(|column| column.get());
    assert_eq!((place(layout.time), place(layout.counter), place(layout.temperature)), (Some(1), Some(2), Some(6)));
    assert_eq!((layout.micros_per_tick, profile.counts_per_g(), profile.baud()), (1000, 1000.0, 38_400));
    assert_eq!((profile.name(), profile.axes().chord().to_string()), ("club", "-y".to_owned()));
    assert_eq!(profile.rate().unwrap().value(), 100.0);
    // And a reading goes by it.
    let read =
        clinoblade(folder.path(), &["read", "--json", "--port", &path, "--profile", "club.toml", "--within", "4"]);
    stop.store(true, Ordering::Relaxed);
    // atan2(12, 966) = 0.712°: the chord lies along −y.
    assert!((document(&read)["angle_deg"].as_f64().unwrap() - 0.712).abs() < 0.1, "{}", document(&read));
    let again = clinoblade(folder.path(), &arguments);
    assert_eq!(again.status.code(), Some(2), "a profile is never overwritten");
}

/// A binary sensor that nobody described: sync, a counter, a clock in milliseconds, three axes in mg, a sum; 57600 baud.
#[test]
fn a_binary_sensor_that_nobody_described_gets_a_profile_from_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let frame = |n: u32, random: &mut Random| {
        let mut bytes = vec![0xC3, 0x3C, n as u8];
        bytes.extend((70_000 + 10 * n).to_be_bytes());
        for mg in [-173.6, 20.0, 984.8] {
            bytes.extend(((mg + 4.0 * random.normal()).round() as i16).to_be_bytes());
        }
        bytes.push(bytes.iter().fold(0_u8, |sum, byte| sum.wrapping_add(*byte)));
        bytes
    };
    let (path, stop) = sensor(frame, 57_600);
    let arguments = ["sensor", "profile", "new", "--json", "--port", &path, "--out", "board.toml"];
    let output = clinoblade(folder.path(), &arguments);
    let made = document(&output);
    assert_eq!(output.status.code(), Some(0), "{made}");
    assert_eq!((&made["gravity_fits"], &made["damaged_frames"]), (&true.into(), &0.into()), "{made}");
    let profile = Profile::find(folder.path().join("board.toml").to_str().unwrap()).unwrap();
    let Format::Frame(layout) = profile.format() else { panic!("{made}") };
    assert_eq!((layout.length, layout.sync.as_slice()), (14, [0xC3, 0x3C].as_slice()), "{made}");
    assert_eq!((profile.counts_per_g(), profile.baud()), (1000.0, 57_600), "{made}");
    let read =
        clinoblade(folder.path(), &["read", "--json", "--port", &path, "--profile", "board.toml", "--within", "20"]);
    stop.store(true, Ordering::Relaxed);
    // atan2(−173.6, 984.8) = −10.00°.
    assert!((document(&read)["angle_deg"].as_f64().unwrap() + 10.0).abs() < 0.1, "{}", document(&read));
}

#[test]
fn labels_and_flags_make_a_profile_of_a_log() {
    let folder = tempfile::tempdir().unwrap();
    let mut random = Random::new(3);
    let mut log = b"half a line\r\n".to_vec();
    for n in 0..100 {
        let ms2 = [1.0, 0.3, 9.75].map(|a: f64| a + 0.02 * random.normal());
        write!(
            log,
            "ts={:.3}; acc_x={:.3}; acc_y={:.3}; acc_z={:.3}; gyro=0.1\r\n",
            0.02 * f64::from(n),
            ms2[0],
            ms2[1],
            ms2[2]
        )
        .unwrap();
    }
    std::fs::write(folder.path().join("log"), &log).unwrap();
    let new = |out: &str, more: &[&str]| {
        let arguments = ["sensor", "profile", "new", "--json", "--replay", "log", "--out", out];
        clinoblade(folder.path(), &[&arguments[..], more].concat())
    };
    let made = document(&new("found.toml", &["--name", "inertial"]));
    let profile = Profile::find(folder.path().join("found.toml").to_str().unwrap()).unwrap();
    let Format::Labelled(layout) = profile.format() else { panic!("{made}") };
    assert_eq!(layout.axes, ["acc_x", "acc_y", "acc_z"]);
    assert_eq!((layout.time.as_deref(), layout.micros_per_tick), (Some("ts"), 1_000_000));
    assert_eq!((profile.counts_per_g(), profile.name(), profile.rate().unwrap().value()), (9.806_65, "inertial", 50.0));
    // What is said counts.
    let said = document(&new("said.toml", &["--xyz", "acc_y,acc_x,acc_z", "--unit", "m/s2", "--rate-hz", "40"]));
    let profile = Profile::find(folder.path().join("said.toml").to_str().unwrap()).unwrap();
    assert_eq!(profile.rate().unwrap().value(), 40.0, "{said}");
    let Format::Labelled(layout) = profile.format() else { panic!("{said}") };
    assert_eq!(layout.axes, ["acc_y", "acc_x", "acc_z"]);
    // And what cannot be is refused in words.
    let wrong = new("wrong.toml", &["--xyz", "a,b,c"]);
    let said = document(&wrong)["error"].as_str().unwrap().to_owned();
    assert!(
        wrong.status.code() == Some(1) && said.contains("There is no 'a' in a line") && said.contains("acc_x"),
        "{said}"
    );
    std::fs::write(folder.path().join("log"), [0xa5u8, 0, 255, 3].repeat(200)).unwrap();
    let said = document(&new("binary.toml", &[]))["error"].as_str().unwrap().to_owned();
    assert!(said.contains("no three numbers in them are a force"), "{said}");
    assert!(!folder.path().join("wrong.toml").exists() && !folder.path().join("binary.toml").exists());
}

/// Poses of a blade held in the hand, three seconds each with a second of turning between: (leading edge up, tip up) in degrees. The
/// sensor's −y lies along the chord, its +x out of the upper surface, and the rotor turns clockwise.
fn gestures(poses: &[(f64, f64)]) -> Vec<u8> {
    let (mut random, mut bytes) = (Random::new(11), Vec::new());
    let encoder = Profile::sentence().encoder();
    let mut seq = 0u16;
    let mut last = poses[0];
    for pose in poses {
        for step in 0..800 {
            let share = (f64::from(step) / 200.0).min(1.0);
            let [nose, tip] = [(last.0, pose.0), (last.1, pose.1)].map(|(a, b)| (a + (b - a) * share).to_radians());
            let (chord, span, normal) = (tip.cos() * nose.sin(), tip.sin(), tip.cos() * nose.cos());
            // chord × normal = (−y) × (+x) = +z; clockwise, span is its opposite.
            let counts = [normal, -chord, -span].map(|g| 16_384.0 * (g + 0.002 * random.normal()));
            encoder.encode(&Frame { seq, micros: 5000 * u32::from(seq), counts, celsius: None }, &mut bytes);
            seq += 1;
        }
        last = *pose;
    }
    bytes
}

#[test]
fn three_gestures_show_how_the_sensor_sits() {
    let folder = tempfile::tempdir().unwrap();
    let orient = |poses: &[(f64, f64)], out: &str| {
        std::fs::write(folder.path().join("log"), gestures(poses)).unwrap();
        clinoblade(folder.path(), &["sensor", "orient", "--json", "--replay", "log", "--out", out])
    };
    // Back to level between the gestures, as a hand does.
    let output = orient(&[(4.0, -3.0), (45.0, 5.0), (2.0, 1.0), (-4.0, 40.0)], "clip.toml");
    let found = document(&output);
    assert_eq!(output.status.code(), Some(0), "{found}");
    assert_eq!(
        (&found["chord"], &found["normal"], &found["rotation"]),
        (&"-y".into(), &"+x".into(), &"clockwise".into()),
        "{found}"
    );
    let profile = Profile::find(folder.path().join("clip.toml").to_str().unwrap()).unwrap();
    assert_eq!((profile.axes().chord().to_string(), profile.axes().normal().to_string()), ("-y".into(), "+x".into()));
    assert_eq!((profile.name(), profile.format()), ("clip", &Format::Sentence));
    // The same profile reads the first pose as the blade stands.
    std::fs::write(folder.path().join("still"), gestures(&[(12.0, 0.0)])).unwrap();
    let read = document(&clinoblade(folder.path(), &["read", "--json", "--replay", "still", "--profile", "clip.toml"]));
    assert!((read["angle_deg"].as_f64().unwrap() - 12.0).abs() < 0.05, "{read}");
    // The same edge twice, and a stream that ends too early, are refused and keep nothing.
    let twice = orient(&[(0.0, 0.0), (35.0, 0.0), (0.0, 0.0), (60.0, 0.0)], "twice.toml");
    let said = document(&twice)["error"].as_str().unwrap().to_owned();
    assert!(twice.status.code() == Some(1) && said.contains("the same way"), "{said}");
    let short = orient(&[(0.0, 0.0), (35.0, 0.0)], "short.toml");
    assert!(document(&short)["error"].as_str().unwrap().contains("\"tip up\""), "{}", document(&short));
    assert!(!folder.path().join("twice.toml").exists() && !folder.path().join("short.toml").exists());
}

#[test]
fn a_sensor_of_angles_is_not_calibrated_by_a_tumble() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("log"), b"$IIXDR,A,10.1,D,PTCH,A,29.0,D,ROLL*57\r\n").unwrap();
    let arguments =
        ["sensor", "calibrate", "tumble", "--json", "--out", "c.toml", "--replay", "log", "--profile", "xdr"];
    let output = clinoblade(folder.path(), &arguments);
    let said = document(&output)["error"].as_str().unwrap().to_owned();
    assert!(output.status.code() == Some(2) && said.contains("sends angles, no force"), "{said}");
    let listed = String::from_utf8(clinoblade(folder.path(), &["sensor", "profiles"]).stdout).unwrap();
    assert!(listed.contains("xdr        angles in degrees, 4800 baud") && listed.contains("no force"), "{listed}");
    assert!(listed.contains("modbus     1000 counts per g, 19200 baud, polled"), "{listed}");
}
