//! The force vector, once in the sensor's axes and once in the blade's, so that neither passes for the other.

use super::Angle;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A calibrated force in the sensor's own axes, in g.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct SensorVector(pub [f64; 3]);

impl SensorVector {
    /// Its length in g: 1 at rest with a perfect calibration.
    #[must_use]
    pub fn norm(self) -> f64 {
        self.0.iter().map(|a| a * a).sum::<f64>().sqrt()
    }
}

/// A force in the axes of the clip on a blade, in g. At rest it points up with a length of 1 g.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct BladeVector {
    /// Along the span, outward.
    pub span: f64,
    /// Along the chord, toward the leading edge.
    pub chord: f64,
    /// Out of the upper surface.
    pub normal: f64,
}

impl BladeVector {
    /// Its length in g.
    #[must_use]
    pub fn norm(self) -> f64 {
        (self.span * self.span + self.chord * self.chord + self.normal * self.normal).sqrt()
    }

    /// Apparent pitch, atan2(chord, normal): the pitch against the vertical, leading edge up positive, within ±180°.
    #[must_use]
    pub fn apparent_pitch(self) -> Angle {
        Angle::atan2(self.chord, self.normal)
    }

    /// Inclination of the span against the horizontal, tip up positive, within ±90°.
    #[must_use]
    pub fn span_inclination(self) -> Angle {
        Angle::atan2(self.span, self.chord.hypot(self.normal))
    }

    /// How well gravity shows the pitch: 1 with a level span, 0 with a vertical one (cosine of the span's inclination).
    #[must_use]
    pub fn observability(self) -> f64 {
        self.chord.hypot(self.normal) / self.norm()
    }
}
