//! How blades, table and clip stand in space, and what a perfect sensor in the clip would feel.
//!
//! Body axes: X toward the nose, Y toward the left, Z along the main shaft. The chain is world → leaning body →
//! bent spindle → azimuth → droop → feather → clip → case, each link one rotation matrix. A blade's own axes are X outward along the
//! span, Z out of the upper surface; the leading edge lies along +Y on an anticlockwise rotor, along −Y on a clockwise
//! one, since these axes are always right-handed.

use super::geometry::{Turn, Vector, cross, dot, unit};
use super::vocabulary::{Edge, Mount, Rotation};
use crate::units::AxisMap;
use std::f64::consts::PI;

/// Attitude of the model's body: how far the shaft leans toward the nose and to the left, each as it shows in the
/// vertical plane through nose or side, radians.
pub(crate) fn body(nose: f64, left: f64) -> Turn {
    // Leaning left is about the leaned X axis, which shortens what the first lean shows: undo that.
    let first = (nose.tan() * left.cos()).atan();
    Turn::about_y(first).then(Turn::about_x(-left))
}

/// What a bent spindle does to the grips, in the body: lifts them by `bend` toward an azimuth of the disc.
///
/// The bend turns with the head, so `azimuth` is that of blade A and where the bend points from there. Taken as one tilt of all
/// grips: what it does about the shaft (lead and lag) is left out.
pub(crate) fn bent_spindle(rotation: Rotation, azimuth: f64, bend: f64) -> Turn {
    let toward = PI + rotation.sign() * azimuth;
    Turn::about_z(toward).then(Turn::about_y(-bend)).then(Turn::about_z(-toward))
}

/// Axes of a main blade in the body: at `azimuth`, tip up by `droop`, pitched by `pitch`.
pub(crate) fn main_blade(rotation: Rotation, azimuth: f64, droop: f64, pitch: f64) -> Turn {
    let hand = rotation.sign();
    Turn::about_z(PI + hand * azimuth).then(Turn::about_y(-droop)).then(Turn::about_x(hand * pitch))
}

/// Axes of a tail blade in the body, turned until its span is level (but for `level_error`) with the leading edge up
/// or down. `up` is the vertical in body axes.
pub(crate) fn tail_blade(rotation: Rotation, up: Vector, edge: Edge, level_error: f64, pitch: f64) -> Turn {
    let hand = rotation.sign();
    // The shaft points to the side toward which positive pitch pushes the tail.
    let shaft = [0.0, -hand, 0.0];
    let along = dot(up, shaft);
    let highest = unit([up[0] - along * shaft[0], up[1] - along * shaft[1], up[2] - along * shaft[2]]);
    let leading = match edge {
        Edge::Up => highest,
        Edge::Down => highest.map(|x| -x),
    };
    let second = leading.map(|x| hand * x);
    Turn::from_axes(cross(second, shaft), second, shaft)
        .then(Turn::about_z(hand * level_error))
        .then(Turn::about_x(hand * pitch))
}

/// The reference surface: sloping up along a forward clip's chord and span.
pub(crate) fn table(rotation: Rotation, slope: f64, span_slope: f64) -> Turn {
    Turn::about_y(-span_slope).then(Turn::about_x(rotation.sign() * slope))
}

/// How the clip sits on a blade, radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ClipFit {
    pub mount: Mount,
    pub yaw: f64,
    pub span_offset: f64,
    pub chord_offset: f64,
}

impl ClipFit {
    /// Axes of the clip within those of what it holds.
    pub(crate) fn on(self, held: Turn, rotation: Rotation) -> Turn {
        let end_for_end = match self.mount {
            Mount::Forward => Turn::NONE,
            Mount::Reversed => Turn::about_z(PI),
        };
        let hand = rotation.sign();
        held.then(end_for_end)
            .then(Turn::about_z(hand * self.yaw))
            .then(Turn::about_y(-self.span_offset))
            .then(Turn::about_x(hand * self.chord_offset))
    }
}

/// The vertical along span, chord and normal of a blade or clip standing so.
pub(crate) fn felt(axes: Turn, rotation: Rotation) -> Felt {
    let [span, second, normal] = axes.up();
    Felt { span, chord: rotation.sign() * second, normal }
}

/// The vertical, a vector of length one, along a blade's or clip's span, chord and normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Felt {
    pub span: f64,
    pub chord: f64,
    pub normal: f64,
}

impl Felt {
    /// Pitch against the vertical, radians.
    pub(crate) fn pitch(self) -> f64 {
        self.chord.atan2(self.normal)
    }

    /// Pitch out of an upright disc, for a tail blade with a level span, radians.
    pub(crate) fn tail_pitch(self) -> f64 {
        -self.chord.signum() * self.normal.atan2(self.chord.abs())
    }

    /// Inclination of the span, tip up positive, radians.
    pub(crate) fn span_slope(self) -> f64 {
        self.span.clamp(-1.0, 1.0).asin()
    }

    /// The same vertical along x, y and z of the sensor's case.
    pub(crate) fn in_case(self, axes: AxisMap, rotation: Rotation) -> Vector {
        let (chord, normal) = (axes.chord().unit(), axes.normal().unit());
        // The third case axis stands to the other two as normal × chord, whichever way the rotor turns.
        let third = cross(normal, chord);
        let along_third = -rotation.sign() * self.span;
        [0, 1, 2].map(|i| self.chord * chord[i] + self.normal * normal[i] + along_third * third[i])
    }
}
