//! The simulated head against formulas written anew here: trigonometry of projections instead of rotation matrices.

use clinoblade::rig::{Rig, Scenario};
use clinoblade::units::Seconds;

fn rig(toml: &str) -> Rig {
    Rig::new(toml.parse::<Scenario>().unwrap()).unwrap()
}

fn tell(rig: &mut Rig, lines: &[&str]) {
    for line in lines {
        rig.command(line).unwrap();
    }
}

/// The linkage as a draughtsman would solve it: three balls, the plane through them, the link's ball, the pitch arm.
struct Drawing {
    hand: f64,
    collective: f64,
    cyclic: f64,
}

const SERVO_ARM: f64 = 15.0;
const SERVO_CIRCLE: f64 = 25.0;
const LINK_CIRCLE: f64 = 15.0;
const PITCH_ARM: f64 = 20.0;

impl Drawing {
    /// Pitch at azimuth `psi` (radians) for sticks from −1 to 1.
    fn pitch(&self, sticks: (f64, f64, f64), psi: f64) -> f64 {
        let (elevator, aileron, collective) = sticks;
        let full_collective = (PITCH_ARM * self.collective.sin() / SERVO_ARM).asin();
        let lean = (PITCH_ARM * self.cyclic.sin() / LINK_CIRCLE).asin();
        let full_cyclic = (lean.tan() * SERVO_CIRCLE / SERVO_ARM).asin();
        // Balls at the nose, left aft, right aft; X forward, Y left. Their heights by what the mixer asks of each.
        let half = 0.5;
        let side = 3f64.sqrt() / 2.0;
        let balls = [
            (1.0, 0.0, full_collective * collective + full_cyclic * elevator),
            (-half, side, full_collective * collective + full_cyclic * (-half * elevator + side * aileron)),
            (-half, -side, full_collective * collective + full_cyclic * (-half * elevator - side * aileron)),
        ]
        .map(|(x, y, arm)| (SERVO_CIRCLE * x, SERVO_CIRCLE * y, SERVO_ARM * f64::sin(arm)));
        // The plane through them by its normal, the cross product of two edges.
        let edge = |i: usize| (balls[i].0 - balls[0].0, balls[i].1 - balls[0].1, balls[i].2 - balls[0].2);
        let (a, b) = (edge(1), edge(2));
        let normal = (a.1 * b.2 - a.2 * b.1, a.2 * b.0 - a.0 * b.2, a.0 * b.1 - a.1 * b.0);
        let (slope_x, slope_y) = (-normal.0 / normal.2, -normal.1 / normal.2);
        let height = balls[0].2 - slope_x * balls[0].0 - slope_y * balls[0].1;
        // The link a quarter turn ahead of the blade: anticlockwise, a blade over the boom has it on the right.
        let (x, y) = (psi.sin(), -self.hand * psi.cos());
        let rise = (slope_x * x + slope_y * y).atan().sin();
        ((height + LINK_CIRCLE * rise) / PITCH_ARM).asin()
    }
}

/// Apparent pitch and span inclination of a blade: θ + atan2(u·t, u·k′) and asin(u·span), with u, s and t in body axes
/// (X nose, Y left, Z up along the shaft).
fn as_gravity_shows(hand: f64, psi: f64, nose: f64, left: f64, droop: f64, pitch: f64) -> (f64, f64) {
    let length = (1.0 + nose.tan().powi(2) + left.tan().powi(2)).sqrt();
    let u = (-nose.tan() / length, -left.tan() / length, 1.0 / length);
    let u_s = -u.0 * psi.cos() - u.1 * hand * psi.sin();
    let u_t = u.0 * psi.sin() - u.1 * hand * psi.cos();
    let u_raised = -droop.sin() * u_s + droop.cos() * u.2;
    (pitch + u_t.atan2(u_raised), (droop.cos() * u_s + droop.sin() * u.2).asin())
}

const STICKS: [(f64, f64, f64); 5] =
    [(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, -1.0, 0.3), (-0.6, 0.4, -1.0), (0.25, 0.9, 0.8)];

#[test]
fn every_blade_of_every_head_stands_as_the_closed_formula_says() {
    for (rotation, hand) in [("clockwise", -1.0), ("anticlockwise", 1.0)] {
        for blades in 2..=5 {
            for (nose, left, droop) in [(0.0, 0.0, 0.0), (3.0, -2.0, -1.5), (-20.0, 35.0, 2.0)] {
                let mut rig = rig(&format!(
                    "head = {{ rotation = '{rotation}', blades = {blades}, nose_deg = {nose}, left_deg = {left}, \
                     collective_deg = 10.5, cyclic_deg = 11.5 }}\nblades.droop_deg = [{}]",
                    vec![format!("{droop:.1}"); blades].join(", ")
                ));
                let drawing = Drawing { hand, collective: 10.5f64.to_radians(), cyclic: 11.5f64.to_radians() };
                for station in [0.0, 37.0, 90.0, 180.0, 301.0] {
                    for sticks in STICKS {
                        tell(
                            &mut rig,
                            &[
                                &format!("head {station}"),
                                &format!("stick elevator {}", 100.0 * sticks.0),
                                &format!("stick aileron {}", 100.0 * sticks.1),
                                &format!("stick collective {}", 50.0 + 50.0 * sticks.2),
                            ],
                        );
                        for (k, blade) in rig.truth().blades.iter().enumerate() {
                            let psi = (station + 360.0 * k as f64 / blades as f64).to_radians();
                            let pitch = drawing.pitch(sticks, psi);
                            let (nose, left, droop) =
                                (f64::to_radians(nose), f64::to_radians(left), f64::to_radians(droop));
                            let (apparent, span) = as_gravity_shows(hand, psi, nose, left, droop, pitch);
                            for (told, formula) in
                                [(blade.pitch_deg, pitch), (blade.apparent_deg, apparent), (blade.span_deg, span)]
                            {
                                assert!(
                                    (told.radians() - formula).abs() < 1e-9,
                                    "{rotation} {blades} {station} {k}: {told}"
                                );
                            }
                        }
                    }
                }
            }
        }
    }
}

/// x, y, z of every whole sentence, its XOR checked.
fn sentences(bytes: &[u8]) -> Vec<[f64; 3]> {
    let text = std::str::from_utf8(bytes).unwrap();
    text.split_terminator("\r\n")
        .map(|line| {
            let (body, sum) = line.strip_prefix('$').unwrap().split_once('*').unwrap();
            assert_eq!(body.bytes().fold(0, |sum, byte| sum ^ byte), u8::from_str_radix(sum, 16).unwrap());
            let fields: Vec<&str> = body.split(',').collect();
            [3, 4, 5].map(|i| fields[i].parse().unwrap())
        })
        .collect()
}

#[test]
fn the_bytes_of_a_perfect_sensor_hold_the_truth() {
    // A thousand million counts for 1 g: rounding leaves under 1e-9 rad.
    for rotation in ["clockwise", "anticlockwise"] {
        let mut rig = rig(&format!(
            "sensor.counts_per_g = 1e9\nhead = {{ rotation = '{rotation}', nose_deg = 2.5, left_deg = -1.5 }}\n\
             blades.droop_deg = [-1.0, -1.2]"
        ));
        let mut now = 0.0;
        for (clip, sense) in [("clip A", 1.0), ("clip B", 1.0), ("clip B reversed", -1.0)] {
            for station in [20, 90, 200] {
                tell(&mut rig, &[&format!("head {station}"), "stick elevator 80", "stick aileron -35", clip]);
                let truth = rig.truth();
                let mut bytes = Vec::new();
                now += 0.1;
                rig.advance(Seconds::new(now), &mut bytes);
                let blade = &truth.blades[usize::from(clip.contains('B'))];
                for [x, y, z] in sentences(&bytes) {
                    // The sentence's own map: chord +x, normal +z; a reversed clip negates chord and span.
                    assert!((sense * x.atan2(z) - blade.apparent_deg.radians()).abs() < 1e-9);
                    // Span: chord × normal (−y) on an anticlockwise rotor, normal × chord (+y) on a clockwise one.
                    let outward = if rotation == "clockwise" { y } else { -y };
                    let slope = (sense * outward / x.hypot(y).hypot(z)).asin();
                    assert!((slope - blade.span_deg.radians()).abs() < 2e-9);
                }
            }
        }
    }
}

#[test]
fn a_sensor_may_sit_any_way_in_its_clip() {
    for (chord, normal, pick) in
        [("+y", "+z", [(1, 1.0), (2, 1.0)]), ("-x", "-y", [(0, -1.0), (1, -1.0)]), ("+z", "+x", [(2, 1.0), (0, 1.0)])]
    {
        let mut rig = rig(&format!("sensor.axes = {{ chord = '{chord}', normal = '{normal}' }}\nhead.nose_deg = 4.0"));
        tell(&mut rig, &["head 90", "stick elevator 100"]);
        let truth = rig.truth();
        let [along_chord, along_normal] = pick.map(|(i, sign): (usize, f64)| sign * truth.clip.case_g.0[i]);
        assert!((along_chord.atan2(along_normal) - truth.blades[0].apparent_deg.radians()).abs() < 1e-9);
        assert!((truth.clip.case_g.norm() - 1.0).abs() < 1e-12);
    }
}

#[test]
fn a_clip_off_by_delta_adds_it_forward_and_takes_it_off_reversed() {
    let mut rig = rig("clip = { chord_offset_deg = 0.7, span_offset_deg = 0.4 }\nblades.droop_deg = [-1.0, -1.0]");
    tell(&mut rig, &["head 90", "stick elevator 100"]);
    let pitch = rig.truth().blades[0].apparent_deg.degrees();
    let forward = rig.truth().clip.reads_deg.degrees();
    tell(&mut rig, &["clip A reversed"]);
    let reversed = -rig.truth().clip.reads_deg.degrees();
    // The span's slope leaks a few thousandths through the clip's own slope.
    assert!((forward - pitch - 0.7).abs() < 0.01, "{forward} {pitch}");
    assert!((reversed - pitch + 0.7).abs() < 0.01, "{reversed} {pitch}");
}
