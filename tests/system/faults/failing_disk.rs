//! A disk that takes every write and then fails to keep it: `fsync` fails, at each of the calls of a capture in turn, once or from
//! then on. What is reported as recorded is there; what is refused is said, and the logbook opens and holds what it held.
//!
//! A small library is put before the system's own calls, so nothing is brought to the disk at all in these tests: what is tried is
//! what the program makes of the answer.

use clinoblade::logbook::{Location, Logbook};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use support::bench::{Answer, Bench, LONG, Running, recorded};
use support::place::project;

const RESTING: &str = "seed = 3\n[sensor]\nnoise_density_ug_rthz = 150.0\n";
const CAPTURE: [&str; 7] = ["capture", "collective", "mid", "--replay", "resting.log", "--json", "--logbook"];

/// A bench with a setup of one capture, and the library.
fn bench() -> (Bench, PathBuf) {
    let bench = Bench::with_setup();
    bench.write("resting.log", recorded(RESTING, 1.5));
    bench.done(&["capture", "collective", "mid", "--replay", "resting.log"]);
    let library = bench.path("failing_fsync.so");
    let source = project("tests/system/faults/failing_fsync.c");
    let built = Command::new("cc").args(["-shared", "-fPIC", "-o"]).arg(&library).arg(source).output().unwrap();
    assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
    (bench, library)
}

/// Runs it while the calls from this one up to that one fail, and says how many there were.
fn failing(bench: &Bench, library: &Path, arguments: &[&str], from: usize, to: usize) -> (Answer, usize) {
    let count = bench.path("count");
    let _ = fs::remove_file(&count);
    let mut command = bench.command(arguments);
    command.env("LD_PRELOAD", library).env("FSYNC_COUNT", &count);
    command.env("FSYNC_FAILS_FROM", from.to_string()).env("FSYNC_FAILS_TO", to.to_string());
    let answer = Running::new(command).end(LONG);
    (answer, fs::metadata(&count).map_or(0, |count| count.len() as usize))
}

async fn entries(path: &Path) -> usize {
    let logbook = Logbook::open(&Location::from(path)).await.unwrap();
    let kept = logbook.setup_with_entries(1).await.unwrap();
    for entry in &kept.entries {
        assert!(logbook.raw_samples(entry.id).await.unwrap().samples.len() > 10);
    }
    logbook.close().await;
    kept.entries.len()
}

#[tokio::test]
async fn fsync_fails_at_each_call_of_a_capture() {
    let (bench, library) = bench();
    let (mut refused, mut recorded_all_the_same, mut tried) = (0, 0, 0);
    for (what, last) in [("once", 0), ("from then on", usize::MAX / 2)] {
        for call in 1.. {
            let path = bench.path(&format!("{what}-{call}.sqlite"));
            fs::copy(bench.logbook(), &path).unwrap();
            let name = path.display().to_string();
            let capture = [&CAPTURE[..], &[&name]].concat();
            let (answer, calls) = failing(&bench, &library, &capture, call, last.max(call));
            if calls < call {
                break;
            }
            tried += 1;
            let of = format!("call {call} of {calls} fails {what}: {answer}");
            assert!(!answer.stderr.contains("panicked"), "{of}");
            let there = entries(&path).await;
            if answer.code == 0 {
                assert_eq!(there, 2, "reported as recorded, and not there: {of}");
                recorded_all_the_same += 1;
            } else {
                assert_eq!(answer.code, 4, "{of}");
                assert!(answer.json()["error"].as_str().unwrap().len() > 40, "{of}");
                // The step may be there after all: it was written, and only its keeping is not known.
                assert!((1..=2).contains(&there), "{of}");
                refused += 1;
            }
            bench.done(&capture);
            assert_eq!(entries(&path).await, there + 1, "the next one is recorded: {of}");
        }
    }
    println!(
        "{tried} failing fsyncs under a capture: {refused} refused, {recorded_all_the_same} recorded all the same; nothing lost"
    );
    assert!(refused >= 2 && tried >= 4, "{tried} {refused}");
    // Where nothing fails, it is recorded.
    let (answer, calls) =
        failing(&bench, &library, &[&CAPTURE[..], &[&bench.logbook().display().to_string()]].concat(), 0, 0);
    assert!(answer.code == 0 && calls > 1, "{calls}: {answer}");
    assert_eq!(entries(&bench.logbook()).await, 2);
}

/// What is written beside the logbook: a sheet, a document, a backup.
#[tokio::test]
async fn a_file_that_cannot_be_kept_is_not_left_behind() {
    let (bench, library) = bench();
    let mut refused = 0;
    for (arguments, name) in [
        (["report", "1", "--out", "out.html"].as_slice(), "out.html"),
        (&["export", "1", "--out", "out.json"], "out.json"),
        (&["backup", "--out", "out.sqlite"], "out.sqlite"),
    ] {
        let (whole, calls) = failing(&bench, &library, arguments, 0, 0);
        assert_eq!(whole.code, 0, "{whole}");
        let before = fs::read(bench.path(name)).unwrap();
        assert!(calls > 0, "{arguments:?} brings nothing to the disk");
        if name == "out.json" {
            fs::remove_file(bench.path(name)).unwrap();
        }
        let (answer, _) = failing(&bench, &library, arguments, 1, usize::MAX / 2);
        assert!(matches!(answer.code, 2 | 4) && !answer.stderr.contains("panicked"), "{arguments:?}: {answer}");
        match fs::read(bench.path(name)) {
            Ok(there) => assert!(there == before, "{arguments:?}: the earlier one is not what it was"),
            Err(_) => assert_eq!(name, "out.json", "{arguments:?}: the earlier one is gone"),
        }
        let left: Vec<_> = fs::read_dir(bench.path("")).unwrap().map(|file| file.unwrap().file_name()).collect();
        assert!(left.iter().all(|file| !file.to_string_lossy().contains(".part")), "{arguments:?}: {left:?}");
        refused += 1;
    }
    println!("{refused} files refused that a disk does not keep, none left half written");
    assert_eq!(entries(&bench.logbook()).await, 1);
}
