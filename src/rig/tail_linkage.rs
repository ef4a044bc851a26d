//! The tail rotor's linkage: one servo, a slider on the shaft, two blades.
//!
//! The servo's ball L·sin φ moves the slider, the slider the pitch arms: sin θ = sin θ_neutral + z/r. Positive pitch
//! pushes the nose against the torque of the main rotor: to the right under a clockwise rotor, to the left under an
//! anticlockwise one.

use super::linkage::reach;
use super::scenario::Tail;
use super::vocabulary::{End, Rotation};

/// The fixed geometry of the tail rotor's linkage; millimetres and radians.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct TailLinkage {
    rotation: Rotation,
    servo_arm: f64,
    pitch_arm: f64,
    neutral: f64,
    throw: f64,
}

impl TailLinkage {
    /// The linkage of a tail, its servo throw chosen for the travel it is to have toward positive pitch.
    pub(crate) fn new(tail: &Tail, rotation: Rotation) -> Self {
        let (neutral, full) = (tail.neutral_deg.radians(), tail.neutral_deg.radians() + tail.travel_deg.radians());
        let slider = tail.pitch_arm_mm.value() * (full.sin() - neutral.sin());
        Self {
            rotation,
            servo_arm: tail.servo_arm_mm.value(),
            pitch_arm: tail.pitch_arm_mm.value(),
            neutral,
            throw: (slider / tail.servo_arm_mm.value()).clamp(-1.0, 1.0).asin(),
        }
    }

    /// Pitch for a demand, +1 nose right.
    pub(crate) fn pitch(&self, demand: f64) -> f64 {
        let slider = self.servo_arm * (-self.rotation.sign() * self.throw * demand).sin();
        (self.neutral.sin() + slider / self.pitch_arm).clamp(-1.0, 1.0).asin()
    }

    /// The demand at which the travel toward an end of the rudder is made, if it can be.
    pub(crate) fn demand_for_travel(&self, end: End, travel: f64) -> Option<f64> {
        reach(|size| (self.pitch(end.sign() * size) - self.neutral).abs(), travel)
    }
}
