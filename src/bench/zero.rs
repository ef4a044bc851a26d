//! From readings on a surface to what zero means.

use super::Taken;
use crate::rotor::{Datum, DatumError};
use crate::units::{Angle, BladeVector};

/// How well a sensor lies on a surface it was put on by hand, one standard uncertainty. [common practice, no source]
const SEATING_DEGREES: f64 = 0.05;

/// The sensor's own error from two readings on one surface, the sensor turned end for end between them.
///
/// # Errors
/// When the two were not read end for end.
pub fn reversal(first: &Taken, second: &Taken) -> Result<Datum, DatumError> {
    let u = uncertainty(first).hypot(uncertainty(second)) / std::f64::consts::SQRT_2;
    Datum::reversal(direction(first), direction(second), u)
}

/// The direction of a mean force: a vertical of length 1.
#[must_use]
pub fn direction(taken: &Taken) -> BladeVector {
    let (mean, norm) = (taken.steady.mean, taken.steady.mean.norm());
    BladeVector { span: mean.span / norm, chord: mean.chord / norm, normal: mean.normal / norm }
}

/// How well a reading on a surface is known, as the sensor lies there by hand.
#[must_use]
pub fn uncertainty(taken: &Taken) -> Angle {
    taken.steady.repeat.hypot(Angle::from_degrees(SEATING_DEGREES))
}
