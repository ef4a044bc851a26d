//! A sensor on each blade: none of them moves, each has its own zero, and the record knows which gave which value.
//!
//! One head with two sensors is two simulated heads of one scenario, each with its sensor on another blade, told the same.

use serde_json::Value;
use support::bench::{Bench, LONG, SimulatedHead, calibration, number};

fn scenario(seed: u64, own_error: f64) -> String {
    format!(
        "seed = {seed}
head = {{ rotation = \"clockwise\", station_deg = 90.0, left_deg = 0.6 }}
blades = {{ link_error_deg = [0.15, -0.2], droop_deg = [-1.0, -1.1] }}
sensor = {{ noise_density_ug_rthz = 150.0 }}
clip = {{ chord_offset_deg = {own_error}, reseat_deg = 0.03 }}
table = {{ slope_deg = 0.8 }}
"
    )
}

struct Two {
    bench: Bench,
    heads: [SimulatedHead; 2],
    arguments: Vec<String>,
}

const BLADES: [&str; 2] = ["A", "B"];

impl Two {
    fn begin() -> Self {
        let bench = Bench::with_setup();
        let heads = [
            SimulatedHead::named(&bench, &scenario(7, 0.35), "sensor-a"),
            SimulatedHead::named(&bench, &scenario(8, -0.4), "sensor-b"),
        ];
        let mut arguments = Vec::new();
        for (head, blade) in heads.iter().zip(["a", "b"]) {
            let file = bench.write(&format!("{blade}.toml"), calibration(&format!("sensor {blade}")));
            arguments.push(format!("--port={blade}={}", head.port));
            arguments.push(format!("--calibration={blade}={file}"));
        }
        Self { bench, heads, arguments }
    }

    /// Both heads are one: what is done to it is done to both.
    fn hands(&mut self, line: &str) {
        for head in &mut self.heads {
            head.tell(line);
        }
    }

    fn run(&self, words: &str) -> support::bench::Answer {
        let words = words.split(' ').chain(self.arguments.iter().map(String::as_str)).chain(["--json"]);
        self.bench.run(&words.collect::<Vec<_>>())
    }

    fn done(&self, words: &str) -> Value {
        let answer = self.run(words);
        assert_eq!(answer.code, 0, "{words}\n{answer}");
        answer.json()
    }

    /// One sensor is turned end for end on the table.
    fn reversal(&mut self, which: usize) -> Value {
        self.heads[which].tell("clip table forward over 0.2");
        let own = &self.arguments[2 * which..2 * which + 2];
        let words = ["datum", "reversal", "--json"].into_iter().chain(own.iter().map(String::as_str));
        let mut command = self.bench.start(&words.collect::<Vec<_>>());
        command.wait_for_said("Now turn the sensor end for end");
        self.heads[which].tell("clip table reversed over 0.8");
        command.wait_for_said("Now turn it back");
        self.heads[which].tell("clip table forward over 0.8");
        let answer = command.end(LONG);
        assert_eq!(answer.code, 0, "{answer}");
        let seat = format!("clip {} forward over 0.3", BLADES[which]);
        self.heads[which].tell(&seat);
        answer.json()
    }
}

/// One truth in twenty lies outside ±U, one in three hundred outside ±1.5 U.
fn agrees(record: &Value, name: &str, truth: f64) {
    let cell = record["cells"].as_array().unwrap().iter().find(|cell| cell["cell"] == name).unwrap();
    let (value, expanded) = (number(&cell["value_deg"]), number(&cell["expanded_uncertainty_deg"]));
    assert!((value - truth).abs() <= 1.5 * expanded, "{name}: {value} ± {expanded}, but truly {truth}");
    assert!(expanded < 0.5, "{name}: ± {expanded}° is of no use");
}

#[test]
fn both_blades_are_read_at_one_station_and_no_clip_is_moved() {
    let mut two = Two::begin();
    // Each sensor's own error is its own, however different.
    for (which, own) in [(0, 0.35), (1, -0.4)] {
        let datum = two.reversal(which);
        assert_eq!(datum["carrier"], BLADES[which], "{datum:#}");
        assert!((number(&datum["instrument"]["chord_deg"]) - own).abs() < 0.15, "{datum:#}");
    }
    let mut zeros = [0.0, 0.0];
    for (turn, stations) in [("head 90 over 0.5", [90, 270]), ("head 270 over 0.5", [270, 90])] {
        two.hands(turn);
        for (at, (blade, station)) in BLADES.iter().zip(stations).enumerate() {
            let captured = two.done(&format!("capture collective mid --blade {blade} --station {station}"));
            assert_eq!(captured["sensor"]["carrier"], **blade, "{captured:#}");
            zeros[at] += two.heads[0].pitch(at) / 2.0;
        }
    }
    // A second time, and each sits as it sat.
    two.hands("head 90 over 0.5");
    two.done("capture collective mid --blade A --station 90");
    let record = two.bench.run(&["check", "--json"]).json();
    agrees(&record, "blade A zero", zeros[0]);
    agrees(&record, "blade B zero", zeros[1]);
    agrees(&record, "track B - A", zeros[1] - zeros[0]);
    let shown = two.bench.json(&["setup", "show"]);
    let captures: Vec<&Value> = shown["entries"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| &entry["event"]["capture"])
        .filter(|c| !c.is_null())
        .collect();
    let told: Vec<(String, u64)> = captures
        .iter()
        .map(|c| (c["sensor"]["carrier"].as_str().unwrap().to_owned(), c["seat"].as_u64().unwrap()))
        .collect();
    let seats = [("A", 1), ("B", 2), ("A", 1), ("B", 2), ("A", 1)].map(|(of, seat)| (of.to_owned(), seat));
    assert_eq!(told, seats, "{captures:#?}");
}

#[test]
fn what_one_sensor_cannot_do_for_another_is_refused_with_what_to_write() {
    let bench = Bench::with_setup();
    let refused = |words: &str, says: &str| {
        let answer = bench.run(&words.split(' ').collect::<Vec<_>>());
        assert_eq!(answer.code, 2, "{words}\n{answer}");
        assert!(answer.stderr.contains(says), "{words}\n{answer}");
    };
    refused("read --port a=/dev/x --port b=/dev/y", "Several sensors are named, and this command reads one");
    refused(
        "capture rudder left --port a=/dev/x --port b=/dev/y",
        "No sensor is named for the tail. Add --port tail=DEVICE",
    );
    refused("capture elevator up --port /dev/x --port /dev/y", "Say which blade carries which sensor");
    refused(
        "capture elevator up --port a=/dev/x --port b=/dev/y --calibration x.toml",
        "Each sensor has its own --calibration",
    );
    refused("track --live --port a=/dev/x --port tail=/dev/y", "No sensor is named for blade B");
    refused("bench --no-open --port a=/dev/x --port A=/dev/y", "Two ports are named for blade A");
}

/// The elevator is swept on blade A or on blade B: each time by the sensor that is there.
#[test]
fn a_sweep_reads_the_sensor_of_its_blade() {
    let mut two = Two::begin();
    for (which, blade) in [(0, "A"), (1, "B")] {
        two.hands(["head 90 over 0.5", "head 270 over 0.5"][which]);
        two.heads[which].tell(&format!("clip {blade} forward over 0.3"));
        two.hands("wait 0.8");
        let words = format!("sweep elevator --blade {blade} --json");
        let arguments: Vec<&str> = words.split(' ').chain(two.arguments.iter().map(String::as_str)).collect();
        let mut command = two.bench.start(&arguments);
        for (asked, stick) in [
            ("Now elevator up", "stick elevator 100 over 0.6"),
            ("Let the stick go back", "stick elevator 0 over 0.6"),
            ("Now elevator down", "stick elevator -100 over 0.9"),
            ("Let the stick go back", "stick elevator 0 over 0.6"),
        ] {
            command.wait_for_said(asked);
            // The other blade's head stays as it is: whoever read its sensor would see nothing move.
            two.heads[which].tell(stick);
        }
        let answer = command.end(LONG);
        // Nothing was captured to hold the ends against.
        let ends = answer.json()["ends"].as_array().unwrap().clone();
        assert_eq!(ends.len(), 2, "{answer}");
        let neutral = two.heads[which].pitch(which);
        for (end, stick) in ends.iter().zip([100, -100]) {
            assert_eq!(end["reach"], "not_recorded", "{answer}");
            two.heads[which].tell(&format!("stick elevator {stick} over 0.3"));
            let truth = (two.heads[which].pitch(which) - neutral).abs();
            assert!((number(&end["reached_deg"]) - truth).abs() < 0.2, "{end} against {truth}");
        }
        two.heads[which].tell("stick elevator 0 over 0.3");
    }
}
