//! The rotor solution as a document: names and units as other programs rely on them.

use super::model::Unknown;
use super::{BladeName, Estimate, RotorSolution};
use crate::units::Angle;
use serde_json::{Map, Value, json};

/// A standard error beyond this is no figure any more, degrees.
const BEYOND_FIGURES: f64 = 1e6;

impl RotorSolution {
    /// The solution as JSON: angles and standard errors in degrees, `null` for what the readings do not tell.
    /// `numbered` writes blades as numbers from 1 instead of letters.
    #[must_use]
    pub fn document(&self, numbered: bool) -> Value {
        let name = |blade: BladeName| if numbered { json!(blade.index() + 1) } else { json!(blade.to_string()) };
        let of = |unknown| degrees(self.known(unknown));
        let swash = self.swash();
        let blades: Vec<Value> = self
            .blades
            .iter()
            .map(|b| {
                json!({
                    "blade": name(b.blade),
                    "collective_deg": degrees(b.collective.known()),
                    "droop_deg": degrees(b.droop.known()),
                })
            })
            .collect();
        let first = self.blades.first().map(|b| b.blade);
        let splits: Vec<Value> = self
            .blades
            .iter()
            .filter_map(|b| Some((b.blade, b.split?)))
            .map(|(blade, split)| {
                json!({
                    "blade": name(blade),
                    "against": first.map(name),
                    "split_deg": degrees(split.known()),
                    "standard_error_deg": figure(split.standard_error),
                })
            })
            .collect();
        let split = self.blades.iter().find_map(|b| b.split);
        let mut stations: Vec<f64> = Vec::new();
        for station in self.suggestions.iter().map(|s| f64::from(s.station)) {
            if !stations.contains(&station) {
                stations.push(station);
            }
        }
        json!({
            "rotation": self.rotation,
            "shaft_tilt": { "nose_deg": of(Unknown::Nose), "left_deg": of(Unknown::Left) },
            "blades": blades,
            "track_split_deg": degrees(split.and_then(Estimate::known)),
            "track_splits": splits,
            "swash": {
                "cos_deg": of(Unknown::Cos),
                "sin_deg": of(Unknown::Sin),
                "amplitude_deg": degrees(swash.map(|(amplitude, _)| amplitude)),
                "azimuth_deg": degrees(swash.map(|(_, azimuth)| azimuth)),
            },
            "clip_offset_deg": of(Unknown::ClipOffset),
            "clip_span_offset_deg": of(Unknown::ClipSpanOffset),
            "standard_errors": self.standard_errors(),
            "residual_rms_deg": self.residual_rms.degrees(),
            "residuals": self.residuals.iter().map(|r| json!({
                "apparent_deg": r.apparent.degrees(), "span_deg": r.span.degrees(),
            })).collect::<Vec<_>>(),
            "misfit": self.misfit,
            "degrees_of_freedom": self.degrees_of_freedom,
            "condition": finite(self.condition),
            "unobservable": self.unobservable().iter().map(Unknown::to_string).collect::<Vec<_>>(),
            "suggest": stations,
        })
    }

    /// Every unknown's standard error; the clip's offsets are `null` where the clip was never turned.
    fn standard_errors(&self) -> Value {
        let mut errors = Map::new();
        for unknown in [Unknown::ClipOffset, Unknown::ClipSpanOffset] {
            errors.insert(unknown.to_string(), Value::Null);
        }
        for (unknown, estimate) in &self.estimates {
            errors.insert(unknown.to_string(), figure(estimate.standard_error));
        }
        if let Some(split) = self.blades.iter().find_map(|b| b.split) {
            errors.insert("track_split_deg".into(), figure(split.standard_error));
        }
        Value::Object(errors)
    }
}

fn degrees(angle: Option<Angle>) -> Value {
    angle.map_or(Value::Null, |a| json!(a.degrees()))
}

fn figure(standard_error: Angle) -> Value {
    if standard_error.degrees() < BEYOND_FIGURES { json!(standard_error.degrees()) } else { Value::Null }
}

fn finite(value: f64) -> Value {
    if value.is_finite() { json!(value) } else { Value::Null }
}
