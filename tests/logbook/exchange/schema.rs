//! The published schema is the one of the types, a schema by the standard, and true of what is exported.

use super::{one_of_each_kind, recorded, without_checksums, written};
use clinoblade::logbook::{Complaint, DocumentError, SamplesError, SetupDocument, Wanted, schema};
use clinoblade::words::{Face, Say};
use serde_json::{Value, json};
use support::logbook::open;
use support::place::project;

const FILE: &str = "examples/setup.schema.json";

fn published() -> Value {
    serde_json::from_str(&std::fs::read_to_string(project(FILE)).unwrap()).unwrap()
}

fn validator() -> jsonschema::Validator {
    jsonschema::options().should_validate_formats(true).build(&published()).unwrap()
}

/// Run with `-- --ignored` after the types were changed, and look at the difference: it is a promise to others.
#[test]
#[ignore = "writes examples/setup.schema.json"]
fn write_the_schema() {
    std::fs::write(project(FILE), format!("{:#}\n", schema())).unwrap();
}

#[test]
fn the_published_schema_is_generated_from_the_types() {
    let text = std::fs::read_to_string(project(FILE)).unwrap();
    assert!(
        text == format!("{:#}\n", schema()),
        "write it anew: cargo test --test logbook write_the_schema -- --ignored"
    );
}

/// JSON Schema draft 2020-12, by its own meta-schema (<https://json-schema.org/draft/2020-12/schema>).
#[test]
fn the_schema_is_one_by_the_standard() {
    let schema = published();
    assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    if let Err(error) = jsonschema::meta::validate(&schema) {
        panic!("at {}: {error}", error.instance_path());
    }
    // The check can fail.
    let mut wrong = schema;
    wrong["properties"]["entries"]["type"] = json!("lists");
    assert!(!jsonschema::meta::is_valid(&wrong));
}

/// Every object says which fields it has, and that it has no others.
#[test]
fn no_object_of_the_schema_is_open() {
    fn look(value: &Value, at: &str, part: bool) {
        let Some(object) = value.as_object() else {
            return value.as_array().into_iter().flatten().for_each(|value| look(value, at, part));
        };
        let closed = object.get("additionalProperties").or(object.get("unevaluatedProperties")) == Some(&json!(false));
        let has_fields = object.get("properties").is_some_and(Value::is_object) && object.get("type").is_some();
        assert!(closed || part || !has_fields, "{at} is open");
        for (key, value) in object {
            let gathers = matches!(key.as_str(), "oneOf" | "anyOf" | "allOf") && (part || has_fields);
            look(value, &format!("{at}/{key}"), gathers);
        }
    }
    look(&published(), "", false);
}

async fn exported() -> Value {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    let setup = recorded(&logbook).await;
    serde_json::from_slice(&written(&logbook.export(setup).await.unwrap())).unwrap()
}

#[tokio::test]
async fn the_schema_is_true_of_what_is_exported() {
    let document = exported().await;
    if let Some(error) = validator().iter_errors(&document).next() {
        panic!("at {}: {error}", error.instance_path());
    }
    assert_eq!(document["entries"].as_array().unwrap().len(), one_of_each_kind().len());
}

/// What to write where, and the path at which it must be refused; without a path, it is the place itself.
fn damages() -> Vec<(&'static str, Value, &'static str)> {
    let capture = "/entries/1/entry/event/capture";
    let at = |field: &str| -> &'static str { format!("{capture}/{field}").leak() };
    vec![
        ("/format", json!("another thing"), "format"),
        ("/version", json!("one"), "version"),
        ("/setup/id", json!("not an id"), "setup.id"),
        ("/setup/number", json!(-4), "setup.number"),
        ("/setup/started_at", json!("yesterday"), "setup.started_at"),
        ("/setup/blades", json!("perhaps"), "setup.blades"),
        ("/setup/head/blades", json!(9), "setup.head.blades"),
        ("/setup/head/link/pitch_arm_mm", json!(0), "setup.head.link.pitch_arm_mm"),
        ("/setup/head/station_error_deg", json!(80), "setup.head.station_error_deg"),
        ("/setup/head/targets/cyclic", json!("a lot"), "setup.head.targets.cyclic"),
        ("/setup/head/weight", json!(3), "setup.head.weight"),
        ("/setup/colour", json!("red"), "setup.colour"),
        ("/entries", json!({}), "entries"),
        ("/entries/0/entry/event/datum/datum/u_deg", json!("small"), "entries[0].entry.event.datum.datum.u_deg"),
        ("/entries/0/entry/event/datum/datum/kind", json!("moon"), "entries[0].entry.event.datum.datum"),
        (
            "/entries/0/entry/event/datum/datum/instrument/chord_deg",
            json!([]),
            "entries[0].entry.event.datum.datum.instrument.chord_deg",
        ),
        ("/entries/0/entry/event/datum/datum/hue", json!(1), "entries[0].entry.event.datum.datum.hue"),
        ("/entries/1/entry/id", json!(7), "entries[1].entry.id"),
        (at("angle_deg"), json!("eight"), "entries[1].entry.event.capture.angle_deg"),
        (at("samples"), json!(-1), "entries[1].entry.event.capture.samples"),
        (at("budget/0/component"), json!("luck"), "entries[1].entry.event.capture.budget[0].component"),
        (at("budget/1/effects_deg/0"), json!(null), "entries[1].entry.event.capture.budget[1].effects_deg[0]"),
        (at("up_g/chord"), json!(true), "entries[1].entry.event.capture.up_g.chord"),
        (at("blade"), json!("Z"), "entries[1].entry.event.capture.blade"),
        (at("station_deg"), json!("left"), "entries[1].entry.event.capture.station_deg"),
        (at("axis"), json!("throttle"), "entries[1].entry.event.capture.axis"),
        (at("direction"), json!("left"), "entries[1].entry.event.capture"),
        (at("stick_percent"), json!("full"), "entries[1].entry.event.capture.stick_percent"),
        (at("clip"), json!("sideways"), "entries[1].entry.event.capture.clip"),
        (at("sensor/port"), json!(5), "entries[1].entry.event.capture.sensor.port"),
        (at("mood"), json!("good"), "entries[1].entry.event.capture.mood"),
        ("/entries/1/raw_samples", json!("no base64!"), "entries[1].raw_samples"),
        ("/entries/3/entry/event/withdrawn/capture", json!("that one"), "entries[3].entry.event.withdrawn.capture"),
        (
            "/entries/4/entry/event/adjustment/adjustment",
            json!("link B 0"),
            "entries[4].entry.event.adjustment.adjustment",
        ),
        ("/entries/5/entry/event/resumed/model_moved", json!("no"), "entries[5].entry.event.resumed"),
        (
            "/entries/6/entry/event/recomputed/captures/0/angle_deg",
            json!({}),
            "entries[6].entry.event.recomputed.captures[0].angle_deg",
        ),
        (
            "/entries/7/entry/event/spindle/check/station_deg",
            json!("up"),
            "entries[7].entry.event.spindle.check.station_deg",
        ),
        (
            "/entries/12/entry/event/cable/check/slack_deg",
            json!("long"),
            "entries[12].entry.event.cable.check.slack_deg",
        ),
        (
            "/entries/13/entry/event/swept/sweep/spot",
            json!({ "main": "left" }),
            "entries[13].entry.event.swept.sweep.spot.main",
        ),
        (
            "/entries/8/entry/event/skipped/deflection",
            json!("elevator left"),
            "entries[8].entry.event.skipped.deflection",
        ),
        ("/entries/8/entry/event", json!({ "danced": {} }), "entries[8].entry.event"),
    ]
}

fn with(document: &Value, place: &str, new: Value) -> Value {
    let mut document = document.clone();
    let (above, field) = place.rsplit_once('/').unwrap();
    match document.pointer_mut(above).unwrap() {
        Value::Object(fields) => drop(fields.insert(field.to_owned(), new)),
        Value::Array(items) => items[field.parse::<usize>().unwrap()] = new,
        other => panic!("{place} in {other}"),
    }
    document
}

/// The refusal of a document, at its field.
fn refusal(document: &Value) -> (String, Complaint) {
    match SetupDocument::read(&serde_json::to_vec(document).unwrap()).unwrap_err() {
        DocumentError::Field { path, what } => (path, what),
        DocumentError::Foreign => ("format".to_owned(), Complaint::NoSuchWord { found: String::new(), known: &[] }),
        other => panic!("{other}"),
    }
}

#[tokio::test]
async fn a_damaged_document_is_refused_at_its_field_and_by_the_schema() {
    let document = exported().await;
    let validator = validator();
    for (place, new, path) in damages() {
        let damaged = with(&document, place, new);
        let (at, what) = refusal(&damaged);
        assert_eq!(at, path, "{place}: {what}");
        let text = DocumentError::Field { path: at, what }.say(Face::Terminal);
        assert!(
            !text.contains("f64") && !text.contains("u64") && !text.contains(" line ") && !text.contains("variant"),
            "{text}"
        );
        assert!(!validator.is_valid(&damaged), "the schema takes {place}");
    }
}

#[tokio::test]
async fn what_is_wrong_with_a_field_is_told_by_its_kind() {
    let document = exported().await;
    let capture = |field: &str| format!("/entries/1/entry/event/capture/{field}");
    let other = |found: &str, wanted| Complaint::OtherKind { found: found.to_owned(), wanted };
    for (place, new, what) in [
        (capture("angle_deg"), json!("eight"), other("string \"eight\"", Wanted::Number)),
        (capture("angle_deg"), json!([1]), other("sequence", Wanted::Number)),
        (capture("samples"), json!(-1), other("integer `-1`", Wanted::Whole)),
        (capture("samples"), json!(0.5), other("floating point `0.5`", Wanted::Whole)),
        (capture("sensor/port"), json!(5), other("integer `5`", Wanted::Text)),
        (capture("steady"), json!("yes"), other("string \"yes\"", Wanted::Bool)),
        (capture("budget"), json!(null), other("null", Wanted::List)),
        ("/setup/head".to_owned(), json!(true), other("boolean `true`", Wanted::Object)),
        ("/setup/colour".to_owned(), json!("red"), Complaint::NoSuchField),
        (
            "/setup/blades".to_owned(),
            json!("perhaps"),
            Complaint::NoSuchWord { found: "perhaps".to_owned(), known: &["on", "off"] },
        ),
        ("/version".to_owned(), json!("one"), Complaint::Version),
        ("/entries/1/raw_samples".to_owned(), json!("no base64!"), Complaint::NotBase64),
        ("/entries/1/raw_samples".to_owned(), json!("AQ=="), Complaint::Samples(SamplesError::Short(0))),
        ("/entries/1/raw_samples".to_owned(), json!("Ag=="), Complaint::Samples(SamplesError::Version(2))),
    ] {
        assert_eq!(refusal(&with(&document, &place, new)).1, what, "{place}");
    }
}

#[tokio::test]
async fn a_document_that_lacks_a_field_is_refused_at_that_field_and_by_the_schema() {
    let document = exported().await;
    let validator = validator();
    for (place, path) in [
        ("/setup", "setup"),
        ("/setup/head/rotation", "setup.head.rotation"),
        ("/entries/2/entry/at", "entries[2].entry.at"),
        ("/entries/2/entry/event/capture/angle_deg", "entries[2].entry.event.capture.angle_deg"),
        ("/entries/2/entry/event/capture/axis", "entries[2].entry.event.capture.axis"),
        ("/entries/2/entry/event/capture/up_g/span", "entries[2].entry.event.capture.up_g.span"),
        ("/entries/2/entry/event/capture/datum/set_at", "entries[2].entry.event.capture.datum.set_at"),
        ("/entries/0/entry/event/datum/datum/slope_deg", "entries[0].entry.event.datum.datum.slope_deg"),
        ("/entries/7/entry/event/spindle/check", "entries[7].entry.event.spindle.check"),
    ] {
        let mut damaged = document.clone();
        let (above, field) = place.rsplit_once('/').unwrap();
        damaged.pointer_mut(above).unwrap().as_object_mut().unwrap().remove(field).unwrap();
        assert_eq!(refusal(&damaged), (path.to_owned(), Complaint::Missing));
        assert!(!validator.is_valid(&damaged), "the schema takes it without {place}");
    }
}

/// What no schema can say: ids that belong together, samples that are none, a reading that was never steady.
#[tokio::test]
async fn what_contradicts_itself_is_refused_at_its_field() {
    let document = exported().await;
    let other = document["entries"][2]["entry"]["id"].clone();
    for (place, new, path) in [
        ("/entries/9/entry/id", other.clone(), "entries[9].entry.id"),
        ("/entries/9/entry/event/capture/id", other, "entries[9].entry.event.capture.id"),
        ("/entries/9/entry/event/capture/steady", json!(false), "entries[9].entry.event.capture.steady"),
        ("/entries/9/raw_samples", json!("AQ=="), "entries[9].raw_samples"),
        ("/entries/9/raw_samples", json!("Ag=="), "entries[9].raw_samples"),
        // Rounded as it would be kept, its tolerance is none.
        ("/setup/head/targets/cyclic", json!("0 ± 0.0000001"), "setup.head.targets.cyclic"),
    ] {
        assert_eq!(refusal(&with(&document, place, new)).0, path);
    }
}

/// Each of them readable, and none of them what anybody has measured: changed on its way.
#[tokio::test]
async fn what_was_changed_on_its_way_is_refused_at_its_place() {
    let document = exported().await;
    let capture = |field: &str| format!("/entries/1/entry/event/capture/{field}");
    let samples = document["entries"][1]["raw_samples"].as_str().unwrap();
    // A few bits of the clock of the first sample.
    let other = if samples.as_bytes()[21] == b'A' { "B" } else { "A" };
    let samples = [&samples[..21], other, &samples[22..]].concat();
    for (place, new, path) in [
        (capture("angle_deg"), json!(3.31), "entries[1].entry"),
        (capture("sensor/port"), json!("another"), "entries[1].entry"),
        ("/entries/4/entry/event/adjustment/adjustment".to_owned(), json!("link B +2 half-turns"), "entries[4].entry"),
        ("/entries/1/raw_samples".to_owned(), json!(samples), "entries[1].raw_samples"),
        ("/entries/1/raw_samples".to_owned(), json!(null), "entries[1].raw_samples"),
    ] {
        let changed = with(&document, &place, new);
        let (at, what) = refusal(&changed);
        assert_eq!(at, path, "{place}: {what}");
        let is_missing = place.ends_with("raw_samples") && changed.pointer(&place) == Some(&Value::Null);
        assert_eq!(what, if is_missing { Complaint::NoSamples } else { Complaint::Checksum }, "{place}");
        // Changed on purpose, it goes in.
        assert!(SetupDocument::read(&serde_json::to_vec(&without_checksums(changed)).unwrap()).is_ok(), "{place}");
    }
}

/// What can never be is refused whoever has written it, with a checksum or without.
#[tokio::test]
async fn what_nobody_can_have_measured_is_refused_at_its_field() {
    let document = exported().await;
    let capture = |field: &str| format!("/entries/1/entry/event/capture/{field}");
    let anew = |field: &str| format!("/entries/6/entry/event/recomputed/captures/0/{field}");
    let stranger = json!("0198c0de-0000-7000-8000-000000000000");
    for (place, new, path) in [
        (capture("stick_percent"), json!(500), "entries[1].entry.event.capture.stick_percent"),
        (capture("stick_percent"), json!(-100.5), "entries[1].entry.event.capture.stick_percent"),
        (capture("blade"), json!("E"), "entries[1].entry.event.capture.blade"),
        (capture("taken_at"), json!("9999-01-01T00:00:00Z"), "entries[1].entry.event.capture.taken_at"),
        (anew("blade"), json!("C"), "entries[6].entry.event.recomputed.captures[0].blade"),
        (anew("id"), stranger.clone(), "entries[6].entry.event.recomputed.captures[0].id"),
        ("/entries/3/entry/event/withdrawn/capture".to_owned(), stranger, "entries[3].entry.event.withdrawn.capture"),
        ("/setup/started_at".to_owned(), json!("9999-12-30T00:00:00Z"), "setup.started_at"),
        ("/setup/closed_at".to_owned(), json!("2200-01-01T00:00:00Z"), "setup.closed_at"),
        ("/entries/2/entry/at".to_owned(), json!("1969-12-31T23:59:59Z"), "entries[2].entry.at"),
    ] {
        let changed = with(&document, &place, new);
        for changed in [without_checksums(changed.clone()), changed] {
            let (at, what) = refusal(&changed);
            assert_eq!(at, path, "{place}: {what}");
        }
    }
    // A machine whose clock has lost its battery begins there.
    let begun = without_checksums(with(&document, "/setup/started_at", json!("1970-01-01T00:00:00Z")));
    assert!(SetupDocument::read(&serde_json::to_vec(&begun).unwrap()).is_ok());
}

/// PostgreSQL keeps no NUL in a text, and a terminal obeys an escape; tabs and new lines are a person's own.
#[tokio::test]
async fn a_control_character_is_refused_at_its_field() {
    let document = exported().await;
    for (place, path) in [
        ("/setup/reason", "setup.reason"),
        ("/setup/head/name", "setup.head.name"),
        ("/entries/4/entry/event/adjustment/note", "entries[4].entry.event.adjustment.note"),
        ("/entries/2/entry/event/capture/sensor/port", "entries[2].entry.event.capture.sensor.port"),
    ] {
        for letter in ['\0', '\u{1B}', '\u{7F}', '\u{9B}'] {
            let (at, what) = refusal(&with(&document, place, json!(format!("new{letter}links"))));
            assert_eq!((at.as_str(), what), (path, Complaint::Letter(letter)));
        }
    }
    let (at, what) = refusal(&with(&document, "/setup/n\0te", json!("new links")));
    assert_eq!((at.as_str(), what), ("setup.n\\0te", Complaint::Letter('\0')));
    let lines = without_checksums(with(&document, "/setup/reason", json!("new links\n\tand a new arm\r\n")));
    assert!(SetupDocument::read(&serde_json::to_vec(&lines).unwrap()).is_ok());
}

#[test]
fn what_is_no_setup_or_breaks_off_or_is_newer_is_said() {
    let refusal = |text: &str| SetupDocument::read(text.as_bytes()).unwrap_err();
    for foreign in
        ["{}", "[]", "7", "\"clinoblade setup\"", r#"{"format": 3}"#, r#"{"format": "clinoblade", "version": 1}"#]
    {
        assert_eq!(refusal(foreign), DocumentError::Foreign, "{foreign}");
    }
    for (damaged, column, ends) in [
        ("", 0, true),
        ("{", 1, true),
        ("x", 1, false),
        ("{\"format\": \"clinoblade setup\", \"version\": 1, \"se", 48, true),
        ("\u{FEFF}", 0, true),
    ] {
        assert_eq!(refusal(damaged), DocumentError::Damaged { line: 1, column, ends }, "{damaged}");
    }
    assert_eq!(refusal(r#"{"format": "clinoblade setup", "version": 2}"#), DocumentError::Newer(2));
    for none in [r#"{"format": "clinoblade setup", "version": 0}"#, r#"{"format": "clinoblade setup"}"#] {
        assert_eq!(refusal(none), DocumentError::Field { path: "version".to_owned(), what: Complaint::Version });
    }
    assert!(SetupDocument::read(b"\xFF\xFE").is_err() && SetupDocument::read(&[b'['; 100_000]).is_err());
}
