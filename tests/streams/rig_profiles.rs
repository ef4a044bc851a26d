//! Each kind of sensor, simulated on a real pseudo-terminal: read by the program, unplugged, replugged under another name,
//! and cut off in the middle of a line.
#![cfg(unix)]

use clinoblade::stream::ports::{PortReport, UsbIdentity};
use clinoblade::stream::{Event, Options, Plug, Profile, Reconnecting, Source};
use clinoblade::units::Sample;
use std::path::{Path, PathBuf};
use std::process::Command;
use support::bench::LONG;
use support::port::pseudo_terminal;
use support::rig::Process;

/// A head that leans and stands where a blade reads an angle of its own, with a little noise.
const SCENARIO: &str =
    "head = { nose_deg = 3.0, left_deg = -2.0, station_deg = 90.0 }\nsensor = { noise_density_ug_rthz = 50.0 }\n";

fn scenario(folder: &Path) -> String {
    let path = folder.join("scenario.toml");
    std::fs::write(&path, SCENARIO).unwrap();
    path.to_str().unwrap().to_owned()
}

fn apparent(rig: &mut Process) -> f64 {
    rig.truth()["blades"][0]["apparent_deg"].as_f64().unwrap()
}

#[test]
fn the_binary_reads_the_angle_of_each_simulated_profile() {
    let folder = tempfile::tempdir().unwrap();
    let scenario = scenario(folder.path());
    // Ten samples a second, as such sensors usually send, are too few to be seen still within the time: a faster one.
    let quick = folder.path().join("quick.toml");
    std::fs::write(&quick, format!("{SCENARIO}stream = {{ profile = 'xdr', rate_hz = 50.0 }}\n")).unwrap();
    for name in Profile::BUILT_IN {
        let is_slow = name == "xdr";
        let mut rig = match is_slow {
            true => Process::start(&[quick.to_str().unwrap()]),
            false => Process::start(&[&scenario, "--profile", name]),
        };
        rig.tell("stick elevator 60 over 0.1");
        rig.tell("wait 0.2");
        let truth = apparent(&mut rig);
        assert!(truth.abs() > 1.0, "an angle worth reading: {truth}");
        let output = Command::new(env!("CARGO_BIN_EXE_clinoblade"))
            .args(["read", "--json", "--profile", name, "--within", "20", "--port", &rig.port])
            .args(is_slow.then_some("--rate-hz=50"))
            .output()
            .unwrap();
        assert!(output.status.success(), "{name}: {}", String::from_utf8_lossy(&output.stderr));
        let read: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let angle = read["angle_deg"].as_f64().unwrap();
        // Noise of 50 µg/√Hz over 100 Hz is 0.03° in one sample, and many are averaged.
        assert!((angle - truth).abs() < 0.03, "{name}: {angle} for {truth}");
        assert_eq!(read["damaged_frames"], 0, "{name}");
    }
}

#[test]
fn a_profile_that_nobody_simulates_is_refused_with_those_that_are() {
    let output = Command::new(env!("CARGO_BIN_EXE_clinoblade")).args(["rig", "--profile", "morse"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("morse") && said.contains("sentence") && said.contains("modbus"), "{said}");
}

/// The ports as a system would list them: the sensor wherever its link points now, and who has taken its old place.
fn listing(link: PathBuf, stranger: String) -> impl Fn() -> Vec<PortReport> + Send + Sync {
    let port = |path: String, serial_number: &str| {
        let serial_number = Some(serial_number.to_owned());
        let usb = Some(UsbIdentity { vendor_id: 0x1209, product_id: 1, product: None, serial_number });
        PortReport { path, usb, obstacle: None }
    };
    move || {
        let sensor = std::fs::read_link(&link).map(|path| port(path.to_str().unwrap().to_owned(), "sensor 7"));
        let sensor: Vec<PortReport> = sensor.into_iter().collect();
        let is_taken = sensor.iter().all(|sensor| sensor.path != stranger);
        let other = is_taken.then(|| port(stranger.clone(), "another"));
        sensor.into_iter().chain(other).collect()
    }
}

async fn event(stream: &mut Reconnecting) -> Event {
    let waited = tokio::time::timeout(LONG, stream.next()).await;
    waited.expect("something happens in time").unwrap().expect("a live source has no end")
}

/// The next samples; whatever happens between them is not looked at.
async fn samples(stream: &mut Reconnecting, count: usize) -> Vec<Sample> {
    let mut samples = Vec::new();
    while samples.len() < count {
        if let Event::Sample(sample) = event(stream).await {
            samples.push(sample);
        }
    }
    samples
}

fn all_read(samples: &[Sample], truth: f64, name: &str) {
    for sample in samples {
        let [x, _, z] = sample.counts;
        let angle = x.atan2(z).to_degrees();
        assert!((angle - truth).abs() < 0.3, "{name}: a sample of {angle}° for {truth}°, {:?}", sample.counts);
    }
}

#[tokio::test]
async fn each_profile_outlives_a_cut_line_and_a_replug_under_another_name() {
    let folder = tempfile::tempdir().unwrap();
    let scenario = scenario(folder.path());
    for name in Profile::BUILT_IN {
        let profile = Profile::built_in(name).unwrap();
        let link = folder.path().join(name);
        let mut rig = Process::start(&[&scenario, "--profile", name, "--link", link.to_str().unwrap()]);
        let truth = apparent(&mut rig);
        let first = rig.port.clone();
        let plug = Plug::listed_by(Source::Port(first.clone()), listing(link.clone(), first.clone()));
        let mut stream = Reconnecting::plugged(plug, &profile, &Options::default()).await.unwrap();
        // A sensor with a clock must have been on for a while: a step back by less is an old line that comes again.
        let a_while = 400 * usize::from(profile.has_clock());
        let mut seen = samples(&mut stream, 6 + a_while).await;
        let sound = stream.counters();

        // The power goes while a line is on its way.
        assert_eq!(rig.tell("power cycle"), "ok sensor started");
        seen.extend(samples(&mut stream, 6 + a_while).await);
        let cut = stream.counters().since(&sound);
        assert!((1..=2).contains(&cut.damaged()), "{name}: half a line is damage, and costs one more at most: {cut:?}");
        assert_eq!(cut.restarts, u64::from(profile.has_clock()), "{name}: a clock shows the restart");

        // The cable comes off, something else is plugged in there, and the sensor comes back elsewhere.
        assert_eq!(rig.tell("unplug"), "ok unplugged");
        while !matches!(event(&mut stream).await, Event::Lost(_)) {}
        let stranger = pseudo_terminal();
        assert!(rig.tell("replug").starts_with("ok"));
        let now = std::fs::read_link(&link).unwrap();
        assert!(stranger.1 != first || now != Path::new(&first), "{name}: its old name is not free");
        while !matches!(event(&mut stream).await, Event::Back) {}
        // With the news its first sample has come.
        let before = stream.counters().good - 1;
        seen.extend(samples(&mut stream, 6).await);
        assert_eq!(stream.counters().good - before, 6, "{name}");
        all_read(&seen, truth, name);
        assert!(seen.windows(2).all(|pair| pair[0].clock < pair[1].clock), "{name}: time goes on");
    }
}
