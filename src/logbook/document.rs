//! Typed things as JSON text, as they stand in the logbook, each with a checksum beside it: a disk that changes a digit
//! leaves a text that can still be read.

use super::exchange::{too_long, unwritable};
use super::{LogbookError, Part};
use serde::Serialize;
use serde::de::DeserializeOwned;

/// The text of `thing`, held against being read again: what cannot be read back must never be recorded. (JSON has no
/// infinity, for one: it would be written as `null` and could make a whole setup unreadable.)
pub(super) fn write<T: Serialize + DeserializeOwned>(thing: &T, what: &'static str) -> Result<String, LogbookError> {
    let not_recordable = |source| LogbookError::NotRecordable { what, source };
    let text = serde_json::to_string(thing).map_err(not_recordable)?;
    serde_json::from_str::<T>(&text).map_err(not_recordable)?;
    // What an import would refuse is not kept in the first place.
    let value = serde_json::from_str(&text).map_err(not_recordable)?;
    match unwritable(&value) {
        Some((_, letter)) => Err(LogbookError::Unwritable { what, letter }),
        None if too_long(&value).is_some() => Err(LogbookError::TooLong(what)),
        None => Ok(text),
    }
}

// Sixteen bytes at a time: all that a head was ever measured is held against it whenever its history is asked for.
static CHECKSUM: crc::Crc<u64, crc::Table<16>> = crc::Crc::<u64, crc::Table<16>>::new(&crc::CRC_64_XZ);

/// What stands beside a text, or beside samples.
pub(super) fn checksum(bytes: &[u8]) -> i64 {
    CHECKSUM.checksum(bytes).cast_signed()
}

/// Holds bytes against the checksum that was recorded with them, where one was.
pub(super) fn unaltered(bytes: &[u8], recorded: Option<i64>, part: Part) -> Result<(), LogbookError> {
    if recorded.is_none_or(|recorded| recorded == checksum(bytes)) { Ok(()) } else { Err(LogbookError::Altered(part)) }
}

/// A text with its checksum, where it has one.
pub(super) type Text = (String, Option<i64>);

/// The thing in the text of a part of the logbook.
pub(super) fn read<T: DeserializeOwned>((text, recorded): &Text, part: Part) -> Result<T, LogbookError> {
    unaltered(text.as_bytes(), *recorded, part)?;
    serde_json::from_str(text).map_err(|source| LogbookError::NotUnderstood { part, source })
}
