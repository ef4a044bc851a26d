//! What a person does: by key, tap, foot switch or from another screen.

use crate::record::CellName;
use serde::{Deserialize, Serialize};

/// One thing that a person does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "lowercase", deny_unknown_fields)]
pub enum Act {
    /// Acknowledges one line of the cautions, counted from 0.
    Acknowledge {
        /// Which line.
        line: usize,
    },
    /// Starts the hands-free sequence.
    Arm,
    /// Stops it; nothing is captured by itself any more.
    Disarm,
    /// Leaves the present step for later.
    Skip,
    /// Captures a cell once more.
    Redo {
        /// The cell.
        cell: CellName,
    },
    /// Goes on with this line of the order.
    #[serde(rename = "go to")]
    GoTo {
        /// The line's id.
        id: u32,
    },
    /// Moves a line of the order.
    #[serde(rename = "move order")]
    MoveOrder {
        /// The line's id.
        id: u32,
        /// The line before which it shall stand; none for the end.
        before: Option<u32>,
    },
    /// Answers the question with one of its choices, counted from 0.
    Answer {
        /// Which choice.
        choice: usize,
    },
    /// What was asked is done; by hand also: capture now.
    Confirm,
    /// The linkage binds here.
    Bound,
    /// The last capture was wrong.
    Undo,
    /// The job is done; the setup is closed.
    Finish,
}
