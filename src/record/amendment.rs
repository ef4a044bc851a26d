//! What was said of a setup before it was amended.

use super::setup::{Blades, Setup};
use crate::units::{Celsius, Moment};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A detail of a setup that was replaced by another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Amendment {
    /// When.
    #[schemars(with = "Moment")]
    pub at: Timestamp,
    /// What it said until then.
    pub replaced: Replaced,
}

/// What a detail said before.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Replaced {
    /// Who had checked.
    CheckedBy(String),
    /// Who had measured.
    MeasuredBy(String),
    /// Temperature in the workshop.
    #[serde(rename = "temperature_c")]
    Temperature(Celsius),
    /// Why the head was set up.
    Reason(String),
    /// Whether the main blades were on.
    Blades(Blades),
}

impl Setup {
    /// Keeps what `before` said and this does not say any more.
    pub fn keep_replaced(&mut self, before: &Self, at: Timestamp) {
        let reason = Some(&before.reason).filter(|reason| !reason.is_empty());
        let replaced = [
            gone(before.checked_by.as_ref(), self.checked_by.as_ref()).map(Replaced::CheckedBy),
            gone(before.measured_by.as_ref(), self.measured_by.as_ref()).map(Replaced::MeasuredBy),
            gone(before.temperature.as_ref(), self.temperature.as_ref()).map(Replaced::Temperature),
            gone(reason, Some(&self.reason)).map(Replaced::Reason),
            gone(Some(&before.blades), Some(&self.blades)).map(Replaced::Blades),
        ];
        self.amendments.extend(replaced.into_iter().flatten().map(|replaced| Amendment { at, replaced }));
    }
}

/// What stood there, where something else does now.
fn gone<T: PartialEq + Clone>(before: Option<&T>, now: Option<&T>) -> Option<T> {
    before.filter(|_| before != now).cloned()
}
