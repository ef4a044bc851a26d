//! What is recorded comes back: setups, every kind of entry, raw samples to the last bit.

use clinoblade::logbook::{LogbookError, NewSetup, Part, SavedDefault};
use clinoblade::record::{Entry, Event, Replaced, Setup};
use clinoblade::units::Angle;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions, Connection};
use support::logbook::{capture_entry, club_setup, datum, entry, head, open, raw, time};
use uuid::Uuid;

fn one_of_each_kind() -> Vec<Entry> {
    let adjustment = "link B +1 half-turn".parse().unwrap();
    vec![
        entry(Event::Datum { datum: datum() }),
        capture_entry("elevator up"),
        capture_entry("rudder left"),
        entry(Event::Adjustment { adjustment, note: Some("link was stiff".to_owned()) }),
        entry(Event::Resumed {
            pause: clinoblade::record::Interruption { clip_taken_off: true, ..Default::default() },
            note: "the datum is three hours old, the temperature the same".to_owned(),
        }),
        entry(Event::Skipped { cell: "collective high".parse().unwrap(), reason: "no target".to_owned() }),
        capture_entry("collective 25%"),
    ]
}

/// Through JSON once: of an angle it keeps twelve decimals of a degree.
fn as_written<T: serde::Serialize + serde::de::DeserializeOwned>(thing: &T) -> T {
    serde_json::from_str(&serde_json::to_string(thing).unwrap()).unwrap()
}

#[tokio::test]
async fn every_kind_of_entry_comes_back_in_order() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("club.sqlite");
    let logbook = open(&path).await;
    let setup = logbook.new_setup(club_setup()).await.unwrap();
    let entries = one_of_each_kind();
    for (before, entry) in entries.iter().enumerate() {
        let samples = raw(before as u32);
        let kept = matches!(entry.event, Event::Capture(_)).then_some(&samples);
        assert_eq!(logbook.append(setup.number, entry, kept).await.unwrap() as usize, before + 1);
    }
    logbook.close().await;

    let logbook = open(&path).await;
    let kept = logbook.setup_with_entries(setup.number).await.unwrap();
    assert_eq!(kept.setup, as_written(&setup));
    assert_eq!(kept.entries, entries.iter().map(as_written).collect::<Vec<_>>());
    for (before, entry) in entries.iter().enumerate() {
        match &entry.event {
            Event::Capture(capture) => {
                assert_eq!(logbook.raw_samples(capture.id).await.unwrap(), raw(before as u32));
            }
            _ => assert!(matches!(logbook.raw_samples(entry.id).await, Err(LogbookError::NoSamples(_)))),
        }
    }
}

/// What a decimal cannot write exactly is kept all the same: every number to the bit, save angles, of which
/// documents keep twelve decimals of a degree.
#[tokio::test]
async fn numbers_keep_their_last_digit() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    let setup = logbook.new_setup(club_setup()).await.unwrap();
    let written = capture_entry("aileron left");
    logbook.append(setup.number, &written, None).await.unwrap();
    let read = logbook.setup_with_entries(setup.number).await.unwrap().entries.remove(0);
    let (Event::Capture(written), Event::Capture(read)) = (written.event, read.event) else { panic!("no captures") };
    assert_eq!(read.reading.up, written.reading.up);
    assert_eq!(read.stick, written.stick);
    assert_eq!(read.reading.finished_at, written.reading.finished_at);
    assert_eq!(read.taken_at, written.taken_at);
    let apart = |a: Angle, b: Angle| (a.degrees() - b.degrees()).abs();
    assert!(apart(read.reading.angle, written.reading.angle) <= 1e-12);
    assert!(apart(read.reading.apparent_pitch, written.reading.apparent_pitch) <= 1e-12);
}

#[tokio::test]
async fn a_value_that_could_not_be_read_again_is_never_recorded() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    let setup = logbook.new_setup(club_setup()).await.unwrap();
    let mut bad = support::logbook::capture("elevator up");
    bad.reading.effective_samples = f64::NAN;
    let refusal = logbook.append(setup.number, &Entry::capture(bad).unwrap(), None).await.unwrap_err();
    assert!(matches!(refusal, LogbookError::NotRecordable { .. }), "{refusal}");
    assert_eq!(logbook.append(setup.number, &capture_entry("elevator up"), None).await.unwrap(), 1);
}

#[tokio::test]
async fn commands_work_on_the_newest_open_setup_unless_another_was_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    assert!(matches!(logbook.open_setup().await, Err(LogbookError::NoOpenSetup)));
    for name in ["Trainer", "Trainer", "Tug"] {
        logbook.new_setup(NewSetup::of(head(name))).await.unwrap();
    }
    let open_number = async || logbook.open_setup().await.unwrap().number;
    assert_eq!(open_number().await, 3);
    logbook.close_setup(3, time(20)).await.unwrap();
    assert_eq!(open_number().await, 2);
    logbook.close_setup(1, time(21)).await.unwrap();
    logbook.reopen_setup(1).await.unwrap();
    assert_eq!(open_number().await, 1);
    logbook.close_setup(1, time(22)).await.unwrap();
    assert_eq!(open_number().await, 2);
    logbook.reopen_setup(1).await.unwrap();
    assert_eq!(logbook.new_setup(NewSetup::of(head("Tug"))).await.unwrap().number, 4);
    assert_eq!(open_number().await, 4, "a new setup is the one to work on");

    let closed = logbook.append(3, &capture_entry("elevator up"), None).await.unwrap_err();
    assert!(matches!(closed, LogbookError::Closed(3)), "{closed}");
    let missing = logbook.append(9, &capture_entry("elevator up"), None).await.unwrap_err();
    assert!(matches!(missing, LogbookError::NoSetup(9)), "{missing}");
    assert!(matches!(logbook.setup(9).await, Err(LogbookError::NoSetup(9))));
    assert!(matches!(logbook.close_setup(9, time(0)).await, Err(LogbookError::NoSetup(9))));
}

#[tokio::test]
async fn the_list_shows_the_newest_first() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    for name in ["Trainer", "Tug", "Trainer"] {
        logbook.new_setup(NewSetup::of(head(name))).await.unwrap();
    }
    for entry in one_of_each_kind() {
        logbook.append(2, &entry, None).await.unwrap();
    }
    logbook.close_setup(2, time(30)).await.unwrap();
    let all = logbook.setups(None, 100).await.unwrap();
    assert_eq!(all.iter().map(|line| line.number).collect::<Vec<_>>(), [3, 2, 1]);
    assert_eq!((all[1].head.as_str(), all[1].entries, all[1].captures), ("Tug", 7, 3));
    assert_eq!(all[1].closed_at.unwrap().as_microsecond(), time(30).as_microsecond());
    assert_eq!(all[0].closed_at, None);
    let trainers = logbook.setups(Some("Trainer"), 100).await.unwrap();
    assert_eq!(trainers.iter().map(|line| line.number).collect::<Vec<_>>(), [3, 1]);
    assert_eq!(logbook.setups(None, 2).await.unwrap().len(), 2);
}

#[tokio::test]
async fn details_can_be_amended_and_the_rest_stays() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    let setup = logbook.new_setup(NewSetup::of(head("Trainer"))).await.unwrap();
    let closed = logbook.close_setup(1, time(40)).await.unwrap();
    let amended = Setup {
        id: Uuid::nil(),
        checked_by: Some("C. Member".to_owned()),
        reason: "spring".to_owned(),
        closed_at: None,
        ..setup.clone()
    };
    // Which setup it is and when it was closed are no details.
    logbook.amend_setup(1, |setup| *setup = amended.clone()).await.unwrap();
    let expected = Setup { id: setup.id, closed_at: closed.closed_at, ..amended };
    assert_eq!(logbook.setup(1).await.unwrap(), as_written(&expected));
    assert_eq!(logbook.setups(None, 1).await.unwrap()[0].reason, "spring");
    assert_eq!(logbook.close_setup(1, time(41)).await.unwrap().closed_at, closed.closed_at, "closed once");
}

#[tokio::test]
async fn what_an_amendment_replaces_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    logbook.new_setup(NewSetup { reason: "links".to_owned(), ..NewSetup::of(head("Trainer")) }).await.unwrap();
    let by = |who: &'static str| move |setup: &mut Setup| setup.checked_by = Some(who.to_owned());
    // What was not said before is not replaced, and what is said again neither.
    for who in ["first", "second", "second", "third"] {
        logbook.amend_setup(1, by(who)).await.unwrap();
    }
    logbook.close_setup(1, time(40)).await.unwrap();
    logbook.amend_setup(1, |setup| setup.reason = "new links".to_owned()).await.unwrap();
    let kept = logbook.setup(1).await.unwrap().amendments;
    let replaced: Vec<Replaced> = kept.into_iter().map(|one| one.replaced).collect();
    let checked = |who: &str| Replaced::CheckedBy(who.to_owned());
    assert_eq!(replaced, [checked("first"), checked("second"), Replaced::Reason("links".to_owned())]);
}

/// A list reads columns that stand beside the document: they have a checksum of their own.
#[tokio::test]
async fn a_changed_column_of_the_list_is_named_and_never_listed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("club.sqlite");
    for (column, value) in [("captures", "captures + 8"), ("reason", "'raeson'"), ("changed_at", "changed_at - 64")] {
        let _ = std::fs::remove_file(&path);
        let logbook = open(&path).await;
        logbook.new_setup(club_setup()).await.unwrap();
        logbook.append(1, &capture_entry("elevator up"), None).await.unwrap();
        logbook.amend_setup(1, |setup| setup.reason = "spring".to_owned()).await.unwrap();
        assert_eq!(logbook.setups(None, 9).await.unwrap()[0].captures, 1, "what is right is listed");
        logbook.close().await;
        let mut direct = SqliteConnectOptions::new().filename(&path).connect().await.unwrap();
        let change = format!("UPDATE setups SET {column} = {value}");
        sqlx::raw_sql(AssertSqlSafe(change)).execute(&mut direct).await.unwrap();
        direct.close().await.unwrap();
        let logbook = open(&path).await;
        for head in [None, Some("Club trainer")] {
            let refusal = logbook.setups(head, 9).await.unwrap_err();
            assert!(matches!(refusal, LogbookError::Altered(Part::Listed(1))), "{column}: {refusal}");
        }
        // Recording goes on, and does not make it right.
        logbook.append(1, &capture_entry("elevator down"), None).await.unwrap();
        assert!(logbook.setups(None, 9).await.is_err(), "{column}");
        // Without a checksum, as an earlier version leaves it, it is listed.
        let mut direct = SqliteConnectOptions::new().filename(&path).connect().await.unwrap();
        sqlx::raw_sql("UPDATE setups SET columns_checksum = NULL").execute(&mut direct).await.unwrap();
        direct.close().await.unwrap();
        assert_eq!(logbook.setups(None, 9).await.unwrap().len(), 1);
        logbook.close().await;
    }
}

#[tokio::test]
async fn an_entry_that_is_sent_again_is_recorded_once() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    for _ in 0..2 {
        logbook.new_setup(NewSetup::of(head("Trainer"))).await.unwrap();
    }
    let capture = capture_entry("elevator up");
    for _ in 0..3 {
        assert_eq!(logbook.append(1, &capture, Some(&raw(1))).await.unwrap(), 1);
    }
    assert_eq!(logbook.setup_with_entries(1).await.unwrap().entries.len(), 1);
    assert_eq!(logbook.setups(None, 2).await.unwrap()[1].entries, 1);
    let elsewhere = logbook.append(2, &capture, None).await.unwrap_err();
    assert!(matches!(elsewhere, LogbookError::AlreadyRecorded { setup: 1, .. }), "{elsewhere}");
}

#[tokio::test]
async fn saved_defaults_are_replaced_and_forgotten() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    for value in ["port A", "port B"] {
        logbook.save(SavedDefault::Source, Some(value)).await.unwrap();
        assert_eq!(logbook.saved(SavedDefault::Source).await.unwrap().as_deref(), Some(value));
    }
    assert_eq!(logbook.saved(SavedDefault::Profile).await.unwrap(), None);
    logbook.save(SavedDefault::Source, None).await.unwrap();
    assert_eq!(logbook.saved(SavedDefault::Source).await.unwrap(), None);
}

#[tokio::test]
async fn the_setups_of_one_head_come_with_their_entries_newest_first() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    for name in ["Trainer", "Tug", "Trainer", "Trainer", "Tug"] {
        let setup = logbook.new_setup(NewSetup::of(head(name))).await.unwrap().number;
        for what in ["elevator up", "elevator down", "rudder left"].iter().take(setup as usize % 4) {
            logbook.append(setup, &capture_entry(what), None).await.unwrap();
        }
    }
    let mut wanted = Vec::new();
    for number in [4, 3, 1] {
        wanted.push(logbook.setup_with_entries(number).await.unwrap());
    }
    assert_eq!(logbook.setups_of_head("Trainer", 9, |kept| kept).await.unwrap(), wanted);
    assert_eq!(logbook.setups_of_head("Trainer", 2, |kept| kept).await.unwrap(), wanted[..2]);
    assert_eq!(logbook.setups_of_head("Glider", 9, |kept| kept).await.unwrap(), []);
}
