//! What the guide wants done.

use super::Cue;
use crate::record::{LimitedBy, Subject, Sweep};
use crate::rotor::Deflection;
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
    /// The rest that was just seen is the blade with the cable lifted, or with the cable hanging again.
    Cable {
        /// Whether it is lifted.
        lifted: bool,
    },
    /// An axis was moved to its ends once more: that is to be kept.
    Swept(Sweep),
    /// The capture that was asked about is right as it was read: it is to be kept.
    Accept,
    /// It is not: it is to be forgotten.
    Forget,
    /// All cautions are acknowledged: that is to be kept.
    CautionsRead,
    /// This capture was wrong: it is to count no longer.
    Withdraw(Uuid),
    /// This direction was left out on purpose.
    LeftOut(Deflection),
    /// The setup is to be closed.
    Finish,
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
