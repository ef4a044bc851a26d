//! The trade's rules, each once: where an axis is read, which deflections belong together, which way they go, and how long a
//! blade is held. Whoever records, checks, guides or draws asks here. (Common practice, no source, unless said otherwise.)

use super::head::{Head, TailPositive};
use crate::rotor::{
    Aileron, Axis, Collective, Deflection, Elevator, Expectation, LeadingEdge, Rudder, Spot, Station, factor,
};
use crate::units::{Angle, Seconds};
use std::ops::RangeInclusive;

/// A blade that a stick moves by less than this was hardly moved: the stick was not held over. [common practice, no source]
pub const UNMOVED_DEGREES: f64 = 2.0;

/// Where less than this share of a cyclic deflection shows, what was read says nothing of the whole.
pub const LEAST_SHARE: f64 = 0.5;
/// A station at which at least so much of a deflection shows is its own: within 10° of it, the cosine of which this is.
pub const WHOLE_SHARE: f64 = 0.985;

/// A blade is at rest once it has been still for so long.
pub const HELD: Seconds = Seconds::new(1.5);
/// Clip and blade are in place once they have been still for two rests.
pub const PLACED: Seconds = Seconds::new(2.0 * HELD.value());
/// Two rests on end come to at least so much: a rest may begin a little later than the last one ended.
pub const TWO_RESTS: Seconds = Seconds::new(PLACED.value() - 0.1);

/// A stick at least so far over is all the way over, percent.
pub const FULL_PERCENT: f64 = 99.0;
/// A stick held by hand may stand this far from its centre and still be called centred, percent.
const CENTRED_PERCENT: f64 = 5.0;
/// A deflection of less than this is none, percent.
const DEFLECTED_PERCENT: f64 = 1.0;

/// A swing of the blade that is felt as buzzing where the hum at rest is known, degrees.
const BUZZ_DEGREES: f64 = 0.03;
/// Buzzing is so much more than that hum.
const BUZZ_OVER_HUM: f64 = 3.0;
/// A swing that is a buzz whatever the hum, degrees.
const SURE_BUZZ_DEGREES: f64 = 0.06;

/// The axes that can be swept: a stick with a centre, and a blade that shows both its ends.
pub const SWEPT: [Axis; 3] = [Axis::Elevator, Axis::Aileron, Axis::Rudder];

/// What is acknowledged before the first stick movement of every setup.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Caution {
    /// The motor is disconnected.
    Motor,
    /// The electronics have a battery of their own.
    Battery,
    /// Fingers, hair and sleeves are clear.
    Clear,
    /// No servo is held against a bind.
    Bind,
    /// A stabilising controller does not move the blades by itself.
    Controller,
    /// Eyes are protected and the model is restrained.
    Restrained,
    /// Clip and cable come off before the motor is connected.
    ClipOff,
    /// The manuals and the national rules override what is shown here.
    Manuals,
    /// Angles are measured, nothing is certified.
    NoPermission,
}

impl Caution {
    /// All of them, in the order in which they are read.
    pub const ALL: [Self; 9] = [
        Self::Motor,
        Self::Battery,
        Self::Clear,
        Self::Bind,
        Self::Controller,
        Self::Restrained,
        Self::ClipOff,
        Self::Manuals,
        Self::NoPermission,
    ];
}

/// Where a main blade shows a deflection most: elevator and collective square to the boom (90°), aileron alone along it (0°),
/// both turned *on* by the head's control phase: a positive phase makes the controls act that much later in the direction of
/// rotation. So 20° of phase puts the elevator at 110° and the aileron at 20°. The collective shows anywhere; it is read where
/// the elevator is, so that the clip stays.
#[must_use]
pub fn own_station(head: &Head, deflection: Deflection) -> Station {
    let along = deflection.axis() == Axis::Aileron
        || (deflection.deflects(Axis::Aileron) && !deflection.deflects(Axis::Elevator));
    let plain = if along { 0.0 } else { 90.0 };
    Station::from_degrees(plain + head.control_phase.degrees()).unwrap_or(Station::BOOM)
}

/// Where a deflection is read: a main blade at its own station, a tail blade with its leading edge both ways, which frees the
/// mean from the model's roll.
#[must_use]
pub fn own_spots(head: &Head, deflection: Deflection) -> Vec<Spot> {
    match deflection.axis() {
        Axis::Rudder => [LeadingEdge::Up, LeadingEdge::Down].map(Spot::Tail).to_vec(),
        _ => vec![Spot::Main(own_station(head, deflection))],
    }
}

/// Both ends of an axis; none of a corner.
#[must_use]
pub const fn ends(axis: Axis) -> Option<[Deflection; 2]> {
    Some(match axis {
        Axis::Elevator => [Deflection::Elevator(Elevator::Up), Deflection::Elevator(Elevator::Down)],
        Axis::Aileron => [Deflection::Aileron(Aileron::Left), Deflection::Aileron(Aileron::Right)],
        Axis::Rudder => [Deflection::Rudder(Rudder::Left), Deflection::Rudder(Rudder::Right)],
        Axis::Collective => [Deflection::Collective(Collective::Low), Deflection::Collective(Collective::High)],
        Axis::Corner => return None,
    })
}

/// The other end of the axis; none where this is no end.
#[must_use]
pub fn opposite(end: Deflection) -> Option<Deflection> {
    let [one, other] = ends(end.axis())?;
    match end {
        _ if end == one => Some(other),
        _ if end == other => Some(one),
        _ => None,
    }
}

/// The neutral from which an axis' ends are counted; of the collective and of corners it is mid stick.
#[must_use]
pub const fn neutral(axis: Axis) -> Deflection {
    match axis {
        Axis::Elevator => Deflection::Elevator(Elevator::Neutral),
        Axis::Aileron => Deflection::Aileron(Aileron::Neutral),
        Axis::Rudder => Deflection::Rudder(Rudder::Neutral),
        Axis::Collective | Axis::Corner => Deflection::Collective(Collective::Mid),
    }
}

/// Where the stick of a deflection can stand, percent: up and right positive, the collective from 0 at its low end to 100.
#[must_use]
pub fn stick_ways(deflection: Deflection) -> RangeInclusive<f64> {
    let usual = deflection.full_stick().value();
    match deflection {
        Deflection::Collective(Collective::Low) => 0.0..=50.0 - DEFLECTED_PERCENT,
        Deflection::Collective(Collective::High) => 50.0 + DEFLECTED_PERCENT..=100.0,
        Deflection::Collective(_) => (usual - CENTRED_PERCENT).max(0.0)..=(usual + CENTRED_PERCENT).min(100.0),
        _ if deflection.is_neutral() => -CENTRED_PERCENT..=CENTRED_PERCENT,
        _ if usual > 0.0 => DEFLECTED_PERCENT..=usual,
        _ => usual..=-DEFLECTED_PERCENT,
    }
}

/// How a main blade at a station follows a stick; none where the geometry foretells nothing.
#[must_use]
pub fn expectation(head: &Head, deflection: Deflection, station: Station) -> Option<Expectation> {
    Expectation::of(deflection, station, head.rotation, head.control_phase)
}

/// The share of its largest deflection that an axis shows at a station, −1 to +1; none of the tail and of corners.
#[must_use]
pub fn share_at(head: &Head, deflection: Deflection, station: Station) -> Option<f64> {
    factor(deflection, station, head.rotation, head.control_phase)
}

/// +1 where a deflection makes the pitch in this spot larger, −1 where smaller; none where neither the geometry nor the
/// head's description says it.
#[must_use]
pub fn sign(head: &Head, deflection: Deflection, spot: Spot) -> Option<f64> {
    match (spot, deflection) {
        (Spot::Main(station), _) => expectation(head, deflection, station).map(Expectation::sign),
        (Spot::Tail(_), Deflection::Rudder(rudder)) => Some(rudder_right(head)? * rudder_way(rudder)),
        (Spot::Tail(_), _) => None,
    }
}

/// +1 where rudder right makes the pitch of a tail blade larger, −1 where smaller; none where the description does not say.
#[must_use]
pub fn rudder_right(head: &Head) -> Option<f64> {
    head.tail.positive.map(|positive| match positive {
        TailPositive::Right => 1.0,
        TailPositive::Left => -1.0,
    })
}

/// +1 for rudder right, −1 for rudder left, 0 for its neutral.
#[must_use]
pub const fn rudder_way(rudder: Rudder) -> f64 {
    match rudder {
        Rudder::Right => 1.0,
        Rudder::Neutral => 0.0,
        Rudder::Left => -1.0,
    }
}

/// Whether a vibration of the blade is a servo that pushes against something. `hum` is how strongly the blade swings with
/// the sticks centred, where that was read.
#[must_use]
pub fn is_buzz(swing: Angle, hum: Option<Angle>) -> bool {
    match hum {
        Some(hum) => swing.degrees() >= BUZZ_DEGREES && swing > hum * BUZZ_OVER_HUM,
        None => swing.degrees() > SURE_BUZZ_DEGREES,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn head(phase: f64) -> Head {
        let mut head = Head::from_toml(&Head::template("Club trainer")).unwrap();
        head.control_phase = Angle::from_degrees(phase);
        head
    }

    #[test]
    fn the_own_station_of_an_axis_is_where_it_shows_whole() {
        for phase in [-30.0, 0.0, 20.0, 80.0, 200.0] {
            let head = head(phase);
            for what in ["elevator up", "elevator down", "aileron left", "aileron right"] {
                let deflection = what.parse().unwrap();
                let share = share_at(&head, deflection, own_station(&head, deflection)).unwrap();
                assert!((share.abs() - 1.0).abs() < 1e-12, "{what} with {phase}°: {share}");
            }
        }
        let station = |phase, what: &str| f64::from(own_station(&head(phase), what.parse().unwrap()));
        assert_eq!((station(0.0, "elevator up"), station(0.0, "aileron neutral")), (90.0, 0.0));
        assert_eq!((station(20.0, "elevator neutral"), station(20.0, "aileron right")), (110.0, 20.0));
        assert_eq!((station(80.0, "elevator up"), station(80.0, "collective mid")), (170.0, 170.0));
        assert_eq!((station(0.0, "corner high up-right"), station(0.0, "corner mid left")), (90.0, 0.0));
    }

    #[test]
    fn the_ends_of_an_axis_are_each_others_opposite() {
        for axis in [Axis::Elevator, Axis::Aileron, Axis::Rudder, Axis::Collective] {
            let [one, other] = ends(axis).unwrap();
            assert_eq!((opposite(one), opposite(other)), (Some(other), Some(one)));
            assert_eq!(opposite(neutral(axis)), None);
        }
    }

    #[test]
    fn the_way_of_the_rudder_is_the_descriptions() {
        let mut head = head(0.0);
        let sign_of = |head: &Head, what: &str| sign(head, what.parse().unwrap(), Spot::Tail(LeadingEdge::Up));
        assert_eq!(sign_of(&head, "rudder left"), None);
        head.tail.positive = Some(TailPositive::Left);
        assert_eq!((sign_of(&head, "rudder left"), sign_of(&head, "rudder right")), (Some(1.0), Some(-1.0)));
    }

    #[test]
    fn a_hum_that_is_there_at_rest_is_no_buzz() {
        let swing = Angle::from_degrees;
        let hum = |degrees| Some(Angle::from_degrees(degrees));
        assert!(is_buzz(swing(0.05), hum(0.01)) && !is_buzz(swing(0.05), hum(0.02)));
        assert!(!is_buzz(swing(0.02), hum(0.0)));
        assert!(is_buzz(swing(0.07), None) && !is_buzz(swing(0.05), None));
    }
}
