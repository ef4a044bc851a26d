//! Where in a document something is wrong, to the field, and what, in plain words.

use crate::record::Reading;
use crate::rotor::{Axis, BladeName, InstrumentError, LeadingEdge, Place, Rotation, ShaftTilt, Station};
use crate::units::{Angle, BladeVector};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use serde_path_to_error::{Error, Path, Segment};

/// A place in a document, such as `entries[2].entry.event.capture.angle_deg`, and what is wrong there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Complaint {
    pub path: String,
    pub what: String,
}

/// What was said while `document` was read, at the place where it belongs.
pub(super) fn complaint(document: &Value, error: &Error<serde_json::Error>) -> Complaint {
    let said = Said { path: error.path().to_string(), message: error.inner().to_string() };
    let part = value_at(document, error.path()).and_then(|value| in_part(value, &said));
    part.unwrap_or(said).complaint()
}

/// What serde says, where it says so.
struct Said {
    path: String,
    message: String,
}

impl Said {
    fn complaint(self) -> Complaint {
        let missing = self.message.strip_prefix("missing field `").and_then(|rest| rest.strip_suffix('`'));
        let path = |field: &str| if self.path == "." { field.to_owned() } else { format!("{}.{field}", self.path) };
        match missing {
            Some(field) => Complaint { path: path(field), what: "this field is missing".to_owned() },
            None => Complaint { what: in_plain_words(&self.message), path: self.path },
        }
    }
}

fn value_at<'v>(document: &'v Value, path: &Path) -> Option<&'v Value> {
    path.iter().try_fold(document, |value, segment| match segment {
        Segment::Seq { index } => value.get(index),
        Segment::Map { key } | Segment::Enum { variant: key } => value.get(key),
        Segment::Unknown => None,
    })
}

/// Reads a value as one type of the format: what is wrong with it, if anything is.
type Check = fn(&Value) -> Option<Error<serde_json::Error>>;

/// Serde gathers the fields of a thing that is made of several parts (a capture of its subject and its reading, a datum
/// of its kind) before it looks at them, and then knows the thing alone. Each part looked at by itself says which field.
fn in_part(value: &Value, said: &Said) -> Option<Said> {
    let is_datum = said.path.ends_with(".datum");
    let parts: &[Check] = match value.as_object()? {
        _ if is_datum => &[refusal::<DatumFields>],
        object if object.contains_key("sensor") => &[refusal::<SubjectFields>, refusal::<Reading>],
        _ => return None,
    };
    let error = parts.iter().find_map(|part| part(value))?;
    let path = match error.path().to_string() {
        here if here == "." => said.path.clone(),
        below => format!("{}.{below}", said.path),
    };
    Some(Said { path, message: error.inner().to_string() })
}

fn refusal<T: DeserializeOwned>(value: &Value) -> Option<Error<serde_json::Error>> {
    serde_path_to_error::deserialize::<_, T>(value).err()
}

/// The fields of [`crate::record::Subject`].
#[derive(Deserialize)]
#[expect(dead_code, reason = "read to see whether they can be")]
struct SubjectFields {
    axis: Axis,
    direction: String,
    blade: BladeName,
    station_deg: Option<Station>,
    leading_edge: Option<LeadingEdge>,
}

/// The fields of every kind of [`crate::rotor::Datum`].
#[derive(Deserialize)]
#[expect(dead_code, reason = "read to see whether they can be")]
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

/// Serde's words, and those of Rust's types, as a person says them.
fn in_plain_words(message: &str) -> String {
    if let Some((unknown, known)) =
        message.strip_prefix("unknown variant ").and_then(|rest| rest.split_once(", expected "))
    {
        return format!("{unknown} is not known here: it can be {known}");
    }
    let wrong = message.strip_prefix("invalid type: ").or_else(|| message.strip_prefix("invalid value: "));
    let Some((found, expected)) = wrong.and_then(|rest| rest.split_once(", expected ")) else {
        return message.to_owned();
    };
    let wanted = match expected {
        "f64" => "a number",
        "u8" | "u32" | "u64" | "i32" => "a whole number",
        "a string" | "string" => "a text",
        "a boolean" => "true or false",
        "a sequence" => "a list",
        other if other.starts_with("struct ") || other.starts_with("map") => "an object with its fields",
        other => other,
    };
    format!("{wanted} belongs here, not {found}")
}

/// The first field of `given` that is not in `known`, which is what was made of it. One that holds nothing is none.
pub(super) fn unknown_field(given: &Value, known: &Value) -> Option<Complaint> {
    let below = |name: String, given: &Value, known: &Value| {
        let Complaint { path, what } = unknown_field(given, known)?;
        let joint = if path.is_empty() || path.starts_with('[') { "" } else { "." };
        Some(Complaint { path: format!("{name}{joint}{path}"), what })
    };
    match (given, known) {
        (Value::Object(given), Value::Object(known)) => given.iter().find_map(|(key, value)| match known.get(key) {
            Some(known) => below(key.clone(), value, known),
            None if value.is_null() => None,
            None => Some(Complaint { path: key.clone(), what: "there is no such field".to_owned() }),
        }),
        (Value::Array(given), Value::Array(known)) => {
            let mut pairs = given.iter().zip(known).enumerate();
            pairs.find_map(|(at, (given, known))| below(format!("[{at}]"), given, known))
        }
        _ => None,
    }
}
