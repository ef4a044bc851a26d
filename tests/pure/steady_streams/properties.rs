//! What holds for every stream of forces, sensible or not.

use clinoblade::filter::{EndedBy, Gate, Live, LiveSettings, SteadyReader, SteadySettings};
use clinoblade::sensor::Force;
use clinoblade::units::{Angle, BladeVector, Gravities, Seconds};
use proptest::prelude::*;
use support::streams::{CLASSES, Class, stream};

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => -2.0..2.0_f64,
        1 => any::<f64>(),
        1 => prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(0.0), Just(f64::MAX), Just(f64::MIN_POSITIVE)],
    ]
}

fn any_force() -> impl Strategy<Value = Force> {
    (any_number(), any_number(), any_number(), any_number(), any::<bool>(), any::<u32>()).prop_map(
        |(clock, span, chord, normal, saturated, lost_before)| Force {
            clock: Seconds::new(clock),
            up: BladeVector { span, chord, normal },
            saturated,
            lost_before,
            temperature: None,
        },
    )
}

/// Forces whose clock runs on, with anything along the axes.
fn running_forces() -> impl Strategy<Value = Vec<Force>> {
    let step = prop_oneof![9 => 1e-4..0.02_f64, 1 => 0.0..3.0_f64];
    prop::collection::vec((step, any_force()), 0..600).prop_map(|steps| {
        let mut clock = 0.0;
        steps
            .into_iter()
            .map(|(step, mut force)| {
                clock += step;
                force.clock = Seconds::new(clock);
                force.saturated &= force.lost_before % 8 == 0;
                force
            })
            .collect()
    })
}

fn read_all(forces: &[Force], settings: SteadySettings) {
    let mut reader = SteadyReader::new(settings);
    let mut live = Live::new(LiveSettings::default());
    for force in forces {
        reader.push(force);
        live.push(force.clock, force.up.apparent_pitch());
    }
    if let Some(reading) = reader.finish(EndedBy::End) {
        assert!(reading.effective_samples <= reading.samples as f64);
        assert!(reading.repeat.radians() >= 0.0, "{:?}", reading.repeat);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_forces_bring_the_reader_down(forces in prop::collection::vec(any_force(), 0..300)) {
        read_all(&forces, SteadySettings::default());
    }

    #[test]
    fn no_running_forces_bring_the_reader_down(forces in running_forces(), coarse in any::<bool>()) {
        let count = coarse.then(|| Gravities::new(1.0 / 256.0));
        read_all(&forces, SteadySettings { count, ..SteadySettings::default() });
    }
}

fn turned(force: &Force, angle: Angle) -> Force {
    let BladeVector { span, chord, normal } = force.up;
    let (sin, cos) = (angle.sin(), angle.cos());
    Force { up: BladeVector { span, chord: chord * cos + normal * sin, normal: normal * cos - chord * sin }, ..*force }
}

#[test]
fn a_turned_blade_is_read_the_same_but_turned() {
    for class in CLASSES {
        let original = stream(class, 4, 77);
        let read = |angle: f64| {
            let mut reader = SteadyReader::new(SteadySettings::default());
            for force in &original.forces {
                reader.push(&turned(force, Angle::from_degrees(angle)));
            }
            reader.finish(EndedBy::End).unwrap()
        };
        let plain = read(0.0);
        // The gate looks along the sensor's axes, so that a stray or coarse sample may fall to it or not in other axes.
        let plainly = matches!(class, Class::Still | Class::Overshoot | Class::Buzz | Class::Pause);
        let angles: &[f64] = if plainly { &[180.0, 90.0, -90.0, 179.9, 33.0] } else { &[180.0, 90.0, -90.0] };
        for &angle in angles {
            let other = read(angle);
            let apart = (other.apparent_pitch() - plain.apparent_pitch() - Angle::from_degrees(angle)).wrapped();
            assert!(apart.degrees().abs() < 1e-6, "{class:?} {angle}: {apart}");
            assert!((other.repeat - plain.repeat).degrees().abs() < 1e-6, "{class:?} {angle}");
            assert_eq!((other.steady, other.samples), (plain.steady, plain.samples), "{class:?} {angle}");
        }
    }
}

#[test]
fn the_gate_counts_what_it_drops_by_its_reason() {
    let mut gate = Gate::new(None, Gravities::new(16.0));
    let rest = |clock: f64, chord: f64| Force {
        clock: Seconds::new(clock),
        up: BladeVector { span: 0.0, chord, normal: 1.0 },
        saturated: false,
        lost_before: 0,
        temperature: None,
    };
    for k in 0..50 {
        gate.push(&rest(f64::from(k) * 0.005, 0.001 * f64::from(k * 7 % 5)));
    }
    assert_eq!(gate.dropped().total(), 0);
    gate.push(&rest(0.245, 0.0));
    gate.push(&rest(0.250, f64::NAN));
    gate.push(&rest(0.255, 17.0));
    gate.push(&Force { saturated: true, ..rest(0.260, 0.0) });
    gate.push(&rest(0.265, 0.4));
    let dropped = gate.dropped();
    assert_eq!(
        (dropped.repeated, dropped.not_finite, dropped.out_of_range, dropped.saturated, dropped.spikes),
        (1, 1, 1, 1, 1)
    );
}

#[test]
fn clean_noise_hardly_ever_passes_for_a_spike() {
    for counts_per_g in [256.0, 16384.0] {
        let mut noise = clinoblade::rig::noise::Random::new(9);
        let mut gate = Gate::new(Some(Gravities::new(1.0 / counts_per_g)), Gravities::new(16.0));
        let n = 20_000;
        for k in 0..n {
            let mut axis = |level: f64| ((level + 0.003 * noise.normal()) * counts_per_g).round() / counts_per_g;
            let up = BladeVector { span: axis(0.0), chord: axis(0.1), normal: axis(1.0) };
            let clock = Seconds::new(f64::from(k) * 0.005);
            gate.push(&Force { clock, up, saturated: false, lost_before: 0, temperature: None });
        }
        let spikes = gate.dropped().spikes;
        assert!(spikes * 1000 < n as u64, "{counts_per_g}: {spikes} of {n}");
    }
}

#[test]
fn a_sensor_that_repeats_itself_for_a_second_is_called_stuck() {
    let mut noise = clinoblade::rig::noise::Random::new(10);
    let mut gate = Gate::new(Some(Gravities::new(1.0 / 16384.0)), Gravities::new(16.0));
    let mut up = BladeVector { span: 0.0, chord: 0.1, normal: 1.0 };
    for k in 0..700 {
        if k < 400 {
            up = BladeVector { span: 0.002 * noise.normal(), chord: 0.002 * noise.normal(), normal: 1.0 };
        }
        let clock = Seconds::new(f64::from(k) * 0.005);
        gate.push(&Force { clock, up, saturated: false, lost_before: 0, temperature: None });
        assert!(k >= 590 || !gate.is_stuck(), "{k}");
    }
    assert!(gate.is_stuck());
}

#[test]
fn counts_that_the_noise_does_not_blur_are_read_with_an_honest_uncertainty() {
    let want = Angle::from_degrees(0.02);
    let count = Gravities::new(1.0 / 256.0);
    let mut noise = clinoblade::rig::noise::Random::new(411);
    let n = 60;
    let (mut covered, mut owned) = (0, 0);
    for number in 0..n {
        let pitch = Angle::from_degrees(noise.between(-20.0, 20.0));
        // 0.02 to 0.4 counts of noise.
        let scatter = noise.between(0.02, 0.4) * count.value();
        let mut reader = SteadyReader::new(SteadySettings { want, count: Some(count), ..SteadySettings::default() });
        for k in 0..1600 {
            let mut axis = |level: f64| ((level + scatter * noise.normal()) * 256.0).round() / 256.0;
            let up = BladeVector { span: axis(0.0), chord: axis(pitch.sin()), normal: axis(pitch.cos()) };
            let clock = Seconds::new(f64::from(k) * 0.005);
            reader.push(&Force { clock, up, saturated: false, lost_before: 0, temperature: None });
        }
        let reading = reader.finish(EndedBy::End).unwrap();
        let error = (reading.apparent_pitch() - pitch).wrapped().degrees().abs();
        // Half a count on either axis is the most that rounding can do: 0.22° at 256 counts per g.
        assert!(error < 0.32, "{number}: {error:.3}°");
        // Near the edge between two counts even a little noise blurs them; elsewhere the rounding must be owned to.
        owned += usize::from(reading.undithered.degrees() > 0.02);
        covered += usize::from(error <= 2.0 * reading.repeat.degrees());
    }
    assert!(covered * 100 >= n * 90, "{covered} of {n} within two uncertainties");
    assert!(owned * 3 >= n, "{owned} of {n} own to the rounding");
}

#[test]
fn a_blade_that_rests_for_a_while_and_moves_on_is_read_at_its_rest_or_not_called_steady() {
    let mut noise = clinoblade::rig::noise::Random::new(412);
    let mut at_rest = 0;
    let n = 40;
    for number in 0..n {
        let place = noise.between(-10.0, 10.0);
        let rest = noise.between(1.0, 3.0);
        let scatter = noise.between(0.0006, 0.004);
        let mut reader =
            SteadyReader::new(SteadySettings { want: Angle::from_degrees(0.02), ..SteadySettings::default() });
        for k in 0..(200.0 * (rest + 2.0)) as u32 {
            let clock = f64::from(k) * 0.005;
            let pitch = Angle::from_degrees(place + 4.0 * (clock - rest).max(0.0));
            let mut axis = |level: f64| level + scatter * noise.normal();
            let up = BladeVector { span: axis(0.0), chord: axis(pitch.sin()), normal: axis(pitch.cos()) };
            let clock = Seconds::new(clock);
            reader.push(&Force { clock, up, saturated: false, lost_before: 0, temperature: None });
        }
        let reading = reader.finish(EndedBy::End).unwrap();
        if reading.steady {
            let error = (reading.apparent_pitch() - Angle::from_degrees(place)).wrapped().degrees().abs();
            assert!(
                error < 0.08 && error <= 4.0 * reading.repeat.degrees(),
                "{number}: {error:.4}° {}",
                reading.repeat
            );
            assert!(reading.finished_at.value() < rest + 0.15, "{number}: {:?}", reading.finished_at);
            at_rest += 1;
        }
    }
    assert!(at_rest * 2 >= n, "{at_rest} of {n} were read at their rest");
}

/// An inclinometer of the industrial kind sends ten angles a second, and may not stir at all.
#[test]
fn a_sensor_of_ten_a_second_is_read_at_rest_quiet_or_not() {
    let mut noise = clinoblade::rig::noise::Random::new(10);
    let pitch = Angle::from_degrees(8.0);
    for scatter in [0.0, 0.01, 0.05] {
        let mut reader = SteadyReader::new(SteadySettings::default());
        for k in 0..200 {
            // It is turned into place during the first three seconds.
            let swung = if k < 30 { 0.5 * f64::from(30 - k) } else { 0.0 };
            let angle = pitch + Angle::from_degrees(swung + scatter * noise.normal());
            let up = BladeVector { span: 0.0, chord: angle.sin(), normal: angle.cos() };
            let clock = Seconds::new(f64::from(k) * 0.1);
            reader.push(&Force { clock, up, saturated: false, lost_before: 0, temperature: None });
        }
        let reading = reader.finish(EndedBy::End).unwrap();
        assert!(reading.steady, "scatter of {scatter}°: {reading:?}");
        let error = (reading.apparent_pitch() - pitch).wrapped().degrees().abs();
        assert!(error <= 3.0 * reading.repeat.degrees().max(1e-6), "scatter of {scatter}°: {error}°, {reading:?}");
        assert!(reading.settled_at >= Seconds::new(2.8), "{reading:?}");
    }
}
