//! A setup goes from one logbook to another as a document, and nothing is lost on the way: a closed or an open one, from a
//! file to a server and back, to the last bit. What is there is never overwritten, what is damaged is refused whole.
#![cfg(unix)]

mod command;
mod properties;
mod schema;
mod strategies;

use clinoblade::logbook::{
    Complaint, Difference, DocumentError, Location, Logbook, LogbookError, NewSetup, SetupDocument,
};
use clinoblade::record::{CableCheck, Capture, Entry, Event, RawSamples, SpindleCheck, Sweep, Swept};
use clinoblade::rotor::{BladeName, Spot, Station};
use clinoblade::units::{Angle, Celsius, Seconds};
use serde_json::Value;
use support::logbook::{capture, club_setup, datum, entry, head, open, raw, time};
use support::postgres::Server;

/// One entry of every kind, as an evening in the workshop brings them.
fn one_of_each_kind() -> Vec<Entry> {
    let angle = Angle::from_degrees;
    let first: Capture = capture("elevator up");
    let wrong: Capture = capture("aileron left");
    let again = Capture { accepted: true, ..first.clone() };
    let station = Station::from_degrees(90.0).unwrap();
    let check = SpindleCheck {
        blade: BladeName::A,
        station,
        before: angle(-2.0),
        after: angle(-1.1),
        u_repeat: angle(0.01),
        quarters: None,
    };
    let cable =
        CableCheck { blade: BladeName::A, station, lifted: angle(0.0), slack: angle(0.2), u_repeat: angle(0.01) };
    let end = Swept { held: Some(angle(7.9)), furthest: angle(8.6), ..Swept::still("elevator up".parse().unwrap()) };
    let sweep = Sweep { blade: BladeName::A, spot: Spot::Main(station), ends: vec![end] };
    let withdrawn = Event::Withdrawn { capture: wrong.id, reason: "the stick was not held".to_owned() };
    vec![
        entry(Event::Datum { datum: datum() }),
        Entry::capture(first).unwrap(),
        Entry::capture(wrong).unwrap(),
        entry(withdrawn),
        entry(Event::Adjustment { adjustment: "link B +1 half-turn".parse().unwrap(), note: Some("stiff".to_owned()) }),
        entry(Event::Resumed { pause: Default::default(), note: "an hour later".to_owned() }),
        entry(Event::Recomputed { note: "with a new calibration".to_owned(), captures: vec![again] }),
        entry(Event::Spindle { check }),
        entry(Event::Skipped { cell: "collective high".parse().unwrap(), reason: "no target".to_owned() }),
        Entry::capture(capture("rudder left")).unwrap(),
        Entry::capture(capture("corner high up-right")).unwrap(),
        Entry::capture(capture("collective 25%")).unwrap(),
        entry(Event::Cable { check: cable }),
        entry(Event::Swept { sweep }),
    ]
}

/// Samples with everything that a stream can bring: nothing at all, an infinity, the smallest number there is.
fn odd_samples(seed: u32) -> RawSamples {
    let mut raw = raw(seed);
    raw.samples[3].counts = [f64::NAN, f64::NEG_INFINITY, -0.0];
    raw.samples[4].clock = Seconds::new(f64::from_bits(1));
    raw.samples[5].temperature = Some(Celsius::new(f64::from_bits(0x7FF8_0000_0000_BEEF)));
    raw
}

fn bits(raw: &RawSamples) -> Vec<u64> {
    let sample = |sample: &clinoblade::units::Sample| {
        let temperature = sample.temperature.map_or([0, 0], |celsius| [1, celsius.value().to_bits()]);
        let counts = sample.counts.map(f64::to_bits);
        [&[sample.clock.value().to_bits(), u64::from(sample.lost_before)], &counts[..], &temperature[..]].concat()
    };
    let mut bits = vec![raw.counts_per_g.to_bits()];
    bits.extend(raw.samples.iter().flat_map(sample));
    bits
}

/// Begins a setup and records in it what an evening brings.
async fn recorded(logbook: &Logbook) -> u32 {
    let setup = logbook.new_setup(club_setup()).await.unwrap().number;
    for (seed, entry) in (1..).zip(one_of_each_kind()) {
        let raw = matches!(entry.event, Event::Capture(_)).then(|| odd_samples(seed));
        logbook.append(setup, &entry, raw.as_ref()).await.unwrap();
    }
    setup
}

/// As a file holds it.
fn written(document: &SetupDocument) -> Vec<u8> {
    serde_json::to_vec_pretty(document).unwrap()
}

/// As an earlier version has written it, or a person by hand.
fn without_checksums(mut document: Value) -> Value {
    document.as_object_mut().unwrap().remove("setup_checksum");
    for recorded in document["entries"].as_array_mut().unwrap() {
        recorded.as_object_mut().unwrap().retain(|field, _| !field.ends_with("checksum"));
    }
    document
}

/// The same but for the setup's number, which is each logbook's own.
fn unnumbered(document: &SetupDocument) -> Value {
    let mut value = serde_json::to_value(document).unwrap();
    value["setup"].as_object_mut().unwrap().remove("number").unwrap();
    // Of which the number is a part.
    value.as_object_mut().unwrap().remove("setup_checksum");
    value
}

/// From one logbook through a file into another one, which gives it the next number.
async fn carried(from: &Logbook, setup: u32, to: &Logbook, number: u32) {
    let exported = from.export(setup).await.unwrap();
    let document = SetupDocument::read(&written(&exported)).unwrap();
    let imported = to.import(std::slice::from_ref(&document)).await.unwrap();
    assert_eq!((imported[0].setup, imported[0].was_here), (number, false));
    let (before, after) = (from.setup_with_entries(setup).await.unwrap(), to.setup_with_entries(number).await.unwrap());
    assert_eq!(after.setup.number, number);
    assert_eq!(after.setup.id, before.setup.id);
    assert_eq!(after.setup.closed_at, before.setup.closed_at);
    assert_eq!(after.entries, before.entries);
    for entry in &before.entries {
        match (from.raw_samples(entry.id).await, to.raw_samples(entry.id).await) {
            (Ok(before), Ok(after)) => assert_eq!(bits(&before), bits(&after)),
            (Err(LogbookError::NoSamples(_)), Err(LogbookError::NoSamples(_))) => {}
            other => panic!("{other:?}"),
        }
    }
    // Written once more, it is the same to the letter.
    assert_eq!(unnumbered(&to.export(number).await.unwrap()), unnumbered(&exported));
    let row = |list: Vec<clinoblade::logbook::SetupSummary>, number| {
        let row = list.into_iter().find(|row| row.number == number).unwrap();
        (row.head, row.reason, row.started_at, row.changed_at, row.closed_at, row.entries, row.captures)
    };
    let lists = (from.setups(None, 99).await.unwrap(), to.setups(None, 99).await.unwrap());
    assert!(lists.1.iter().find(|row| row.number == number).unwrap().imported_at.is_some());
    assert_eq!(row(lists.1, number), row(lists.0, setup));
}

#[tokio::test]
async fn a_setup_goes_from_one_file_to_another_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (home, club) = (open(&folder.path().join("a.sqlite")).await, open(&folder.path().join("b.sqlite")).await);
    let setup = recorded(&home).await;
    home.close_setup(setup, time(99)).await.unwrap();
    club.new_setup(NewSetup::of(head("Tug"))).await.unwrap();
    carried(&home, setup, &club, 2).await;
    // It stays closed, and what is measured next is number 3.
    assert!(matches!(
        club.append(2, &entry(Event::Datum { datum: datum() }), None).await,
        Err(LogbookError::Closed(2))
    ));
    assert_eq!(club.new_setup(NewSetup::of(head("Tug"))).await.unwrap().number, 3);
    // An open one can be measured on where it came to.
    let open = recorded(&home).await;
    carried(&home, open, &club, 4).await;
    assert_eq!(club.append(4, &entry(Event::Datum { datum: datum() }), None).await.unwrap(), 15);
}

#[tokio::test]
async fn a_setup_goes_to_a_server_and_back_and_loses_nothing() {
    let server = Server::start();
    let folder = tempfile::tempdir().unwrap();
    let (home, away) = (open(&folder.path().join("a.sqlite")).await, open(&folder.path().join("b.sqlite")).await);
    let shared = Logbook::open(&server.database("book").parse::<Location>().unwrap()).await.unwrap();
    let setup = recorded(&home).await;
    home.close_setup(setup, time(99)).await.unwrap();
    shared.new_setup(NewSetup::of(head("Tug"))).await.unwrap();
    carried(&home, setup, &shared, 2).await;
    carried(&shared, 2, &away, 1).await;
    assert_eq!(unnumbered(&away.export(1).await.unwrap()), unnumbered(&home.export(setup).await.unwrap()));
    // There too: the same again changes nothing, another one of that id is refused.
    refuses_what_differs(&shared, 2).await;
}

/// The setup comes again: the same changes nothing, anything else is refused, and the logbook stays as it was.
async fn refuses_what_differs(logbook: &Logbook, setup: u32) {
    let before = logbook.setups(None, 99).await.unwrap();
    let same = logbook.export(setup).await.unwrap();
    let again = logbook.import(&[same.clone(), same.clone()]).await.unwrap();
    assert!(again.iter().all(|one| one.was_here && one.setup == setup), "{again:?}");
    let mut reason = same.clone();
    reason.setup.reason.push('!');
    let mut shorter = same.clone();
    shorter.entries.pop();
    let mut entry = same.clone();
    let Event::Withdrawn { reason: why, .. } = &mut entry.entries[3].entry.event else { panic!("entry 4") };
    why.push('!');
    let mut samples = same.clone();
    samples.entries[1].raw_samples.as_mut().unwrap().samples[8].lost_before += 1;
    for (other, expected) in [
        (reason, Difference::Setup),
        (shorter, Difference::Length { here: 14, there: 13 }),
        (entry, Difference::Entry(4)),
        (samples, Difference::Samples(2)),
    ] {
        let refusal = logbook.import(&[same.clone(), other]).await.unwrap_err();
        assert!(matches!(refusal, LogbookError::Different { difference, .. } if difference == expected), "{refusal}");
    }
    assert_eq!(logbook.setups(None, 99).await.unwrap(), before);
    assert_eq!(unnumbered(&logbook.export(setup).await.unwrap()), unnumbered(&same));
}

#[tokio::test]
async fn an_import_never_overwrites() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    let setup = recorded(&logbook).await;
    refuses_what_differs(&logbook, setup).await;
}

/// One of an earlier version is the same setup.
#[tokio::test]
async fn a_document_without_checksums_is_taken_in_and_is_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let (home, club) = (open(&folder.path().join("a.sqlite")).await, open(&folder.path().join("b.sqlite")).await);
    let setup = recorded(&home).await;
    let exported = home.export(setup).await.unwrap();
    let with_checksums = serde_json::to_value(&exported).unwrap();
    let earlier = without_checksums(with_checksums.clone());
    assert_ne!(earlier, with_checksums);
    let earlier = SetupDocument::read(&serde_json::to_vec(&earlier).unwrap()).unwrap();
    assert!(!club.import(std::slice::from_ref(&earlier)).await.unwrap()[0].was_here);
    assert!(club.import(std::slice::from_ref(&exported)).await.unwrap()[0].was_here);
    let mut again = unnumbered(&club.export(1).await.unwrap());
    assert_eq!(
        again["setup"].as_object_mut().unwrap().remove("edited"),
        Some(true.into()),
        "it says where it came from"
    );
    assert_eq!(again, unnumbered(&exported));
}

/// A changed reason is named while its checksum stands beside it. Without the checksum it is taken in, and the setup says so for
/// good, wherever it goes; one with all of its checksums says nothing.
#[tokio::test]
async fn an_edited_document_is_named_or_marked() {
    let folder = tempfile::tempdir().unwrap();
    let (home, club) = (open(&folder.path().join("a.sqlite")).await, open(&folder.path().join("b.sqlite")).await);
    let setup = recorded(&home).await;
    let whole = serde_json::to_value(home.export(setup).await.unwrap()).unwrap();
    let read = |document: &Value| SetupDocument::read(&serde_json::to_vec(document).unwrap());
    assert!(!read(&whole).unwrap().setup.edited);
    let mut edited = whole.clone();
    edited["setup"]["reason"] = "never measured".into();
    let refusal = read(&edited).unwrap_err();
    assert!(
        matches!(&refusal, DocumentError::Field { path, what: Complaint::Checksum } if path == "setup"),
        "{refusal}"
    );
    edited.as_object_mut().unwrap().remove("setup_checksum");
    assert!(club.import(&[read(&edited).unwrap()]).await.unwrap()[0].edited);
    assert!(club.setup(1).await.unwrap().edited);
    let handed_on = serde_json::to_value(club.export(1).await.unwrap()).unwrap();
    assert!(read(&handed_on).unwrap().setup.edited, "all checksums are there, and it still says so");
    let mut entry = whole;
    entry["entries"][1].as_object_mut().unwrap().remove("checksum");
    assert!(read(&entry).unwrap().setup.edited, "one checksum is enough");
}

/// What no setup holds is refused by its size, with its place; what one may hold is taken.
#[tokio::test]
async fn a_document_has_limits() {
    let folder = tempfile::tempdir().unwrap();
    let home = open(&folder.path().join("a.sqlite")).await;
    let setup = recorded(&home).await;
    let whole = without_checksums(serde_json::to_value(home.export(setup).await.unwrap()).unwrap());
    let read = |document: &Value| SetupDocument::read(&serde_json::to_vec(document).unwrap());
    let with = |at: &str, value: Value| {
        let mut document = whole.clone();
        *document.pointer_mut(at).unwrap() = value;
        read(&document)
    };
    let letters = |many: usize| Value::from("x".repeat(many));
    assert!(with("/setup/reason", letters(10_000)).is_ok());
    let long = with("/setup/reason", letters(10_001)).unwrap_err();
    assert!(
        matches!(&long, DocumentError::Field { path, what: Complaint::TooLong } if path == "setup.reason"),
        "{long}"
    );
    let angle = "/entries/1/entry/event/capture/angle_deg";
    assert!(with(angle, (-1000.0).into()).is_ok());
    let far = with(angle, 1000.5.into()).unwrap_err();
    let place = "entries[1].entry.event.capture.angle_deg";
    assert!(matches!(&far, DocumentError::Field { path, what: Complaint::Angle(_) } if path == place), "{far}");
    let refusal = SetupDocument::read(&vec![b' '; (256 << 20) + 1]).unwrap_err();
    assert_eq!(refusal, DocumentError::TooLarge);
    // What could not be imported is not recorded.
    let too_long = NewSetup { reason: "x".repeat(10_001), ..club_setup() };
    assert!(matches!(home.new_setup(too_long).await.unwrap_err(), LogbookError::TooLong("setup")));
}

#[tokio::test]
async fn of_several_documents_all_are_imported_or_none() {
    let folder = tempfile::tempdir().unwrap();
    let (home, club) = (open(&folder.path().join("a.sqlite")).await, open(&folder.path().join("b.sqlite")).await);
    let (first, second) = (recorded(&home).await, recorded(&home).await);
    let first = home.export(first).await.unwrap();
    let mut second = home.export(second).await.unwrap();
    // One entry of the second document is one of the first.
    let stolen = first.entries[9].clone();
    second.entries[9] = stolen;
    let refusal = club.import(&[first.clone(), second]).await.unwrap_err();
    assert!(matches!(refusal, LogbookError::AlreadyRecorded { setup: 1, .. }), "{refusal}");
    assert!(club.setups(None, 9).await.unwrap().is_empty());
    // Nothing of it is left that would stand in the way, and no number is lost.
    assert_eq!(club.import(&[first]).await.unwrap()[0].setup, 1);
}

#[tokio::test]
async fn commands_do_not_work_on_what_was_imported_until_it_is_taken_up_again() {
    let folder = tempfile::tempdir().unwrap();
    let (home, club) = (open(&folder.path().join("a.sqlite")).await, open(&folder.path().join("b.sqlite")).await);
    let setup = recorded(&home).await;
    let document = home.export(setup).await.unwrap();
    let own = club.new_setup(NewSetup::of(head("Tug"))).await.unwrap();
    assert_eq!(club.import(&[document]).await.unwrap()[0].setup, 2);
    assert_eq!(club.open_setup().await.unwrap(), own);
    club.close_setup(own.number, time(99)).await.unwrap();
    assert!(matches!(club.open_setup().await, Err(LogbookError::NoOpenSetup)));
    club.reopen_setup(2).await.unwrap();
    assert_eq!(club.open_setup().await.unwrap().number, 2);
}

/// A logbook whose tables are of the first layout is brought to the newest one, with all that it holds.
#[tokio::test]
async fn a_server_of_the_first_layout_is_brought_up() {
    let server = Server::start();
    let url = server.database("book");
    let location: Location = url.parse().unwrap();
    let logbook = Logbook::open(&location).await.unwrap();
    let setup = recorded(&logbook).await;
    let before = logbook.export(setup).await.unwrap();
    logbook.close().await;
    server.ask("book", "ALTER TABLE setups DROP COLUMN imported_at, DROP COLUMN columns_checksum");
    for table in ["setups", "entries", "raw_samples"] {
        server.ask("book", &format!("ALTER TABLE {table} DROP COLUMN checksum"));
    }
    server.ask("book", "DELETE FROM _sqlx_migrations WHERE version > 1");
    let logbook = Logbook::open(&location).await.unwrap();
    assert_eq!(unnumbered(&logbook.export(setup).await.unwrap()), unnumbered(&before));
    assert_eq!(logbook.setups(None, 9).await.unwrap()[0].imported_at, None);
}
