//! The frames between the workshop floor and a blade, and how a reading follows from them.
//!
//! *Body axes*: toward the nose, toward the left side, up along the main shaft. *Hub frame* at a station: span,
//! outward; turn, in the disc plane toward where the leading edge points; shaft, up. *Blade frame*: the hub frame
//! flapped up by β about `turn`, then feathered by θ about the span, leading edge up positive:
//!
//! ```text
//! span   =  cosβ·s + sinβ·k          k' = -sinβ·s + cosβ·k
//! chord  =  cosθ·t + sinθ·k'     normal = -sinθ·t + cosθ·k'
//! ```
//!
//! With the azimuth ψ counted from the boom in the direction of rotation, an anticlockwise rotor has
//! s = (−cosψ, −sinψ, 0) and t = (sinψ, −cosψ, 0) in body axes; a clockwise one is its mirror image,
//! s = (−cosψ, sinψ, 0), t = (sinψ, cosψ, 0). At rest an accelerometer shows the vertical in these frames, so
//!
//! ```text
//! apparent pitch  φ = atan2(u·chord, u·normal) = θ + atan2(u·t, u·k')
//! span slope      ε = asin(u·span)
//! ```
//!
//! Both hold exactly, at any angle. Sources: azimuth and blade axes after W. Johnson, *Helicopter Theory* (from
//! memory); tilt by the arctangent of two axes after Freescale AN3461, equations 25 and 26.
//!
//! Left out: blade twist and bending between root and clip; a clip that sits askew to the span.

use super::{Clip, Rotation, Station};
use crate::units::{Angle, BladeVector};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A vector in body axes, without unit (a direction) or in g.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BodyVector {
    /// Toward the nose.
    pub nose: f64,
    /// Toward the left side.
    pub left: f64,
    /// Up along the main shaft.
    pub shaft: f64,
}

/// A vector in the hub frame at one station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HubVector {
    /// Outward from the shaft.
    pub span: f64,
    /// In the disc plane, in the direction of rotation.
    pub turn: f64,
    /// Up along the main shaft.
    pub shaft: f64,
}

/// How far the main shaft leans from the vertical; both zero on an upright shaft.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct ShaftTilt {
    /// Lean toward the nose.
    #[serde(rename = "nose_deg")]
    pub nose: Angle,
    /// Lean toward the left side.
    #[serde(rename = "left_deg")]
    pub left: Angle,
}

impl ShaftTilt {
    /// The vertical as seen in body axes. The lean is under 90° either way.
    #[must_use]
    pub fn up(self) -> BodyVector {
        let (x, y) = (-self.nose.radians().tan(), -self.left.radians().tan());
        let length = (1.0 + x * x + y * y).sqrt();
        BodyVector { nose: x / length, left: y / length, shaft: 1.0 / length }
    }

    /// The lean of a shaft that sees the vertical along `up`.
    #[must_use]
    pub fn of(up: BodyVector) -> Self {
        Self { nose: Angle::atan2(-up.nose, up.shaft), left: Angle::atan2(-up.left, up.shaft) }
    }
}

/// The span and turn axes of the hub frame, each as (nose, left).
fn hub_axes(station: Station, rotation: Rotation) -> ([f64; 2], [f64; 2]) {
    let (sin, cos) = (station.azimuth().sin(), station.azimuth().cos());
    match rotation {
        Rotation::Anticlockwise => ([-cos, -sin], [sin, -cos]),
        Rotation::Clockwise => ([-cos, sin], [sin, cos]),
    }
}

impl BodyVector {
    /// The same vector in the hub frame at a station.
    #[must_use]
    pub fn at(self, station: Station, rotation: Rotation) -> HubVector {
        let (s, t) = hub_axes(station, rotation);
        HubVector {
            span: s[0] * self.nose + s[1] * self.left,
            turn: t[0] * self.nose + t[1] * self.left,
            shaft: self.shaft,
        }
    }
}

impl HubVector {
    /// The same vector in body axes.
    #[must_use]
    pub fn to_body(self, station: Station, rotation: Rotation) -> BodyVector {
        let (s, t) = hub_axes(station, rotation);
        BodyVector {
            nose: s[0] * self.span + t[0] * self.turn,
            left: s[1] * self.span + t[1] * self.turn,
            shaft: self.shaft,
        }
    }
}

/// How one blade stands on its hub.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Attitude {
    /// Flap β, tip up positive; a drooping blade is negative.
    pub flap: Angle,
    /// Feather θ, the blade's pitch in the rotor's own frame, leading edge up positive.
    pub feather: Angle,
}

impl Attitude {
    /// A hub vector in this blade's axes.
    #[must_use]
    pub fn to_blade(self, hub: HubVector) -> BladeVector {
        let (span, lifted) = turn(hub.span, hub.shaft, self.flap);
        let (chord, normal) = turn(hub.turn, lifted, self.feather);
        BladeVector { span, chord, normal }
    }

    /// A vector in this blade's axes, back in the hub frame.
    #[must_use]
    pub fn to_hub(self, blade: BladeVector) -> HubVector {
        let (across, lifted) = turn(blade.chord, blade.normal, -self.feather);
        let (span, shaft) = turn(blade.span, lifted, -self.flap);
        HubVector { span, turn: across, shaft }
    }

    /// The attitude of a blade that reads the given apparent pitch and span slope while the hub sees the vertical
    /// along `up`: the two readings turned back into feather and flap.
    ///
    /// The flap is right for |β| under 90° on a shaft that leans less than that; a span slope that no flap can
    /// give (steeper than the hub's own plane allows) comes back as the nearest one.
    #[must_use]
    pub fn from_reading(apparent: Angle, span_slope: Angle, up: HubVector) -> Self {
        // sin ε = cosβ·u_s + sinβ·u_k = ρ·sin(β + α) with tan α = u_s/u_k.
        let rho = up.span.hypot(up.shaft);
        let sine = (span_slope.sin() / rho).clamp(-1.0, 1.0);
        let flap = Angle::from_radians(sine.asin()) - Angle::atan2(up.span, up.shaft);
        let lifted = flap.cos() * up.shaft - flap.sin() * up.span;
        Self { flap, feather: (apparent - Angle::atan2(up.turn, lifted)).wrapped() }
    }
}

/// The pair (first, second) seen from axes that are turned by `angle` from the first toward the second.
fn turn(first: f64, second: f64, angle: Angle) -> (f64, f64) {
    let (sin, cos) = (angle.sin(), angle.cos());
    (cos * first + sin * second, cos * second - sin * first)
}

/// The vertical in blade axes of a blade that reads the given apparent pitch and span slope.
#[must_use]
pub fn up_from_reading(apparent: Angle, span_slope: Angle) -> BladeVector {
    let across = span_slope.cos();
    BladeVector { span: span_slope.sin(), chord: across * apparent.sin(), normal: across * apparent.cos() }
}

impl Clip {
    /// Turns a vector from the axes of the clip into the blade's: a clip that sits end for end has its chord and
    /// span axes the other way round. Turning twice changes nothing.
    #[must_use]
    pub fn turn(self, vector: BladeVector) -> BladeVector {
        match self {
            Self::Forward => vector,
            Self::Reversed => BladeVector { span: -vector.span, chord: -vector.chord, normal: vector.normal },
        }
    }

    /// +1 forward, −1 reversed: the sign with which the instrument's own error enters a blade's pitch and slope.
    #[must_use]
    pub const fn sign(self) -> f64 {
        match self {
            Self::Forward => 1.0,
            Self::Reversed => -1.0,
        }
    }
}

/// How well gravity shows the pitch of a blade that slopes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Visibility {
    /// The span slopes by less than 30°: noise grows by at most 15 %.
    Clear,
    /// The span slopes by 30° to 60°: noise and the clip's errors grow up to twofold. Shown beside the reading.
    Weak,
}

/// The blade's span is too near the vertical for gravity to show its pitch.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("steep: {span_slope}")]
pub struct SpanTooSteep {
    /// Span slope, tip up positive.
    pub span_slope: Angle,
}

impl Visibility {
    /// Judges a reading by the slope of the span.
    ///
    /// # Errors
    /// When the span is steeper than 60°, or the vector has no direction.
    pub fn of(up: BladeVector) -> Result<Self, SpanTooSteep> {
        let span_slope = up.span_inclination();
        // Asked this way round, a slope that is no number is refused as well.
        if span_slope.abs().degrees() < 30.0 && up.norm() > 0.0 {
            Ok(Self::Clear)
        } else if span_slope.abs().degrees() <= 60.0 && up.norm() > 0.0 {
            Ok(Self::Weak)
        } else {
            Err(SpanTooSteep { span_slope })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    fn station(degrees: f64) -> Station {
        Station::from_degrees(degrees).unwrap()
    }

    fn degrees(value: f64) -> Angle {
        Angle::from_degrees(value)
    }

    fn rotations() -> impl Strategy<Value = Rotation> {
        prop_oneof![Just(Rotation::Clockwise), Just(Rotation::Anticlockwise)]
    }

    #[test]
    fn an_anticlockwise_blade_passes_the_right_side_at_90_and_a_clockwise_one_the_left() {
        let outward = HubVector { span: 1.0, turn: 0.0, shaft: 0.0 };
        let right = outward.to_body(station(90.0), Rotation::Anticlockwise);
        assert_abs_diff_eq!(right.left, -1.0, epsilon = 1e-15);
        let left = outward.to_body(station(90.0), Rotation::Clockwise);
        assert_abs_diff_eq!(left.left, 1.0, epsilon = 1e-15);
        for rotation in [Rotation::Clockwise, Rotation::Anticlockwise] {
            assert_abs_diff_eq!(outward.to_body(station(0.0), rotation).nose, -1.0, epsilon = 1e-15);
        }
    }

    #[test]
    fn the_leading_edge_points_where_the_blade_goes() {
        for rotation in [Rotation::Clockwise, Rotation::Anticlockwise] {
            let at = |azimuth| HubVector { span: 1.0, turn: 0.0, shaft: 0.0 }.to_body(station(azimuth), rotation);
            let (before, after) = (at(39.999), at(40.001));
            let way = BodyVector { nose: after.nose - before.nose, left: after.left - before.left, shaft: 0.0 };
            assert!(way.at(station(40.0), rotation).turn > 0.0);
        }
    }

    #[test]
    fn on_an_upright_shaft_apparent_pitch_is_pitch_and_span_slope_is_flap() {
        let attitude = Attitude { flap: degrees(-2.0), feather: degrees(11.5) };
        let up = attitude.to_blade(ShaftTilt::default().up().at(station(90.0), Rotation::Clockwise));
        assert_abs_diff_eq!(up.apparent_pitch().degrees(), 11.5, epsilon = 1e-12);
        assert_abs_diff_eq!(up.span_inclination().degrees(), -2.0, epsilon = 1e-12);
    }

    #[test]
    fn a_helicopter_nose_down_reads_more_pitch_where_the_leading_edge_moves_aft() {
        // Nose down: the shaft leans toward the nose, and what points aft rises.
        let tilt = ShaftTilt { nose: degrees(4.0), left: Angle::ZERO };
        for rotation in [Rotation::Clockwise, Rotation::Anticlockwise] {
            let read = |azimuth| {
                Attitude::default().to_blade(tilt.up().at(station(azimuth), rotation)).apparent_pitch().degrees()
            };
            // At 90° of azimuth the blade moves toward the nose, at 270° aft.
            assert_abs_diff_eq!(read(90.0), -4.0, epsilon = 1e-12);
            assert_abs_diff_eq!(read(270.0), 4.0, epsilon = 1e-12);
            assert_abs_diff_eq!(read(0.0), 0.0, epsilon = 1e-12);
        }
    }

    #[test]
    fn a_reversed_clip_with_a_chord_offset_reads_more_forward_and_less_reversed() {
        let (pitch, offset) = (degrees(7.0), degrees(1.5));
        let blade = up_from_reading(pitch, degrees(3.0));
        // The clip's own axes stand `offset` about the span from the blade's; reversed, about the other end.
        let clip_axes = |up: BladeVector| {
            let (chord, normal) = turn(up.chord, up.normal, offset);
            BladeVector { chord, normal, ..up }
        };
        let forward = Clip::Forward.turn(clip_axes(blade));
        let reversed = Clip::Reversed.turn(clip_axes(Clip::Reversed.turn(blade)));
        assert_abs_diff_eq!(forward.apparent_pitch().degrees(), 8.5, epsilon = 1e-12);
        assert_abs_diff_eq!(reversed.apparent_pitch().degrees(), 5.5, epsilon = 1e-12);
        assert_abs_diff_eq!(reversed.span_inclination().degrees(), 3.0, epsilon = 1e-12);
    }

    #[test]
    fn a_steep_span_is_marked_and_a_vertical_one_refused() {
        let at = |slope| Visibility::of(up_from_reading(degrees(5.0), degrees(slope)));
        assert_eq!(at(-29.0), Ok(Visibility::Clear));
        assert_eq!(at(45.0), Ok(Visibility::Weak));
        let refused = at(-72.0).unwrap_err();
        assert!((refused.span_slope.degrees() + 72.0).abs() < 1e-9, "{refused}");
        assert!(Visibility::of(BladeVector::default()).is_err());
        assert!(Visibility::of(BladeVector { span: f64::NAN, chord: 0.0, normal: 1.0 }).is_err());
    }

    proptest! {
        #[test]
        fn frame_to_angle_to_frame(
            nose in -40.0..40.0f64, left in -40.0..40.0f64, azimuth in 0.0..360.0f64,
            flap in -40.0..40.0f64, feather in -179.0..179.0f64, rotation in rotations(),
        ) {
            let tilt = ShaftTilt { nose: degrees(nose), left: degrees(left) };
            let hub = tilt.up().at(station(azimuth), rotation);
            let attitude = Attitude { flap: degrees(flap), feather: degrees(feather) };
            let blade = attitude.to_blade(hub);

            let back = attitude.to_hub(blade);
            prop_assert!((back.span - hub.span).abs() < 1e-12);
            prop_assert!((back.turn - hub.turn).abs() < 1e-12);
            prop_assert!((back.shaft - hub.shaft).abs() < 1e-12);

            let found = ShaftTilt::of(back.to_body(station(azimuth), rotation));
            prop_assert!((found.nose - tilt.nose).abs().radians() < 1e-12);
            prop_assert!((found.left - tilt.left).abs().radians() < 1e-12);

            let rebuilt = up_from_reading(blade.apparent_pitch(), blade.span_inclination());
            prop_assert!((rebuilt.span - blade.span).abs() < 1e-12);
            prop_assert!((rebuilt.chord - blade.chord).abs() < 1e-12);
            prop_assert!((rebuilt.normal - blade.normal).abs() < 1e-12);
        }

        #[test]
        fn reading_to_attitude_to_reading(
            nose in -10.0..10.0f64, left in -10.0..10.0f64, azimuth in 0.0..360.0f64,
            flap in -30.0..30.0f64, feather in -90.0..90.0f64, rotation in rotations(),
        ) {
            let hub = ShaftTilt { nose: degrees(nose), left: degrees(left) }.up().at(station(azimuth), rotation);
            let attitude = Attitude { flap: degrees(flap), feather: degrees(feather) };
            let blade = attitude.to_blade(hub);
            let found = Attitude::from_reading(blade.apparent_pitch(), blade.span_inclination(), hub);
            prop_assert!((found.flap - attitude.flap).abs().radians() < 1e-12);
            prop_assert!((found.feather - attitude.feather).abs().radians() < 1e-12);
        }
    }
}
