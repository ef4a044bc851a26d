//! Readings as JSON documents for whoever asks with `--json`.
//!
//! Field names end in their unit: `_deg` degrees, `_s` seconds of the stream's own clock, `_percent` percent.

use super::capture::Capture;
use super::cell::{Basis, Cell, CellName};
use super::limits::LimitRecord;
use super::reading::Reading;
use serde_json::{Value, json};

impl Reading {
    /// The reading as a JSON object: the angle, its uncertainty with its components, and the figures of the stream.
    #[must_use]
    pub fn document(&self) -> Value {
        let expanded = self.budget.expanded();
        json!({
            "angle_deg": self.angle,
            "expanded_uncertainty_deg": expanded.expanded,
            "coverage_factor": expanded.coverage_factor,
            "standard_uncertainty_deg": expanded.standard,
            "degrees_of_freedom": expanded.freedom,
            "apparent_pitch_deg": self.apparent_pitch,
            "span_inclination_deg": self.span_inclination,
            "samples": self.samples,
            "effective_samples": self.effective_samples,
            "dropped_samples": self.dropped_samples,
            "damaged_frames": self.damaged_frames,
            "lost_samples": self.lost_samples,
            "settled_at_s": self.settled_at,
            "finished_at_s": self.finished_at,
            "steady": self.steady,
            "ended_by": self.ended_by,
            "observability": self.observability,
            "vibration": self.vibration,
            "temperature_c": self.temperature,
            "components": self.budget.components(),
        })
    }
}

impl LimitRecord {
    /// The cell in which this capture stands as the value; none for a neutral, or for one that was redone since.
    #[must_use]
    pub fn cell_with(&self, capture: &Capture) -> Option<&Cell> {
        self.cell(CellName::of(capture.subject))
            .filter(|c| c.value.as_ref().is_some_and(|v| v.captures.contains(&capture.id)))
    }
}

impl Cell {
    /// The travel from neutral, positive in the commanded direction, on the collective with the sign of the pitch; none without a
    /// neutral.
    #[must_use]
    pub fn travel(&self) -> Option<crate::units::Angle> {
        self.value.as_ref().filter(|v| v.basis == Basis::Travel).map(|value| value.angle)
    }
}
