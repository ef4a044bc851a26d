//! Where in a document something is wrong, to the field.

use super::complaint::{Complaint, Fault, Given};
use super::samples;
use crate::record::Reading;
use crate::rotor::{Axis, BladeName, InstrumentError, LeadingEdge, Place, Rotation, ShaftTilt, Station};
use crate::units::{Angle, BladeVector};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use serde_path_to_error::{Path, Segment};

/// A place in a document, such as `entries[2].entry.event.capture.angle_deg`, and what is wrong there.
pub(super) type At = (String, Complaint);

type Error = serde_path_to_error::Error<Fault>;

/// The entry of a document at a place, from 0.
pub(super) fn entry(at: usize) -> String {
    format!("entries[{at}].entry")
}

/// A value as its type, else the field in which it cannot be that.
pub(super) fn typed<T: DeserializeOwned>(document: &Value) -> Result<T, At> {
    read(document).map_err(|error| {
        let here = at("", &error);
        let path = error.path().to_string();
        value_at(document, error.path()).and_then(|value| in_part(value, &path)).unwrap_or(here)
    })
}

fn read<T: DeserializeOwned>(value: &Value) -> Result<T, Error> {
    serde_path_to_error::deserialize(Given(value))
}

/// Where an error is that was found below a path.
fn at(path: &str, error: &Error) -> At {
    let below = error.path().to_string();
    let Fault { what, field } = error.inner();
    let parts = [path, below.trim_start_matches('.'), field.unwrap_or_default()];
    let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    (parts.join("."), what.clone())
}

fn value_at<'v>(document: &'v Value, path: &Path) -> Option<&'v Value> {
    path.iter().try_fold(document, |value, segment| match segment {
        Segment::Seq { index } => value.get(index),
        Segment::Map { key } | Segment::Enum { variant: key } => value.get(key),
        Segment::Unknown => None,
    })
}

/// Reads a value as one type of the format: what is wrong with it, if anything is.
type Check = fn(&Value) -> Option<Error>;

/// Serde gathers the fields of a thing that is made of several parts (a capture of its subject and its reading, a datum
/// of its kind) before it looks at them, and then knows the thing alone. Each part looked at by itself says which field.
fn in_part(value: &Value, path: &str) -> Option<At> {
    if let (Some(text), true) = (value.as_str(), path.ends_with(".raw_samples")) {
        return Some((path.to_owned(), not_samples(text)?));
    }
    let parts: &[Check] = match value.as_object()? {
        _ if path.ends_with(".datum") => &[refusal::<DatumFields>],
        object if object.contains_key("sensor") => &[refusal::<SubjectFields>, refusal::<Reading>],
        _ => return None,
    };
    parts.iter().find_map(|part| part(value)).map(|error| at(path, &error))
}

fn refusal<T: DeserializeOwned>(value: &Value) -> Option<Error> {
    read::<T>(value).err()
}

fn not_samples(text: &str) -> Option<Complaint> {
    let Ok(bytes) = STANDARD.decode(text) else { return Some(Complaint::NotBase64) };
    samples::decode(&bytes).err().map(Complaint::Samples)
}

/// The fields of [`crate::record::Subject`].
#[derive(Deserialize)]
#[expect(dead_code, reason = "only read")]
struct SubjectFields {
    axis: Axis,
    direction: String,
    blade: BladeName,
    station_deg: Option<Station>,
    leading_edge: Option<LeadingEdge>,
}

/// The fields of every kind of [`crate::rotor::Datum`].
#[derive(Deserialize)]
#[expect(dead_code, reason = "only read")]
struct DatumFields {
    up: Option<BladeVector>,
    heading: Option<Station>,
    instrument: Option<InstrumentError>,
    slope_deg: Option<Angle>,
    apparent_deg: Option<Angle>,
    place: Option<Place>,
    tilt: Option<ShaftTilt>,
    rotation: Option<Rotation>,
    clip_offset_deg: Option<Angle>,
    u_deg: Option<Angle>,
}

/// The first field of `given` that is not in `known`, which is what was made of it. One that holds nothing is none.
pub(super) fn unknown_field(given: &Value, known: &Value) -> Option<At> {
    let below = |name: String, given: &Value, known: &Value| {
        let (path, what) = unknown_field(given, known)?;
        let joint = if path.is_empty() || path.starts_with('[') { "" } else { "." };
        Some((format!("{name}{joint}{path}"), what))
    };
    match (given, known) {
        (Value::Object(given), Value::Object(known)) => given.iter().find_map(|(key, value)| match known.get(key) {
            Some(known) => below(key.clone(), value, known),
            None if value.is_null() => None,
            None => Some((key.clone(), Complaint::NoSuchField)),
        }),
        (Value::Array(given), Value::Array(known)) => {
            let mut pairs = given.iter().zip(known).enumerate();
            pairs.find_map(|(at, (given, known))| below(format!("[{at}]"), given, known))
        }
        _ => None,
    }
}
