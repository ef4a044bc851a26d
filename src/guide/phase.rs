//! Where in the sequence a step stands.

use serde::{Deserialize, Serialize};

/// Where in the sequence a step stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Phase {
    /// The cautions are being read.
    Cautions,
    /// Not armed: everything by hand.
    Idle,
    /// The clip is put on its blade, the blade turned to its station.
    Place,
    /// A short movement shows that the clip is where it was asked for.
    #[serde(rename = "check stick")]
    CheckStick,
    /// The stick at its centre.
    Neutral,
    /// The stick is to be moved.
    Move,
    /// It moves towards the target.
    Approaching,
    /// The cell was filled.
    Captured,
    /// The linkage binds: back off.
    #[serde(rename = "back off")]
    BackOff,
    /// The stick goes back.
    Return,
    /// The cable is lifted, and let go.
    Cable,
    /// An axis is moved to both its ends once more.
    #[serde(rename = "once more")]
    OnceMore,
    /// The readings contradict what was expected.
    Question,
    /// Everything is captured.
    Done,
}
