//! A resting sensor made by rule: what was put in must come out.

use clinoblade::rig::noise::{Buzz, NoiseSettings, Random, SensorNoise, counts};
use clinoblade::sensor::Calibration;
use clinoblade::sensor::health::{Drift, Health, HealthError, PerAxis, RestRecord};
use clinoblade::sensor::verdict::{Grade, Sign};
use clinoblade::stream::Counters;
use clinoblade::units::{Angle, AxisMap, Celsius, Gravities, Hertz, Sample, Seconds, SensorVector};

const COUNTS_PER_G: f64 = 16384.0;
const RATE: f64 = 200.0;

/// A sensor on a bench.
struct Bench {
    noise: NoiseSettings,
    buzz: Option<Buzz>,
    seconds: f64,
    jitter: f64,
    seed: u64,
}

impl Bench {
    fn quiet(seconds: f64) -> Self {
        let white = NoiseSettings::white_from_density(150e-6, Hertz::new(RATE));
        Self { noise: NoiseSettings { white, ..NoiseSettings::default() }, buzz: None, seconds, jitter: 0.0, seed: 11 }
    }

    fn samples(mut self) -> Vec<Sample> {
        let mut noise = SensorNoise::new(self.noise, self.seed);
        let mut random = Random::new(self.seed + 1);
        let level = 12f64.to_radians();
        (0..(self.seconds * RATE) as usize)
            .map(|i| {
                let clock = Seconds::new(i as f64 / RATE + self.jitter * random.normal());
                let pitch = level + self.buzz.as_mut().map_or(0.0, |buzz| buzz.at(clock).radians());
                let force = noise.on(SensorVector([pitch.sin(), 0.0, pitch.cos()]));
                let counts = counts(force, COUNTS_PER_G).map(f64::from);
                Sample { clock, counts, lost_before: 0, temperature: None }
            })
            .collect()
    }
}

fn check(samples: &[Sample]) -> Health {
    check_with(samples, Counters { good: samples.len() as u64, ..Counters::default() }).unwrap()
}

fn check_with(samples: &[Sample], counters: Counters) -> Result<Health, HealthError> {
    Health::of(&RestRecord {
        samples,
        counters,
        calibration: &Calibration::nominal(COUNTS_PER_G),
        axes: AxisMap::default(),
        full_scale: Some(32767.0),
        nominal_rate: Some(Hertz::new(RATE)),
        has_clock: true,
    })
}

/// How bad the one sign is that is looked for.
fn grade(health: &Health, is: impl Fn(&Sign) -> bool) -> Grade {
    let found: Vec<_> = health.findings.iter().filter(|finding| is(&finding.sign)).collect();
    assert_eq!(found.len(), 1, "{:#?}", health.findings);
    found[0].grade
}

fn share(found: f64, truth: f64) -> f64 {
    (found / truth - 1.0).abs()
}

#[test]
fn a_good_sensor_comes_out_with_the_noise_that_it_was_given() {
    let health = check(&Bench { jitter: 20e-6, ..Bench::quiet(60.0) }.samples());
    for (_, density) in health.noise_density_g_rthz.named() {
        assert!(share(*density, 150e-6) < 0.03, "{density}");
    }
    // White noise across the vertical of 1 g is an angle of as many radians.
    assert!(share(health.noise_density_deg_rthz, 150e-6_f64.to_degrees()) < 0.03);
    assert!(share(health.noise_deg.degrees(), (150e-6 * (RATE / 2.0).sqrt()).to_degrees()) < 0.03);
    assert!(share(health.rate_hz.value(), RATE) < 1e-4);
    // The interval strays by √2 of what each moment does.
    assert!(share(health.jitter_s.value(), 20e-6 * 2f64.sqrt()) < 0.05, "{:?}", health.jitter_s);
    assert!(share(health.gravity_g.value(), 1.0) < 1e-4);
    assert_eq!((health.floor, health.vibration, health.spikes, health.moved), (None, None, 0, false));
    assert_eq!(grade(&health, |sign| matches!(sign, Sign::Losses { damaged: 0, lost: 0, .. })), Grade::Good);
    // White noise alone: the curve is density/√(2τ) throughout.
    for point in health.allan.iter().filter(|point| point.relative_uncertainty < 0.1) {
        let white = health.noise_density_deg_rthz / (2.0 * point.averaging_s.value()).sqrt();
        assert!(share(point.deviation_deg.degrees(), white) < 0.05 + 3.0 * point.relative_uncertainty, "{point:?}");
    }
}

/// 1/f noise of density h/f has the Allan floor √(2·ln2·h) (NIST SP 1065, table of power laws), and octaves of variance
/// s² make h = s²/ln2: a floor of √2·s.
#[test]
fn the_floor_is_that_of_the_flicker_noise() {
    let flicker = Gravities::new(0.2e-3);
    let bench = Bench::quiet(120.0);
    let health = check(&Bench { noise: NoiseSettings { flicker, ..bench.noise }, ..bench }.samples());
    let floor = health.floor.unwrap();
    let truth = (2f64.sqrt() * flicker.value()).to_degrees();
    println!("floor {:.5}° at {:.2} s, truth {truth:.5}°", floor.deviation_deg.degrees(), floor.averaging_s.value());
    assert!(share(floor.deviation_deg.degrees(), truth) < 0.25);
    assert!(grade(&health, |sign| matches!(sign, Sign::Floor(found) if *found == floor)) <= Grade::Usable);
    assert_eq!(health.u_after(Seconds::new(1000.0)), floor.deviation_deg);
}

#[test]
fn a_servo_that_hunts_is_named_with_frequency_and_amplitude() {
    for frequency in [7.4, 23.7, 48.0] {
        let buzz = Buzz::new(Hertz::new(frequency), Angle::from_degrees(0.2), Hertz::new(0.1), 3);
        let health = check(&Bench { buzz: Some(buzz), ..Bench::quiet(30.0) }.samples());
        let line = health.vibration.unwrap();
        assert!((line.frequency_hz.value() - frequency).abs() < 0.2, "{line:?}");
        assert!(share(line.amplitude_deg.degrees(), 0.2) < 0.1, "{line:?}");
        assert_eq!(grade(&health, |sign| matches!(sign, Sign::Shaken(found) if *found == line)), Grade::Usable);
        // The line is no noise.
        assert!(share(health.noise_density_deg_rthz, 150e-6_f64.to_degrees()) < 0.05);
    }
}

#[test]
fn a_stuck_axis_is_named_and_a_frozen_sensor_too() {
    let mut samples = Bench::quiet(10.0).samples();
    let whole = check(&samples);
    assert!(whole.stuck.named().iter().all(|(_, stuck)| !**stuck) && !whole.frozen);
    samples.iter_mut().skip(700).for_each(|sample| sample.counts[1] = 17.0);
    let stuck = check(&samples);
    assert_eq!(stuck.stuck, PerAxis { x: false, y: true, z: false });
    assert_eq!(grade(&stuck, |sign| matches!(sign, Sign::Stuck { axis: 'y' })), Grade::Poor);
    let frozen = [3406.0, 0.0, 16026.0];
    samples.iter_mut().for_each(|sample| sample.counts = frozen);
    assert_eq!(grade(&check(&samples), |sign| matches!(sign, Sign::Frozen)), Grade::Poor);
}

/// White noise of density d makes the mean of T seconds scatter by d/√(2T), here seen in the seconds of a record of its own.
#[test]
fn held_still_for_a_second_an_angle_is_as_good_as_the_means_of_seconds_are() {
    let samples = Bench::quiet(240.0).samples();
    let health = check(&samples);
    let pitch = |s: &Sample| s.counts[0].atan2(s.counts[2]).to_degrees();
    let means: Vec<f64> =
        samples.chunks_exact(RATE as usize).map(|second| second.iter().map(pitch).sum::<f64>() / RATE).collect();
    let mean = means.iter().sum::<f64>() / means.len() as f64;
    let scatter = (means.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / (means.len() - 1) as f64).sqrt();
    let u = health.u_after(Seconds::new(1.0)).degrees();
    println!("a second's mean scatters by {scatter:.5}°, u is {u:.5}°");
    // 240 means tell their scatter to 4.6 %.
    assert!(share(u, scatter) < 0.15, "{u} for {scatter}");
    assert!(share(health.u_after(Seconds::new(4.0)).degrees(), scatter / 2.0) < 0.15);
    // ± for about 95 %: twice that. 150 µg/√Hz are 0.00608° after a second.
    let good_to = |found: &Angle| (found.degrees() - 2.0 * 0.00608).abs() < 0.000_5;
    assert_eq!(
        grade(&health, |sign| matches!(sign, Sign::Noise { second_deg, .. } if good_to(second_deg))),
        Grade::Good
    );
}

/// A coarse sensor with less noise than a tenth of its count repeats itself for as long as nobody moves it.
#[test]
fn an_axis_that_repeats_because_nothing_would_move_its_count_is_not_stuck() {
    let coarse = 64.0;
    let mut samples = Bench::quiet(10.0).samples();
    for sample in &mut samples {
        sample.counts = sample.counts.map(|count| (count * coarse / COUNTS_PER_G).round());
    }
    assert!(samples.windows(2).all(|pair| pair[0].counts[1] == pair[1].counts[1]), "y never changes");
    let health = Health::of(&RestRecord {
        samples: &samples,
        counters: Counters { good: samples.len() as u64, ..Counters::default() },
        calibration: &Calibration::nominal(coarse),
        axes: AxisMap::default(),
        full_scale: Some(127.0),
        nominal_rate: Some(Hertz::new(RATE)),
        has_clock: true,
    });
    assert_eq!(health.unwrap().stuck, PerAxis { x: false, y: false, z: false });
}

#[test]
fn a_saturated_axis_is_named() {
    let mut samples = Bench::quiet(10.0).samples();
    samples.iter_mut().step_by(4).for_each(|sample| sample.counts[2] = 32767.0);
    let health = check(&samples);
    assert_eq!(health.saturated, PerAxis { x: 0, y: 0, z: 500 });
    assert_eq!(grade(&health, |sign| matches!(sign, Sign::EndOfRange { axis: 'z', share: 0.25 })), Grade::Poor);
}

#[test]
fn lost_and_damaged_frames_are_counted_and_do_not_shift_the_rate() {
    let all = Bench::quiet(30.0).samples();
    let mut kept: Vec<Sample> = Vec::new();
    let mut missing = 0;
    for (i, sample) in all.iter().enumerate() {
        if i % 97 == 50 || i % 97 == 51 {
            missing += 1;
        } else {
            kept.push(Sample { lost_before: missing, ..*sample });
            missing = 0;
        }
    }
    let lost = (all.len() - kept.len()) as u64;
    let mut counters = Counters { good: kept.len() as u64, lost, ..Counters::default() };
    counters.bad.checksum = lost / 2;
    let health = check_with(&kept, counters).unwrap();
    assert!(share(health.rate_hz.value(), RATE) < 1e-9);
    assert!(health.jitter_s.value() < 1e-9);
    assert!(share(health.noise_density_deg_rthz, 150e-6_f64.to_degrees()) < 0.05);
    assert_eq!(
        grade(&health, |sign| *sign == Sign::Losses { frames: all.len() as u64, damaged: lost / 2, lost }),
        Grade::Poor
    );
}

#[test]
fn spikes_are_counted_and_leave_the_noise_alone() {
    let bench = Bench::quiet(60.0);
    let noise = NoiseSettings { spikes: 0.005, spike_size: Gravities::new(0.5), ..bench.noise };
    let health = check(&Bench { noise, ..bench }.samples());
    // Half a percent of 12 000, by chance.
    assert!((40..=80).contains(&health.spikes), "{}", health.spikes);
    assert!(share(health.noise_density_deg_rthz, 150e-6_f64.to_degrees()) < 0.05);
    assert_eq!(
        grade(&health, |sign| matches!(sign, Sign::Spikes { samples, .. } if *samples == health.spikes)),
        Grade::Usable
    );
}

/// ±80 mg and ±5 % are what a cheap sensor brings along: it is to be calibrated, not called moving or broken.
#[test]
fn being_off_one_g_is_neither_motion_nor_a_fault() {
    let mut samples = Bench::quiet(10.0).samples();
    for sample in &mut samples {
        let [x, y, z] = sample.counts;
        sample.counts = [1.05 * x + 0.08 * COUNTS_PER_G, 0.95 * y, 1.05 * z + 0.08 * COUNTS_PER_G];
    }
    let health = check(&samples);
    assert!(health.gravity_g.value() > 1.1 && !health.moved);
    assert_eq!(grade(&health, |sign| matches!(sign, Sign::Uncalibrated { .. })), Grade::Usable);
    assert_eq!(health.grade(), Grade::Usable);
}

#[test]
fn a_sensor_that_was_moved_is_told_so() {
    let mut samples = Bench::quiet(10.0).samples();
    samples.iter_mut().skip(1500).for_each(|sample| sample.counts[0] += 300.0);
    let health = check(&samples);
    assert!(health.moved);
    assert_eq!((grade(&health, |sign| matches!(sign, Sign::Moved { .. })), health.grade()), (Grade::Poor, Grade::Poor));
}

#[test]
fn what_is_no_record_is_refused() {
    let refused = |samples: &[Sample]| check_with(samples, Counters::default()).unwrap_err();
    assert_eq!(refused(&[]), HealthError::TooShort(Seconds::new(0.0)));
    assert!(matches!(refused(&Bench::quiet(1.0).samples()), HealthError::TooShort(length) if length.value() > 0.9));
    let mut none = Bench::quiet(5.0).samples();
    none.iter_mut().for_each(|sample| sample.counts = [0.0; 3]);
    assert_eq!(refused(&none), HealthError::Dead);
    none.iter_mut().for_each(|sample| sample.counts = [f64::NAN; 3]);
    assert_eq!(refused(&none), HealthError::NoGravity);
}

/// A record of thirty seconds of one kind of sensor, by its number.
type Make = fn(u64) -> Vec<Sample>;
/// What must be said of that kind.
type IsNamed = fn(&Sign, Grade) -> bool;

/// A number between two bounds, of this sensor's own.
fn drawn(seed: u64, low: f64, high: f64) -> f64 {
    Random::new(seed).between(low, high)
}

/// A sound sensor: 100 to 250 µg/√Hz, a little flicker.
fn sound(seed: u64) -> Vec<Sample> {
    noisy(seed, drawn(seed, 100e-6, 250e-6))
}

fn noisy(seed: u64, density: f64) -> Vec<Sample> {
    let white = NoiseSettings::white_from_density(density, Hertz::new(RATE));
    let noise = NoiseSettings { white, flicker: Gravities::new(0.03e-3), ..NoiseSettings::default() };
    Bench { noise, seed, ..Bench::quiet(30.0) }.samples()
}

/// The offset of an axis goes from nothing to 0.3° and more, as the sensor warms by 6 °C.
fn warming(seed: u64, tells: bool) -> Vec<Sample> {
    let (end, slow) = (drawn(seed, 0.3, 0.6).to_radians(), drawn(seed + 1, 8.0, 60.0));
    let mut samples = sound(seed);
    for sample in &mut samples {
        let warm = (1.0 - (-sample.clock.value() / slow).exp()) / (1.0 - (-30.0 / slow).exp());
        sample.counts[0] = (sample.counts[0] + COUNTS_PER_G * end * warm).round();
        sample.temperature = tells.then_some(Celsius::new(24.0 + 6.0 * warm));
    }
    samples
}

/// Something shakes it along one axis by 4 to 15 mg.
fn shaken(seed: u64) -> Vec<Sample> {
    let (size, frequency) = (drawn(seed, 0.004, 0.015), drawn(seed + 1, 6.0, 70.0));
    let mut shake = Buzz::new(Hertz::new(frequency), Angle::from_radians(size), Hertz::new(0.1), seed);
    let mut samples = sound(seed);
    for sample in &mut samples {
        let axis = &mut sample.counts[(seed % 3) as usize];
        *axis = (*axis + COUNTS_PER_G * shake.at(sample.clock).radians()).round();
    }
    samples
}

fn changed(seed: u64, change: impl Fn(&mut Sample, &mut Random)) -> Vec<Sample> {
    let (mut samples, mut random) = (sound(seed), Random::new(seed + 7));
    samples.iter_mut().for_each(|sample| change(sample, &mut random));
    samples
}

const KINDS: [(&str, Make, IsNamed); 12] = [
    ("sound", sound, |sign, _| matches!(sign, Sign::Still { .. })),
    (
        "warming, temperature told",
        |seed| warming(seed, true),
        |sign, _| matches!(sign, Sign::Drifts(Drift { warmed_c: Some(_), .. })),
    ),
    (
        "warming, temperature unknown",
        |seed| warming(seed, false),
        |sign, _| matches!(sign, Sign::Drifts(Drift { warmed_c: None, .. })),
    ),
    ("shaken by 4 to 15 mg", shaken, |sign, _| matches!(sign, Sign::Shaken(_))),
    (
        "noisy",
        |seed| noisy(seed, drawn(seed, 1.5e-3, 4e-3)),
        |sign, grade| matches!(sign, Sign::Noise { .. }) && grade != Grade::Good,
    ),
    (
        "very noisy",
        |seed| noisy(seed, drawn(seed, 6e-3, 12e-3)),
        |sign, grade| matches!(sign, Sign::Noise { .. }) && grade != Grade::Good,
    ),
    (
        "an axis at its end",
        |seed| changed(seed, |sample, _| sample.counts[2] = 32767.0),
        |sign, _| matches!(sign, Sign::EndOfRange { axis: 'z', .. }),
    ),
    (
        "an axis at its end now and then",
        |seed| {
            changed(seed, |sample, random| {
                sample.counts[2] = if random.chance(0.3) { 32767.0 } else { 32700.0 + random.normal().round() }
            })
        },
        |sign, _| matches!(sign, Sign::EndOfRange { axis: 'z', .. }),
    ),
    (
        "an axis stuck",
        |seed| changed(seed, |sample, _| sample.counts[1] = 17.0),
        |sign, _| matches!(sign, Sign::Stuck { axis: 'y' }),
    ),
    (
        "frozen",
        |seed| changed(seed, |sample, _| sample.counts = [3406.0, 12.0, 16026.0]),
        |sign, _| matches!(sign, Sign::Frozen),
    ),
    (
        "half a percent of spikes",
        |seed| {
            changed(seed, |sample, random| {
                if random.chance(0.005) {
                    sample.counts[1] += COUNTS_PER_G * random.between(0.05, 0.5);
                }
            })
        },
        |sign, _| matches!(sign, Sign::Spikes { .. }),
    ),
    (
        "moved",
        |seed| {
            let (at, by) = (drawn(seed, 5.0, 25.0), drawn(seed + 1, 1.2, 3.0).to_radians());
            changed(seed, |sample, _| {
                if sample.clock.value() > at {
                    sample.counts[0] += (COUNTS_PER_G * by).round();
                }
            })
        },
        |sign, _| matches!(sign, Sign::Moved { .. }),
    ),
];

/// Whether a person would take it for a fault.
fn is_an_alarm(sign: &Sign, grade: Grade) -> bool {
    match sign {
        Sign::Moved { .. }
        | Sign::Frozen
        | Sign::Stuck { .. }
        | Sign::EndOfRange { .. }
        | Sign::Spikes { .. }
        | Sign::Drifts(_)
        | Sign::WrongScale { .. }
        | Sign::Shaken(_) => true,
        Sign::Noise { .. } => grade != Grade::Good,
        _ => false,
    }
}

/// 40 sensors of each kind: what each has is named, and nothing that it has not.
#[test]
fn each_kind_of_sensor_is_named_for_what_it_is_and_for_nothing_else() {
    let (mut hits, mut false_alarms, mut all) = (0, 0, 0);
    for (kind, make, is_named) in KINDS {
        let (mut hit, mut wrong) = (0, Vec::new());
        for seed in 0..40 {
            let health = check(&make(1000 * seed + 17));
            hit += usize::from(health.findings.iter().any(|finding| is_named(&finding.sign, finding.grade)));
            let others = health
                .findings
                .iter()
                .filter(|finding| is_an_alarm(&finding.sign, finding.grade) && !is_named(&finding.sign, finding.grade));
            wrong.extend(others.map(|finding| finding.sign).take(1));
        }
        println!("{kind}: named {hit} of 40, something else named as well {} of 40", wrong.len());
        assert!(hit >= 38, "{kind}: {hit} of 40");
        assert!(wrong.len() <= 2, "{kind}: {wrong:?}");
        (hits, false_alarms, all) = (hits + hit, false_alarms + wrong.len(), all + 40);
    }
    println!("in all: named {hits} of {all}, something else as well {false_alarms} of {all}");
    assert!(hits * 100 >= 95 * all && false_alarms * 100 <= 2 * all, "{hits}, {false_alarms} of {all}");
}
