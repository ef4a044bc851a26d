//! Typed things as JSON text, as they stand in the logbook.

use super::LogbookError;
use super::exchange::unwritable;
use serde::Serialize;
use serde::de::DeserializeOwned;

/// The text of `thing`, held against being read again: what cannot be read back must never be recorded. (JSON has no
/// infinity, for one: it would be written as `null` and could make a whole setup unreadable.)
pub(super) fn write<T: Serialize + DeserializeOwned>(thing: &T, what: &str) -> Result<String, LogbookError> {
    let not_recordable = |source| LogbookError::NotRecordable { what: what.to_owned(), source };
    let text = serde_json::to_string(thing).map_err(not_recordable)?;
    serde_json::from_str::<T>(&text).map_err(not_recordable)?;
    // What an import would refuse is not kept in the first place.
    let value = serde_json::from_str(&text).map_err(not_recordable)?;
    if let Some(found) = unwritable(&value) {
        return Err(LogbookError::Unwritable { what: what.to_owned(), found: found.what });
    }
    Ok(text)
}

/// The thing in the text; `what` names it where it cannot be understood.
pub(super) fn read<T: DeserializeOwned>(text: &str, what: impl FnOnce() -> String) -> Result<T, LogbookError> {
    serde_json::from_str(text).map_err(|source| LogbookError::NotUnderstood { what: what(), source })
}
