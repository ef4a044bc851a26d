//! One blade at rest, looked at through every face of the program: one angle.

use clinoblade::sensor::Calibration;
use std::time::Instant;
use support::bench::{Bench, LONG, SimulatedHead, calibration, number};
use support::browser::Feed;

/// A blade whose sensor is 40 mg off, which makes 2.3°, and sits 0.6° askew in its clip.
const SCENARIO: &str = "
seed = 8
head = { station_deg = 90.0 }
blades = { link_error_deg = [1.0, 0.0] }
sensor = { noise_density_ug_rthz = 150.0, offset_mg = [40.0, 0.0, 0.0] }
clip = { chord_offset_deg = 0.6 }
table = { slope_deg = 0.4, span_slope_deg = 0.0, seating_deg = 0.0 }
";

/// What scatter and smoothing may put between two looks at a blade that does not move.
const SAME: f64 = 0.06;

/// The sensor's own calibration: 40 mg at 16384 counts per g.
fn own_calibration() -> String {
    let calibration = Calibration::from_toml(&calibration("club clip")).unwrap();
    Calibration { offset: [0.040 * 16384.0, 0.0, 0.0], ..calibration }.to_toml().unwrap()
}

struct Rest {
    bench: Bench,
    head: SimulatedHead,
}

impl Rest {
    /// The blade at rest, its sensor saved with its calibration, a setup open.
    fn new() -> Self {
        let bench = Bench::with_setup();
        let head = SimulatedHead::start(&bench, SCENARIO);
        let clip = bench.write("clip.toml", own_calibration());
        bench.done(&["sensor", "default", "--port", &head.port, "--calibration", &clip]);
        Self { bench, head }
    }

    fn read(&self, more: &[&str]) -> f64 {
        number(&self.bench.json(&[&["read"], more].concat())["angle_deg"])
    }

    /// The last angle of `watch`, from its document and from its lines.
    fn watch(&self, more: &[&str]) -> [f64; 2] {
        let words = [&["watch", "--for", "3"], more].concat();
        let updates = self.bench.json(&words);
        let of_document = number(&updates.as_array().unwrap().last().unwrap()["angle_deg"]);
        let answer = self.bench.done(&[&words[..], &["--plain"]].concat());
        let line = answer.stdout.lines().last().unwrap().to_owned();
        assert!(line.contains("scatter") && !line.contains('±'), "no more than scatter is claimed: {line}");
        let angle = line.split_once(" s ").unwrap().1.trim_start().split('°').next().unwrap().replace('\u{2212}', "-");
        [of_document, angle.parse().unwrap()]
    }

    /// What the page shows of the blade.
    fn page(&self) -> f64 {
        let mut running = self.bench.start(&["bench", "--listen", "127.0.0.1:0", "--no-open"]);
        let line = running.wait_for_said("The bench page: ");
        let host = line.split("http://").nth(1).unwrap().trim().split('/').next().unwrap().to_owned();
        let feed = Feed::of(&host);
        let deadline = Instant::now() + LONG;
        loop {
            if let Some(live) = feed.live().filter(|live| live["clock_s"].as_f64() > Some(2.0)) {
                return number(&live["angle_deg"]);
            }
            assert!(Instant::now() < deadline, "the page shows no angle");
            std::thread::sleep(std::time::Duration::from_millis(20));
        }
    }
}

#[test]
fn a_blade_at_rest_has_one_angle_in_every_face() {
    let mut rest = Rest::new();
    // The surface lies 0.4° out of level and the clip is 0.6° off: the zero takes both away.
    rest.head.tell("clip table");
    rest.head.truth_at_rest();
    rest.bench.done(&["datum", "surface", "--station", "90", "--json"]);
    rest.head.tell("clip A");
    let pitch = rest.head.pitch(0);
    let place = ["--blade", "A", "--station", "90"];
    let read = rest.read(&place);
    let capture = rest.bench.json(&["capture", "collective", "mid", "--blade", "A", "--station", "90"]);
    let [document, plain] = rest.watch(&place);
    let page = rest.page();
    let captured = number(&capture["angle_deg"]);
    println!(
        "true {pitch:.3}°: read {read:.3}°, capture {captured:.3}°, watch {document:.3}° {plain:.3}°, page {page:.3}°"
    );
    // The seat is drawn anew at every clipping, and the surface's slope is the zero.
    assert!((captured - (pitch - 0.4)).abs() < 0.4, "{captured} of {pitch}");
    for (face, angle) in [("read", read), ("watch", document), ("watch --plain", plain), ("the page", page)] {
        assert!((angle - captured).abs() < SAME, "{face} shows {angle}°, captured were {captured}°");
    }
    let read = rest.bench.json(&[&["read"][..], &place].concat());
    assert_eq!(
        (&read["calibration"], &read["datum"], &read["setup"]),
        (&"club clip".into(), &"surface".into(), &1.into())
    );
    let said = rest.bench.done(&[&["read"][..], &place].concat()).stdout;
    assert!(said.contains("Zero: surface of setup 1 (Workshop trainer); calibration club clip."), "{said}");
    assert!(!said.contains("not calibrated"), "{said}");
    // A zero of one place asks for the place instead of showing another angle.
    for words in [&["read"][..], &["watch", "--plain", "--for", "1"]] {
        let answer = rest.bench.run(words);
        assert!(answer.code != 0 && answer.stderr.contains("--station 90, or use --raw"), "{answer}");
    }
}

#[test]
fn the_bare_sensor_and_a_recording_take_nothing_from_the_setup() {
    let rest = Rest::new();
    let captured = number(&rest.bench.json(&["capture", "collective", "mid", "--station", "90"])["angle_deg"]);
    let log = rest.bench.name("rest.log");
    assert!((rest.read(&["--save-raw", &log]) - captured).abs() < SAME);
    // 40 mg are atan(0.04) = 2.29°.
    let bare = captured + 2.29;
    for (what, angle) in [
        ("--raw", rest.read(&["--raw"])),
        ("--replay", rest.read(&["--replay", &log])),
        ("watch --raw", rest.watch(&["--raw"])[0]),
        ("watch --plain --raw", rest.watch(&["--raw"])[1]),
        ("watch --replay", rest.watch(&["--replay", &log])[0]),
    ] {
        assert!((angle - bare).abs() < 2.0 * SAME, "{what}: {angle}°, the bare sensor shows {bare}°");
    }
    let alone = rest.bench.json(&["read", "--replay", &log]);
    assert!(alone["calibration"].is_null() && alone["setup"].is_null(), "{alone:#}");
    // With the setup named, its zero holds for the recording too.
    assert_eq!(rest.bench.json(&["read", "--replay", &log, "--setup", "1"])["setup"], 1);
    let said = rest.bench.done(&["read", "--raw"]).stdout;
    assert!(said.contains("The bare sensor") && !said.contains("not calibrated"), "{said}");
    let refused = rest.bench.run(&["read", "--raw", "--setup", "1"]);
    assert_eq!(refused.code, 2, "{refused}");
}
