//! What is done to a setup besides captures: begun, adjusted, left out. Commands and page do it by these.

use super::reversal::{TakenOver, take_over};
use crate::SetupHandle;
use crate::logbook::{Logbook, LogbookError, NewSetup, SavedDefault};
use crate::record::{Adjustment, AdjustmentRefusal, Cell, CellName, Check, Event, LimitRecord, Setup, Verdict, Wanted};
use crate::words::{Face, Say, setup as words};
use jiff::Timestamp;
use serde::Serialize;
use std::path::Path;

/// A setup that was begun.
#[derive(Debug)]
pub struct Begun {
    /// The setup, open for more.
    pub open: SetupHandle,
    /// The setup as it was begun.
    pub setup: Setup,
    /// What became of the sensor's last reversal.
    pub zero: Option<TakenOver>,
}

/// Begins a setup: the new one is on the disk before the one that is to be closed is closed, so that nothing is lost between
/// the two. `file` is the head's description, for the next setup.
///
/// # Errors
/// When the logbook cannot be written.
pub async fn begin(
    logbook: &Logbook,
    new: NewSetup,
    file: Option<&Path>,
    close: Option<u32>,
    after: Option<Adjustment>,
) -> Result<Begun, LogbookError> {
    let setup = logbook.new_setup(new).await?;
    if let Some(file) = file {
        logbook.save(SavedDefault::Head, Some(&file.display().to_string())).await?;
    }
    if let Some(number) = close {
        logbook.close_setup(number, Timestamp::now()).await?;
    }
    let mut open = SetupHandle::find(logbook.clone(), Some(setup.number)).await?;
    let zero = take_over(&mut open).await?;
    if let Some(after) = after {
        open.adjust(after, None).await?;
    }
    Ok(Begun { open, setup, zero })
}

/// Why something is not done to a setup.
#[derive(Debug, thiserror::Error)]
pub enum DeedError {
    /// The head cannot have been adjusted so.
    #[error(transparent)]
    Adjustment(#[from] AdjustmentRefusal),
    /// The record has no such cell.
    #[error("no cell {0}")]
    NoCell(CellName),
    /// Nobody owes it.
    #[error("not owed: {0}")]
    NotOwed(CellName),
    /// Nobody says why.
    #[error("no reason")]
    NoReason,
    /// The logbook.
    #[error(transparent)]
    Logbook(#[from] LogbookError),
}

impl Say for DeedError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Adjustment(refusal) => refusal.say(face),
            Self::NoCell(cell) => words::no_cell(*cell),
            Self::NotOwed(cell) => words::not_owed(*cell),
            Self::NoReason => words::SKIP_WHY.to_owned(),
            Self::Logbook(error) => error.say(face),
        }
    }
}

/// What an adjustment has done to the record.
#[derive(Debug, Clone, Serialize)]
pub struct Adjusted {
    /// The setup's number.
    pub setup: u32,
    /// What was turned.
    pub adjustment: Adjustment,
    /// Whether a link was turned to where it does not seat.
    pub between_seats: bool,
    /// The cells that hold no longer.
    pub stale: Vec<String>,
    /// What is to be measured again.
    pub to_measure: Vec<Wanted>,
    /// What is to be looked at besides.
    pub to_check: Vec<Check>,
}

impl Adjusted {
    /// What it has done to this record, in which it is.
    #[must_use]
    pub fn of(open: &SetupHandle, adjustment: Adjustment) -> (Self, LimitRecord) {
        let record = open.record();
        let stale = |cell: &&Cell| matches!(cell.verdict, Verdict::Stale { .. });
        let adjusted = Self {
            setup: open.setup().number,
            adjustment,
            between_seats: adjustment.is_between_seats(&open.setup().head),
            stale: record.cells.iter().filter(stale).map(|cell| cell.name.to_string()).collect(),
            to_measure: record.shortest_remeasure().to_vec(),
            to_check: record.to_check.clone(),
        };
        (adjusted, record)
    }
}

/// Records what was turned.
///
/// # Errors
/// When the head cannot have been adjusted so, or the logbook cannot be written.
pub async fn adjust(open: &mut SetupHandle, adjustment: Adjustment, note: Option<String>) -> Result<(), DeedError> {
    adjustment.possible_on(&open.setup().head)?;
    Ok(open.adjust(adjustment, note).await?)
}

/// Leaves a cell out on purpose.
///
/// # Errors
/// When it is not owed or holds a value, when no reason is given, or when the logbook cannot be written.
pub async fn leave_out(open: &mut SetupHandle, cell: CellName, reason: &str) -> Result<(), DeedError> {
    if reason.trim().is_empty() {
        return Err(DeedError::NoReason);
    }
    let record = open.record();
    let found = record.cell(cell).ok_or(DeedError::NoCell(cell))?;
    // What holds a value is not left out, and what nobody owes needs no note.
    if !found.is_owed() && found.left_out.is_none() || found.verdict.is_captured() {
        return Err(DeedError::NotOwed(cell));
    }
    Ok(open.happened(Event::Skipped { cell, reason: reason.to_owned() }).await?)
}
