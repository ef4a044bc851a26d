//! A backup holds all that is recorded, also while somebody is recording, and takes nothing away that it does not hold itself.

use clinoblade::logbook::{Logbook, LogbookError, NewSetup};
use serde_json::Value;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions, Connection};
use std::fs;
use std::path::Path;
use support::bench::Bench;
use support::logbook::{capture_entry, club_setup, head, open, raw, time};

async fn with_a_setup(path: &Path) -> Logbook {
    let logbook = open(path).await;
    logbook.new_setup(club_setup()).await.unwrap();
    logbook.append(1, &capture_entry("elevator up"), Some(&raw(1))).await.unwrap();
    logbook
}

#[tokio::test]
async fn a_backup_that_is_made_while_others_record_is_a_whole_logbook() {
    let folder = tempfile::tempdir().unwrap();
    let (path, to) = (folder.path().join("club.sqlite"), folder.path().join("backup.sqlite"));
    let logbook = with_a_setup(&path).await;
    let other = open(&path).await;
    let recording = tokio::spawn(async move {
        for seed in 0..60 {
            other.append(1, &capture_entry("aileron left"), Some(&raw(seed))).await.unwrap();
        }
    });
    let mut seen = Vec::new();
    for _ in 0..5 {
        let backup = logbook.back_up(&to, time(1)).await.unwrap();
        assert_eq!((backup.setups, backup.altered.len(), backup.replaced), (1, 0, !seen.is_empty()));
        let copy = folder.path().join("looked at.sqlite");
        fs::copy(&to, &copy).unwrap();
        let copy = open(&copy).await;
        let entries = copy.setup_with_entries(1).await.unwrap().entries;
        assert_eq!(entries.len(), backup.entries);
        for entry in &entries {
            copy.raw_samples(entry.id).await.unwrap();
        }
        copy.close().await;
        seen.push(backup.entries);
    }
    recording.await.unwrap();
    assert!(seen.is_sorted(), "{seen:?}");
    let backup = logbook.back_up(&to, time(2)).await.unwrap();
    assert_eq!((backup.entries, backup.replaced), (61, true));
    // Restored, it is what it was.
    let before = (logbook.export(1).await.unwrap(), logbook.setups(None, 9).await.unwrap());
    logbook.close().await;
    for suffix in ["", "-wal", "-shm"] {
        let _ = fs::remove_file(folder.path().join(format!("club.sqlite{suffix}")));
    }
    fs::rename(&to, &path).unwrap();
    let restored = open(&path).await;
    assert_eq!((restored.export(1).await.unwrap(), restored.setups(None, 9).await.unwrap()), before);
    assert_eq!(restored.append(1, &capture_entry("elevator down"), None).await.unwrap(), 62);
    assert_eq!(
        fs::read_dir(folder.path())
            .unwrap()
            .filter(|file| file.as_ref().unwrap().path().to_string_lossy().contains(".part"))
            .count(),
        0
    );
}

#[tokio::test]
async fn a_backup_replaces_nothing_but_an_earlier_one_of_itself() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let logbook = with_a_setup(&at("club.sqlite")).await;
    // Another logbook, and one that is not a backup although all that it holds is here.
    let other = open(&at("other.sqlite")).await;
    other.new_setup(NewSetup::of(head("Tug"))).await.unwrap();
    other.close().await;
    logbook.back_up(&at("grown.sqlite"), time(1)).await.unwrap();
    let grown = open(&at("grown.sqlite")).await;
    grown.append(1, &capture_entry("rudder left"), None).await.unwrap();
    grown.close().await;
    open(&at("new.sqlite")).await.close().await;
    fs::write(at("notes.txt"), "not a logbook").unwrap();
    for name in ["other.sqlite", "grown.sqlite", "new.sqlite", "notes.txt", "club.sqlite"] {
        let before = fs::read(at(name)).unwrap();
        let refusal = logbook.back_up(&at(name), time(2)).await.unwrap_err();
        assert!(matches!(refusal, LogbookError::NotABackup(_)), "{name}: {refusal:?}");
        assert!(fs::read(at(name)).unwrap() == before, "{name} was changed");
    }
    fs::write(at("empty.sqlite"), "").unwrap();
    for (name, replaced) in [("fresh.sqlite", false), ("fresh.sqlite", true), ("empty.sqlite", true)] {
        assert_eq!(logbook.back_up(&at(name), time(3)).await.unwrap().replaced, replaced, "{name}");
    }
    assert!(matches!(logbook.back_up(folder.path(), time(4)).await.unwrap_err(), LogbookError::IsFolder(_)));
    assert!(matches!(
        logbook.back_up(&at("none/a.sqlite"), time(4)).await.unwrap_err(),
        LogbookError::Unreachable { .. }
    ));
}

/// What a disk has changed is named, and the last good backup stays.
#[tokio::test]
async fn a_damaged_logbook_takes_the_place_of_no_backup() {
    let folder = tempfile::tempdir().unwrap();
    let (path, to) = (folder.path().join("club.sqlite"), folder.path().join("backup.sqlite"));
    let logbook = with_a_setup(&path).await;
    logbook.back_up(&to, time(1)).await.unwrap();
    logbook.close().await;
    let mut direct = SqliteConnectOptions::new().filename(&path).connect().await.unwrap();
    sqlx::raw_sql("UPDATE entries SET document = replace(document, 'elevator', 'aileron ')")
        .execute(&mut direct)
        .await
        .unwrap();
    direct.close().await.unwrap();
    let (logbook, good) = (open(&path).await, fs::read(&to).unwrap());
    assert!(matches!(logbook.back_up(&to, time(2)).await.unwrap_err(), LogbookError::Altered(_)));
    assert!(fs::read(&to).unwrap() == good);
    let backup = logbook.back_up(&folder.path().join("as it is.sqlite"), time(2)).await.unwrap();
    assert_eq!(backup.altered.len(), 1);
}

#[test]
fn the_command_says_what_it_did_and_how_to_restore() {
    let bench = Bench::with_setup();
    let answer = bench.done(&["backup", "--out", "backup.sqlite"]);
    assert!(answer.stdout.contains("Backed up 1 setup") && answer.stdout.contains("To restore it"), "{answer}");
    let document = bench.json(&["backup", "--out", "backup.sqlite"]);
    assert_eq!((&document["replaced"], &document["setups"]), (&Value::from(true), &Value::from(1)));
    let listed = bench.json(&["setup", "list", "--logbook", &bench.name("backup.sqlite")]);
    assert_eq!(listed["setups"].as_array().unwrap().len(), 1);
    let refused = bench.run(&["backup", "--out", "head.toml"]);
    assert!(refused.code == 2 && refused.stderr.contains("Nothing was changed"), "{refused}");
}
