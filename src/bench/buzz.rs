//! A servo that pushes against something is felt through the blade.

use crate::filter::Vibration;

/// A servo that shakes the blade by so much buzzes. [common practice, no source]
const BUZZ_DEGREES: f64 = 0.06;

/// Whether a vibration is a servo's buzz, and not the bench's.
pub(super) fn buzzes(vibration: Option<Vibration>) -> bool {
    vibration.is_some_and(|vibration| vibration.amplitude.degrees() > BUZZ_DEGREES)
}
