//! Documents taken into a logbook: all of them or none, and never over what is there.

use super::super::Difference;
use super::super::entries::{INSERT, INSERT_SAMPLES, kind};
use super::super::store::{Query, Write};
use super::{Logbook, LogbookError, Part, Recorded, SetupDocument, WITH_SAMPLES, document, recorded, samples};
use crate::record::{Event, Setup};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// What became of a document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Imported {
    /// The setup's number in this logbook.
    pub setup: u32,
    /// Its id, the same in every logbook.
    pub id: Uuid,
    /// The head's name.
    pub head: String,
    /// How many entries it has.
    pub entries: usize,
    /// It was here already, the same in everything.
    pub was_here: bool,
    /// The document lacked checksums: the setup is marked as edited.
    pub edited: bool,
}

const PRESENT: &str = "SELECT number, document, checksum FROM setups WHERE uid = $1";
const COUNTS: &str =
    "UPDATE setups SET entries = $2, captures = $3, changed_at = $4, imported_at = $5 WHERE number = $1";

impl Logbook {
    /// Takes documents in, all of them in one write: each setup gets a number of this logbook and keeps its id. One that
    /// is here already stays as it is. Commands do not work on an imported setup before it is taken up again.
    ///
    /// # Errors
    /// When a setup is here already and differs from its document, or one of its entries is in another setup; nothing
    /// is imported then.
    pub async fn import(&self, documents: &[SetupDocument]) -> Result<Vec<Imported>, LogbookError> {
        let mut write = self.store.begin().await?;
        let mut imported = Vec::with_capacity(documents.len());
        for one in documents {
            let here = self.here(&mut write, one).await?;
            let (setup, was_here) = match here {
                Some(number) => (number, true),
                None => (self.take_in(&mut write, one).await?, false),
            };
            let Setup { id, ref head, edited, .. } = one.setup;
            let (head, entries) = (head.name.clone(), one.entries.len());
            imported.push(Imported { setup, id, head, entries, was_here, edited });
        }
        write.commit().await?;
        Ok(imported)
    }

    /// The number under which the setup of a document is here, the same in everything.
    async fn here(&self, write: &mut Write, one: &SetupDocument) -> Result<Option<u32>, LogbookError> {
        let present = Query::new(PRESENT).with(one.setup.id.to_string());
        let found = write.row::<(i64, String, Option<i64>)>(present).await?;
        let Some((number, text, sum)) = found else { return Ok(None) };
        let number = self.number(number)?;
        let setup: Setup = document::read(&(text, sum), Part::Setup(number))?;
        let rows = write.rows(Query::new(WITH_SAMPLES).with(number)).await?;
        let here = SetupDocument::new(setup, recorded(number, rows)?);
        match difference(&here, one) {
            None => Ok(Some(number)),
            Some(difference) => Err(LogbookError::Different { setup: number, id: one.setup.id, difference }),
        }
    }

    async fn take_in(&self, write: &mut Write, one: &SetupDocument) -> Result<u32, LogbookError> {
        let number = self.next_number(write).await?;
        let setup = Setup { number, ..one.setup.clone() };
        self.insert_setup(write, &setup).await?;
        for (before, Recorded { entry, raw_samples }) in one.entries.iter().enumerate() {
            self.known(write, number, entry.id).await?;
            let at = before as i64 + 1;
            let text = document::write(entry, kind(&entry.event))?;
            let insert = Query::new(INSERT)
                .with(number)
                .with(at)
                .with(entry.id.to_string())
                .with(kind(&entry.event))
                .with(entry.at.as_microsecond())
                .with(text.as_str())
                .with(document::checksum(text.as_bytes()));
            write.execute(insert).await?;
            if let Some(raw) = raw_samples {
                let bytes = samples::encode(raw);
                let sum = document::checksum(&bytes);
                write.execute(Query::new(INSERT_SAMPLES).with(number).with(at).with(bytes).with(sum)).await?;
            }
        }
        let captures = one.entries.iter().filter(|one| matches!(one.entry.event, Event::Capture(_))).count();
        let changed_at = one.entries.last().map_or(setup.started_at, |last| last.entry.at);
        let counts = Query::new(COUNTS)
            .with(number)
            .with(one.entries.len() as i64)
            .with(captures as i64)
            .with(changed_at.as_microsecond())
            .with(Timestamp::now().as_microsecond());
        write.execute(counts).await?;
        self.seal_columns(write, number).await?;
        Ok(number)
    }
}

/// What differs first between a setup that is here and a document of it; their numbers may.
fn difference(here: &SetupDocument, there: &SetupDocument) -> Option<Difference> {
    // An edited one that says the same is the same.
    if here.setup != (Setup { number: here.setup.number, edited: here.setup.edited, ..there.setup.clone() }) {
        return Some(Difference::Setup);
    }
    let packed = |one: &Recorded| one.raw_samples.as_ref().map(samples::encode);
    for (at, (here, there)) in here.entries.iter().zip(&there.entries).enumerate() {
        if here.entry != there.entry {
            return Some(Difference::Entry(at + 1));
        }
        if packed(here) != packed(there) {
            return Some(Difference::Samples(at + 1));
        }
    }
    let (here, there) = (here.entries.len(), there.entries.len());
    (here != there).then_some(Difference::Length { here, there })
}
