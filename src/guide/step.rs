//! The step at which the person stands, in one plain sentence.

use super::Act;
use serde::{Deserialize, Serialize};

/// What is to be done now.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// Where in the sequence.
    #[serde(rename = "state")]
    pub phase: Phase,
    /// The one sentence.
    pub sentence: String,
    /// What else helps.
    pub detail: String,
    /// The cell it is about.
    pub cell: Option<String>,
    /// Which line of the order, from 1.
    pub number: usize,
    /// How many lines the order has.
    pub of: usize,
    /// The ways out by key or tap, and the answers of a question.
    pub choices: Vec<Choice>,
    /// How long the blade must hold still, seconds.
    pub hold_s: f64,
    /// Why it goes no further by itself.
    pub why: Option<String>,
}

/// A way out of a step, by key or tap.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Choice {
    /// What it does.
    pub act: Act,
    /// What it says.
    pub label: String,
    /// The key that does it.
    pub key: Option<char>,
}

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
