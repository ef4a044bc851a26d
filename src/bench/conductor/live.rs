//! The blade at this moment.

use serde::Serialize;

/// The blade at this moment, as onlookers see it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Live {
    /// Seconds on the stream's clock.
    pub clock_s: f64,
    /// The blade angle against its datum; none where gravity cannot show it.
    pub angle_deg: Option<f64>,
    /// What it has moved from the neutral, positive in the commanded direction.
    pub travel_deg: Option<f64>,
    /// The expanded uncertainty of the angle shown.
    pub expanded_deg: Option<f64>,
    /// Inclination of the span.
    pub span_deg: f64,
    /// Whether the blade moves.
    pub moving: bool,
    /// How long it has been still, seconds.
    pub still_s: f64,
    /// The share of the step's hold that has passed, 0 to 1.
    pub hold: f64,
    /// Whether a servo buzzes.
    pub buzz: bool,
    /// Why there is no angle.
    pub said: Option<String>,
    /// The sensor's temperature.
    pub temperature_c: Option<f64>,
}
