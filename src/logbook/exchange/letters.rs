//! Letters that no person writes: what a logbook cannot keep, and what would move a terminal's cursor.

use serde_json::Value;

/// The first text of a document, or name of a field, with a control character in it, and which. Tabs and the ends of lines
/// are a person's.
pub fn unwritable(value: &Value) -> Option<(String, char)> {
    search(value, String::new())
}

fn search(value: &Value, path: String) -> Option<(String, char)> {
    match value {
        Value::String(text) => control(text).map(|letter| (path, letter)),
        Value::Array(values) => {
            values.iter().enumerate().find_map(|(at, value)| search(value, format!("{path}[{at}]")))
        }
        Value::Object(fields) => fields.iter().find_map(|(field, value)| {
            let dot = if path.is_empty() { "" } else { "." };
            let here = format!("{path}{dot}{}", field.escape_debug());
            control(field).map(|letter| (here.clone(), letter)).or_else(|| search(value, here))
        }),
        _ => None,
    }
}

fn control(text: &str) -> Option<char> {
    text.chars().find(|letter| letter.is_control() && !matches!(letter, '\t' | '\n' | '\r'))
}
