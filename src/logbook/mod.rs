//! Setups kept on disk.
//!
//! A logbook is one SQLite file in the user's data directory, or wherever `--logbook` says. It holds setups, numbered
//! from 1; each setup its entries (datums, captures, adjustments), numbered from 1 without a gap in the order in which
//! they were recorded; and each capture the raw samples that it was made from, bit for bit.
//!
//! One entry is one transaction. When [`Logbook::append`] has returned, the entry is on the disk and stays there,
//! whatever ends the program or the machine; when it has not, nothing of the entry is there. Several programs may have
//! the logbook open and write to it at once.
//!
//! A file that is not a logbook, that a newer version has written, or that is damaged is refused and left as it was,
//! byte for byte. What this rests on: the disk keeps its word when it says that data is written, and the file is not
//! on a network folder (where SQLite's write-ahead log does not work between machines).

mod document;
mod entries;
mod error;
mod inspect;
mod location;
mod migrations;
mod samples;
mod saved;
mod setups;
mod store;

pub use error::LogbookError;
pub use location::Location;
pub use samples::SamplesError;
pub use saved::SavedDefault;
pub use setups::{KeptSetup, NewSetup, SetupSummary};

use std::path::Path;
use store::Store;

/// An open logbook. Clones share it.
#[derive(Debug, Clone)]
pub struct Logbook {
    store: Store,
}

impl Logbook {
    /// Opens the logbook at `location`, and begins a new one where there is none.
    ///
    /// # Errors
    /// When what is there is no logbook that this version can use (it is then left untouched), or the place cannot be
    /// written.
    pub async fn open(location: &Location) -> Result<Self, LogbookError> {
        Ok(Self { store: Store::open(location).await? })
    }

    /// The logbook's file.
    #[must_use]
    pub fn path(&self) -> &Path {
        self.store.path()
    }

    /// Tidies up and closes. Nothing is lost without it: the files beside the logbook then stay until it is opened again.
    pub async fn close(self) {
        self.store.close().await;
    }
}
