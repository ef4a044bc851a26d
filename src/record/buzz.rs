//! A servo that buzzes: it pushes against something. A hum that is there at rest too is none.

use super::capture::Capture;
use crate::units::Angle;

/// A swing of the blade that is felt as buzzing, degrees. [common practice, no source]
const BUZZ_DEGREES: f64 = 0.03;

/// Buzzing is so much more than a servo's hum at rest. [common practice, no source]
const BUZZ_OVER_HUM: f64 = 3.0;

/// How strongly the blade swung while it was read.
pub(super) fn swing(capture: &Capture) -> Angle {
    capture.reading.vibration.map_or(Angle::ZERO, |vibration| vibration.amplitude)
}

/// The buzz of a capture in words, where there is one; `hum` is how strongly the blade swung in readings without it.
pub(super) fn against(capture: &Capture, hum: impl Iterator<Item = Angle>) -> Option<String> {
    let hum = hum.fold(Angle::ZERO, |most, next| if next > most { next } else { most });
    let buzzes = |amplitude: Angle| amplitude.degrees() >= BUZZ_DEGREES && amplitude > hum * BUZZ_OVER_HUM;
    let buzz = capture.reading.vibration.filter(|vibration| buzzes(vibration.amplitude))?;
    Some(format!("a servo buzzes ({:.0} Hz, {:.2}° at the blade)", buzz.frequency.value(), buzz.amplitude.degrees()))
}
