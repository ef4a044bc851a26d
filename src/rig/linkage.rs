//! From sticks to blade pitch: servos, swashplate, pitch links.
//!
//! Three servos at the nose, left aft and right aft move the fixed plate (CCPM). A servo's arm turns by an angle φ
//! proportional to what the mixer asks; its ball stands at L·sin φ. The three balls carry the plate: its height is
//! their mean, its slope follows from their differences, exactly for three balls 120° apart. The link of a blade
//! at azimuth ψ stands `link lead` ahead of it, on the circle of the pitch links, and lifts the pitch arm r:
//!
//! ```text
//! sin(θ − θ₀) = z/r − sin θ₀        θ₀: the pitch at which the arm is square to its link
//! ```
//!
//! so that pitch against stick is a little curved. Which way the blades answer follows from the plate alone: elevator
//! up lifts its nose, aileron right lowers its right side. Lengths in millimetres, angles in radians.
//!
//! Left out: sideways motion of the balls, and elasticity. Droop that turns a blade through its link comes in as a change of the
//! link's length.

use super::scenario::Head;
use super::vocabulary::{End, Rotation, Stick};
use std::f64::consts::TAU;

/// What the mixer is asked for, each within about ±1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Demand {
    /// −1 low, +1 high.
    pub collective: f64,
    /// +1 nose up.
    pub elevator: f64,
    /// +1 right side down.
    pub aileron: f64,
    /// +1 nose right.
    pub rudder: f64,
}

impl Demand {
    /// A demand on one stick alone.
    pub(crate) fn of(stick: Stick, value: f64) -> Self {
        let mut demand = Self::default();
        *demand.on(stick) = value;
        demand
    }

    /// The demand on one stick.
    pub(crate) const fn on(&mut self, stick: Stick) -> &mut f64 {
        match stick {
            Stick::Elevator => &mut self.elevator,
            Stick::Aileron => &mut self.aileron,
            Stick::Rudder => &mut self.rudder,
            Stick::Collective => &mut self.collective,
        }
    }
}

/// What a person can set on the three servos.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Adjustment {
    /// How far each arm stands off square at centre, its rod made to fit, radians.
    pub arm_offset: [f64; 3],
    /// Sub-trim of each servo, radians of its arm.
    pub sub_trim: [f64; 3],
    /// How much longer each rod is than it should be, mm.
    pub rod: [f64; 3],
}

/// The plate as it stands: height at the shaft, and slope toward the nose and toward the left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Plate {
    height: f64,
    slope_nose: f64,
    slope_left: f64,
}

/// The fixed geometry of a main rotor's linkage.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Linkage {
    rotation: Rotation,
    servo_arm: f64,
    servo_radius: f64,
    link_radius: f64,
    pitch_arm: f64,
    square_at: f64,
    link_lead: f64,
    phase: f64,
    collective_throw: f64,
    cyclic_throw: f64,
}

/// Azimuths of the servos on the plate, from the nose toward the left.
const SERVOS: [f64; 3] = [0.0, TAU / 3.0, 2.0 * TAU / 3.0];
/// The farthest a servo's arm turns from its own centre: 60°.
const SERVO_END: f64 = TAU / 6.0;

impl Linkage {
    /// The linkage of a head, its servo throws chosen for the pitch the head is to have at full stick.
    pub(crate) fn new(head: &Head) -> Self {
        let mut linkage = Self {
            rotation: head.rotation,
            servo_arm: head.servo_arm_mm.value(),
            servo_radius: head.plate_servo_radius_mm.value(),
            link_radius: head.plate_link_radius_mm.value(),
            pitch_arm: head.pitch_arm_mm.value(),
            square_at: head.arm_square_at_deg.radians(),
            link_lead: head.link_lead_deg.radians(),
            phase: head.mixing_phase_deg.radians(),
            collective_throw: 0.0,
            cyclic_throw: 0.0,
        };
        linkage.collective_throw = linkage.servo_angle(linkage.lift(head.collective_deg.radians()));
        // The plate leans until the link's ball, which keeps its distance on the plate, stands high enough.
        let lean = (linkage.lift(head.cyclic_deg.radians()) / linkage.link_radius).clamp(-1.0, 1.0).asin();
        linkage.cyclic_throw = linkage.servo_angle(linkage.servo_radius * lean.tan());
        linkage
    }

    /// The servo arm's angle that puts its ball at a height, at most the servo's end.
    fn servo_angle(&self, height: f64) -> f64 {
        (height / self.servo_arm).clamp(-1.0, 1.0).asin().clamp(-SERVO_END, SERVO_END)
    }

    /// How far a link must lift its pitch arm, from zero pitch, for a pitch.
    pub(crate) fn lift(&self, pitch: f64) -> f64 {
        self.pitch_arm * ((pitch - self.square_at).sin() + self.square_at.sin())
    }

    /// The plate for a demand.
    pub(crate) fn plate(&self, demand: Demand, adjustment: &Adjustment) -> Plate {
        // The mixer turns the wanted tilt in the direction of rotation: toward the left at the nose when anticlockwise.
        let (sin, cos) = (self.rotation.sign() * self.phase).sin_cos();
        let nose = demand.elevator * cos - demand.aileron * sin;
        let left = demand.elevator * sin + demand.aileron * cos;
        let mut plate = Plate { height: 0.0, slope_nose: 0.0, slope_left: 0.0 };
        for (servo, azimuth) in SERVOS.into_iter().enumerate() {
            let (sin, cos) = azimuth.sin_cos();
            let asked = self.collective_throw * demand.collective + self.cyclic_throw * (nose * cos + left * sin);
            let arm = (asked + adjustment.sub_trim[servo]).clamp(-SERVO_END, SERVO_END);
            let offset = adjustment.arm_offset[servo];
            let ball = self.servo_arm * ((arm + offset).sin() - offset.sin()) + adjustment.rod[servo];
            plate.height += ball / 3.0;
            plate.slope_nose += ball * cos / (1.5 * self.servo_radius);
            plate.slope_left += ball * sin / (1.5 * self.servo_radius);
        }
        plate
    }

    /// The pitch of the blade at `azimuth` whose link lifts its arm `longer` millimetres more than an exact one.
    pub(crate) fn pitch(&self, plate: Plate, azimuth: f64, longer: f64) -> f64 {
        // The link's place as seen from above: aft at zero, then to the right when anticlockwise.
        let place = azimuth + self.link_lead;
        let (nose, left) = (-place.cos(), -self.rotation.sign() * place.sin());
        let slope = plate.slope_nose * nose + plate.slope_left * left;
        let ball = plate.height + self.link_radius * slope / slope.hypot(1.0);
        let lifted = (ball + longer) / self.pitch_arm - self.square_at.sin();
        self.square_at + lifted.clamp(-1.0, 1.0).asin()
    }

    /// The demand at which an exact blade has made `travel` toward an end of a main-rotor stick, if it can.
    pub(crate) fn demand_for_travel(&self, end: End, travel: f64) -> Option<f64> {
        let exact = Self { phase: 0.0, ..self.clone() };
        // Where this stick moves the blade most: its link over the nose, or over the left side.
        let azimuth = match end.stick() {
            Stick::Elevator => TAU / 2.0 - self.link_lead,
            _ => TAU / 4.0 - self.link_lead,
        };
        let pitch = |size: f64| {
            let demand = Demand::of(end.stick(), end.sign() * size);
            exact.pitch(exact.plate(demand, &Adjustment::default()), azimuth, 0.0)
        };
        let neutral = pitch(0.0);
        reach(|size| (pitch(size) - neutral).abs(), travel)
    }
}

/// The demand, up to 1.6, at which `made` first reaches `travel`.
pub(crate) fn reach(made: impl Fn(f64) -> f64, travel: f64) -> Option<f64> {
    let (mut low, mut high) = (0.0, 1.6);
    if made(high) < travel {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if made(middle) < travel {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(high)
}
