//! Letters that no person writes: what a logbook cannot keep, and what would move a terminal's cursor.

use super::place::Complaint;
use serde_json::Value;

/// The first text of a document, or name of a field, with a control character in it. Tabs and the ends of lines are a person's.
pub(crate) fn unwritable(value: &Value) -> Option<Complaint> {
    search(value, String::new())
}

fn search(value: &Value, path: String) -> Option<Complaint> {
    match value {
        Value::String(text) => control(text).map(|letter| complain(path, letter)),
        Value::Array(values) => {
            values.iter().enumerate().find_map(|(at, value)| search(value, format!("{path}[{at}]")))
        }
        Value::Object(fields) => fields.iter().find_map(|(field, value)| {
            let dot = if path.is_empty() { "" } else { "." };
            let here = format!("{path}{dot}{}", field.escape_debug());
            control(field).map(|letter| complain(here.clone(), letter)).or_else(|| search(value, here))
        }),
        _ => None,
    }
}

fn control(text: &str) -> Option<char> {
    text.chars().find(|letter| letter.is_control() && !matches!(letter, '\t' | '\n' | '\r'))
}

fn complain(path: String, letter: char) -> Complaint {
    Complaint { path, what: format!("the text holds the control character U+{:04X}", u32::from(letter)) }
}
