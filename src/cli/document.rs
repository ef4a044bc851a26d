//! Readings as JSON documents and as sentences; the field names are those that others rely on.

use crate::bench::Taken;
use crate::record::Reading;
use serde_json::{Map, Value, json};

/// A reading with its uncertainty and what its stream showed besides, field by field.
pub(super) fn reading(reading: &Reading, taken: &Taken) -> Value {
    let mut document = reading.document();
    if let Value::Object(fields) = &mut document {
        fields.extend(stream(taken));
    }
    document
}

/// What the stream showed besides the reading.
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

/// `+11.86° ± 0.09°`, with as many decimals as the uncertainty deserves.
pub(super) fn value(reading: &Reading) -> String {
    with_uncertainty(reading.angle, reading.budget.expanded().expanded)
}

/// A value with its expanded uncertainty, which is given with two digits (JCGM 100:2008, 7.2.6).
pub(super) fn with_uncertainty(angle: crate::units::Angle, expanded: crate::units::Angle) -> String {
    let decimals = match expanded.degrees() {
        u if u >= 0.95 => 1,
        u if u >= 0.0095 => 2,
        _ => 3,
    };
    format!("{angle:.decimals$} ± {:.decimals$}°", expanded.degrees())
}

/// What a person should know of how the reading came about, a line each.
pub(super) fn remarks(reading: &Reading, taken: &Taken) -> Vec<String> {
    let steady = &taken.steady;
    let mut lines = Vec::new();
    if reading.steady {
        lines.push(format!(
            "still since {:.2}, read until {:.2}: {} samples worth {:.0} independent ones",
            reading.settled_at, reading.finished_at, reading.samples, reading.effective_samples
        ));
    } else {
        lines.push("never still for long enough: this is the best figure there is, and no steady reading".to_owned());
    }
    if let Some(line) = steady.vibration {
        lines.push(format!(
            "vibration at {:.1} with {:.2}° amplitude was fitted and taken out",
            line.frequency,
            line.amplitude.degrees()
        ));
    }
    let counters = [
        (reading.dropped_samples, "dropped by the gate"),
        (reading.damaged_frames, "frames damaged"),
        (reading.lost_samples, "samples lost"),
        (taken.counters.faults, "faults reported by the sensor"),
        (taken.counters.restarts, "restarts of the sensor"),
    ];
    let said: Vec<String> = counters.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")).collect();
    if !said.is_empty() {
        lines.push(said.join(", "));
    }
    if steady.stuck {
        lines.push(
            "the sensor repeated one and the same value for a second: it may be stuck, take it off and on again"
                .to_owned(),
        );
    }
    if reading.observability < 30f64.to_radians().cos() {
        lines.push("the span is steep: gravity shows the pitch less well, bring the blade closer to level".to_owned());
    }
    lines
}
