//! One measured setup: who, when, why, and everything that happened in order.

use super::adjustment::Adjustment;
use super::amendment::Amendment;
use super::cable::CableCheck;
use super::capture::{Capture, DatumRef};
use super::cell::CellName;
use super::head::Head;
use super::spindle::SpindleCheck;
use super::subject::Subject;
use super::sweep::Sweep;
use crate::units::{Celsius, Moment};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;
use std::fmt;
use std::ops::Not;
use uuid::Uuid;

/// Whether the main blades are on: their own load moves the reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Blades {
    /// Fitted.
    #[default]
    On,
    /// Taken off; the clip sits on the grips.
    Off,
}

impl fmt::Display for Blades {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::On => "on",
            Self::Off => "off",
        })
    }
}

/// One measured setup of one helicopter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Setup {
    /// Its id.
    pub id: Uuid,
    /// Its number in the logbook, from 1.
    pub number: u32,
    /// The head as it was described when the setup was begun.
    pub head: Head,
    /// When it was begun.
    #[schemars(with = "Moment")]
    pub started_at: Timestamp,
    /// When it was closed; none while it is open.
    #[schemars(with = "Option<Moment>")]
    pub closed_at: Option<Timestamp>,
    /// Why the head is being set up.
    pub reason: String,
    /// Whether the main blades are on.
    pub blades: Blades,
    /// Temperature in the workshop.
    #[serde(rename = "temperature_c")]
    pub temperature: Option<Celsius>,
    /// Who measures.
    pub measured_by: Option<String>,
    /// Who checks: a second pair of eyes.
    pub checked_by: Option<String>,
    /// When the cautions were read and acknowledged; none while they were not.
    #[schemars(with = "Option<Moment>")]
    pub cautions_acknowledged_at: Option<Timestamp>,
    /// What was amended: what it said before, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub amendments: Vec<Amendment>,
    /// It was imported from a document that lacked checksums: somebody may have edited it, or an earlier version wrote it.
    #[serde(default, skip_serializing_if = "Not::not")]
    pub edited: bool,
}

/// What happened to model, clip and sensor during a pause.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Interruption {
    /// The model was moved, or may have been: it need not lean as it did.
    pub model_moved: bool,
    /// The clip was taken off.
    pub clip_taken_off: bool,
    /// Another sensor is used from here on.
    pub sensor_changed: bool,
}

/// What can happen in a setup.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Event {
    /// One axis direction was captured.
    Capture(Box<Capture>),
    /// Something was turned or set.
    Adjustment {
        /// What.
        adjustment: Adjustment,
        /// A remark.
        note: Option<String>,
    },
    /// Zero was set.
    Datum {
        /// The datum.
        datum: DatumRef,
    },
    /// The setup was taken up again after a pause.
    Resumed {
        /// What happened to model, clip and sensor meanwhile.
        #[serde(flatten)]
        pause: Interruption,
        /// What was judged to hold and what not.
        note: String,
    },
    /// Captures were read anew from their raw samples, which stay as they are: from here on these readings count.
    Recomputed {
        /// With what.
        note: String,
        /// The captures with their new readings, each with the id that it had.
        captures: Vec<Capture>,
    },
    /// The spindle of a blade was checked for a bend.
    Spindle {
        /// What was read.
        check: SpindleCheck,
    },
    /// The pull of the cable was checked.
    Cable {
        /// What was read.
        check: CableCheck,
    },
    /// An axis was moved to its ends once more.
    Swept {
        /// What it reached.
        sweep: Sweep,
    },
    /// A capture, an adjustment or what was left out was taken back: it was wrong, and counts no longer. It stays where it is.
    Withdrawn {
        /// The entry that recorded it: a capture, as the first versions knew no other.
        capture: Uuid,
        /// Why.
        reason: String,
    },
    /// A cell was left out on purpose.
    Skipped {
        /// Which: a direction, as the first versions knew no other.
        #[serde(rename = "deflection")]
        cell: CellName,
        /// Why.
        reason: String,
    },
}

/// Why an entry cannot be kept.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EntryError {
    /// The blade never came to rest.
    #[error("not steady: {0}")]
    NotSteady(Subject),
    /// The angle is no number.
    #[error("no angle: {0}")]
    NoAngle(Subject),
}

/// One thing that happened in a setup. Entries are kept in order and never changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Entry {
    /// Its id; a capture's entry has the capture's id.
    pub id: Uuid,
    /// When it happened.
    #[schemars(with = "Moment")]
    pub at: Timestamp,
    /// What happened.
    pub event: Event,
}

/// The entries that were taken back.
pub(super) fn withdrawn(entries: &[Entry]) -> HashSet<Uuid> {
    let taken_back = entries.iter().filter_map(|entry| match &entry.event {
        Event::Withdrawn { capture, .. } => Some(*capture),
        _ => None,
    });
    taken_back.collect()
}

/// What was turned and not taken back, in order, each with its place among the entries.
pub(super) fn turned(entries: &[Entry]) -> impl DoubleEndedIterator<Item = (usize, Adjustment)> {
    let gone = withdrawn(entries);
    entries.iter().enumerate().filter_map(move |(at, entry)| match &entry.event {
        Event::Adjustment { adjustment, .. } if !gone.contains(&entry.id) => Some((at, *adjustment)),
        _ => None,
    })
}

impl Entry {
    /// What was recorded here and can be taken back: a capture, an adjustment, or what was left out.
    #[must_use]
    pub const fn can_be_withdrawn(&self) -> bool {
        matches!(self.event, Event::Capture(_) | Event::Adjustment { .. } | Event::Skipped { .. })
    }

    /// The entry of a capture.
    ///
    /// # Errors
    /// When the reading was not steady or gave no angle: such a reading is never kept as a value.
    pub fn capture(capture: Capture) -> Result<Self, EntryError> {
        if !capture.reading.steady {
            return Err(EntryError::NotSteady(capture.subject));
        }
        if !capture.reading.angle.is_finite() {
            return Err(EntryError::NoAngle(capture.subject));
        }
        Ok(Self { id: capture.id, at: capture.taken_at, event: Event::Capture(Box::new(capture)) })
    }
}
