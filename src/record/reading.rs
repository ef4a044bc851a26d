//! One steady angle with everything that was seen while it was read.

use crate::filter::{EndedBy, Vibration};
use crate::uncertainty::Budget;
use crate::units::{Angle, BladeVector, Celsius, Seconds};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a reading was asked for, and what was known of its sensor: with both the same samples give the same reading again.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Asked {
    /// Twice `repeat` was to come down to this.
    #[serde(rename = "want_deg")]
    pub want: Angle,
    /// The time limit.
    #[serde(rename = "within_s")]
    pub within: Seconds,
    /// The blade had to be still for so long.
    #[serde(rename = "at_least_s")]
    pub at_least: Seconds,
    /// The sensor's own floor, where a health check had shown it.
    #[serde(default, rename = "floor_deg")]
    pub floor: Option<Angle>,
}

/// One reading of a blade angle. Angles in degrees, times in seconds of the stream's own clock from its first good sample.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reading {
    /// The blade angle as read, against the datum; leading edge up positive, a reversed clip's sign already turned.
    #[serde(rename = "angle_deg")]
    pub angle: Angle,
    /// Apparent pitch against the vertical, before the datum.
    #[serde(rename = "apparent_pitch_deg")]
    pub apparent_pitch: Angle,
    /// Inclination of the span against the horizontal, tip up positive.
    #[serde(rename = "span_inclination_deg")]
    pub span_inclination: Angle,
    /// Mean force along the blade's axes, in g: a reversed clip's signs already turned.
    #[serde(rename = "up_g")]
    pub up: BladeVector,
    /// What makes the angle uncertain.
    pub budget: Budget,
    /// Samples in the mean.
    pub samples: u64,
    /// How many independent samples they are worth; never more than `samples`.
    pub effective_samples: f64,
    /// Samples left out by the gate.
    pub dropped_samples: u64,
    /// Frames that arrived damaged.
    pub damaged_frames: u64,
    /// Samples that never arrived, by the stream's counter.
    pub lost_samples: u64,
    /// When the blade had come to rest.
    #[serde(rename = "settled_at_s")]
    pub settled_at: Seconds,
    /// When the reading was complete.
    #[serde(rename = "finished_at_s")]
    pub finished_at: Seconds,
    /// Whether the blade was at rest; an angle that was not steady is never kept as a value.
    pub steady: bool,
    /// What ended the reading.
    pub ended_by: EndedBy,
    /// How well gravity shows the pitch: 1 with a level span, 0 with a vertical one.
    pub observability: f64,
    /// The strongest vibration while it was read, where one stood out: a servo that hums, or buzzes against a stop.
    #[serde(default)]
    pub vibration: Option<Vibration>,
    /// The sensor's temperature, where it tells.
    #[serde(rename = "temperature_c")]
    pub temperature: Option<Celsius>,
    /// What it was asked for; older readings do not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub asked: Option<Asked>,
}

impl Reading {
    /// Whether the sensor shows the slope of the span: one that sends a single angle does not.
    #[must_use]
    pub const fn shows_the_span(&self) -> bool {
        self.up.span != 0.0
    }
}
