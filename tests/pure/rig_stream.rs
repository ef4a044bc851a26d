//! What leaves the simulated sensor: the same bytes for the same seed, its errors as stated, its line damaged as told.

use clinoblade::rig::{Rig, RigError, Scenario};
use clinoblade::units::Seconds;

const BENCH: &str = "head = { nose_deg = 0.6, slop_deg = 0.2 }\n\
    servos = { creep_percent = 3.0, buzz_deg = 0.05, buzz_wander_hz = 1.0 }\n\
    sensor = { noise_density_ug_rthz = 150.0, flicker_mg = 0.3, offset_mg = [30.0, -20.0, 45.0], spike_percent = 0.5 }\n\
    clip.reseat_deg = 0.1\n\
    operator = { overshoot_percent = 6.0, tremor_deg = 0.1 }\n\
    stream = { jitter_ms = 0.2, damage_percent = 1.0, loss_percent = 1.0, repeat_percent = 1.0, temperature = true }\n\
    [[timeline]]\nat_s = 0.5\ncommand = 'stick elevator 80 over 1'\n\
    [[timeline]]\nat_s = 2.5\ncommand = 'clip B reversed over 0.5'\n";

fn scenario(toml: &str) -> Scenario {
    toml.parse().unwrap()
}

fn run(scenario: &Scenario, until: f64, step: f64) -> Vec<u8> {
    let mut rig = Rig::new(scenario.clone()).unwrap();
    let mut bytes = Vec::new();
    let mut now = 0.0;
    while now < until {
        now += step;
        rig.advance(Seconds::new(now.min(until)), &mut bytes);
    }
    bytes
}

struct Sentence {
    seq: u16,
    micros: u32,
    counts: [i64; 3],
}

/// Every line that is whole, and how many are not.
fn decode(bytes: &[u8]) -> (Vec<Sentence>, usize) {
    let mut whole = Vec::new();
    let mut bad = 0;
    for line in bytes.split_inclusive(|&b| b == b'\n') {
        match sentence(line) {
            Some(sentence) => whole.push(sentence),
            None => bad += 1,
        }
    }
    (whole, bad)
}

fn sentence(line: &[u8]) -> Option<Sentence> {
    let text = std::str::from_utf8(line).ok()?.strip_suffix("\r\n")?;
    let (body, sum) = text.strip_prefix('$')?.split_once('*')?;
    if body.bytes().fold(0, |sum, byte| sum ^ byte) != u8::from_str_radix(sum, 16).ok()? {
        return None;
    }
    let mut fields = body.strip_prefix("PCLIN,")?.split(',');
    let seq = fields.next()?.parse().ok()?;
    let micros = fields.next()?.parse().ok()?;
    let mut axis = || fields.next()?.parse().ok();
    Some(Sentence { seq, micros, counts: [axis()?, axis()?, axis()?] })
}

#[test]
fn the_same_seed_gives_the_same_bytes_however_time_is_cut() {
    let mut scenario = scenario(BENCH);
    scenario.seed = 11;
    let once = run(&scenario, 4.0, 4.0);
    assert!(once.len() > 20_000);
    assert_eq!(once, run(&scenario, 4.0, 0.005));
    assert_eq!(once, run(&scenario, 4.0, 0.0173));
    scenario.seed = 12;
    assert_ne!(once, run(&scenario, 4.0, 4.0));
}

#[test]
fn samples_come_at_the_stated_rate_with_counters_that_wrap() {
    let settings = scenario("stream = { rate_hz = 400, first_seq = 65530, first_micros = 4294960000 }");
    let (sentences, bad) = decode(&run(&settings, 1.0, 0.1));
    assert_eq!((sentences.len(), bad), (401, 0));
    for pair in sentences.windows(2) {
        assert_eq!(pair[1].seq, pair[0].seq.wrapping_add(1));
        assert_eq!(pair[1].micros.wrapping_sub(pair[0].micros), 2500);
    }
    assert!(sentences[10].seq < 10 && sentences[10].micros < 1_000_000);
}

#[test]
fn offsets_scales_and_temperature_are_as_stated() {
    let mut rig = Rig::new(scenario(
        "sensor = { offset_mg = [30.0, -20.0, 45.0], scale_percent = [1.0, -2.0, 3.0], tempco_mg_per_c = [0.5, 0.0, -1.0] }",
    ))
    .unwrap();
    let mut now = 0.0;
    let mut counts = |line: &str| {
        let mut bytes = Vec::new();
        rig.command(line).unwrap();
        now += 0.01;
        rig.advance(Seconds::new(now), &mut bytes);
        decode(&bytes).0.last().unwrap().counts
    };
    let g = |mg: f64| (16384.0 * mg / 1000.0).round() as i64;
    assert_eq!(counts("clip face +x"), [g(1010.0 + 30.0), g(-20.0), g(45.0)]);
    assert_eq!(counts("clip face -y"), [g(30.0), g(-980.0 - 20.0), g(45.0)]);
    assert_eq!(counts("clip face +z"), [g(30.0), g(-20.0), g(1030.0 + 45.0)]);
    assert_eq!(counts("temperature 35"), [g(35.0), g(-20.0), g(1030.0 + 35.0)]);
}

#[test]
fn white_noise_fills_the_band_up_to_half_the_rate() {
    // 150 µg/√Hz over 100 Hz: 1.5 mg.
    let settings = scenario("seed = 3\nsensor = { noise_density_ug_rthz = 150.0, counts_per_g = 1e6 }");
    let (sentences, _) = decode(&run(&settings, 50.0, 1.0));
    let x: Vec<f64> = sentences.iter().map(|s| s.counts[0] as f64 / 1e6).collect();
    let n = x.len() as f64;
    let mean = x.iter().sum::<f64>() / n;
    let sd = (x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    assert!((sd - 1.5e-3).abs() < 5.0 * 1.5e-3 / (2.0 * n).sqrt(), "{sd}");
}

#[test]
fn lines_are_lost_repeated_and_damaged_as_told() {
    let mut rig = Rig::new(scenario("")).unwrap();
    let mut bytes = Vec::new();
    rig.advance(Seconds::new(0.1), &mut bytes);
    rig.command("lose 5").unwrap();
    rig.advance(Seconds::new(0.2), &mut bytes);
    rig.command("repeat 3").unwrap();
    rig.advance(Seconds::new(0.3), &mut bytes);
    let (sentences, bad) = decode(&bytes);
    let gaps = sentences.windows(2).filter(|w| w[1].seq == w[0].seq + 6).count();
    let twins = sentences.windows(2).filter(|w| w[1].seq == w[0].seq).count();
    assert_eq!((sentences.len(), bad, gaps, twins), (61 - 5 + 3, 0, 1, 3));

    let mut spoilt = Vec::new();
    rig.command("damage 100").unwrap();
    rig.command("garbage 40").unwrap();
    rig.advance(Seconds::new(0.8), &mut spoilt);
    let (sentences, bad) = decode(&spoilt);
    assert!(sentences.is_empty() && bad >= 100, "{} {bad}", sentences.len());
}

#[test]
fn an_unplugged_sensor_is_silent_and_starts_anew_when_plugged_in() {
    let mut rig = Rig::new(scenario("stream.boot_s = 0.3")).unwrap();
    let mut bytes = Vec::new();
    rig.advance(Seconds::new(1.0), &mut bytes);
    bytes.clear();
    rig.command("unplug").unwrap();
    rig.advance(Seconds::new(2.0), &mut bytes);
    assert!(bytes.is_empty() && !rig.is_plugged());
    rig.command("replug").unwrap();
    rig.advance(Seconds::new(2.29), &mut bytes);
    assert!(bytes.is_empty() && rig.is_plugged(), "it needs its time to start");
    rig.advance(Seconds::new(2.4), &mut bytes);
    let (sentences, _) = decode(&bytes);
    assert_eq!((sentences[0].seq, sentences[0].micros), (0, 0));
}

#[test]
fn columns_and_labels_carry_g() {
    let mut bytes = run(&scenario("stream.profile = 'columns'"), 0.02, 0.02);
    let line = String::from_utf8(std::mem::take(&mut bytes)).unwrap().lines().next().unwrap().to_owned();
    let numbers: Vec<f64> = line.split(',').map(|n| n.parse().unwrap()).collect();
    assert_eq!(numbers.len(), 3);
    assert!((numbers[2] - 1.0).abs() < 1e-4, "{line}");
    let bytes = run(&scenario("stream.profile = 'labelled'"), 0.02, 0.02);
    let text = String::from_utf8(bytes).unwrap();
    assert!(text.starts_with("x:") && text.contains("z:1.0"), "{text}");
}

#[test]
fn a_wrong_scenario_is_refused_by_its_field() {
    let refusal = |toml: &str| toml.parse::<Scenario>().unwrap_err();
    for (toml, of, bounds) in [
        ("head.blades = 9", "head.blades", (2.0, 8.0)),
        ("sensor.counts_per_g = nan", "sensor.counts_per_g", (1.0, 1e9)),
        ("tail.blade_error_deg = [0.0, 21.0]", "tail.blade_error_deg", (-20.0, 20.0)),
        ("[[timeline]]\nat_s = inf\ncommand = 'truth'", "timeline.at_s", (f64::MIN, f64::MAX)),
    ] {
        let RigError::Value { field, lowest, highest, .. } = refusal(toml) else { panic!("{toml}") };
        assert_eq!((field, (lowest, highest)), (of, bounds), "{toml}");
    }
    let field = "link_error_deg";
    assert_eq!(refusal("blades.link_error_deg = [0.0, 0.0, 1.0]"), RigError::TooLong { field, given: 3, blades: 2 });
    assert!(matches!(refusal("clip.blade = 'C'"), RigError::NoSuchBlade { blades: 2, .. }));
    // 24 bytes of ten bits, a thousand times a second.
    let slow = refusal("stream.rate_hz = 1000\nstream.baud = 9600");
    assert_eq!(slow, RigError::TooSlow { baud: 9600, needed: 240_000.0 });
    for (toml, word) in
        [("head.colour = 'red'", "colour"), ("[[bind]]\nat = 'elevator left'\ntravel_deg = 5.0", "elevator left")]
    {
        assert!(matches!(refusal(toml), RigError::Scenario(why) if why.contains(word)), "{toml}");
    }
    let timeline = scenario("[[timeline]]\nat_s = 1.0\ncommand = 'clip D'");
    let Err(RigError::Timeline { at, reason }) = Rig::new(timeline) else { panic!("blade D") };
    assert_eq!(at.value(), 1.0);
    assert!(matches!(*reason, RigError::NoSuchBlade { blades: 2, .. }));
}

#[test]
fn the_examples_run() {
    for example in
        [include_str!("../../examples/scenario.toml"), include_str!("../../examples/scenario-three-blade.toml")]
    {
        let (sentences, bad) = decode(&run(&scenario(example), 20.0, 0.5));
        assert!(sentences.len() > 3_950 && bad < 20, "{} {bad}", sentences.len());
    }
}
