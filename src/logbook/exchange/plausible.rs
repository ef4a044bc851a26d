//! What no type forbids, and what no bench has ever recorded: so it was changed on its way.

use super::SetupDocument;
use super::complaint::Complaint;
use super::place::{At, entry};
use crate::record::{Capture, Event, Head, Subject};
use jiff::Timestamp;
use serde_json::Value;
use std::collections::HashSet;
use uuid::Uuid;

/// A machine whose clock has no battery begins in 1970; what it has measured counts all the same.
const FIRST: Timestamp = Timestamp::UNIX_EPOCH;
/// The beginning of 2200: no clock goes so far by itself, one of 32 bits ends before.
const END: Timestamp = Timestamp::constant(7_258_118_400, 0);

/// The first thing in a document that cannot be; `written` is the same document as a value.
pub(super) fn implausible(document: &SetupDocument, written: &Value) -> Option<At> {
    time(written, String::new()).or_else(|| capture(document)).or_else(|| unknown(document))
}

/// Every field of a time is called `at`, or ends so.
fn time(value: &Value, path: String) -> Option<At> {
    match value {
        Value::Array(values) => values.iter().enumerate().find_map(|(at, value)| time(value, format!("{path}[{at}]"))),
        Value::Object(fields) => fields.iter().find_map(|(field, value)| {
            let here = if path.is_empty() { field.clone() } else { format!("{path}.{field}") };
            let is_time = field == "at" || field.ends_with("_at");
            match value.as_str().filter(|_| is_time).and_then(|text| text.parse::<Timestamp>().ok()) {
                Some(at) if !(FIRST..END).contains(&at) => Some((here, Complaint::Time(at))),
                _ => time(value, here),
            }
        }),
        _ => None,
    }
}

/// The captures of a document, each with its path.
fn captures(document: &SetupDocument) -> impl Iterator<Item = (String, &Capture)> {
    document.entries.iter().enumerate().flat_map(|(at, recorded)| {
        let event = format!("{}.event", entry(at));
        let found: Vec<(String, &Capture)> = match &recorded.entry.event {
            Event::Capture(capture) => vec![(format!("{event}.capture"), capture.as_ref())],
            Event::Recomputed { captures, .. } => {
                let anew = |(at, capture)| (format!("{}.recomputed.captures[{at}]", event), capture);
                captures.iter().enumerate().map(anew).collect()
            }
            _ => Vec::new(),
        };
        found
    })
}

fn capture(document: &SetupDocument) -> Option<At> {
    let head = &document.setup.head;
    // A slip that was taken back is in no value.
    let taken_back: HashSet<Uuid> = document
        .entries
        .iter()
        .filter_map(|recorded| match &recorded.entry.event {
            Event::Withdrawn { capture, .. } => Some(*capture),
            _ => None,
        })
        .collect();
    captures(document).filter(|(_, capture)| !taken_back.contains(&capture.id)).find_map(|(path, capture)| {
        if !has_blade(head, capture.subject) {
            return Some((format!("{path}.blade"), Complaint::NoSuchBlade(capture.subject.blade())));
        }
        let beyond = capture.stick.value().abs() > 100.0;
        beyond.then(|| (format!("{path}.stick_percent"), Complaint::Stick(capture.stick)))
    })
}

/// Whether the rotor that a capture is of has the blade that it is of.
pub fn has_blade(head: &Head, subject: Subject) -> bool {
    let blades = match subject {
        Subject::Main { .. } => head.blades,
        Subject::Tail { .. } => head.tail.blades,
    };
    blades.names().any(|name| name == subject.blade())
}

/// What was taken back, or read anew, was captured in the same setup.
fn unknown(document: &SetupDocument) -> Option<At> {
    let is_capture = |event: &Event| matches!(event, Event::Capture(_));
    let entries = document.entries.iter().map(|recorded| &recorded.entry);
    let known: HashSet<Uuid> = entries.clone().filter(|entry| is_capture(&entry.event)).map(|entry| entry.id).collect();
    let recorded_here: HashSet<Uuid> =
        entries.clone().filter(|entry| entry.can_be_withdrawn()).map(|entry| entry.id).collect();
    let complain = |path: String| (path, Complaint::NoSuchCapture);
    let withdrawn = entries.enumerate().find_map(|(at, recorded)| match &recorded.event {
        Event::Withdrawn { capture, .. } if !recorded_here.contains(capture) => {
            Some(complain(format!("{}.event.withdrawn.capture", entry(at))))
        }
        _ => None,
    });
    let anew = || captures(document).find(|(_, capture)| !known.contains(&capture.id));
    withdrawn.or_else(|| anew().map(|(path, _)| complain(format!("{path}.id"))))
}
