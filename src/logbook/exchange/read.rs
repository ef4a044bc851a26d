//! A document that was handed over, held against everything that this version knows before any of it counts.

use super::letters::unwritable;
use super::place::{Complaint, complaint, unknown_field};
use super::plausible::implausible;
use super::seal::{altered, missing};
use super::{FORMAT, SetupDocument, VERSION};
use crate::record::{Entry, Event};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::HashMap;

/// Why a document is no setup that can be taken into a logbook.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DocumentError {
    /// The text is no JSON, or breaks off.
    #[error(
        "this is no whole document ({what}, at line {line}, column {column}): it was damaged or cut short on its way; nothing of \
         it was imported. Export the setup once more, or take another copy"
    )]
    Damaged {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What is wrong there.
        what: String,
    },
    /// A document of something else.
    #[error("this is no exported setup: its field 'format' does not say \"{FORMAT}\". `clinoblade export` writes one")]
    Foreign,
    /// Written by a later version of the format.
    #[error(
        "this setup was exported in version {0} of the format, and this clinoblade reads up to version {VERSION}: import it with \
         the newer version"
    )]
    Newer(u64),
    /// A field does not make sense.
    #[error("at {path}: {what}. Nothing of this document was imported: export the setup once more, or mend that field")]
    Field {
        /// Where in the document.
        path: String,
        /// What is wrong there.
        what: String,
    },
}

impl From<Complaint> for DocumentError {
    fn from(Complaint { path, what }: Complaint) -> Self {
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
        let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
        let value: Value = serde_json::from_slice(bytes).map_err(|error| damaged(&error))?;
        title(&value)?;
        if let Some(letter) = unwritable(&value) {
            return Err(letter.into());
        }
        let document: Self = typed(&value)?;
        let written = serde_json::to_value(&document)
            .map_err(|error| Complaint { path: "setup".to_owned(), what: error.to_string() })?;
        // A number that is out of range when it is written again would make the logbook unreadable.
        typed::<Self>(&written)?;
        if let Some(wrong) = missing(&value).or_else(|| unknown_field(&value, &written)) {
            return Err(wrong.into());
        }
        let document = document.consistent()?;
        // What says more is said first: a checksum knows only that something is wrong.
        match implausible(&document, &written).or_else(|| altered(&value)) {
            Some(wrong) => Err(wrong.into()),
            None => Ok(document),
        }
    }

    /// Holds to what every logbook holds to: each entry once, a capture under its own id, and steady.
    fn consistent(self) -> Result<Self, DocumentError> {
        let mut known = HashMap::new();
        for (at, recorded) in self.entries.iter().enumerate() {
            let complain = |field: &str, what: String| Complaint { path: format!("entries[{at}].entry.{field}"), what };
            let entry = &recorded.entry;
            if let Some(before) = known.insert(entry.id, at) {
                return Err(complain("id", format!("entries[{before}] has the same id")).into());
            }
            if let Event::Capture(capture) = &entry.event {
                if capture.id != entry.id {
                    return Err(complain("event.capture.id", "a capture has the id of its entry".to_owned()).into());
                }
                Entry::capture((**capture).clone())
                    .map_err(|error| complain("event.capture.steady", error.to_string()))?;
            }
        }
        Ok(self)
    }
}

fn damaged(error: &serde_json::Error) -> DocumentError {
    let said = error.to_string();
    let what = said.split(" at line ").next().unwrap_or_default().to_owned();
    DocumentError::Damaged { line: error.line(), column: error.column(), what }
}

fn title(value: &Value) -> Result<(), DocumentError> {
    let title = Title::deserialize(value).map_err(|_| DocumentError::Foreign)?;
    if title.format.as_ref().and_then(Value::as_str) != Some(FORMAT) {
        return Err(DocumentError::Foreign);
    }
    match title.version.as_ref().map(Value::as_u64) {
        Some(Some(version)) if version == u64::from(VERSION) => Ok(()),
        Some(Some(version)) if version > u64::from(VERSION) => Err(DocumentError::Newer(version)),
        _ => Err(Complaint { path: "version".to_owned(), what: format!("this is no version: write {VERSION}") }.into()),
    }
}

fn typed<T: DeserializeOwned + Serialize>(value: &Value) -> Result<T, Complaint> {
    serde_path_to_error::deserialize(value).map_err(|error| complaint(value, &error))
}
