//! Vibration of the simulated blade: found where there is one, at its frequency and with its amplitude, and nowhere else.

use super::{EndedBy, Progress, SteadyReader, SteadyReading, SteadySettings};
use crate::rig::Rig;
use crate::sensor::{Calibration, Mounting};
use crate::units::{Angle, Gravities, Seconds};
use clinoblade_stream::{Profile, SampleDecoder};

/// Samples a second.
const RATE: f64 = 200.0;

/// Blade A at full collective, read until its angle is known to ± `want_deg`.
fn read(seed: u64, more: &str, want_deg: f64) -> SteadyReading {
    let scenario = format!(
        "seed = {seed}\nhead.station_deg = 90\nsensor.noise_density_ug_rthz = 150\nstream.rate_hz = {RATE}\n{more}"
    );
    let mut rig = Rig::new(scenario.parse().unwrap()).unwrap();
    rig.command("stick collective 100").unwrap();
    let mut bytes = Vec::new();
    rig.advance(Seconds::new(20.0), &mut bytes);
    let profile = Profile::sentence();
    let calibration = Calibration::nominal(profile.counts_per_g());
    let count = Gravities::new(1.0 / profile.counts_per_g());
    let wanted = Angle::from_degrees(want_deg);
    let mut reader =
        SteadyReader::new(SteadySettings { want: wanted, count: Some(count), ..SteadySettings::default() });
    for sample in SampleDecoder::all(&profile, &bytes).0 {
        if let Progress::Done(_) = reader.push(&calibration.force(&sample, Mounting::default(), false)) {
            break;
        }
    }
    reader.finish(EndedBy::End).unwrap()
}

/// At half the sample rate a sine leaves no trace: an amplitude fitted there is rounding, magnified.
#[test]
fn a_quiet_blade_shows_no_vibration_at_half_the_sample_rate_or_anywhere() {
    let shown = |seed: u64| read(seed, "", 0.05).vibration;
    assert_eq!(shown(2), None);
    let looks = 500;
    let all: Vec<_> = (0..looks).filter_map(shown).collect();
    println!("{} of {looks} quiet blades: {all:?}", all.len());
    // Noise stands out like a line about once in a thousand looks, and a reading takes several looks.
    assert!(all.len() as u64 * 200 <= looks, "{all:?}");
    assert!(all.iter().all(|vibration| vibration.frequency.value() < 0.5 * RATE - 0.5), "{all:?}");
    // 150 µg/√Hz at 200 Hz is 0.086° in one sample.
    assert!(all.iter().all(|vibration| vibration.amplitude.degrees() < 0.2), "{all:?}");
}

#[test]
fn a_vibration_is_found_in_the_middle_of_the_band_and_a_little_below_its_end() {
    for hertz in [31.0, 50.0, 78.5, 95.0] {
        for seed in 0..20 {
            let reading = read(seed, &format!("servos = {{ buzz_deg = 0.3, buzz_hz = {hertz} }}"), 0.02);
            let vibration = reading.vibration.unwrap_or_else(|| panic!("{hertz} Hz, seed {seed}: none in {reading:?}"));
            assert!((vibration.frequency.value() - hertz).abs() < 0.4, "{hertz} Hz, seed {seed}: {vibration:?}");
            assert!((vibration.amplitude.degrees() - 0.3).abs() < 0.09, "{hertz} Hz, seed {seed}: {vibration:?}");
        }
    }
}
