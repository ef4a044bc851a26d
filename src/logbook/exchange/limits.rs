//! How much a document may hold: what is more is no setup, and is refused before anything is made of it.

use super::complaint::Complaint;
use super::place::At;
use serde_json::Value;

/// The most bytes of a document: hundreds of captures of a minute each.
pub const MOST_BYTES: u64 = 256 << 20;

/// The most letters of a text, of a name or a note.
pub const MOST_LETTERS: usize = 10_000;

/// The largest angle, in degrees, with either sign.
pub const MOST_DEGREES: f64 = 1000.0;

/// Raw samples are one text of their own, and have a length of their own.
const SAMPLES: &str = "raw_samples";

/// The first text that is too long.
pub fn too_long(value: &Value) -> Option<String> {
    let too_long = |value: &Value| match value {
        Value::String(text) => text.len() > MOST_LETTERS && text.chars().nth(MOST_LETTERS).is_some(),
        _ => false,
    };
    search(value, String::new(), "", &|field, value| (field != SAMPLES && too_long(value)).then_some(()))
        .map(|(path, ())| path)
}

/// The first angle that is none. Every field of an angle, or of several, ends in `_deg`.
pub(super) fn too_far(value: &Value) -> Option<At> {
    let beyond = |value: &Value| value.as_f64().filter(|degrees| degrees.abs() > MOST_DEGREES);
    search(value, String::new(), "", &|field, value| {
        beyond(value).filter(|_| field.ends_with("_deg")).map(Complaint::Angle)
    })
}

/// The first value that is found, with its path; the items of a list stand in the list's field.
fn search<T>(
    value: &Value,
    path: String,
    field: &str,
    found: &impl Fn(&str, &Value) -> Option<T>,
) -> Option<(String, T)> {
    match value {
        Value::Array(values) => {
            values.iter().enumerate().find_map(|(at, value)| search(value, format!("{path}[{at}]"), field, found))
        }
        Value::Object(fields) => fields.iter().find_map(|(field, value)| {
            let dot = if path.is_empty() { "" } else { "." };
            search(value, format!("{path}{dot}{}", field.escape_debug()), field, found)
        }),
        _ => found(field, value).map(|found| (path, found)),
    }
}
