//! A program that writes to the logbook is killed at random moments. Each time the logbook opens again, and holds
//! exactly what was reported as recorded: at most the one entry beside it that was on its way to being reported.

use clinoblade::logbook::{Logbook, NewSetup};
use clinoblade::record::Event;
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};
use support::logbook::{capture_entry, head, open, raw};
use support::place::child;
use uuid::Uuid;

/// Tells the child which logbook to write to.
const LOGBOOK: &str = "LOGBOOK_OF_THE_CHILD";

/// Writes until it is killed: not a test, but the program that the tests kill.
#[tokio::test]
#[ignore = "the child of the other tests"]
async fn child_writer() {
    let Ok(path) = std::env::var(LOGBOOK) else { return };
    let logbook = open(Path::new(&path)).await;
    let setup = logbook.new_setup(NewSetup::of(head("Trainer"))).await.unwrap();
    report(&format!("setup {}", setup.number));
    for seed in 0.. {
        let entry = capture_entry("elevator up");
        logbook.append(setup.number, &entry, Some(&raw(seed))).await.unwrap();
        report(&format!("entry {}", entry.id));
    }
}

fn report(line: &str) {
    let mut out = std::io::stdout().lock();
    writeln!(out, "reported {line}").unwrap();
    out.flush().unwrap();
}

/// What one child reported before it was killed.
#[derive(Debug, Default)]
struct Reported {
    setup: Option<u32>,
    entries: Vec<Uuid>,
}

/// From when the time to the kill is counted.
#[derive(Clone, Copy, PartialEq)]
enum Since {
    /// The child's start: it may not even have opened the logbook.
    Start,
    /// Its first report: it appends one entry after the other.
    FirstReport,
}

/// Starts a child, kills it after `life`, and gives what it reported. A line that breaks off was never reported.
fn killed_after(path: &Path, since: Since, life: Duration) -> Reported {
    let mut child =
        child("kill::child_writer").env(LOGBOOK, path).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let mut stdout = BufReader::new(child.stdout.take().unwrap());
    let mut output = String::new();
    while since == Since::FirstReport && !output.contains("reported ") {
        assert!(stdout.read_line(&mut output).unwrap() > 0, "the child ended by itself: {output}");
    }
    std::thread::sleep(life);
    assert!(child.try_wait().unwrap().is_none(), "the child ended by itself: {output}");
    child.kill().unwrap();
    child.wait().unwrap();
    stdout.read_to_string(&mut output).unwrap();
    let whole_lines = output.rsplit_once('\n').map_or("", |(whole, _)| whole);
    let mut reported = Reported::default();
    for line in whole_lines.lines().filter_map(|line| line.split_once("reported ").map(|(_, said)| said)) {
        match line.split_once(' ').unwrap() {
            ("setup", number) => reported.setup = Some(number.parse().unwrap()),
            (_, entry) => reported.entries.push(entry.parse().unwrap()),
        }
    }
    reported
}

/// Holds one setup against what was reported of it.
async fn hold_against(logbook: &Logbook, number: u32, reported: &[Uuid]) {
    let kept = logbook.setup_with_entries(number).await.unwrap();
    let ids: Vec<Uuid> = kept.entries.iter().map(|entry| entry.id).collect();
    assert_eq!(&ids[..reported.len().min(ids.len())], reported, "setup {number}: all that was reported, in order");
    assert!(ids.len() <= reported.len() + 1, "setup {number}: {} beyond what was reported", ids.len() - reported.len());
    for (seed, entry) in kept.entries.iter().enumerate() {
        assert!(matches!(entry.event, Event::Capture(_)));
        assert!(logbook.raw_samples(entry.id).await.unwrap() == raw(seed as u32), "setup {number}: samples {seed}");
    }
    let lines = logbook.setups(None, u32::MAX).await.unwrap();
    let line = lines.iter().find(|line| line.number == number).unwrap();
    assert_eq!((line.entries as usize, line.captures as usize), (ids.len(), ids.len()));
}

/// Random, but the same in every run; the moments that they lead to never are.
struct Moments(u64);

impl Moments {
    /// Anywhere in the next `longest` milliseconds.
    fn within(&mut self, longest: u64) -> Duration {
        // Steele, Lea, Flood: SplitMix64 (OOPSLA 2014).
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        Duration::from_micros((z ^ (z >> 31)) % (longest * 1000))
    }
}

#[tokio::test]
async fn killed_at_200_random_moments_the_logbook_holds_what_was_reported() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("club.sqlite");
    open(&path).await.close().await;
    let mut moments = Moments(1);
    let mut all: BTreeMap<u32, usize> = BTreeMap::new();
    let (mut beyond, mut recorded) = (0, 0);
    for round in 0..200 {
        let reported = match round % 4 {
            0 => killed_after(&path, Since::Start, moments.within(60)),
            _ => killed_after(&path, Since::FirstReport, moments.within(30)),
        };
        let logbook = open(&path).await;
        let numbers: Vec<u32> = logbook.setups(None, u32::MAX).await.unwrap().iter().rev().map(|s| s.number).collect();
        assert_eq!(numbers, (1..=numbers.len() as u32).collect::<Vec<_>>(), "setups are numbered without a gap");
        assert!(numbers.len() <= all.len() + 1);
        assert!(reported.setup.is_none_or(|number| number as usize == numbers.len()));
        if numbers.len() > all.len() {
            let number = numbers.len() as u32;
            hold_against(&logbook, number, &reported.entries).await;
            let kept = logbook.setup_with_entries(number).await.unwrap().entries.len();
            beyond += kept - reported.entries.len();
            recorded += kept;
            all.insert(number, kept);
        }
        // Closing would tidy up: half of the time the next child finds the files as the kill left them.
        if round % 2 == 0 {
            logbook.close().await;
        }
    }
    let logbook = open(&path).await;
    for (number, kept) in &all {
        assert_eq!(
            logbook.setup_with_entries(*number).await.unwrap().entries.len(),
            *kept,
            "setup {number} is as it was"
        );
    }
    println!(
        "200 kills: {} setups, {recorded} captures, {beyond} recorded a moment before they were reported",
        all.len()
    );
    assert!(recorded > 100, "the children were killed at work, not before it: {recorded}");
}

#[tokio::test]
async fn killed_while_the_logbook_is_made_it_opens_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut moments = Moments(2);
    let (mut unfinished, mut made) = (0, Duration::ZERO);
    for round in 0..60 {
        // How long it takes until the logbook is made, asked now and then, because a machine has other work too.
        if round % 10 == 0 {
            let begun = Instant::now();
            let whole = folder.path().join(format!("whole-{round}.sqlite"));
            assert!(killed_after(&whole, Since::FirstReport, Duration::ZERO).setup.is_some());
            made = begun.elapsed();
        }
        let path = folder.path().join(format!("{round}.sqlite"));
        // A tenth more, so that some are killed behind it.
        let reported = killed_after(&path, Since::Start, moments.within((made.as_millis() as u64).max(1) * 11 / 10));
        unfinished += u32::from(reported.setup.is_none() && path.exists());
        let logbook = open(&path).await;
        if let Some(number) = reported.setup {
            hold_against(&logbook, number, &reported.entries).await;
        }
        logbook.close().await;
    }
    println!("60 kills: {unfinished} while the file was being made, which took {:.1} ms", made.as_secs_f64() * 1e3);
    assert!(unfinished > 5, "{unfinished} were killed while the file was being made");
}
