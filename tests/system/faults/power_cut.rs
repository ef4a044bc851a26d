//! The power goes. Of a logbook's three files (itself, its log, the log's index) a disk then holds everything that it was
//! told to keep, and of the rest anything: nothing, a part, another order, garbage.
//!
//! The first three tests do what a power cut can do; everything that was reported as recorded must be there. The other two do
//! more than that, as a failing disk does: then what is there is right, or the damage is named.

use clinoblade::logbook::{KeptSetup, Location, Logbook, LogbookError};
use clinoblade::record::{Entry, RawSamples};
use clinoblade::words::{Face, Say};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions, Connection};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use support::dice::Dice;
use support::logbook::{capture_entry, club_setup, raw};

/// What a disk writes at once.
const SECTOR: usize = 512;

/// The files of a logbook at one moment.
#[derive(Debug, Clone)]
struct Files {
    book: Vec<u8>,
    log: Vec<u8>,
    index: Option<Vec<u8>>,
}

fn beside(path: &Path, suffix: &str) -> PathBuf {
    PathBuf::from(format!("{}{suffix}", path.display()))
}

impl Files {
    fn of(path: &Path) -> Self {
        let read = |suffix| fs::read(beside(path, suffix)).ok();
        Self { book: fs::read(path).unwrap(), log: read("-wal").unwrap_or_default(), index: read("-shm") }
    }

    fn put(&self, path: &Path) {
        fs::write(path, &self.book).unwrap();
        let _ = fs::remove_file(beside(path, "-wal"));
        let _ = fs::remove_file(beside(path, "-shm"));
        if !self.log.is_empty() {
            fs::write(beside(path, "-wal"), &self.log).unwrap();
        }
        if let Some(index) = &self.index {
            fs::write(beside(path, "-shm"), index).unwrap();
        }
    }
}

/// A setup that was recorded entry by entry, with the files as they were after each.
struct Told {
    entries: Vec<(Entry, RawSamples)>,
    /// After the setup was begun, after its first entry, and so on.
    after: Vec<Files>,
    /// The same, where the log was written back then: just before that.
    before_writing_back: Vec<Files>,
    /// After everything was written back and closed.
    closed: Files,
    setup: KeptSetup,
}

async fn told(entries: usize) -> Told {
    told_with(entries, |_| false).await
}

/// The same, the log written back beside it after some of the entries; then the next one begins the log anew.
async fn told_with(entries: usize, written_back: impl Fn(usize) -> bool) -> Told {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("club.sqlite");
    let logbook = Logbook::open(&Location::from(path.as_path())).await.unwrap();
    let number = logbook.new_setup(club_setup()).await.unwrap().number;
    let (mut kept, mut after) = (Vec::new(), vec![Files::of(&path)]);
    let mut before_writing_back = after.clone();
    for seed in 0..entries {
        let (entry, mut raw) = (capture_entry("elevator up"), raw(seed as u32));
        raw.samples.truncate(40 + 60 * (seed % 5));
        assert_eq!(logbook.append(number, &entry, Some(&raw)).await.unwrap() as usize, seed + 1);
        kept.push((entry, raw));
        let recorded = Files::of(&path);
        if written_back(seed) {
            write_back(&path).await;
        }
        before_writing_back.push(recorded);
        after.push(Files::of(&path));
    }
    let setup = logbook.setup_with_entries(number).await.unwrap();
    logbook.close().await;
    let closed = Files::of(&path);
    assert!(closed.log.is_empty() && closed.index.is_none());
    Told { entries: kept, before_writing_back, after, closed, setup }
}

/// How a logbook was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Found {
    /// With so many entries, each of them as it was told.
    Whole(usize),
    /// The damage was named when it was opened, or when the damaged part was read.
    Named,
}

/// Opens what is at the path and reads all of it. Anything but what was told, or words, fails.
async fn read_all(path: &Path, told: &Told, of: &str) -> Found {
    match read_each(path, told, of).await {
        Ok(entries) => Found::Whole(entries),
        Err(
            error @ (LogbookError::Damaged { .. }
            | LogbookError::NotALogbook(_)
            | LogbookError::Newer { .. }
            | LogbookError::Altered { .. }
            | LogbookError::NotUnderstood { .. }
            | LogbookError::Samples { .. }
            | LogbookError::Failed { .. }),
        ) => {
            let said = error.say(Face::Terminal);
            assert!(said.len() > 20, "{of}: in words: {said}");
            Found::Named
        }
        Err(error) => panic!("{of}: not the words for damage: {error:?}"),
    }
}

async fn read_each(path: &Path, told: &Told, of: &str) -> Result<usize, LogbookError> {
    let logbook = Logbook::open(&Location::from(path)).await?;
    let kept = logbook.setup_with_entries(1).await?;
    assert_eq!(kept.setup, told.setup.setup, "{of}: the setup");
    assert!(kept.entries.len() <= told.entries.len(), "{of}");
    for (at, (entry, (wanted, samples))) in kept.entries.iter().zip(&told.entries).enumerate() {
        assert_eq!(entry.id, wanted.id, "{of}: entry {at} is another one");
        assert_eq!(*entry, told.setup.entries[at], "{of}: entry {at} says something else");
        assert!(logbook.raw_samples(entry.id).await? == *samples, "{of}: the raw samples of entry {at}");
    }
    Ok(kept.entries.len())
}

/// What stands on a disk where something was being written: the old, the new, and where it was torn neither.
fn torn(dice: &mut Dice, old: &[u8], new: &[u8], garbage: bool) -> Vec<u8> {
    let mut bytes = old.to_vec();
    bytes.resize(new.len().max(old.len()), 0);
    for (at, sector) in bytes.chunks_mut(SECTOR).enumerate() {
        let from = at * SECTOR;
        let new = new.get(from..(from + sector.len()).min(new.len())).unwrap_or_default();
        match dice.below(if garbage { 4 } else { 2 }) {
            0 => sector[..new.len()].copy_from_slice(new),
            2 => sector.fill_with(|| dice.byte()),
            3 => sector.fill(0),
            _ => {}
        }
    }
    bytes
}

/// The index is never brought to the disk: after a power cut it may be anything.
fn any_index(dice: &mut Dice, told: &Told) -> Option<Vec<u8>> {
    match dice.below(4) {
        0 => None,
        1 => Some(Vec::new()),
        2 => Some((0..32_768).map(|_| dice.byte()).collect()),
        _ => dice.one_of(&told.after).index.clone(),
    }
}

#[tokio::test]
async fn the_power_goes_while_the_next_entries_are_written_and_what_was_reported_is_there() {
    const CUTS: usize = 400;
    let told = told(12).await;
    let (folder, mut dice) = (tempfile::tempdir().unwrap(), Dice::new(1));
    let (mut exactly, mut more) = (0, 0);
    for cut in 0..CUTS {
        let path = folder.path().join(format!("{cut}.sqlite"));
        // Reported is what stands in the log up to here; what comes after it was on its way.
        let reported = dice.below(told.after.len() - 1);
        let going = dice.between(reported + 1, told.after.len());
        let (sure, whole) = (&told.after[reported].log, &told.after[going].log);
        let end = dice.between(sure.len(), whole.len() + 1);
        let mut log = whole[..end].to_vec();
        let unsure = log.split_off(sure.len().min(end));
        log.extend(match dice.below(3) {
            0 => unsure,
            _ => torn(&mut dice, &vec![0; unsure.len()], &unsure, true),
        });
        let index = any_index(&mut dice, &told);
        Files { book: told.after[reported].book.clone(), log, index }.put(&path);
        match read_all(&path, &told, &format!("cut {cut}")).await {
            Found::Whole(there) => {
                assert!(there >= reported, "cut {cut}: {reported} were reported, {there} are there");
                exactly += usize::from(there == reported);
                more += usize::from(there > reported);
            }
            Found::Named => panic!("cut {cut}: a power cut does no damage"),
        }
        for suffix in ["", "-wal", "-shm"] {
            let _ = fs::remove_file(beside(&path, suffix));
        }
    }
    println!(
        "{CUTS} power cuts while writing: {exactly} with what was reported, {more} with an entry beyond it, none lost"
    );
    assert!(exactly > CUTS / 4 && more > CUTS / 20);
}

/// While the log is written back into the file, any sector of the file may be old, new, or torn; the log is whole.
#[tokio::test]
async fn the_power_goes_while_the_log_is_written_back_and_everything_is_there() {
    const CUTS: usize = 150;
    let told = told(10).await;
    let last = told.after.last().unwrap().clone();
    let (folder, mut dice) = (tempfile::tempdir().unwrap(), Dice::new(2));
    for cut in 0..CUTS {
        let path = folder.path().join(format!("{cut}.sqlite"));
        let mut book = torn(&mut dice, &last.book, &told.closed.book, cut % 2 == 0);
        // The first sector holds no more than a header that both share, but for its counters; and it is one write.
        book[..SECTOR].copy_from_slice(&dice.one_of(&[&last.book, &told.closed.book])[..SECTOR]);
        if dice.below(3) == 0 {
            book.truncate(dice.between(last.book.len(), book.len() + 1));
        }
        let index = any_index(&mut dice, &told);
        Files { book, log: last.log.clone(), index }.put(&path);
        let found = read_all(&path, &told, &format!("cut {cut}")).await;
        assert_eq!(found, Found::Whole(told.entries.len()), "cut {cut}");
    }
    println!("{CUTS} power cuts while the log was written back: all {} entries there each time", told.entries.len());
}

/// The front of a log: from its first byte on it says which of its frames count.
const LOG_HEADER: usize = 32;

/// Another program writes the log back, as one does that has much to record. Once nobody reads in it any more, the next
/// entry begins it anew: its front is overwritten and brought to the disk, then its frames one after the other.
async fn write_back(path: &Path) {
    let mut beside = SqliteConnectOptions::new().filename(path).connect().await.unwrap();
    let (busy, frames, done): (i64, i64, i64) =
        sqlx::query_as("PRAGMA wal_checkpoint(PASSIVE)").fetch_one(&mut beside).await.unwrap();
    assert!(busy == 0 && frames == done && done > 0, "{busy} {frames} {done}");
    // Closing it is no business of ours: what was open stays as it is.
    beside.close().await.unwrap();
}

/// The power goes in a log that begins anew again and again: while it is written back, while its front is overwritten, and
/// while its frames are, with those of an earlier round behind them.
#[tokio::test]
async fn the_power_goes_in_a_log_that_begins_anew_and_what_was_reported_is_there() {
    const CUTS: usize = 150;
    let told = told_with(12, |seed| seed % 3 == 1).await;
    let rounds: Vec<bool> =
        told.after.windows(2).map(|two| two[0].log[..LOG_HEADER] != two[1].log[..LOG_HEADER]).collect();
    let anew = rounds.iter().filter(|anew| **anew).count();
    let (folder, mut dice) = (tempfile::tempdir().unwrap(), Dice::new(5));
    let mut tried = BTreeMap::new();
    for cut in 0..CUTS {
        let path = folder.path().join(format!("{cut}.sqlite"));
        let reported = dice.below(told.after.len() - 1);
        let (sure, going) = (&told.after[reported], &told.before_writing_back[reported + 1]);
        let after = &told.after[reported + 1];
        let (what, book, log, least) = if after.book != going.book && dice.below(2) == 0 {
            let mut book = torn(&mut dice, &going.book, &after.book, cut % 2 == 0);
            // What an earlier round wrote back is not in this log, and is not written again.
            for ((now, old), new) in
                book.chunks_mut(SECTOR).zip(going.book.chunks(SECTOR)).zip(after.book.chunks(SECTOR))
            {
                if old == new {
                    now.copy_from_slice(new);
                }
            }
            // The first sector is one write, as it is when the log is written back at the end.
            let first = dice.one_of(&[&going.book, &after.book])[..SECTOR].to_vec();
            ("written back", [&first[..], &book[SECTOR..]].concat(), going.log.clone(), reported + 1)
        } else if rounds[reported] && dice.below(2) == 0 {
            let mut log = sure.log.clone();
            let front = torn(&mut dice, &sure.log[..LOG_HEADER], &going.log[..LOG_HEADER], true);
            log[..LOG_HEADER].copy_from_slice(&front);
            ("its front", sure.book.clone(), log, reported)
        } else {
            // What is the same in both is not written again.
            let same = sure.log.iter().zip(&going.log).take_while(|(old, new)| old == new).count();
            let begun = if rounds[reported] { LOG_HEADER } else { same };
            let mut log = going.log[..begun].to_vec();
            log.extend(torn(&mut dice, &sure.log[begun.min(sure.log.len())..], &going.log[begun..], true));
            ("its frames", sure.book.clone(), log, reported)
        };
        Files { book, log, index: any_index(&mut dice, &told) }.put(&path);
        let found = read_all(&path, &told, &format!("cut {cut} ({what}, {reported} reported)")).await;
        let Found::Whole(there) = found else { panic!("cut {cut} ({what}): a power cut does no damage") };
        assert!(
            (least..=reported + 1).contains(&there),
            "cut {cut} ({what}): {there} are there of {reported} reported"
        );
        *tried.entry(what).or_insert(0) += 1;
    }
    println!("{CUTS} power cuts in a log that began anew {anew} times: {tried:?}, none lost an entry");
    assert!(anew == 4 && tried.len() == 3 && tried.values().all(|cuts| *cuts > 10), "{anew} {tried:?}");
}

/// A disk that lied: the log is cut or overwritten where it was said to be safe. What comes before is there.
#[tokio::test]
async fn a_log_that_is_cut_or_overwritten_anywhere_gives_what_came_before_or_the_damage_is_named() {
    const CUTS: usize = 250;
    let told = told(8).await;
    let last = told.after.last().unwrap().clone();
    let (folder, mut dice, mut found) = (tempfile::tempdir().unwrap(), Dice::new(3), BTreeMap::new());
    for cut in 0..CUTS {
        let path = folder.path().join(format!("{cut}.sqlite"));
        let mut log = last.log.clone();
        let at = dice.below(log.len());
        match dice.below(3) {
            0 => log.truncate(at),
            1 => log[at] ^= 1 << dice.below(8),
            _ => {
                let end = (at + SECTOR).min(log.len());
                log[at..end].fill_with(|| dice.byte());
            }
        }
        let damaged = log.iter().zip(&last.log).position(|(now, was)| now != was).unwrap_or(log.len());
        Files { book: last.book.clone(), log, index: any_index(&mut dice, &told) }.put(&path);
        // What was whole in the log before its first damaged byte.
        let before = told.after.iter().rposition(|state| state.log.len() <= damaged).unwrap_or(0);
        // With nothing of the log left there is no setup either, nor any table.
        let as_found = match read_each(&path, &told, &format!("cut {cut}")).await {
            Err(LogbookError::NoSetup(1)) => Found::Whole(0),
            Ok(entries) => Found::Whole(entries),
            Err(_) => read_all(&path, &told, &format!("cut {cut}")).await,
        };
        assert!(
            as_found == Found::Whole(before) || as_found == Found::Named,
            "cut {cut}: damaged from byte {damaged} on, {before} entries before it, {as_found:?}"
        );
        *found.entry(as_found).or_insert(0) += 1;
    }
    println!("{CUTS} logs cut or overwritten anywhere: {found:?}");
    assert!(found.len() > 3, "{found:?}");
}

/// One wrong bit, anywhere in the log that a program left which was killed. What cannot be read behind it is named, and the log is
/// kept as it was.
#[tokio::test]
async fn one_wrong_bit_in_the_log_takes_no_entry_without_a_word() {
    const BITS: usize = 300;
    let told = told_with(9, |seed| seed == 4).await;
    let (folder, mut dice) = (tempfile::tempdir().unwrap(), Dice::new(6));
    let (mut named, mut refused, mut harmless) = (0, 0, 0);
    for bit in 0..BITS {
        let path = folder.path().join(format!("{bit}.sqlite"));
        // The front, and the frame in which the last step ends, as often as any other place.
        let mut files = dice.one_of(&told.after[2..]).clone();
        let reported = told.after.iter().position(|state| state.log == files.log).unwrap();
        let end = files.log.len();
        let at = match dice.below(4) {
            0 => dice.below(LOG_HEADER),
            1 => end - 1 - dice.below(4096.min(end)),
            _ => dice.below(end),
        };
        files.log[at] ^= 1 << dice.below(8);
        files.index = any_index(&mut dice, &told);
        files.put(&path);
        let of = format!("bit {bit}: byte {at} of {end}, {reported} reported");
        match Logbook::open(&Location::from(path.as_path())).await {
            Err(error) => {
                assert!(matches!(error, LogbookError::Damaged { .. }), "{of}: {error:?}");
                assert!(fs::read(beside(&path, "-wal")).unwrap() == files.log, "{of}: a refused log stays as it was");
                refused += 1;
            }
            Ok(logbook) => {
                let there = logbook.setup_with_entries(1).await.map_or(0, |kept| kept.entries.len());
                match logbook.broken_log() {
                    Some(broken) => {
                        assert!(fs::read(&broken.copy).unwrap() == files.log, "{of}: the copy");
                        assert!(broken.say(Face::Terminal).contains("capture again what is missing"));
                        named += 1;
                    }
                    None => {
                        assert!(there >= reported, "{of}: {there} are there, and not a word");
                        harmless += 1;
                    }
                }
                logbook.close().await;
                // Said once: what was whole is in the file now.
                let again = Logbook::open(&Location::from(path.as_path())).await.unwrap();
                assert!(again.broken_log().is_none(), "{of}");
                again.close().await;
            }
        }
    }
    println!(
        "{BITS} wrong bits in a log: {named} named, {refused} refused, {harmless} without any loss; no entry lost unsaid"
    );
    assert!(named > BITS / 2, "{named} {refused} {harmless}");
}

/// A program that is killed leaves a log that is whole, or breaks off; one that began anew has frames of an earlier round behind
/// its end. Nothing is said of these.
#[tokio::test]
async fn a_log_as_a_killed_program_leaves_it_is_no_damage() {
    let told = told_with(12, |seed| seed % 3 == 1).await;
    let (folder, mut dice, mut tried) = (tempfile::tempdir().unwrap(), Dice::new(7), 0);
    for (at, state) in told.after.iter().chain(&told.before_writing_back).enumerate() {
        for cut in [0, 1 + dice.below(4000)] {
            let path = folder.path().join(format!("{at}-{cut}.sqlite"));
            let mut files = state.clone();
            // Only what was on its way can be cut off.
            files.log.truncate(files.log.len().saturating_sub(cut).max(LOG_HEADER.min(files.log.len())));
            files.index = None;
            files.put(&path);
            if let Ok(logbook) = Logbook::open(&Location::from(path.as_path())).await {
                assert_eq!(logbook.broken_log(), None, "state {at}, {cut} bytes short");
                logbook.close().await;
                tried += 1;
            }
        }
    }
    println!("{tried} logs of killed programs: none taken for a damaged one");
    assert!(tried > 40, "{tried}");
}

/// Bytes overwritten, sectors lost, the end cut off, in a closed logbook: never a value that nobody read.
#[tokio::test]
async fn a_damaged_logbook_never_says_what_was_not_recorded() {
    const DAMAGES: usize = 500;
    let told = told(8).await;
    let (folder, mut dice, mut found) = (tempfile::tempdir().unwrap(), Dice::new(4), BTreeMap::new());
    for damage in 0..DAMAGES {
        let path = folder.path().join(format!("{damage}.sqlite"));
        let mut files = told.closed.clone();
        let at = dice.below(files.book.len());
        let sector = at / SECTOR * SECTOR;
        let kind = damage % 5;
        match kind {
            0 => files.book.truncate(at),
            1 => files.book[at] ^= 1 << dice.below(8),
            2 => files.book[sector..sector + SECTOR].fill(0),
            3 => files.book[sector..sector + SECTOR].fill_with(|| dice.byte()),
            // A sector of another place, as a disk does that mixes them up.
            _ => {
                let from = dice.below(files.book.len() / SECTOR) * SECTOR;
                files.book.copy_within(from..from + SECTOR, sector);
            }
        }
        files.put(&path);
        let as_found = read_all(&path, &told, &format!("damage {damage} (kind {kind} at byte {at})")).await;
        if let Found::Whole(there) = as_found {
            assert_eq!(
                there,
                told.entries.len(),
                "damage {damage} (kind {kind} at byte {at}): entries are gone unsaid"
            );
        }
        *found.entry(as_found).or_insert(0) += 1;
    }
    println!("{DAMAGES} damaged logbooks: {found:?}");
    assert!(found.len() == 2, "{found:?}");
}
