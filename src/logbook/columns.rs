//! The columns of a setup that a list reads, without its document, and the checksum beside them.

use super::store::{Query, Write};
use super::{Logbook, LogbookError, Part, document};

/// Number, head, reason; begun, changed, closed, imported, each in microseconds; entries and captures.
pub(super) type Columns = (i64, String, String, i64, i64, Option<i64>, Option<i64>, i64, i64);

/// The same with their checksum, where they have one.
pub(super) type Sealed = (i64, String, String, i64, i64, Option<i64>, Option<i64>, i64, i64, Option<i64>);

/// What is read for [`Sealed`].
macro_rules! columns {
    () => {
        concat!(
            "number, head, reason, ",
            "begun_at, ",
            "changed_at, ",
            "closed_at, ",
            "imported_at, ",
            "entries, captures, ",
            "columns_checksum"
        )
    };
}

pub(super) use columns;

const OF_SETUP: &str = concat!("SELECT ", columns!(), " FROM setups WHERE number = $1");
const SEAL: &str = "UPDATE setups SET columns_checksum = $2 WHERE number = $1";

/// The columns, held against their checksum.
pub(super) fn unaltered(sealed: Sealed, part: impl FnOnce(i64) -> Part) -> Result<Columns, LogbookError> {
    let (columns, recorded) = split(sealed);
    match recorded {
        Some(recorded) if recorded != checksum(&columns)? => Err(LogbookError::Altered(part(columns.0))),
        _ => Ok(columns),
    }
}

fn split(sealed: Sealed) -> (Columns, Option<i64>) {
    let (number, head, reason, begun, changed, closed, imported, entries, captures, recorded) = sealed;
    ((number, head, reason, begun, changed, closed, imported, entries, captures), recorded)
}

fn checksum(columns: &Columns) -> Result<i64, LogbookError> {
    let text =
        serde_json::to_string(columns).map_err(|source| LogbookError::NotRecordable { what: "setup", source })?;
    Ok(document::checksum(text.as_bytes()))
}

impl Logbook {
    /// Whether the columns of a setup are those that were written. What a disk has changed gets no new checksum.
    pub(super) async fn columns_hold(&self, write: &mut Write, setup: u32) -> Result<bool, LogbookError> {
        let found = write.row::<Sealed>(Query::new(OF_SETUP).with(setup)).await?;
        match found.map(split) {
            Some((columns, Some(recorded))) => Ok(checksum(&columns)? == recorded),
            _ => Ok(true),
        }
    }

    /// Writes the checksum beside the columns as they are now.
    pub(super) async fn seal_columns(&self, write: &mut Write, setup: u32) -> Result<(), LogbookError> {
        if let Some((columns, _)) = write.row::<Sealed>(Query::new(OF_SETUP).with(setup)).await?.map(split) {
            write.execute(Query::new(SEAL).with(setup).with(checksum(&columns)?)).await?;
        }
        Ok(())
    }
}
