//! What the guide sees of the blade.

use crate::rotor::{LeadingEdge, Spot};
use crate::units::{Angle, Seconds};

/// Steeper than this no main blade lies on a bench.
const STEEPEST_MAIN_DEGREES: f64 = 25.0;
/// A tail blade's chord stands no further from upright than this.
const WIDEST_TAIL_DEGREES: f64 = 70.0;

/// The blade at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Time on the stream's own clock.
    pub clock: Seconds,
    /// Apparent pitch in the axes of the clip.
    pub apparent: Angle,
    /// Inclination of the span in the axes of the clip.
    pub span: Angle,
    /// Whether a servo is seen to buzz.
    pub buzzes: bool,
}

/// The blade at rest for long enough to be captured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// From when it was still.
    pub from: Seconds,
    /// How it stood, at the end of the still stretch.
    pub at: Moment,
    /// How strongly it swung while it was read; zero where nothing stood out of the noise.
    pub swing: Angle,
}

/// The pitch of a blade at a spot, the clip forward; whatever the clip sits on, so that a wrong spot shows as a wrong pitch.
#[must_use]
pub fn pitch(at: Moment, spot: Spot) -> Angle {
    let apparent = at.apparent;
    match spot {
        Spot::Main(_) => apparent,
        // With the span level the chord stands upright at zero pitch: see `rotor::tail_pitch`.
        Spot::Tail(LeadingEdge::Up) => (apparent - Angle::from_degrees(90.0)).wrapped(),
        Spot::Tail(LeadingEdge::Down) => (apparent + Angle::from_degrees(90.0)).wrapped(),
    }
}

/// Whether a blade at this spot can stand so.
pub(super) fn is_plausible(at: Moment, spot: Spot) -> bool {
    let level = at.span.abs().degrees() < STEEPEST_MAIN_DEGREES;
    let pitch = pitch(at, spot).abs().degrees();
    level && pitch < if matches!(spot, Spot::Main(_)) { STEEPEST_MAIN_DEGREES } else { WIDEST_TAIL_DEGREES }
}

/// How far the clip has moved between two moments, pitch or span, whichever more.
pub(super) fn apart(one: Moment, other: Moment) -> Angle {
    let pitch = (one.apparent - other.apparent).wrapped().abs();
    let span = (one.span - other.span).abs();
    if pitch > span { pitch } else { span }
}
