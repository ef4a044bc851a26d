//! A checksum beside the setup and every entry that is handed over, and beside its samples: what was changed on its way is
//! named, never read as a value. Whoever changes something on purpose takes the checksum out; documents written by hand, and
//! those of earlier versions, have none. A setup that came without is marked.

use super::canonical::canonical;
use super::complaint::Complaint;
use super::place::At;
use super::{Recorded, document, packed, samples};
use crate::record::{Entry, RawSamples, Setup};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::borrow::Cow;

/// One thing that happened, with the raw samples that it was made from.
// It is [`Recorded`] as it stands in a document.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub(super) struct Sealed {
    /// What happened.
    entry: Entry,
    /// CRC-64/XZ of the entry as RFC 8785 (JSON Canonicalization Scheme) writes it, as 16 hexadecimal digits. Without it the
    /// entry is taken as it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    checksum: Option<String>,
    /// Of a capture, the samples as they came, before any calibration: base64 of bytes, little endian without padding.
    /// First 1 (the layout's version, one byte), counts per g (f64), how many samples (u32). Then for each sample marks
    /// (one byte), its clock in seconds (f64), the counts of the axes x, y, z (three i32, or three f64 where bit 0 of
    /// the marks is set), where bit 1 is set how many samples were lost before it (u32), where bit 2 is set the
    /// temperature in degrees Celsius (f64).
    #[serde(default, skip_serializing_if = "Option::is_none", with = "packed")]
    #[schemars(schema_with = "packed::schema")]
    raw_samples: Option<RawSamples>,
    /// CRC-64/XZ of the samples' bytes, as 16 hexadecimal digits. Without it they are taken as they are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    raw_samples_checksum: Option<String>,
}

impl From<Recorded> for Sealed {
    fn from(Recorded { entry, raw_samples }: Recorded) -> Self {
        // An entry that cannot be written at all is not written without its checksum either.
        let value = serde_json::to_value(&entry).ok();
        let checksum = value.map(|value| of(&value));
        let raw_samples_checksum = raw_samples.as_ref().map(|raw| hexadecimal(&samples::encode(raw)));
        Self { entry, checksum, raw_samples, raw_samples_checksum }
    }
}

impl From<Sealed> for Recorded {
    fn from(Sealed { entry, raw_samples, .. }: Sealed) -> Self {
        Self { entry, raw_samples }
    }
}

impl JsonSchema for Recorded {
    fn schema_name() -> Cow<'static, str> {
        "Recorded".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        Sealed::json_schema(generator)
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    format!("{:016x}", document::checksum(bytes))
}

fn of(part: &Value) -> String {
    hexadecimal(canonical(part).as_bytes())
}

/// The checksum of what is said of a setup itself.
pub(super) fn of_setup(setup: &Setup) -> Option<String> {
    serde_json::to_value(setup).ok().map(|setup| of(&setup))
}

/// Whether a checksum is missing anywhere.
pub(super) fn lacks_checksums(document: &Value) -> bool {
    let entries = document["entries"].as_array().map(Vec::as_slice).unwrap_or_default();
    let lacks = |recorded: &Value| {
        !recorded["checksum"].is_string()
            || recorded["raw_samples"].is_string() && !recorded["raw_samples_checksum"].is_string()
    };
    !document["setup_checksum"].is_string() || entries.iter().any(lacks)
}

/// The first place where samples are missing whose checksum is there.
pub(super) fn missing(document: &Value) -> Option<At> {
    let entries = document["entries"].as_array()?;
    let lacks = |recorded: &Value| recorded["raw_samples_checksum"].is_string() && recorded["raw_samples"].is_null();
    let at = entries.iter().position(lacks)?;
    Some((format!("entries[{at}].raw_samples"), Complaint::NoSamples))
}

/// The first part of a document that is not what its checksum was made of.
pub(super) fn altered(document: &Value) -> Option<At> {
    if document["setup_checksum"].as_str().is_some_and(|sum| sum != of(&document["setup"])) {
        return Some(("setup".to_owned(), Complaint::Checksum));
    }
    let entries = document["entries"].as_array()?;
    entries.iter().enumerate().find_map(|(at, recorded)| {
        let complain = |part: &str| (format!("entries[{at}].{part}"), Complaint::Checksum);
        let differs = |field: &str, of: String| recorded[field].as_str().is_some_and(|sum| sum != of);
        if differs("checksum", of(&recorded["entry"])) {
            return Some(complain("entry"));
        }
        let bytes = STANDARD.decode(recorded["raw_samples"].as_str().unwrap_or_default()).unwrap_or_default();
        differs("raw_samples_checksum", hexadecimal(&bytes)).then(|| complain("raw_samples"))
    })
}
