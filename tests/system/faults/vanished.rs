//! The logbook's folder is not there, is something else, may not be written, or goes while a program works in it.

use clinoblade::logbook::{Location, Logbook, LogbookError};
use std::fs::{self, Permissions};
use std::os::unix::fs::{PermissionsExt, symlink};
use std::os::unix::process::CommandExt;
use std::path::Path;
use support::bench::{Bench, recorded};
use support::logbook::{capture_entry, club_setup, raw};

const RESTING: &str = "seed = 3\n[sensor]\nnoise_density_ug_rthz = 150.0\n";

/// Everything that opens a logbook, some to look, some to write.
const COMMANDS: [&[&str]; 11] = [
    &["setup", "new", "--head", "head.toml", "--cautions-read", "--close-open"],
    &["setup", "list"],
    &["setup", "show"],
    &["setup", "close"],
    &["check"],
    &["capture", "collective", "mid", "--replay", "resting.log"],
    &["adjust", "link", "B", "+1"],
    &["export"],
    &["history", "Workshop trainer"],
    READ,
    WATCH,
];

/// These look for the saved sensor, and go on to the ports of this machine where they find no logbook.
const READ: &[&str] = &["read"];
const WATCH: &[&str] = &["watch", "--plain"];

/// Where there is no file, and what is looked for may begin none.
const NOTHING_THERE: [&str; 4] = ["attic/club.sqlite", "leads-nowhere", "/proc/club.sqlite", "/sys/kernel/club.sqlite"];

#[test]
fn where_there_is_no_place_for_a_logbook_every_command_says_so() {
    let bench = Bench::with_setup();
    bench.write("resting.log", recorded(RESTING, 1.5));
    let folder = bench.path("");
    fs::write(bench.path("notes.txt"), "elevator up 11.9\n").unwrap();
    fs::create_dir(bench.path("folder")).unwrap();
    symlink(folder.join("attic/club.sqlite"), bench.path("leads-nowhere")).unwrap();
    symlink(bench.path("loop"), bench.path("loop")).unwrap();
    rustix::fs::mknodat(
        rustix::fs::CWD,
        bench.path("pipe"),
        rustix::fs::FileType::Fifo,
        rustix::fs::Mode::from_raw_mode(0o600),
        0,
    )
    .unwrap();
    let long = "x".repeat(300);
    let places = [
        "attic/club.sqlite",
        "notes.txt/club.sqlite",
        "notes.txt",
        "folder",
        "leads-nowhere",
        "loop",
        "loop/club.sqlite",
        "pipe",
        "/dev/null",
        "/dev/full",
        "/proc/club.sqlite",
        "/sys/kernel/club.sqlite",
        "resting.log",
        "",
        " ",
        &long,
        "postgres://bench@127.0.0.1:1/book",
        "http://workshop/book",
    ];
    let (mut said, mut empty) = (0, 0);
    for place in places {
        // Looking for something where nothing is begins no logbook, and is no failure. What cannot be looked at is one.
        let none = NOTHING_THERE.contains(&place);
        for command in COMMANDS.into_iter().filter(|command| !none || ![READ, WATCH].contains(command)) {
            let answer = bench.run(&[command, &["--json", "--logbook", place]].concat());
            let of = format!("{place:?} {command:?}: {answer}");
            assert!(!answer.stderr.contains("panicked") && !answer.stderr.contains("RUST_BACKTRACE"), "{of}");
            if none && command.contains(&"list") {
                assert!(answer.code == 0 && answer.json()["setups"] == serde_json::json!([]), "{of}");
                empty += 1;
                continue;
            }
            let words = answer.json()["error"].as_str().unwrap().to_owned();
            assert!(matches!(answer.code, 2 | 4) && words.len() > 20, "{of}");
            said += 1;
        }
    }
    let all = places.len() * COMMANDS.len() - 2 * NOTHING_THERE.len();
    assert_eq!((said, empty), (all - NOTHING_THERE.len(), NOTHING_THERE.len()));
    assert_eq!(fs::read_to_string(bench.path("notes.txt")).unwrap(), "elevator up 11.9\n");
    assert!(!bench.path("attic").exists() && fs::read_dir(bench.path("folder")).unwrap().next().is_none());
    println!("{said} refusals of {} commands at {} places", COMMANDS.len(), places.len());
}

/// What a person does to a file that a program has open.
fn take_away(how: &str, folder: &Path) {
    let file = folder.join("club.sqlite");
    match how {
        "removed" => fs::remove_file(file).unwrap(),
        "renamed" => fs::rename(file, folder.join("club-old.sqlite")).unwrap(),
        "replaced" => {
            fs::copy(&file, folder.join("copy")).unwrap();
            fs::rename(folder.join("copy"), file).unwrap();
        }
        "folder renamed" => fs::rename(folder, folder.with_extension("old")).unwrap(),
        "folder removed" => fs::remove_dir_all(folder).unwrap(),
        _ => panic!("{how}"),
    }
}

#[tokio::test]
async fn a_logbook_that_is_taken_away_while_it_is_open_records_nothing_more_and_says_so() {
    let all = ["removed", "renamed", "replaced", "folder renamed", "folder removed"];
    for how in all {
        let bench = tempfile::tempdir().unwrap();
        let folder = bench.path().join("book");
        fs::create_dir(&folder).unwrap();
        let logbook = Logbook::open(&Location::from(folder.join("club.sqlite").as_path())).await.unwrap();
        let number = logbook.new_setup(club_setup()).await.unwrap().number;
        logbook.append(number, &capture_entry("elevator up"), Some(&raw(1))).await.unwrap();
        take_away(how, &folder);
        for _ in 0..3 {
            let late = capture_entry("elevator down");
            let refusal = logbook.append(number, &late, Some(&raw(2))).await.expect_err(how);
            assert!(matches!(refusal, LogbookError::Gone(_)), "{how}: {refusal:?}");
        }
        assert!(logbook.new_setup(club_setup()).await.is_err(), "{how}");
        let made_anew = folder.join("club.sqlite").exists();
        assert_eq!(made_anew, how == "replaced", "{how}: nothing is made anew in its place");
        if how == "folder renamed" {
            // Put back, it goes on as if nothing had been.
            fs::rename(folder.with_extension("old"), &folder).unwrap();
            logbook.append(number, &capture_entry("aileron left"), Some(&raw(3))).await.unwrap();
            assert_eq!(logbook.setup_with_entries(number).await.unwrap().entries.len(), 2);
        }
        logbook.close().await;
    }
    println!("{} ways to take a logbook away: nothing was called recorded after it", all.len());
}

#[test]
fn a_folder_that_goes_while_a_capture_is_read_ends_it_with_words() {
    for round in 0..3 {
        let bench = Bench::with_setup();
        bench.write("resting.log", recorded(RESTING, 2.5));
        fs::create_dir(bench.path("book")).unwrap();
        fs::copy(bench.logbook(), bench.path("book/club.sqlite")).unwrap();
        let mut running = bench.start(&[
            "capture",
            "collective",
            "mid",
            "--replay",
            "resting.log",
            "--paced",
            "--logbook",
            "book/club.sqlite",
        ]);
        running.wait_for_said("hold the stick");
        match round {
            0 => fs::remove_dir_all(bench.path("book")).unwrap(),
            1 => fs::rename(bench.path("book"), bench.path("elsewhere")).unwrap(),
            _ => fs::remove_file(bench.path("book/club.sqlite")).unwrap(),
        }
        let answer = running.end(support::bench::LONG);
        assert_eq!(answer.code, 4, "{answer}");
        assert!(answer.stderr.contains("no longer where it was"), "{answer}");
        assert!(!answer.stdout.contains("recorded"), "{answer}");
    }
    println!("3 folders gone in the middle of a capture");
}

/// User and group to whom the rights on a file mean something.
fn unprivileged() -> Option<(u32, u32)> {
    rustix::process::geteuid().is_root().then_some((65_534, 65_534))
}

#[test]
fn a_logbook_that_may_not_be_written_is_refused_and_left_as_it_is() {
    let bench = Bench::with_setup();
    bench.write("resting.log", recorded(RESTING, 1.5));
    let book = bench.path("book");
    fs::create_dir(&book).unwrap();
    let file = book.join("club.sqlite");
    fs::copy(bench.logbook(), &file).unwrap();
    let whole = fs::read(&file).unwrap();
    let may = |path: &Path, mode| fs::set_permissions(path, Permissions::from_mode(mode)).unwrap();
    may(&bench.path(""), 0o755);
    let (mut tried, mut looked, mut looks_possible) = (0, 0, 0);
    for (of_folder, of_file) in [(0o555, 0o444), (0o555, 0o666), (0o777, 0o444), (0o777, 0o000), (0o000, 0o666)] {
        may(&file, of_file);
        may(&book, of_folder);
        // Whoever may not even read is told that, and not that there is nothing.
        let reads = of_folder != 0 && of_file != 0;
        for command in COMMANDS.into_iter().filter(|command| !reads || ![READ, WATCH].contains(command)) {
            let mut command_line = bench.command(&[command, &["--json", "--logbook", "book/club.sqlite"]].concat());
            if let Some((user, group)) = unprivileged() {
                command_line.uid(user).gid(group);
            }
            let answer = support::bench::Running::new(command_line).end(support::bench::LONG);
            let of = format!("folder {of_folder:o}, file {of_file:o}, {command:?}: {answer}");
            assert!(!answer.stderr.contains("panicked"), "{of}");
            let writes = matches!(command, ["capture" | "adjust", ..] | [_, "new" | "close", ..]);
            let looks = answer.code <= 1 && reads && !writes;
            assert!(looks || matches!(answer.code, 2 | 4), "{of}");
            looks_possible += usize::from(reads && !writes);
            looked += usize::from(looks);
            if !looks {
                assert!(answer.json()["error"].as_str().unwrap().len() > 20, "{of}");
            }
            tried += 1;
        }
        may(&book, 0o755);
        may(&file, 0o644);
        assert!(fs::read(&file).unwrap() == whole, "not a byte is changed");
    }
    println!(
        "{tried} commands on a logbook that may not be written or read: {} refused in words, {looked} of {looks_possible} looked",
        tried - looked
    );
    assert_eq!(tried, 5 * COMMANDS.len() - 3 * 2);
    assert_eq!(looked, looks_possible / 3, "in a folder that may be written, all that only look do");
}
