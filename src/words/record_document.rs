//! The record, a cell and a capture as documents, with their sentences beside the numbers.

use super::record::{consequence, not_used_in, remarks};
use super::unsettled::undecided;
use super::{Face, Say};
use clinoblade_record::{Capture, Cell, LimitRecord, Verdict};
use serde_json::json;

/// A cell as a JSON object: sentences in `consequence`, `question`, `remarks` and `by`, and everything typed in `findings`.
#[must_use]
pub fn cell_document(cell: &Cell) -> serde_json::Value {
    let face = Face::Terminal;
    let mut document = json!(cell);
    let undecided_by = match &cell.verdict {
        Verdict::Undecided { by } => Some(by),
        _ => None,
    };
    let typed = cell.consequence.iter().map(|finding| json!(finding));
    let typed = typed.chain(undecided_by.map(|by| json!(by))).chain(cell.question.as_ref().map(|asked| json!(asked)));
    let findings: Vec<serde_json::Value> = typed.chain(cell.remarks.iter().map(|finding| json!(finding))).collect();
    document["findings"] = json!(findings);
    document["consequence"] = json!(consequence(cell, face).unwrap_or_default());
    document["question"] = json!(cell.question.as_ref().map(|question| question.say(face)));
    document["remarks"] = json!(remarks(cell));
    if let Some(by) = undecided_by {
        document["by"] = json!(undecided(by, face));
    }
    document
}

/// A record as a JSON object, its cells as [`cell_document`] has them.
#[must_use]
pub fn document(record: &LimitRecord) -> serde_json::Value {
    let mut document = json!(record);
    document["cells"] = record.cells.iter().map(cell_document).collect();
    document
}

/// A capture as a JSON object: its reading, what was captured, and what the record of setup number `setup` says about it.
/// `travel_deg` is null without a neutral, target and verdict are null where no cell uses it.
#[must_use]
pub fn capture_document(capture: &Capture, setup: u32, record: &LimitRecord) -> serde_json::Value {
    let mut document = capture.reading.document();
    let cell = record.cell_with(capture);
    let said = cell.map(cell_document).unwrap_or_default();
    let target = cell.map(|c| c.target);
    let travel = cell.and_then(|cell| Some((cell.travel()?, cell.value.as_ref()?.expanded)));
    let judged = cell.and_then(Cell::judged);
    let more = json!({
        "id": capture.id,
        "taken_at": capture.taken_at,
        "setup": setup,
        "axis": capture.subject.deflection().axis(),
        "direction": capture.subject.deflection().direction(),
        "blade": capture.subject.blade(),
        "station_deg": capture.subject.station(),
        "leading_edge": capture.subject.leading_edge(),
        "clip": capture.clip,
        "seat": capture.seat,
        "stick_percent": capture.stick,
        "datum": capture.datum.kind(),
        "sensor": capture.sensor,
        "limited_by": capture.limited_by,
        "accepted": capture.accepted,
        "travel_deg": travel.map(|(travel, _)| travel),
        "travel_expanded_uncertainty_deg": travel.map(|(_, expanded)| expanded),
        "judged_deg": judged.map(|(judged, _)| judged),
        "judged_expanded_uncertainty_deg": judged.map(|(_, expanded)| expanded),
        "target": target,
        "target_deg": target.map(|t| t.value()),
        "tolerance_deg": target.and_then(|t| t.tolerance()),
        "verdict": cell.map(|c| json!(c.verdict)["verdict"].clone()),
        "consequence": said["consequence"],
        "question": said["question"],
        "remarks": cell.map(remarks).unwrap_or_default(),
        "findings": said["findings"],
        "not_used": not_used_in(record, capture),
    });
    if let (serde_json::Value::Object(all), serde_json::Value::Object(more)) = (&mut document, more) {
        all.extend(more);
    }
    document
}
