//! Which way a blade must move when a stick moves, and the question to ask when it did not.
//!
//! In the form θ = θ0 + θ1c·cosψ + θ1s·sinψ, ψ from the boom in the direction of rotation, a nose-up command has
//! θ1s > 0 on either direction of rotation: most pitch at 90°, least at 270°. A right-side-down command is
//! θ1c < 0 on an anticlockwise rotor (least pitch aft) and θ1c > 0 on a clockwise one. Collective moves every blade
//! the same way. The reason: a blade answers about 90° of rotation later. [US Army text AL0966; public rotor
//! dynamics notes, quoted from a summary]
//!
//! A phase P that is built into the controls turns the pattern in the direction of rotation, so that every command acts P
//! later: elevator up is greatest at 90° + P, and reads cosP square to the boom and −sinP over it.
//!
//! No rule here tells which way a tail blade must go: its rotation and side are the model's own.

use super::{Aileron, Collective, Deflection, Elevator, Rotation, Rudder, Station};
use crate::units::Angle;
use serde::Serialize;

/// Below this share of the full deflection the sign is not foretold: the station is near the zero crossing.
const LEAST_FACTOR: f64 = 0.5;

/// How far out of level a helicopter stands on a bench unnoticed. [common practice, no source]
const LEVEL_DOUBT_DEGREES: f64 = 3.0;

/// How pitch at a station follows a stick, as far as the head's geometry foretells it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expectation {
    deflection: Deflection,
    factor: f64,
}

/// The share of a full deflection's amplitude that shows at a station, −1 to +1; `None` for the tail, where the
/// model decides, and for a corner, where several deflections add. Zero at a neutral position.
#[must_use]
pub fn factor(deflection: Deflection, station: Station, rotation: Rotation, phase: Angle) -> Option<f64> {
    let azimuth = station.azimuth() - phase;
    Some(match deflection {
        Deflection::Elevator(Elevator::Up) => azimuth.sin(),
        Deflection::Elevator(Elevator::Down) => -azimuth.sin(),
        Deflection::Aileron(Aileron::Right) => lateral(azimuth, rotation),
        Deflection::Aileron(Aileron::Left) => -lateral(azimuth, rotation),
        Deflection::Elevator(Elevator::Neutral) | Deflection::Aileron(Aileron::Neutral) => 0.0,
        Deflection::Collective(Collective::Mid) => 0.0,
        Deflection::Collective(collective) => (collective.stick().value() - 50.0) / 50.0,
        Deflection::Rudder(Rudder::Left | Rudder::Neutral | Rudder::Right) | Deflection::Corner(_) => return None,
    })
}

fn lateral(azimuth: Angle, rotation: Rotation) -> f64 {
    match rotation {
        Rotation::Anticlockwise => -azimuth.cos(),
        Rotation::Clockwise => azimuth.cos(),
    }
}

impl Expectation {
    /// What to expect at a station; `None` for the tail, at a neutral, and near the zero crossing of the axis.
    #[must_use]
    pub fn of(deflection: Deflection, station: Station, rotation: Rotation, phase: Angle) -> Option<Self> {
        let factor = factor(deflection, station, rotation, phase)?;
        (factor.abs() >= LEAST_FACTOR).then_some(Self { deflection, factor })
    }

    /// +1 when pitch must grow from neutral, −1 when it must shrink.
    #[must_use]
    pub fn sign(self) -> f64 {
        self.factor.signum()
    }

    /// The share of the full amplitude that shows at this station, −1 to +1.
    #[must_use]
    pub const fn factor(self) -> f64 {
        self.factor
    }

    /// The travel from neutral, positive in the commanded direction.
    #[must_use]
    pub fn travel(self, reading: Angle, neutral: Angle) -> Angle {
        (reading - neutral) * self.sign()
    }

    /// Asks a question when a reading moved the other way by more than its expanded uncertainty.
    ///
    /// With the neutral of the same place at hand its travel is judged. Without it the bare reading is, and only
    /// where it passes 3° as well: a helicopter may stand so far out of level. The low end of the
    /// collective has no sign of its own then: a trainer's may well be positive.
    #[must_use]
    pub fn contradiction(self, reading: Angle, neutral: Option<Angle>, expanded: Angle) -> Option<Contradiction> {
        let doubt = match neutral {
            Some(_) => expanded,
            None if matches!(self.deflection, Deflection::Collective(c) if c.stick().value() < 50.0) => return None,
            None => expanded + Angle::from_degrees(LEVEL_DOUBT_DEGREES),
        };
        let moved = reading - neutral.unwrap_or(Angle::ZERO);
        (moved * self.sign() < -doubt).then_some(Contradiction {
            deflection: self.deflection,
            moved,
            from_neutral: neutral.is_some(),
            expects_more: self.factor > 0.0,
        })
    }
}

/// A reading that moved the other way than its command: a question to the person, never a reason to flip a sign.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Contradiction {
    /// What was commanded.
    pub deflection: Deflection,
    /// What was read: travel from neutral, or the bare angle without one.
    #[serde(rename = "moved_deg")]
    pub moved: Angle,
    /// Whether it is a travel from neutral.
    pub from_neutral: bool,
    /// Whether the blade must show more pitch here, and not less.
    pub expects_more: bool,
}

/// What can make a blade read the other way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The clip sits end for end.
    Clip,
    /// The other blade, or the other side of the turn, was read.
    Station,
    /// The stick went the other way, or the channel is reversed.
    Channel,
    /// The head's direction of rotation is described wrongly.
    Rotation,
}

impl Contradiction {
    /// What may have happened, the likeliest first.
    #[must_use]
    pub fn causes(self) -> &'static [Cause] {
        match self.deflection {
            Deflection::Aileron(_) => &[Cause::Clip, Cause::Station, Cause::Channel, Cause::Rotation],
            Deflection::Elevator(_) => &[Cause::Clip, Cause::Station, Cause::Channel],
            Deflection::Collective(_) | Deflection::Rudder(_) | Deflection::Corner(_) => &[Cause::Clip, Cause::Channel],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Rotation::{Anticlockwise, Clockwise};

    fn sign(deflection: &str, azimuth: f64, rotation: Rotation) -> Option<f64> {
        let station = Station::from_degrees(azimuth).unwrap();
        Expectation::of(deflection.parse().unwrap(), station, rotation, Angle::ZERO).map(Expectation::sign)
    }

    #[test]
    fn elevator_up_has_most_pitch_at_90_and_least_at_270_on_both_rotations() {
        for rotation in [Clockwise, Anticlockwise] {
            assert_eq!(sign("elevator up", 90.0, rotation), Some(1.0));
            assert_eq!(sign("elevator up", 270.0, rotation), Some(-1.0));
            assert_eq!(sign("elevator down", 90.0, rotation), Some(-1.0));
            assert_eq!(sign("elevator up", 0.0, rotation), None);
            assert_eq!(sign("elevator up", 180.0, rotation), None);
        }
    }

    #[test]
    fn aileron_right_has_least_pitch_aft_anticlockwise_and_most_aft_clockwise() {
        assert_eq!(sign("aileron right", 0.0, Anticlockwise), Some(-1.0));
        assert_eq!(sign("aileron right", 180.0, Anticlockwise), Some(1.0));
        assert_eq!(sign("aileron right", 0.0, Clockwise), Some(1.0));
        assert_eq!(sign("aileron left", 0.0, Clockwise), Some(-1.0));
        assert_eq!(sign("aileron right", 90.0, Clockwise), None);
    }

    #[test]
    fn collective_moves_every_blade_alike_and_the_tail_is_the_models_own() {
        for azimuth in [0.0, 77.0, 200.0] {
            assert_eq!(sign("collective high", azimuth, Clockwise), Some(1.0));
            assert_eq!(sign("collective low", azimuth, Anticlockwise), Some(-1.0));
        }
        assert_eq!(sign("collective 60%", 0.0, Clockwise), None);
        assert_eq!(sign("rudder left", 0.0, Clockwise), None);
        assert_eq!(sign("elevator neutral", 90.0, Clockwise), None);
    }

    #[test]
    fn a_built_in_phase_leaks_elevator_into_the_stations_along_the_boom() {
        // A of 12° at P 10°: 11.82° square to the boom, 2.08° less over it, all of it 10° later.
        // 12·sin(ψ − 10°)
        let up = "elevator up".parse().unwrap();
        let read = |azimuth| {
            let station = Station::from_degrees(azimuth).unwrap();
            12.0 * factor(up, station, Anticlockwise, Angle::from_degrees(10.0)).unwrap()
        };
        assert!((read(90.0) - 11.82).abs() < 0.005);
        assert!((read(0.0) + 2.08).abs() < 0.005);
        assert!((read(100.0) - 12.0).abs() < 1e-9);
    }

    #[test]
    fn a_reading_that_went_the_other_way_is_a_question() {
        let station = Station::from_degrees(90.0).unwrap();
        let up = Expectation::of("elevator up".parse().unwrap(), station, Clockwise, Angle::ZERO).unwrap();
        let (degrees, expanded) = (Angle::from_degrees, Angle::from_degrees(0.2));
        let question = up.contradiction(degrees(-8.0), Some(degrees(1.0)), expanded).unwrap();
        assert!(question.expects_more && question.from_neutral, "{question:?}");
        assert!((question.moved.degrees() + 9.0).abs() < 1e-9, "{question:?}");
        assert_eq!(question.causes(), [Cause::Clip, Cause::Station, Cause::Channel]);

        assert_eq!(up.contradiction(degrees(8.0), Some(degrees(1.0)), expanded), None);
        // Within its uncertainty, or within what a bench out of level explains, nothing is asked.
        assert_eq!(up.contradiction(degrees(0.9), Some(degrees(1.0)), expanded), None);
        assert_eq!(up.contradiction(degrees(-3.0), None, expanded), None);
        assert!(up.contradiction(degrees(-8.0), None, expanded).is_some());
    }

    #[test]
    fn a_trainers_low_end_may_be_positive() {
        let station = Station::from_degrees(90.0).unwrap();
        let low = Expectation::of("collective low".parse().unwrap(), station, Clockwise, Angle::ZERO).unwrap();
        let (degrees, expanded) = (Angle::from_degrees, Angle::from_degrees(0.2));
        assert_eq!(low.contradiction(degrees(5.0), None, expanded), None);
        assert!(low.contradiction(degrees(5.0), Some(degrees(2.0)), expanded).is_some());
    }

    #[test]
    fn travel_is_positive_in_the_commanded_direction() {
        let station = Station::from_degrees(270.0).unwrap();
        let up = Expectation::of("elevator up".parse().unwrap(), station, Clockwise, Angle::ZERO).unwrap();
        let travel = up.travel(Angle::from_degrees(-11.0), Angle::from_degrees(0.5));
        assert!((travel.degrees() - 11.5).abs() < 1e-12);
    }
}
