//! Whatever a setup holds, it comes back; whatever is done to its document, nothing of it is ever taken in by half.

use super::strategies::{belonging, entry, setup};
use super::{bits, odd_samples, one_of_each_kind, unnumbered, without_checksums, written};
use clinoblade::logbook::{Recorded, SetupDocument, schema};
use clinoblade::record::{Event, Setup};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use support::logbook::{club_setup, open};

/// How many setups come and go.
const SETUPS: u32 = 256;
/// How many documents are damaged.
const DAMAGED: u32 = 2500;

fn runner() -> TestRunner {
    TestRunner::new_with_rng(Config::default(), TestRng::deterministic_rng(RngAlgorithm::ChaCha))
}

fn kind(event: &Event) -> &'static str {
    match event {
        Event::Capture(_) => "capture",
        Event::Adjustment { .. } => "adjustment",
        Event::Datum { .. } => "datum",
        Event::Resumed { .. } => "resumed",
        Event::Recomputed { .. } => "recomputed",
        Event::Spindle { .. } => "spindle",
        Event::Cable { .. } => "cable",
        Event::Swept { .. } => "swept",
        Event::Withdrawn { .. } => "withdrawn",
        Event::Skipped { .. } => "skipped",
    }
}

#[tokio::test]
async fn any_setup_comes_back_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let (home, club) = (open(&folder.path().join("a.sqlite")).await, open(&folder.path().join("b.sqlite")).await);
    let validator = jsonschema::options().should_validate_formats(true).build(&schema()).unwrap();
    let mut runner = runner();
    let any = (setup(), prop::collection::vec(entry(), 0..6));
    let mut kinds = BTreeSet::new();
    for number in 1..=SETUPS {
        let (mut setup, mut entries) = any.new_tree(&mut runner).unwrap().current();
        belonging(&mut setup, &mut entries);
        kinds.extend(entries.iter().map(|(entry, _)| kind(&entry.event)));
        let entries = entries.into_iter().map(|(entry, raw_samples)| Recorded { entry, raw_samples });
        let original = SetupDocument::new(setup, entries.collect());
        assert_eq!(home.import(std::slice::from_ref(&original)).await.unwrap()[0].setup, number);
        let exported = home.export(number).await.unwrap();
        let file = written(&exported);
        let read = SetupDocument::read(&file).unwrap_or_else(|error| panic!("{error}\n{}", text(&file)));
        assert_eq!(club.import(std::slice::from_ref(&read)).await.unwrap()[0].setup, number);
        // The document says the same as what was recorded, and as what was exported again.
        let again = club.export(number).await.unwrap();
        assert_eq!(written(&again), file);
        assert_eq!(unnumbered(&original), unnumbered(&again));
        assert_eq!(club.setup_with_entries(number).await.unwrap(), home.setup_with_entries(number).await.unwrap());
        for (one, before) in again.entries.iter().zip(&original.entries) {
            assert_eq!(one.raw_samples.as_ref().map(bits), before.raw_samples.as_ref().map(bits));
        }
        if let Some(error) = validator.iter_errors(&serde_json::from_slice(&file).unwrap()).next() {
            panic!("the schema refuses what was exported: at {}: {error}", error.instance_path());
        }
    }
    assert_eq!(kinds.len(), 10, "every kind of entry was there: {kinds:?}");
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// One thing wrong with a document: cut off, bytes changed, a piece doubled or left out, a field taken away, put elsewhere
/// or made into something else.
fn damaged(whole: &[u8], random: &mut TestRng) -> Vec<u8> {
    let at = random.random_range(0..whole.len());
    let mut bytes = whole.to_vec();
    match random.random_range(0..8) {
        0 => bytes.truncate(at),
        1 => bytes[at] ^= 1 << random.random_range(0..8),
        2 => bytes[at] = *b"0123456789\"{}[],:.-eE\\ntf".get(random.random_range(0..25)).unwrap(),
        3 => drop(bytes.drain(at..(at + 40).min(whole.len()))),
        4 => bytes.splice(at..at, whole[at..(at + 40).min(whole.len())].to_vec()).for_each(drop),
        _ => {
            let mut value: Value = serde_json::from_slice(whole).unwrap();
            let mut places = Vec::new();
            all_places(&value, String::new(), &mut places);
            let place = &places[random.random_range(0..places.len())];
            let other = &places[random.random_range(0..places.len())];
            let new = match random.random_range(0..10) {
                0 => Value::Null,
                1 => json!("?"),
                2 => json!(-1),
                3 => json!(1e308),
                4 => json!(4_294_967_296_u64),
                5 => json!([]),
                6 => json!({}),
                7 => json!(0.5),
                8 => json!({ "capture": { "axis": "rudder" } }),
                _ => value.pointer(other).unwrap().clone(),
            };
            *value.pointer_mut(place).unwrap() = new;
            bytes = serde_json::to_vec(&value).unwrap();
        }
    }
    bytes
}

fn all_places(value: &Value, here: String, places: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            fields.iter().for_each(|(key, value)| all_places(value, format!("{here}/{key}"), places));
        }
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(at, value)| all_places(value, format!("{here}/{at}"), places));
        }
        _ => {}
    }
    places.push(here);
}

/// A document of every kind of entry, short enough that most damage hits more than samples.
fn document() -> SetupDocument {
    let new = club_setup();
    let setup = Setup {
        id: uuid::Uuid::now_v7(),
        number: 1,
        head: new.head,
        started_at: support::logbook::time(1),
        closed_at: None,
        reason: new.reason,
        blades: new.blades,
        temperature: new.temperature,
        measured_by: new.measured_by,
        checked_by: new.checked_by,
        cautions_acknowledged_at: new.cautions_acknowledged_at,
        amendments: Vec::new(),
        edited: false,
    };
    let recorded = |(seed, entry): (u32, clinoblade::record::Entry)| {
        let mut raw = odd_samples(seed);
        raw.samples.truncate(6);
        let raw_samples = matches!(entry.event, Event::Capture(_)).then_some(raw);
        Recorded { entry, raw_samples }
    };
    SetupDocument::new(setup, (1..).zip(one_of_each_kind()).map(recorded).collect())
}

#[tokio::test]
async fn no_damaged_document_leaves_half_a_setup() {
    let folder = tempfile::tempdir().unwrap();
    let whole = written(&document());
    // Half of them have no checksums: as they come from an earlier version, or are written by hand.
    let unsealed = serde_json::to_vec_pretty(&without_checksums(serde_json::from_slice(&whole).unwrap())).unwrap();
    let full = open(&folder.path().join("full.sqlite")).await;
    full.import(&[SetupDocument::read(&whole).unwrap()]).await.unwrap();
    let mut random = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let (mut refused, mut other, mut taken, mut whole_again) = (0, 0, 0, 0);
    for number in 0..DAMAGED {
        let bytes = damaged(if number % 2 == 0 { &whole } else { &unsealed }, &mut random);
        let Ok(document) = SetupDocument::read(&bytes) else {
            refused += 1;
            continue;
        };
        // Damage that makes sense: into the logbook that has the setup it may go only as the same or as another one.
        let before = full.setups(None, 10_000).await.unwrap();
        let result = full.import(std::slice::from_ref(&document)).await;
        let after = full.setups(None, 10_000).await.unwrap();
        match result {
            Ok(imported) if !imported[0].was_here => {
                taken += 1;
                assert_eq!(after.len(), before.len() + 1);
                assert_eq!(after[0].entries as usize, document.entries.len());
                assert_eq!(unnumbered(&full.export(after[0].number).await.unwrap()), unnumbered(&document));
            }
            _ => {
                other += 1;
                assert_eq!(after, before);
            }
        }
        // Into an empty one it goes whole or not at all.
        if (other + taken) % 10 == 1 {
            let empty = open(&folder.path().join(format!("{refused}-{other}-{taken}.sqlite"))).await;
            match empty.import(std::slice::from_ref(&document)).await {
                Ok(_) => {
                    whole_again += 1;
                    assert_eq!(unnumbered(&empty.export(1).await.unwrap()), unnumbered(&document));
                }
                Err(_) => assert!(empty.setups(None, 9).await.unwrap().is_empty()),
            }
        }
    }
    println!(
        "of {DAMAGED} damaged documents {refused} were refused when read, {other} when imported, {taken} taken in"
    );
    println!("an empty logbook took in {whole_again} of those that could be read, each whole");
    assert!(refused > DAMAGED / 2 && other > 20 && whole_again > 5, "{refused} {other} {taken} {whole_again}");
}
