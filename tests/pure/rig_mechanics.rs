//! The simulated head behaves as heads do: signs, linkages, binds, slop, phase, tail.

use clinoblade::rig::{Edge, End, Rig, Scenario, Truth};
use clinoblade::rotor::{BladeName, Clip, Rotation, RotorReading, Station, Unknown, solve};
use clinoblade::units::Seconds;

fn rig(toml: &str) -> Rig {
    Rig::new(toml.parse::<Scenario>().unwrap()).unwrap()
}

fn after(rig: &mut Rig, lines: &[&str]) -> Truth {
    for line in lines {
        rig.command(line).unwrap();
    }
    rig.truth()
}

fn pitch(truth: &Truth, blade: usize) -> f64 {
    truth.blades[blade].pitch_deg.degrees()
}

/// The sign table of the trade: present-day form θ0 + θ1c·cosψ + θ1s·sinψ (Johnson, Helicopter Theory, from memory; a
/// public rotor-dynamics tutorial gives the lateral row): elevator alike for both rotations, aileron mirrored.
#[test]
fn elevator_is_alike_for_both_rotations_and_aileron_flips() {
    for (rotation, lateral) in [("anticlockwise", -1.0), ("clockwise", 1.0)] {
        let mut rig = rig(&format!("head.rotation = '{rotation}'"));
        let up = after(&mut rig, &["head 90", "stick elevator 100"]);
        assert!(pitch(&up, 0) > 10.0, "nose up: most pitch on the advancing side");
        assert!(pitch(&up, 1) < -10.0, "and least on the retreating side");
        assert!(up.swash.sin_deg.degrees() > 10.0 && up.swash.cos_deg.degrees().abs() < 1e-9);
        let right = after(&mut rig, &["head 0", "stick elevator 0", "stick aileron 100"]);
        assert!(lateral * pitch(&right, 0) > 10.0, "{rotation}: aileron right over the boom");
        assert!(lateral * right.swash.cos_deg.degrees() > 10.0 && right.swash.sin_deg.degrees().abs() < 1e-9);
        let collective = after(&mut rig, &["stick aileron 0", "stick collective 100"]);
        assert!((pitch(&collective, 0) - 11.0).abs() < 1e-9 && (pitch(&collective, 1) - 11.0).abs() < 1e-9);
    }
}

#[test]
fn a_phase_built_in_by_mixing_shows_as_cosine_square_and_sine_along() {
    // Pure elevator of amplitude A with built-in phase P reads A·cos P square to the boom and A·sin P along it.
    let of = |phase: f64| {
        let mut rig = rig(&format!("head = {{ cyclic_deg = 6.0, mixing_phase_deg = {phase:.1} }}"));
        let swash = after(&mut rig, &["stick elevator 100"]).swash;
        (swash.sin_deg.degrees(), swash.cos_deg.degrees())
    };
    let (amplitude, none) = of(0.0);
    assert!((amplitude - 6.0).abs() < 0.05 && none.abs() < 1e-9, "{amplitude} {none}");
    for (phase, square, along) in [(5.0, 0.9962, 0.0872), (10.0, 0.9848, 0.1736), (15.0, 0.9659, 0.2588)] {
        let (sin, cos) = of(phase);
        assert!((sin / amplitude - square).abs() < 0.002, "{phase}: {sin}");
        // The greatest pitch comes later in the turn: θ1c < 0.
        assert!((cos / amplitude + along).abs() < 0.002, "{phase}: {cos}");
    }
}

/// One sign for the phase: of the mixing or of the arm, for either rotation and either stick, positive acts later in the turn. On a
/// plain head elevator up is greatest at 90°, aileron right at 0° on a clockwise rotor and at 180° on an anticlockwise one.
#[test]
fn a_phase_of_the_mixing_and_one_of_the_arm_both_act_later_in_the_turn() {
    for (rotation, right) in [("clockwise", 0.0), ("anticlockwise", 180.0)] {
        for how in ["mixing_phase_deg = 16.0", "link_lead_deg = 74.0"] {
            for (stick, plain) in [("elevator", 90.0), ("aileron", right)] {
                let mut rig = rig(&format!("head = {{ rotation = '{rotation}', cyclic_deg = 6.0, {how} }}"));
                let swash = after(&mut rig, &[&format!("stick {stick} 100")]).swash;
                let greatest = swash.sin_deg.radians().atan2(swash.cos_deg.radians()).to_degrees();
                let later = (greatest - plain).rem_euclid(360.0);
                assert!((later - 16.0).abs() < 0.1, "{rotation}, {how}, {stick}: {later}");
            }
        }
    }
}

#[test]
fn an_arm_that_leads_otherwise_hides_no_pitch_when_its_link_stands_on_the_axis() {
    let mut rig = rig("head = { link_lead_deg = 78.0, cyclic_deg = 11.0 }");
    // The blade is turned on until its link stands over the nose.
    let on_axis = after(&mut rig, &["head 102", "stick elevator 100"]);
    let mut plain = self::rig("head.cyclic_deg = 11.0");
    let square = after(&mut plain, &["head 90", "stick elevator 100"]);
    assert!((pitch(&on_axis, 0) - pitch(&square, 0)).abs() < 1e-9);
}

/// Arithmetic of a linkage by hand: arm 15 mm on 20 mm, ±12°, θ = asin((L/r)·sin φ).
#[test]
fn pitch_against_stick_is_a_little_curved() {
    let mut rig = rig("head.collective_deg = 12.0");
    assert!((pitch(&after(&mut rig, &["stick collective 100"]), 0) - 12.0).abs() < 1e-9);
    let half = pitch(&after(&mut rig, &["stick collective 75"]), 0);
    assert!((half - 6.03).abs() < 0.005, "{half}");
    // All three arms 10° off square: the ends come out unequal.
    let high = pitch(&after(&mut rig, &["arm 1 10", "arm 2 10", "arm 3 10", "stick collective 100"]), 0);
    let low = pitch(&after(&mut rig, &["stick collective 0"]), 0);
    assert!((high - 11.5).abs() < 0.1 && (low + 12.1).abs() < 0.1, "{high} {low}");
    assert!(pitch(&after(&mut rig, &["stick collective 50"]), 0).abs() < 1e-9);
}

/// Degrees of a half-turn: asin(p/2r), M2.5 (0.45 mm by ISO 261) on a 20 mm arm gives 0.64°.
#[test]
fn links_and_rods_are_turned_in_half_turns() {
    let mut rig = rig("blades.link_error_deg = [0.0, 1.4]");
    let before = rig.truth();
    assert!((pitch(&before, 1) - 1.4).abs() < 1e-9);
    let after_two = after(&mut rig, &["link B -2"]);
    assert!((pitch(&after_two, 1) - 0.11).abs() < 0.01, "{}", pitch(&after_two, 1));
    assert!(pitch(&after_two, 0).abs() < 1e-12, "the other blade stays");
    // One whole turn of one of three rods: 0.43° collective and 0.52° of tilt toward that servo.
    let swash = after(&mut rig, &["link B 2", "rod 1 2"]).swash;
    assert!((swash.collective_deg.degrees() - 0.43).abs() < 0.005, "{:?}", swash.collective_deg);
    assert!((swash.sin_deg.degrees() - 0.52).abs() < 0.005, "{:?}", swash.sin_deg);
}

#[test]
fn a_link_behind_the_blade_lowers_it_when_lengthened() {
    let mut rig = rig("head = { link_lengthening = 'lowers', link_thread_mm = 0.4, link_opposed = true }");
    let turned = after(&mut rig, &["link A 1"]);
    // Opposed threads: half a turn moves the link by one whole pitch of 0.40 mm (M2, ISO 261).
    assert!((pitch(&turned, 0) + (0.4f64 / 20.0).asin().to_degrees()).abs() < 1e-9);
}

#[test]
fn end_points_and_trims_move_one_direction_or_the_whole_axis() {
    let mut rig = rig("");
    let full = pitch(&after(&mut rig, &["head 90", "stick elevator 100"]), 0);
    let less = pitch(&after(&mut rig, &["endpoint elevator up 80"]), 0);
    assert!((less / full - 0.8).abs() < 0.02, "{less} {full}");
    let down = pitch(&after(&mut rig, &["stick elevator -100"]), 0);
    assert!(down < -10.5, "the other direction keeps its own end point");
    assert!(pitch(&after(&mut rig, &["stick elevator 0", "trim elevator 5"]), 0) > 0.3);
}

const BOUND: &str = "bind = [{ at = 'elevator down', travel_deg = 10.4 }, { at = 'rudder left', travel_deg = 20.0 }]\n\
                     sensor.counts_per_g = 1e9\nservos.bind_buzz_deg = 0.2";

#[test]
fn a_bound_linkage_stops_where_it_binds_in_that_direction_only() {
    let mut rig = rig(BOUND);
    let down = after(&mut rig, &["head 90", "stick elevator -100"]);
    assert!((pitch(&down, 0) + 10.4).abs() < 1e-6, "{}", pitch(&down, 0));
    assert_eq!(down.binding, [End::ElevatorDown]);
    let up = after(&mut rig, &["stick elevator 100"]);
    assert!(pitch(&up, 0) > 10.7 && up.binding.is_empty());
    let less = after(&mut rig, &["stick elevator -90"]);
    assert!(pitch(&less, 0) > -10.35 && less.binding.is_empty());
    let left = after(&mut rig, &["stick rudder -100"]);
    assert!((left.tail[0].pitch_deg.degrees().abs() - 20.0).abs() < 1e-6);
    assert_eq!(left.binding, [End::RudderLeft]);
}

/// Chord angle of each sentence, degrees.
fn angles(bytes: &[u8]) -> Vec<f64> {
    let text = std::str::from_utf8(bytes).unwrap();
    text.lines()
        .map(|line| {
            let fields: Vec<&str> = line.split(['$', ',', '*']).collect();
            let axis = |i: usize| fields[i].parse::<f64>().unwrap();
            axis(4).atan2(axis(6)).to_degrees()
        })
        .collect()
}

#[test]
fn a_servo_held_against_a_stop_buzzes_between_20_and_50_hertz() {
    let mut rig = rig(BOUND);
    let mut quiet = Vec::new();
    after(&mut rig, &["head 90", "stick elevator -90"]);
    rig.advance(Seconds::new(2.0), &mut quiet);
    let quiet = angles(&quiet);
    assert!(quiet.iter().all(|a| (a - quiet[0]).abs() < 1e-6));
    let mut buzzing = Vec::new();
    after(&mut rig, &["stick elevator -100"]);
    rig.advance(Seconds::new(4.0), &mut buzzing);
    let buzzing = angles(&buzzing);
    let mean = buzzing.iter().sum::<f64>() / buzzing.len() as f64;
    let crossings = buzzing.windows(2).filter(|w| (w[0] - mean) * (w[1] - mean) < 0.0).count() as f64;
    let hertz = crossings / 2.0 / 2.0;
    assert!((20.0..=50.0).contains(&hertz), "{hertz}");
    assert!((mean + 10.4).abs() < 0.01, "{mean}");
    assert!(buzzing.iter().any(|a| (a - mean).abs() > 0.15) && buzzing.iter().all(|a| (a - mean).abs() < 0.21));
}

#[test]
fn slop_reads_low_from_below_and_high_from_above() {
    let mut rig = rig("head.slop_deg = 0.4\ntail.slop_deg = 0.6");
    let below = after(&mut rig, &["head 90", "stick collective 0", "stick collective 50"]);
    let above = after(&mut rig, &["stick collective 100", "stick collective 50"]);
    assert!((pitch(&above, 0) - pitch(&below, 0) - 0.4).abs() < 1e-9);
    let tail = |truth: &Truth| truth.tail[0].pitch_deg.degrees();
    let one = tail(&after(&mut rig, &["stick rudder -100", "stick rudder 0"]));
    let other = tail(&after(&mut rig, &["stick rudder 100", "stick rudder 0"]));
    assert!(((one - other).abs() - 0.6).abs() < 1e-9, "{one} {other}");
}

#[test]
fn a_roll_of_the_model_cancels_between_leading_edge_up_and_down() {
    for rotation in ["clockwise", "anticlockwise"] {
        let mut rig = rig(&format!(
            "head = {{ rotation = '{rotation}', nose_deg = 1.0, left_deg = 3.0 }}\ntail.neutral_deg = 4.0"
        ));
        let up = after(&mut rig, &["clip tail A", "tail up", "stick rudder 60"]);
        assert_eq!((up.tail[0].leading_edge, up.tail[1].leading_edge), (Edge::Up, Edge::Down));
        let down = after(&mut rig, &["tail down"]);
        let (up, down) = (up.tail[0].apparent_deg.degrees(), down.tail[0].apparent_deg.degrees());
        let pitch = rig.truth().tail[0].pitch_deg.degrees();
        assert!((up - down).abs() > 5.9 && (up - down).abs() < 6.1, "{up} {down}");
        assert!((0.5 * (up + down) - pitch).abs() < 1e-9, "{up} {down} {pitch}");
        assert!(rig.truth().tail[0].span_deg.degrees().abs() < 1e-9);
    }
}

#[test]
fn rudder_away_from_the_torque_is_positive_tail_pitch() {
    // A clockwise rotor turns the body anticlockwise, nose left: rudder right is the strong side.
    let right = after(&mut rig("head.rotation = 'clockwise'"), &["stick rudder 100"]);
    assert!((right.tail[0].pitch_deg.degrees() - 30.0).abs() < 1e-9);
    let right = after(&mut rig("head.rotation = 'anticlockwise'"), &["stick rudder 100"]);
    assert!((right.tail[0].pitch_deg.degrees() + 30.0).abs() < 1e-9);
}

#[test]
fn a_turned_head_brings_the_next_blade_to_the_same_station() {
    let mut rig =
        rig("head = { blades = 3, rotation = 'anticlockwise', nose_deg = 2.0 }\nblades.link_error_deg = [0.3, -0.5]");
    let stations: Vec<f64> = rig.truth().blades.iter().map(|blade| blade.station_deg.degrees().round()).collect();
    assert_eq!(stations, [0.0, 120.0, 240.0]);
    let a = after(&mut rig, &["head 90"]).blades[0].apparent_deg.degrees();
    let b = after(&mut rig, &["head -30"]).blades[1].apparent_deg.degrees();
    assert!((rig.truth().blades[1].station_deg.degrees() - 90.0).abs() < 1e-9);
    // At the same station the shaft's lean drops out of the difference.
    assert!((a - b - 0.8).abs() < 1e-9, "{a} {b}");
}

#[test]
fn every_seating_of_the_clip_draws_its_own_error() {
    let mut rig = rig("seed = 4\nclip.reseat_deg = 0.1");
    let offsets: Vec<f64> = (0..400).map(|_| after(&mut rig, &["clip A"]).clip.chord_offset_deg.degrees()).collect();
    let mean = offsets.iter().sum::<f64>() / 400.0;
    let sd = (offsets.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 399.0).sqrt();
    // Five standard errors of mean and deviation of 400 normal draws.
    assert!(mean.abs() < 5.0 * 0.1 / 20.0, "{mean}");
    assert!((sd - 0.1).abs() < 5.0 * 0.1 / 800f64.sqrt(), "{sd}");
    assert!(offsets.windows(2).all(|w| w[0] != w[1]));
}

#[test]
fn a_stick_moved_over_a_time_arrives_then_and_the_servo_creeps_on() {
    let mut rig = rig("servos = { creep_percent = 4.0, creep_time_s = 0.5 }");
    after(&mut rig, &["head 90", "stick elevator 100 over 1"]);
    let mut bytes = Vec::new();
    rig.advance(Seconds::new(0.5), &mut bytes);
    assert!((rig.truth().sticks.elevator.value() - 50.0).abs() < 1e-9 && rig.truth().moving);
    rig.advance(Seconds::new(1.0), &mut bytes);
    let arrived = pitch(&rig.truth(), 0);
    assert!(rig.truth().moving, "the servo is still creeping");
    rig.advance(Seconds::new(6.0), &mut bytes);
    let settled = pitch(&rig.truth(), 0);
    assert!(!rig.truth().moving && (0.3..0.6).contains(&(settled - arrived)), "{arrived} {settled}");
}

/// A bend turns with the head, so that it cannot show once per turn: after every other cause is solved for, it is left as a
/// constant split (what tilts the chords) and unequal droop (what tilts the spans). By hand: a tilt of b toward μ from blade A
/// lifts A's span by b·cosμ and its leading edge by b·sinμ, and lowers those of the opposite blade by as much.
#[test]
fn a_bent_spindle_shows_round_the_turn_as_a_constant_split_and_unequal_droop_until_it_is_turned() {
    let (bend, toward) = (0.6, 30f64);
    for (rotation, sense) in [("anticlockwise", Rotation::Anticlockwise), ("clockwise", Rotation::Clockwise)] {
        let scenario = format!(
            "head = {{ rotation = '{rotation}', nose_deg = 2.0, left_deg = -1.5, spindle_bend_deg = {bend}, \
             spindle_bend_azimuth_deg = {toward} }}\nblades.droop_deg = [-1.0, -1.0]\nservos.sub_trim_deg = [2.0, -1.0, 0.0]"
        );
        let mut rig = rig(&scenario);
        for sign in [1.0, -1.0] {
            let mut readings = Vec::new();
            let mut splits = Vec::new();
            for station in (0..12).map(|i| f64::from(30 * i)) {
                // Blade A at the station, then blade B at the same one.
                let pair = [0, 1].map(|blade| {
                    let truth = after(&mut rig, &[&format!("head {}", station - 180.0 * f64::from(blade))]);
                    truth.blades[blade as usize]
                });
                for (index, read) in pair.iter().enumerate() {
                    readings.push(RotorReading {
                        blade: BladeName::from_index(index).unwrap(),
                        station: Station::from_degrees(station).unwrap(),
                        clip: Clip::Forward,
                        apparent: read.apparent_deg,
                        span: read.span_deg,
                        u: None,
                    });
                }
                splits.push((pair[0].apparent_deg - pair[1].apparent_deg).degrees());
            }
            let solution = solve(&readings, sense).unwrap();
            let (sin, cos) = toward.to_radians().sin_cos();
            let near =
                |found: f64, wanted: f64| assert!((found - wanted).abs() < 0.02, "{rotation}: {found} for {wanted}");
            near(solution.blades[1].split.unwrap().value.degrees(), 2.0 * sign * bend * sin);
            near(solution.blades[0].droop.value.degrees(), -1.0 + sign * bend * cos);
            near(solution.blades[1].droop.value.degrees(), -1.0 - sign * bend * cos);
            for split in splits {
                near(split, 2.0 * sign * bend * sin);
            }
            // Nothing of it passes for a lean or for a tilt of the swashplate.
            let truth = rig.truth();
            near(solution.known(Unknown::Nose).unwrap().degrees(), 2.0);
            near(solution.known(Unknown::Left).unwrap().degrees(), -1.5);
            near(solution.known(Unknown::Cos).unwrap().degrees(), truth.swash.cos_deg.degrees());
            near(solution.known(Unknown::Sin).unwrap().degrees(), truth.swash.sin_deg.degrees());
            assert!(solution.residual_rms.degrees() < 0.02, "{:?}", solution.residual_rms);
            rig.command("spindle turn").unwrap();
        }
    }
}

/// By hand: a spindle that is bent by b toward μ and turned by γ in its grips lifts blade A by b·cos(μ − γ) and the opposite blade by
/// as much less; a tip that goes up by δ turns its blade against its link by x·δ/r.
#[test]
fn a_spindle_turned_by_quarters_shows_what_lay_across_and_droop_turns_a_blade_through_its_link() {
    let (bend, toward, span, arm) = (0.8, 30f64, 24.0, 20.0);
    for (lengthening, sense) in [("raises", -1.0), ("lowers", 1.0)] {
        let with = |span: f64| {
            rig(&format!(
                "head = {{ spindle_bend_deg = {bend}, spindle_bend_azimuth_deg = {toward}, link_span_mm = {span}, \
                 pitch_arm_mm = {arm}, link_lengthening = '{lengthening}' }}\nblades.droop_deg = [-1.0, -1.5]"
            ))
        };
        let (mut coupled, mut free) = (with(span), with(0.0));
        for seat in [0.0, 90.0, 180.0, 270.0] {
            let [one, other] = [&mut coupled, &mut free].map(|rig| after(rig, &[&format!("spindle {seat}")]));
            for (blade, droop) in [(0, -1.0), (1, -1.5)] {
                let along = (toward - seat).to_radians().cos() * if blade == 0 { 1.0 } else { -1.0 };
                let up = droop + bend * along;
                let slope = one.blades[blade].droop_deg.degrees();
                assert!((slope - up).abs() < 0.03, "{seat}: {slope} for {up}");
                let turned = (one.blades[blade].pitch_deg - other.blades[blade].pitch_deg).degrees();
                assert!((turned - sense * span / arm * up).abs() < 0.02, "{seat}: {turned}");
            }
        }
    }
}
