//! One setup at a time, and a sensor's zero that goes along from one to the next.

use serde_json::Value;
use support::bench::{Answer, Bench, LONG, SimulatedHead, calibration, number};

/// A sensor that sits 0.35° askew in its clip, and a table that slopes.
const SCENARIO: &str = "
seed = 12
head = { station_deg = 90.0 }
sensor = { noise_density_ug_rthz = 150.0 }
clip = { chord_offset_deg = 0.35 }
table = { slope_deg = 0.8, seating_deg = 0.0 }
";

struct Workshop {
    head: SimulatedHead,
    bench: Bench,
}

impl Workshop {
    fn new() -> Self {
        let bench = Bench::with_setup();
        let head = SimulatedHead::start(&bench, SCENARIO);
        let clip = bench.write("clip.toml", calibration("club clip"));
        bench.done(&["sensor", "default", "--port", &head.port, "--calibration", &clip]);
        Self { head, bench }
    }

    /// A reversal with these moves of the sensor, each when it is asked for.
    fn reversal(&mut self, more: &[&str], moves: &[(&str, &str)]) -> Answer {
        let mut command = self.bench.start(&[&["datum", "reversal", "--json"], more].concat());
        command.wait_for_said("Lay the sensor");
        for (asked, hand) in moves {
            command.wait_for_said(asked);
            self.head.tell(hand);
        }
        command.end(LONG)
    }

    fn turned_and_back(&mut self) -> Value {
        self.head.tell("clip table forward over 0.2");
        self.head.truth_at_rest();
        let answer = self.reversal(
            &[],
            &[
                ("Now turn the sensor end for end", "clip table reversed over 0.8"),
                ("Now turn it back", "clip table forward over 0.8"),
            ],
        );
        assert_eq!(answer.code, 0, "{answer}");
        answer.json()
    }
}

fn fails(answer: &Answer, code: i32, words: &[&str]) {
    assert_eq!(answer.code, code, "{answer}");
    assert!(words.iter().all(|word| answer.stderr.contains(word)), "{words:?}: {answer}");
}

#[test]
fn a_setup_is_left_open_by_nobody_and_after_closing_none_is_open() {
    let bench = Bench::with_setup();
    let head = bench.name("head.toml");
    let begin = ["setup", "new", "--head", &head, "--reason", "new links", "--cautions-read"];
    let refused = bench.run(&begin);
    fails(&refused, 2, &["Setup 1 of Workshop trainer is still open", "clinoblade setup close", "--close-open"]);
    assert!(
        refused.stderr.contains("--reason 'new links' --cautions-read --close-open"),
        "the whole command: {refused}"
    );
    assert_eq!(bench.json(&["setup", "list"])["setups"].as_array().unwrap().len(), 1);
    let begun = bench.done(&[&begin[..], &["--close-open"]].concat()).stdout;
    assert!(begun.contains("Setup 1 closed. Reopen: `clinoblade setup resume 1`"), "{begun}");
    assert_eq!(bench.json(&["setup", "show"])["setup"]["number"], 2);
    // The one before is open again for a look, and the newer one is closed: nothing is worked on by accident.
    bench.done(&["setup", "resume", "1"]);
    bench.done(&["setup", "resume", "2"]);
    bench.done(&["setup", "close"]);
    fails(&bench.run(&["check"]), 2, &["No setup is open"]);
    fails(&bench.run(&["capture", "collective", "mid"]), 2, &["No setup is open"]);
    bench.done(&["setup", "resume", "1"]);
    assert_eq!(bench.json(&["setup", "show"])["setup"]["number"], 1);
}

#[test]
fn the_first_line_of_a_capture_says_into_which_setup_it_goes() {
    let bench = Bench::with_setup();
    let log = bench.write("resting.log", support::bench::recorded(SCENARIO, 3.0));
    let answer = bench.done(&["capture", "collective", "mid", "--replay", &log]);
    assert_eq!(answer.stdout.lines().next(), Some("Setup 1, Workshop trainer"), "{answer}");
}

#[test]
fn a_reversal_is_closed_compared_and_taken_to_the_next_setup() {
    let mut shop = Workshop::new();
    let first = shop.turned_and_back();
    let error = number(&first["instrument"]["chord_deg"]);
    assert!((error - 0.35).abs() < 0.15, "{first:#}");
    assert!(number(&first["closure_deg"]).abs() < 0.1 && first["before_deg"].is_null(), "{first:#}");
    // Gravity's level displaces it only when that is said.
    fails(&shop.bench.run(&["datum", "gravity"]), 2, &["is a reversal", "clinoblade datum gravity --replace"]);
    let second = shop.turned_and_back();
    assert!((number(&second["before_deg"]) - error).abs() < 1e-9, "{second:#}");
    // It is the sensor's: the next setup begins with it.
    let head = shop.bench.name("head.toml");
    let begin = ["setup", "new", "--head", &head, "--cautions-read", "--close-open"];
    let begun = shop.bench.json(&begin);
    assert_eq!((&begun["number"], &begun["zero"]), (&2.into(), &"reversal".into()), "{begun:#}");
    let said = begun["said"].as_str().unwrap();
    assert!(
        said.contains("taken over from setup 1") && said.contains("If the sensor was out of its clip"),
        "{begun:#}"
    );
    assert_eq!(shop.bench.json(&["read"])["datum"], "reversal");
    shop.bench.done(&["datum", "gravity", "--replace"]);
    assert_eq!(shop.bench.json(&["read"])["datum"], "gravity");
    // Another sensor's is nobody's business.
    shop.bench.done(&["sensor", "default", "--port", "/dev/another"]);
    let begun = shop.bench.json(&begin);
    assert!(begun["zero"].is_null(), "{begun:#}");
}

/// On a blade the seats of the clip are in it: another setup begins without.
#[test]
fn a_reversal_on_a_blade_is_not_taken_to_the_next_setup() {
    let mut shop = Workshop::new();
    shop.head.tell("clip A forward over 0.2");
    shop.head.truth_at_rest();
    let mut command = shop.bench.start(&["datum", "reversal", "--json", "--on-a-blade", "--turned"]);
    for (asked, hand) in [
        ("Now turn the sensor end for end", "clip A reversed over 0.8"),
        ("Now turn it back", "clip A forward over 0.8"),
    ] {
        command.wait_for_said(asked);
        shop.head.tell(hand);
    }
    let answer = command.end(LONG);
    assert_eq!(answer.code, 0, "{answer}");
    let head = shop.bench.name("head.toml");
    let begun = shop.bench.json(&["setup", "new", "--head", &head, "--cautions-read", "--close-open"]);
    assert!(begun["said"].as_str().unwrap().contains("it is not taken over"), "{begun:#}");
    assert_eq!(shop.bench.json(&["read"])["datum"], "gravity");
}

#[test]
fn a_sensor_that_was_not_turned_or_not_turned_back_sets_no_zero() {
    let mut shop = Workshop::new();
    shop.head.tell("clip table forward over 0.2");
    shop.head.truth_at_rest();
    let lifted = shop.reversal(&[], &[("Now turn the sensor end for end", "clip table forward over 0.8")]);
    fails(&lifted, 1, &["reads the same both ways", "--turned"]);
    let moves = [
        ("Now turn the sensor end for end", "clip table reversed over 0.8"),
        ("Now turn it back", "clip table reversed over 0.8"),
    ];
    let elsewhere = shop.reversal(&[], &moves);
    fails(&elsewhere, 1, &["turned back, the sensor reads", "otherwise than at first"]);
    assert_eq!(shop.bench.json(&["setup", "show"])["entries"], serde_json::json!([]));
}

#[test]
fn a_re_seat_study_is_shown_and_forgotten() {
    let bench = Bench::with_setup();
    let none = bench.json(&["sensor", "reseat", "--show"]);
    assert!(none["reseat"].is_null() && none["kept"] == false, "{none}");
    let on = |blade: &str| format!("[[timeline]]\nat_s = {{}}\ncommand = \"clip {blade}\"\n");
    let mut scenario =
        "seed = 21\n[head]\nstation_deg = 90.0\n[clip]\nreseat_deg = 0.03\n[sensor]\nnoise_density_ug_rthz = 150.0\n"
            .to_owned();
    // On and off; in between it lies in the hand, upside down, which is no seating.
    let steps: Vec<String> = (0..5).flat_map(|_| [on("A"), on("face -z")]).collect();
    for (n, step) in steps.iter().enumerate() {
        scenario += &step.replace("{}", &format!("{}", 1 + 3 * n));
    }
    let path = bench.write("study.toml", &scenario);
    let study = bench.json(&["sensor", "reseat", "--times", "4", "--blades", "A", "--rig", &path]);
    assert_eq!((&study["kept"], study["doubts"].as_array().unwrap().len()), (&true.into(), 1), "{study:#}");
    assert_eq!(study["doubts"][0], serde_json::json!([]), "a good clip is not doubted: {study:#}");
    let shown = bench.json(&["sensor", "reseat", "--show"]);
    assert_eq!(shown["reseat"], study["reseat"]);
    assert!(bench.done(&["sensor", "reseat", "--forget"]).stdout.contains("Forgotten"));
    assert!(bench.json(&["sensor", "reseat", "--show"])["reseat"].is_null());
}
