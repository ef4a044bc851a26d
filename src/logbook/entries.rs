//! What happens in a setup, one entry after the other, and the raw samples behind it.

use super::document::checksum;
use super::store::{Query, Write};
use super::{Logbook, LogbookError, Part, document, samples};
use crate::record::{Entry, Event, RawSamples};
use uuid::Uuid;

/// What the column `kind` says.
pub(super) const fn kind(event: &Event) -> &'static str {
    match event {
        Event::Capture(_) => "capture",
        Event::Adjustment { .. } => "adjustment",
        Event::Datum { .. } => "datum",
        Event::Resumed { .. } => "resumed",
        Event::Recomputed { .. } => "recomputed",
        Event::Spindle { .. } => "spindle",
        Event::Skipped { .. } => "skipped",
        Event::Cable { .. } => "cable",
        Event::Swept { .. } => "swept",
        Event::Withdrawn { .. } => "withdrawn",
    }
}

const KNOWN: &str = "SELECT setup, number FROM entries WHERE uid = $1";
const COUNT: &str = "UPDATE setups SET entries = entries + 1, captures = captures + $2, changed_at = $3
                     WHERE number = $1 AND closed_at IS NULL RETURNING entries";
pub(super) const INSERT: &str = "INSERT INTO entries (setup, number, uid, kind, recorded_at, document, checksum)
                      VALUES ($1, $2, $3, $4, $5, $6, $7)";
pub(super) const INSERT_SAMPLES: &str =
    "INSERT INTO raw_samples (setup, entry, samples, checksum) VALUES ($1, $2, $3, $4)";
const SAMPLES: &str = "SELECT raw_samples.samples, raw_samples.checksum FROM entries
                       JOIN raw_samples ON raw_samples.setup = entries.setup AND raw_samples.entry = entries.number
                       WHERE entries.uid = $1";

impl Logbook {
    /// Adds an entry to an open setup, with the raw samples it was made from, and gives its number. When this returns,
    /// the entry is on the disk; when it fails, nothing of it is, and it can be tried again: an entry that the setup
    /// has already is not added twice.
    ///
    /// # Errors
    /// When there is no such setup, it is closed, or the logbook cannot be written.
    pub async fn append(&self, setup: u32, entry: &Entry, raw: Option<&RawSamples>) -> Result<u32, LogbookError> {
        let text = document::write(entry, kind(&entry.event))?;
        let bytes = raw.map(samples::encode);
        let mut write = self.store.begin().await?;
        if let Some(number) = self.known(&mut write, setup, entry.id).await? {
            return Ok(number);
        }
        let hold = self.columns_hold(&mut write, setup).await?;
        let count = Query::new(COUNT)
            .with(setup)
            .with(i64::from(matches!(entry.event, Event::Capture(_))))
            .with(entry.at.as_microsecond());
        let Some((number,)) = write.row::<(i64,)>(count).await? else {
            return Err(self.why_not_open(&mut write, setup).await);
        };
        let insert = Query::new(INSERT)
            .with(setup)
            .with(number)
            .with(entry.id.to_string())
            .with(kind(&entry.event))
            .with(entry.at.as_microsecond())
            .with(text.as_str())
            .with(checksum(text.as_bytes()));
        write.execute(insert).await?;
        if let Some(bytes) = bytes {
            let sum = checksum(&bytes);
            write.execute(Query::new(INSERT_SAMPLES).with(setup).with(number).with(bytes).with(sum)).await?;
        }
        if hold {
            self.seal_columns(&mut write, setup).await?;
        }
        write.commit().await?;
        if let Some(known) = &self.known {
            known.add(setup, entry);
        }
        self.number(number)
    }

    /// The number of an entry that the setup has already.
    pub(super) async fn known(&self, write: &mut Write, setup: u32, entry: Uuid) -> Result<Option<u32>, LogbookError> {
        match write.row::<(i64, i64)>(Query::new(KNOWN).with(entry.to_string())).await? {
            None => Ok(None),
            Some((there, number)) if there == i64::from(setup) => self.number(number).map(Some),
            Some((there, _)) => Err(LogbookError::AlreadyRecorded { entry, setup: self.number(there)? }),
        }
    }

    /// The raw samples of a capture, exactly as they were recorded.
    ///
    /// # Errors
    /// When there are none, or they cannot be read.
    pub async fn raw_samples(&self, capture: Uuid) -> Result<RawSamples, LogbookError> {
        let found = self.store.row::<(Vec<u8>, Option<i64>)>(Query::new(SAMPLES).with(capture.to_string())).await?;
        let (bytes, recorded) = found.ok_or(LogbookError::NoSamples(capture))?;
        kept_samples(&bytes, recorded, capture)
    }
}

/// The samples that were recorded with a capture, from what is kept of them.
pub(super) fn kept_samples(bytes: &[u8], recorded: Option<i64>, capture: Uuid) -> Result<RawSamples, LogbookError> {
    document::unaltered(bytes, recorded, Part::Samples(capture))?;
    samples::decode(bytes).map_err(|source| LogbookError::Samples { entry: capture, source })
}
