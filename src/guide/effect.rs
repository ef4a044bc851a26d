//! What the guide wants done.

use super::{Mark, RecordEdit, Spoken, Tone};
use crate::record::{LimitedBy, Subject};
use crate::units::{Percent, Seconds};
use uuid::Uuid;

/// What is to be captured from the rest that was just seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CaptureRequest {
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
    /// To be spoken.
    Say(Spoken),
    /// The tone that closes in on the target; none for silence.
    Tone(Option<Tone>),
    /// Something happened.
    Mark {
        /// What.
        mark: Mark,
        /// The stretch that was averaged, where one was, on the stream's clock.
        stretch: Option<[Seconds; 2]>,
    },
    /// The rest that was just seen is to be captured, and [`super::Guide::kept`] told what became of it.
    Capture(CaptureRequest),
    /// The rest that was just seen is the blade with the cable lifted.
    CableLifted,
    /// Something besides captures is to be kept, and [`super::Guide::written`] told what became of it.
    Keep(RecordEdit),
    /// The capture that was asked about is right as it was read: it is to be kept.
    Accept,
    /// It is not: it is to be forgotten.
    Forget,
    /// Nothing is to come: the record is to be looked through, and [`super::Guide::reviewed`] told what it holds.
    Review,
}

/// What became of a capture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// It is in the record.
    Recorded {
        /// The capture's id.
        capture: Uuid,
    },
    /// The record asks about it before it is kept.
    Asked,
    /// It could not be kept.
    Refused,
}
