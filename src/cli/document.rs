//! Readings as JSON documents. Other programs rely on the field names.

pub(super) use crate::words::reading::value;

use crate::bench::Taken;
use crate::record::Reading;
use serde_json::{Map, Value, json};

/// A reading with its uncertainty and the counts of its stream.
pub(super) fn reading(reading: &Reading, taken: &Taken) -> Value {
    let mut document = reading.document();
    if let Value::Object(fields) = &mut document {
        fields.extend(stream(taken));
    }
    document
}

/// The counts of the stream, and vibration.
pub(super) fn stream(taken: &Taken) -> Map<String, Value> {
    let steady = &taken.steady;
    Map::from_iter([
        ("dropped".to_owned(), json!(steady.dropped)),
        ("restarts".to_owned(), json!(taken.counters.restarts)),
        ("sensor_faults".to_owned(), json!(taken.counters.faults)),
        ("stuck".to_owned(), json!(steady.stuck)),
        ("vibration".to_owned(), json!(steady.vibration)),
    ])
}
