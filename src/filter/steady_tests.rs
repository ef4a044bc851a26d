//! When a reading ends, and what repeated samples are worth.

use super::*;
use crate::rig::noise::Random;
use crate::units::{BladeVector, Gravities};

/// Samples at 200 Hz, until the reading says that it is over.
fn ends_after(saturated: bool) -> Option<(f64, EndedBy)> {
    let within = Seconds::new(3.0);
    let mut reader = SteadyReader::new(SteadySettings { within, want: Angle::ZERO, ..SteadySettings::default() });
    (0..4000).find_map(|k| {
        let clock = 5.0 + f64::from(k) / 200.0;
        let up = BladeVector { span: 0.0, chord: 0.01 * f64::from(k % 7), normal: 1.0 };
        let force = Force { clock: Seconds::new(clock), up, saturated, lost_before: 0, temperature: None };
        match reader.push(&force) {
            Progress::Done(ended_by) => Some((clock - 5.0, ended_by)),
            _ => None,
        }
    })
}

#[test]
fn the_time_limit_ends_a_reading_of_which_every_sample_is_dropped_like_any_other() {
    assert_eq!(ends_after(true), Some((3.0, EndedBy::Time)));
    assert_eq!(ends_after(false), Some((3.0, EndedBy::Time)));
}

/// A reading of a resting blade at 200 Hz whose sensor measures anew only every `held` samples.
fn rest(seed: u64, held: u32, noise: f64, count: f64) -> SteadyReading {
    let mut random = Random::new(seed);
    let settings = SteadySettings { count: Some(Gravities::new(count)), ..SteadySettings::default() };
    let mut reader = SteadyReader::new(settings);
    let mut up = BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
    for k in 0..6000 {
        let mut measure = |level: f64| ((level + noise * random.normal()) / count).round() * count;
        if k % held == 0 {
            up = BladeVector { span: measure(0.01), chord: measure(0.02), normal: measure(0.99) };
        }
        let clock = Seconds::new(f64::from(k) / 200.0);
        let force = Force { clock, up, saturated: false, lost_before: 0, temperature: None };
        if matches!(reader.push(&force), Progress::Done(_)) {
            break;
        }
    }
    reader.finish(EndedBy::End).unwrap()
}

/// How many of 60 steady readings lie further off than three times what they say, and the largest share of their samples that
/// they count as independent.
fn far_off(held: u32) -> (usize, f64) {
    let truth = Angle::from_radians(0.02f64.atan2(0.99));
    let readings: Vec<SteadyReading> = (0..60).map(|seed| rest(seed, held, 0.002, 1.0 / 16384.0)).collect();
    let steady = || readings.iter().filter(|reading| reading.steady);
    let far = steady().filter(|reading| (reading.apparent_pitch() - truth).abs() > reading.repeat * 3.0).count();
    let share = steady().map(|reading| reading.effective_samples / reading.samples as f64).fold(0.0, f64::max);
    (far, share)
}

#[test]
fn samples_that_are_held_are_no_independent_ones() {
    for held in [4, 20] {
        let (far, share) = far_off(held);
        assert!(share < 1.3 / f64::from(held), "{share} of the samples of a sensor that holds each for {held}");
        assert!(far <= 1, "{far} of 60 readings are far off");
    }
    let (far, share) = far_off(1);
    assert!(far <= 1 && share > 0.99, "{far} far off, {share}");
}

#[test]
fn a_coarse_sensor_that_truly_repeats_itself_is_held_against_its_resolution_alone() {
    let count = 1.0 / 256.0;
    for seed in 0..20 {
        let reading = rest(seed, 1, 0.1 * count, count);
        assert!(reading.steady && !reading.stuck, "{reading:?}");
        assert!(reading.effective_samples > 0.9 * reading.samples as f64, "{reading:?}");
        assert!(reading.undithered.degrees() > 0.05, "{reading:?}");
    }
}
