//! Several programs write to one logbook at once: nothing is lost, nothing is numbered twice.

use clinoblade::logbook::NewSetup;
use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Child, Stdio};
use support::logbook::{capture_entry, head, open, raw};
use support::place::child;
use uuid::Uuid;

/// Tells the child which logbook to write to, and how many entries.
const LOGBOOK: &str = "LOGBOOK_OF_THE_CHILD";
const ENTRIES: &str = "ENTRIES_OF_THE_CHILD";

/// Appends to setup 1, which it begins if the logbook is new. Not a test, but the program that the tests start.
#[tokio::test]
#[ignore = "the child of the other tests"]
async fn child_writer() {
    let (Ok(path), Ok(entries)) = (std::env::var(LOGBOOK), std::env::var(ENTRIES)) else { return };
    let logbook = open(Path::new(&path)).await;
    let setup = logbook.new_setup(NewSetup::of(head("Trainer"))).await.unwrap();
    println!("reported setup {}", setup.number);
    for seed in 0..entries.parse().unwrap() {
        let entry = capture_entry("aileron right");
        let number = logbook.append(1, &entry, Some(&raw(seed))).await.unwrap();
        println!("reported entry {number} {}", entry.id);
    }
}

fn start(path: &Path, entries: u32) -> Child {
    child("writers::child_writer")
        .env(LOGBOOK, path)
        .env(ENTRIES, entries.to_string())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

/// The setup that a child began, and the entries that it appended.
fn reported(child: Child) -> (u32, Vec<(u32, Uuid)>) {
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
    let text = String::from_utf8(output.stdout).unwrap();
    let (mut setup, mut entries) = (0, Vec::new());
    for words in text.lines().filter_map(|line| line.split_once("reported ").map(|(_, said)| said.split(' '))) {
        match words.collect::<Vec<_>>()[..] {
            ["setup", number] => setup = number.parse().unwrap(),
            ["entry", number, id] => entries.push((number.parse().unwrap(), id.parse().unwrap())),
            _ => panic!("{text}"),
        }
    }
    (setup, entries)
}

async fn programs_at_once(programs: u32, entries: u32, exists: bool) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("club.sqlite");
    if exists {
        open(&path).await.close().await;
    }
    let began = std::time::Instant::now();
    let children: Vec<Child> = (0..programs).map(|_| start(&path, entries)).collect();
    let reports: Vec<_> = children.into_iter().map(reported).collect();
    println!("{programs} programs, {entries} entries each: {:?}", began.elapsed());

    let setups: BTreeSet<u32> = reports.iter().map(|(setup, _)| *setup).collect();
    assert_eq!(setups, (1..=programs).collect(), "each setup has a number of its own");
    let mut appended: Vec<(u32, Uuid)> = reports.into_iter().flat_map(|(_, entries)| entries).collect();
    appended.sort_unstable();
    let total = programs * entries;
    assert_eq!(appended.iter().map(|entry| entry.0).collect::<Vec<_>>(), (1..=total).collect::<Vec<_>>());

    let logbook = open(&path).await;
    let kept = logbook.setup_with_entries(1).await.unwrap().entries;
    assert_eq!(
        kept.iter().map(|entry| entry.id).collect::<Vec<_>>(),
        appended.iter().map(|entry| entry.1).collect::<Vec<_>>()
    );
    for entry in kept {
        assert_eq!(logbook.raw_samples(entry.id).await.unwrap().samples.len(), 400);
    }
}

#[tokio::test]
async fn two_programs_append_500_entries() {
    programs_at_once(2, 250, true).await;
}

#[tokio::test]
async fn four_programs_make_the_same_logbook() {
    for _ in 0..5 {
        programs_at_once(4, 3, false).await;
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn many_tasks_of_one_program_append_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = open(&folder.path().join("club.sqlite")).await;
    logbook.new_setup(NewSetup::of(head("Trainer"))).await.unwrap();
    let append = |_| {
        let logbook = logbook.clone();
        tokio::spawn(async move {
            let mut numbers = Vec::new();
            for _ in 0..25 {
                numbers.push(logbook.append(1, &capture_entry("rudder right"), None).await.unwrap());
            }
            numbers
        })
    };
    let tasks: Vec<_> = (0..8).map(append).collect();
    let mut numbers = Vec::new();
    for task in tasks {
        numbers.extend(task.await.unwrap());
    }
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=200).collect::<Vec<_>>());
    assert_eq!(logbook.setup_with_entries(1).await.unwrap().entries.len(), 200);
}
