//! Setups kept on disk, or on a server that several benches share.
//!
//! A logbook is one SQLite file in the user's data directory, or wherever `--logbook` says. It holds setups, numbered
//! from 1; each setup its entries (datums, captures, adjustments), numbered from 1 without a gap in the order in which
//! they were recorded; and each capture the raw samples that it was made from, bit for bit.
//!
//! `postgres://…` in place of a file is a logbook that several benches share, on a PostgreSQL server: the same tables,
//! the same promises. While it cannot be reached, [`Logbook::record`] keeps entries on this bench's own disk, from where
//! they are delivered later, each once.
//!
//! One entry is one transaction. When [`Logbook::append`] has returned, the entry is on the disk and stays there,
//! whatever ends the program or the machine; when it has not, nothing of the entry is there. Several programs may have
//! the logbook open and write to it at once.
//!
//! A file that is not a logbook, that a newer version has written, or that is damaged is refused and left as it was,
//! byte for byte. What this rests on: the disk keeps its word when it says that data is written, and the file is not
//! on a network folder (where SQLite's write-ahead log does not work between machines).

use clinoblade_record as record;
use clinoblade_rotor as rotor;
use clinoblade_units as units;

mod backup;
#[cfg(feature = "shared")]
mod certificate;
mod columns;
mod document;
mod entries;
mod error;
mod exchange;
mod folders;
mod inspect;
mod known;
mod location;
mod log;
mod migrations;
mod outbox;
mod recorded;
mod samples;
mod saved;
mod setups;
mod store;

pub use backup::Backup;
pub use error::{BadUrl, Damage, Difference, Distrust, LogbookError, Part};
pub use exchange::has_blade;
pub use exchange::{Complaint, DocumentError, Imported, Recorded, SetupDocument, Wanted, schema};
pub use exchange::{MOST_DEGREES, MOST_LETTERS};
pub use location::Location;
pub use log::BrokenLog;
pub use recorded::{Delivery, Kept, Refused};
pub use samples::SamplesError;
pub use saved::SavedDefault;
pub use setups::{KeptSetup, NewSetup, SetupSummary};
pub use store::Site;

use known::Known;
use std::path::Path;
use store::Store;

/// The name of this bench among those that share a logbook: what `CLINOBLADE_BENCH` says, else the machine's.
fn bench_name() -> String {
    let said = std::env::var("CLINOBLADE_BENCH").ok().filter(|name| !name.trim().is_empty());
    said.unwrap_or_else(machine_name)
}

#[cfg(unix)]
fn machine_name() -> String {
    rustix::system::uname().nodename().to_string_lossy().into_owned()
}

#[cfg(not(unix))]
fn machine_name() -> String {
    std::env::var("COMPUTERNAME").unwrap_or_else(|_| "bench".to_owned())
}

/// An open logbook. Clones share it.
#[derive(Debug, Clone)]
pub struct Logbook {
    store: Store,
    /// What this bench knows of a shared one.
    known: Option<Known>,
}

impl Logbook {
    /// Opens the logbook at `location`, and begins a new one where there is none.
    ///
    /// # Errors
    /// When what is there is no logbook that this version can use (it is then left untouched), or the place cannot be
    /// written.
    pub async fn open(location: &Location) -> Result<Self, LogbookError> {
        Ok(Self::of(Store::open(location).await?))
    }

    /// The same at a bench that works with it: of a shared one it remembers what it needs to go on without the server.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub async fn open_at_bench(location: &Location) -> Result<Self, LogbookError> {
        Ok(Self::open(location).await?.remembering())
    }

    /// The same to go on with the work: a shared logbook whose server gives no answer, or does not let this bench in, is opened
    /// with what this bench knows of it, and what is recorded waits here. Why is said then.
    ///
    /// # Errors
    /// As [`Self::open`], where this bench has never worked with it.
    pub async fn open_or_known(location: &Location) -> Result<(Self, Option<LogbookError>), LogbookError> {
        let Location::Shared(url) = location else { return Ok((Self::open(location).await?, None)) };
        let logbook = Self::of(Store::unopened(url)?).remembering();
        match logbook.store.reach().await {
            Ok(()) => Ok((logbook, None)),
            Err(error) if error.is_the_servers() && logbook.known.as_ref().is_some_and(Known::is_any) => {
                Ok((logbook, Some(error)))
            }
            Err(error) => Err(error),
        }
    }

    const fn of(store: Store) -> Self {
        Self { store, known: None }
    }

    fn remembering(self) -> Self {
        // Without a home there is nothing to remember it in.
        let known = self.is_shared().then(|| Known::of(&self.place()).ok()).flatten();
        Self { known, ..self }
    }

    /// The logbook's file; none of a shared one.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        self.store.path()
    }

    /// Where it is, for people: its file, or its server without the password.
    #[must_use]
    pub fn place(&self) -> String {
        self.store.site().to_string()
    }

    /// What was found damaged when it was opened: its write-ahead log, with steps that cannot be read.
    #[must_use]
    pub fn broken_log(&self) -> Option<&BrokenLog> {
        self.store.broken_log()
    }

    /// Whether several benches share it.
    #[must_use]
    pub fn is_shared(&self) -> bool {
        self.store.path().is_none()
    }

    /// Tidies up and closes. Nothing is lost without it: the files beside the logbook then stay until it is opened again.
    pub async fn close(self) {
        self.store.close().await;
    }
}
