//! Readings and captures as JSON documents for whoever asks with `--json`.
//!
//! Field names end in their unit: `_deg` degrees, `_s` seconds of the stream's own clock, `_percent` percent.

use super::capture::Capture;
use super::cell::{Basis, Cell, CellName};
use super::limits::LimitRecord;
use super::reading::Reading;
use crate::rotor::{Collective, Deflection};
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

impl Capture {
    /// The capture as a JSON object: its reading, what was captured, and what the record of setup number `setup`
    /// says about it. `travel_deg` is null without a neutral, target and verdict are null where no cell uses it.
    #[must_use]
    pub fn document(&self, setup: u32, record: &LimitRecord) -> Value {
        let mut document = self.reading.document();
        let cell = record.cell_with(self);
        let target = cell.map(|c| c.target);
        let more = json!({
            "id": self.id,
            "taken_at": self.taken_at,
            "setup": setup,
            "axis": self.subject.deflection().axis(),
            "direction": self.subject.deflection().direction(),
            "blade": self.subject.blade(),
            "station_deg": self.subject.station(),
            "leading_edge": self.subject.leading_edge(),
            "clip": self.clip,
            "seat": self.seat,
            "stick_percent": self.stick,
            "datum": self.datum.kind(),
            "sensor": self.sensor,
            "limited_by": self.limited_by,
            "accepted": self.accepted,
            "travel_deg": cell.and_then(Cell::travel),
            "travel_expanded_uncertainty_deg": cell.filter(|c| c.travel().is_some()).and_then(|c| c.value.as_ref()).map(|v| v.expanded),
            "target": target,
            "target_deg": target.map(|t| t.value()),
            "tolerance_deg": target.and_then(|t| t.tolerance()),
            "verdict": cell.map(|c| c.verdict.word()),
            "consequence": cell.map(|c| c.consequence.clone()),
            "question": cell.and_then(|c| c.question.clone()),
            "remarks": cell.map(|c| c.remarks.clone()).unwrap_or_default(),
        });
        if let (Value::Object(all), Value::Object(more)) = (&mut document, more) {
            all.extend(more);
        }
        document
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
    /// The travel from neutral, positive in the commanded direction; none without a neutral.
    #[must_use]
    pub fn travel(&self) -> Option<crate::units::Angle> {
        let value = self.value.as_ref().filter(|v| v.basis == Basis::Travel)?;
        // The low end of the collective goes down: its travel is positive downward.
        let down = self.name == CellName::Limit(Deflection::Collective(Collective::Low));
        Some(if down { -value.angle } else { value.angle })
    }
}
