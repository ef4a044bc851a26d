//! What the guide wants done.

use super::{Cue, Deed};
use crate::record::{LimitedBy, Subject};
use crate::units::Percent;
use uuid::Uuid;

/// What is to be captured from the rest that was just seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shot {
    /// What is deflected, on which blade, where.
    pub subject: Subject,
    /// Where the stick stands.
    pub stick: Percent,
    /// What limits the travel.
    pub limited_by: LimitedBy,
}

/// What is to be done.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// For ear and eye.
    Cue(Cue),
    /// The rest that was just seen is to be captured, and [`super::Guide::kept`] told what became of it.
    Capture(Shot),
    /// The rest that was just seen is the blade with the cable lifted.
    CableLifted,
    /// Something besides captures is to be kept, and [`super::Guide::written`] told what became of it.
    Keep(Deed),
    /// The capture that was asked about is right as it was read: it is to be kept.
    Accept,
    /// It is not: it is to be forgotten.
    Forget,
}

/// What became of a capture.
#[derive(Debug, Clone, PartialEq)]
pub enum Kept {
    /// It is in the record.
    Recorded {
        /// The capture's id.
        capture: Uuid,
        /// What is said of it.
        said: String,
    },
    /// The record asks about it before it is kept.
    Asked(String),
    /// It could not be kept, for this reason.
    Refused(String),
}
