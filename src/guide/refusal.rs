//! Why an act is not done.

use crate::record::CellName;
use crate::rotor::Carrier;
use serde::Serialize;

/// Why an act is not done now.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, thiserror::Error)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Refusal {
    /// The setup is closed.
    #[error("setup closed")]
    Closed,
    /// The cautions are not all acknowledged.
    #[error("cautions unread")]
    CautionsFirst,
    /// There is no such line among the cautions.
    #[error("no such caution")]
    NoSuchCaution,
    /// Nothing is left to leave out.
    #[error("nothing to skip")]
    NothingToSkip,
    /// This cell follows from others: nothing is captured for it alone.
    #[error("no line: {cell}")]
    Follows {
        /// The cell.
        cell: CellName,
    },
    /// There is no such line in the order.
    #[error("no such line")]
    NoSuchLine,
    /// No sensor is on this blade.
    #[error("no sensor: {carrier}")]
    NoSensor {
        /// The blade.
        carrier: Carrier,
    },
    /// The sequence is not running.
    #[error("not running")]
    NotRunning,
    /// The blade stands at its neutral.
    #[error("stick at neutral")]
    MoveFirst,
    /// No stick is held.
    #[error("nothing held")]
    NothingHeld,
    /// No question stands.
    #[error("no question")]
    NoQuestion,
    /// The question has no such answer.
    #[error("no such answer")]
    NoSuchAnswer,
    /// Nothing has been captured yet.
    #[error("nothing captured")]
    NothingCaptured,
}
