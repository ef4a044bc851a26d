//! A document that was handed over, held against everything that this version knows before any of it counts.

use super::complaint::Complaint;
use super::letters::unwritable;
use super::limits::{MOST_BYTES, too_far, too_long};
use super::place::{At, entry, typed, unknown_field};
use super::plausible::implausible;
use super::seal::{altered, lacks_checksums, missing};
use super::{FORMAT, SetupDocument, VERSION};
use crate::record::{Entry, Event};
use serde::Deserialize;
use serde_json::Value;
use std::collections::HashMap;

/// Why a document is no setup that can be taken into a logbook.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DocumentError {
    /// The text is no JSON, or breaks off.
    #[error("damaged: {line}:{column}")]
    Damaged {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// Whether it breaks off there.
        ends: bool,
    },
    /// More bytes than any setup has.
    #[error("too large")]
    TooLarge,
    /// A document of something else.
    #[error("foreign document")]
    Foreign,
    /// Written by a later version of the format.
    #[error("newer version: {0}")]
    Newer(u64),
    /// A field does not make sense.
    #[error("{path}: {what}")]
    Field {
        /// Where in the document.
        path: String,
        /// What is wrong there.
        what: Complaint,
    },
}

impl DocumentError {
    /// The newest version of the format that is read.
    pub const NEWEST: u32 = VERSION;
    /// The most bytes of a document.
    pub const MOST_BYTES: u64 = MOST_BYTES;
}

impl From<At> for DocumentError {
    fn from((path, what): At) -> Self {
        Self::Field { path, what }
    }
}

/// What a document says of itself, whatever else it holds.
#[derive(Deserialize)]
struct Title {
    format: Option<Value>,
    version: Option<Value>,
}

impl SetupDocument {
    /// Reads a document from the bytes of its file.
    ///
    /// # Errors
    /// Names the first field that does not make sense. What is accepted can be kept, and is written again as it was.
    pub fn read(bytes: &[u8]) -> Result<Self, DocumentError> {
        if bytes.len() as u64 > MOST_BYTES {
            return Err(DocumentError::TooLarge);
        }
        let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
        let value: Value = serde_json::from_slice(bytes).map_err(|error| damaged(&error))?;
        title(&value)?;
        if let Some((path, letter)) = unwritable(&value) {
            return Err((path, Complaint::Letter(letter)).into());
        }
        if let Some(wrong) = too_long(&value).map(|path| (path, Complaint::TooLong)).or_else(|| too_far(&value)) {
            return Err(wrong.into());
        }
        let mut document: Self = typed(&value)?;
        let written = serde_json::to_value(&document)
            .map_err(|error| ("setup".to_owned(), Complaint::Refused(error.to_string())))?;
        // A number that is out of range when it is written again would make the logbook unreadable.
        typed::<Self>(&written)?;
        if let Some(wrong) = missing(&value).or_else(|| unknown_field(&value, &written)) {
            return Err(wrong.into());
        }
        document = document.consistent()?;
        // What says more is said first: a checksum knows only that something is wrong.
        match implausible(&document, &written).or_else(|| altered(&value)) {
            Some(wrong) => Err(wrong.into()),
            None => {
                document.setup.edited |= lacks_checksums(&value);
                Ok(document)
            }
        }
    }

    /// Holds to what every logbook holds to: each entry once, a capture under its own id, and steady.
    fn consistent(self) -> Result<Self, DocumentError> {
        let mut known = HashMap::new();
        for (at, recorded) in self.entries.iter().enumerate() {
            let complain = |field: &str, what| (format!("{}.{field}", entry(at)), what);
            let recorded = &recorded.entry;
            if let Some(before) = known.insert(recorded.id, at) {
                return Err(complain("id", Complaint::SameId(before)).into());
            }
            if let Event::Capture(capture) = &recorded.event {
                if capture.id != recorded.id {
                    return Err(complain("event.capture.id", Complaint::OtherId).into());
                }
                Entry::capture((**capture).clone())
                    .map_err(|_| complain("event.capture.steady", Complaint::NotSteady))?;
            }
        }
        Ok(self)
    }
}

fn damaged(error: &serde_json::Error) -> DocumentError {
    DocumentError::Damaged { line: error.line(), column: error.column(), ends: error.is_eof() }
}

fn title(value: &Value) -> Result<(), DocumentError> {
    let title = Title::deserialize(value).map_err(|_| DocumentError::Foreign)?;
    if title.format.as_ref().and_then(Value::as_str) != Some(FORMAT) {
        return Err(DocumentError::Foreign);
    }
    match title.version.as_ref().map(Value::as_u64) {
        Some(Some(version)) if version == u64::from(VERSION) => Ok(()),
        Some(Some(version)) if version > u64::from(VERSION) => Err(DocumentError::Newer(version)),
        _ => Err(("version".to_owned(), Complaint::Version).into()),
    }
}
