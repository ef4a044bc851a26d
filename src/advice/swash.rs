//! The links between servos and swashplate: which one to turn where the plate leans at stick centre.
//!
//! A blade's link stands so much ahead of it as the head's lead, on the circle Rl of the pitch links, and lifts the pitch arm r. From
//! θ(ψ) = θ0 + θ1c·cosψ + θ1s·sinψ, ψ from aft in the direction of rotation, the slope of the plate toward the nose and toward
//! the left follows; for a lead of 90°:
//!
//! ```text
//! s_nose = (r/Rl)·θ1s        s_left = ±(r/Rl)·θ1c        plus: clockwise
//! ```
//!
//! and for another lead both are turned by what it differs. The plate is level once each servo's ball, on the circle Rs at azimuth
//! α from the nose to the left, has risen by
//!
//! ```text
//! Δz = −Rs·(s_nose·cosα + s_left·sinα) + const
//! ```
//!
//! The constant lifts all of them alike and changes the collective only: it is chosen so that as many servos as possible stay.
//!
//! Assumed: the servos' rods stand square to plate and horn, and slopes are small.

use crate::units::{Angle, Millimetres};

/// Teeth of the spline on which a servo's horn sits. [common practice, no source]
const SPLINE_TEETH: f64 = 25.0;

/// Where servos and pitch links meet the plate.
#[derive(Debug, Clone, PartialEq)]
pub struct SwashGeometry {
    /// Whether the rotor turns clockwise, seen from above.
    pub clockwise: bool,
    /// Azimuth of each servo's ball on the plate, from the nose to the left; the first servo's first.
    pub servos: Vec<Angle>,
    /// From the shaft to the servos' balls.
    pub servo_radius: Millimetres,
    /// From the shaft to the pitch links' balls.
    pub link_radius: Millimetres,
    /// From the feathering axis to the ball on the pitch arm.
    pub pitch_arm: Millimetres,
    /// How far ahead of its blade a pitch link stands.
    pub lead: Angle,
}

/// One servo's link to be made longer or shorter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ServoRise {
    /// Its number, from 1.
    pub servo: u8,
    /// How much its ball must rise; negative to go down.
    pub rise: Millimetres,
}

impl SwashGeometry {
    /// How far each servo's ball must rise so that the plate stands level, those that stay left out. Servos that need the same
    /// within `alike` stay together.
    #[must_use]
    pub fn level(&self, cos: Angle, sin: Angle, alike: Millimetres) -> Vec<ServoRise> {
        let share = self.pitch_arm.value() / self.link_radius.value();
        let (sin_lead, cos_lead) = (self.lead.sin(), self.lead.cos());
        let way = if self.clockwise { -1.0 } else { 1.0 };
        let nose = share * (sin_lead * sin.radians() - cos_lead * cos.radians());
        let left = -share * way * (sin_lead * cos.radians() + cos_lead * sin.radians());
        let wanted: Vec<f64> =
            self.servos.iter().map(|at| -self.servo_radius.value() * (nose * at.cos() + left * at.sin())).collect();
        let stays = |stands: f64| {
            let same = wanted.iter().filter(|rise| (*rise - stands).abs() <= alike.value()).count();
            let moved: f64 = wanted.iter().map(|rise| (rise - stands).abs()).sum();
            (same, -moved)
        };
        // The level at which most servos stay, and of equals that which moves the rest least.
        let best = wanted
            .iter()
            .copied()
            .max_by(|one, other| stays(*one).partial_cmp(&stays(*other)).unwrap_or(std::cmp::Ordering::Equal));
        let level = best.unwrap_or(0.0);
        let group: Vec<f64> = wanted.iter().copied().filter(|rise| (rise - level).abs() <= alike.value()).collect();
        let level = group.iter().sum::<f64>() / group.len().max(1) as f64;
        (1..)
            .zip(&wanted)
            .map(|(servo, rise)| ServoRise { servo, rise: Millimetres::new(rise - level) })
            .filter(|found| found.rise.value().abs() > alike.value())
            .collect()
    }

    /// By how much the collective changes with these rises: the plate's height is the mean of its balls.
    #[must_use]
    pub fn collective(&self, rises: &[ServoRise]) -> Angle {
        let height = rises.iter().map(|found| found.rise.value()).sum::<f64>() / self.servos.len().max(1) as f64;
        Angle::from_radians(height / self.pitch_arm.value())
    }
}

impl ServoRise {
    /// So many half-turns of its link, positive longer.
    #[must_use]
    pub fn half_turns(&self, half_turn: Millimetres) -> f64 {
        self.rise.value() / half_turn.value()
    }

    /// So many teeth of the servo's horn, where they are a whole number within `u` (one standard uncertainty); then the horn sits on
    /// another tooth than it should, rather than the link being wrong.
    #[must_use]
    pub fn teeth(&self, horn: Millimetres, u: Millimetres) -> Option<i32> {
        let turned = (self.rise.value() / horn.value()).clamp(-1.0, 1.0).asin();
        let tooth = std::f64::consts::TAU / SPLINE_TEETH;
        let teeth = (turned / tooth).round();
        let left = self.rise.value() - horn.value() * (teeth * tooth).sin();
        (teeth != 0.0 && left.abs() <= 2.0 * u.value()).then_some(teeth as i32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn near(got: f64, wanted: f64, within: f64) {
        assert!((got - wanted).abs() <= within, "{got} instead of {wanted}");
    }

    fn deg(degrees: f64) -> Angle {
        Angle::from_degrees(degrees)
    }

    fn mm(value: f64) -> Millimetres {
        Millimetres::new(value)
    }

    /// The measures of a head of the club: pitch arm 20 mm, pitch links on 15 mm, servos on 25 mm.
    fn head(clockwise: bool) -> SwashGeometry {
        SwashGeometry {
            clockwise,
            servos: [0.0, 120.0, 240.0].map(deg).to_vec(),
            servo_radius: mm(25.0),
            link_radius: mm(15.0),
            pitch_arm: mm(20.0),
            lead: deg(90.0),
        }
    }

    /// The rod of servo 3 three half-turns of M2.5 too long, as the simulated head shows it in its own matrices.
    #[test]
    fn a_rod_that_is_too_long_is_named_with_its_half_turns() {
        let found = head(true).level(deg(-0.6698), deg(-0.3867), mm(0.05));
        let [one] = found.as_slice() else { panic!("{found:?}") };
        assert_eq!(one.servo, 3);
        near(one.rise.value(), -0.675, 0.001);
        near(one.half_turns(mm(0.225)), -3.0, 0.005);
        // A third of 0.675 mm on 20 mm.
        near(head(true).collective(&found).degrees(), -0.6446, 0.001);
    }

    /// The other way round the lateral slope changes its sign: then the same pitch is servo 2's.
    #[test]
    fn the_other_rotation_mirrors_the_servos() {
        let found = head(false).level(deg(-0.6698), deg(-0.3867), mm(0.05));
        let servos: Vec<u8> = found.iter().map(|one| one.servo).collect();
        assert_eq!(servos, [2]);
        assert!(head(true).level(deg(0.0), deg(0.0), mm(0.05)).is_empty(), "a level plate needs nothing");
    }

    /// A link that stands elsewhere shows the same plate that much earlier or later in the turn.
    #[test]
    fn another_lead_turns_the_pattern_back() {
        for lead in [60.0_f64, 75.0, 120.0] {
            // θ(ψ) of a lead of 90° read at ψ + lead − 90°.
            let by = (lead - 90.0).to_radians();
            let (cos, sin) = (-0.6698_f64, -0.3867_f64);
            let (c, s) = (cos * by.cos() + sin * by.sin(), sin * by.cos() - cos * by.sin());
            let turned = SwashGeometry { lead: deg(lead), ..head(true) };
            let found = turned.level(deg(c), deg(s), mm(0.05));
            let [one] = found.as_slice() else { panic!("{lead}: {found:?}") };
            assert_eq!(one.servo, 3);
            near(one.rise.value(), -0.675, 0.001);
        }
    }

    #[test]
    fn two_servos_against_each_other_move_as_little_as_they_can() {
        // Servo 2 too high and servo 3 too low by the same: servo 1 stays.
        let found = head(true).level(deg(2.0), deg(0.0), mm(0.05));
        let servos: Vec<u8> = found.iter().map(|one| one.servo).collect();
        assert_eq!(servos, [2, 3]);
        near(found[0].rise.value() + found[1].rise.value(), 0.0, 1e-9);
        near(head(true).collective(&found).degrees(), 0.0, 1e-9);
    }

    /// A tooth of 25 is 14.4°: on a horn of 15 mm its ball rises by 15·sin 14.4° = 3.730 mm.
    #[test]
    fn a_whole_number_of_teeth_names_the_horn() {
        let rise = |value| ServoRise { servo: 1, rise: mm(value) };
        assert_eq!(rise(3.73).teeth(mm(15.0), mm(0.05)), Some(1));
        assert_eq!(rise(-3.70).teeth(mm(15.0), mm(0.05)), Some(-1));
        assert_eq!(rise(-0.675).teeth(mm(15.0), mm(0.05)), None);
        assert_eq!(rise(2.5).teeth(mm(15.0), mm(0.05)), None);
    }
}
