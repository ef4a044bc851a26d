//! A servo that buzzes: it pushes against something. A hum that is there at rest too is none.

use super::capture::Capture;
use super::trade::is_buzz;
use crate::filter::Vibration;
use crate::units::Angle;

/// How strongly the blade swung while it was read.
pub(super) fn swing(capture: &Capture) -> Angle {
    capture.reading.vibration.map_or(Angle::ZERO, |vibration| vibration.amplitude)
}

/// The buzz of a capture, where there is one; `hum` is how strongly the blade swung in readings without it.
pub(super) fn against(capture: &Capture, hum: impl Iterator<Item = Angle>) -> Option<Vibration> {
    let hum = hum.fold(Angle::ZERO, |most, next| if next > most { next } else { most });
    capture.reading.vibration.filter(|vibration| is_buzz(vibration.amplitude, Some(hum)))
}
