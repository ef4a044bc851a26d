//! The disk is full, at every write of a capture in turn. Each time it is said in words, the logbook opens and holds what
//! it held, and once there is room the next capture is recorded.
//!
//! A disk of its own is mounted where the system lets us; everything goes through the limit on the size of a file as well,
//! which works everywhere. A disk that takes every write and then fails to keep it (`fsync`) is in `failing_disk.rs`.

use clinoblade::logbook::{Location, Logbook};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use support::bench::{Answer, Bench, Running, recorded};

const RESTING: &str = "seed = 3\n[sensor]\nnoise_density_ug_rthz = 150.0\n";
const CAPTURE: [&str; 7] = ["capture", "collective", "mid", "--replay", "resting.log", "--json", "--logbook"];

/// A bench with a setup of one capture, closed.
fn bench() -> Bench {
    let bench = Bench::with_setup();
    bench.write("resting.log", recorded(RESTING, 1.5));
    bench.done(&["capture", "collective", "mid", "--replay", "resting.log"]);
    bench
}

/// The same command where no file may grow beyond so many blocks of 512 bytes; the system tells the program instead of
/// ending it.
fn with_files_up_to(blocks: usize, command: &Command) -> Running {
    let mut limited = Command::new("sh");
    let script = "trap '' XFSZ; ulimit -f \"$1\"; shift; exec \"$@\"";
    limited.args(["-c", script, "sh", &blocks.to_string()]).arg(command.get_program()).args(command.get_args());
    for (name, value) in command.get_envs() {
        match value {
            Some(value) => limited.env(name, value),
            None => limited.env_remove(name),
        };
    }
    limited.current_dir(command.get_current_dir().unwrap());
    limited
        .stdin(std::process::Stdio::null())
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped());
    Running::new(limited)
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

/// Said in words, once, with the exit code of a logbook that failed.
fn assert_refused(answer: &Answer, of: &str) {
    assert_eq!(answer.code, 4, "{of}: {answer}");
    let said = answer.json()["error"].as_str().unwrap().to_owned();
    assert!(said.contains("not recorded") || said.contains("full") || said.contains("cannot be"), "{of}: {said}");
    assert!(!answer.stderr.contains("panicked"), "{of}: {answer}");
}

fn copy(bench: &Bench, to: &Path) {
    fs::copy(bench.logbook(), to).unwrap();
}

#[tokio::test]
async fn no_file_may_grow_any_more_at_each_write_of_a_capture() {
    let bench = bench();
    let (mut refused, mut blocks) = (0, 0);
    loop {
        let path = bench.path(&format!("limited-{blocks}.sqlite"));
        copy(&bench, &path);
        // Another program has it open: its log and index are there already, so that it is the log that cannot grow.
        let other = Logbook::open(&Location::from(path.as_path())).await.unwrap();
        assert_eq!(other.setup_with_entries(1).await.unwrap().entries.len(), 1);
        let name = path.display().to_string();
        let command = bench.command(&[&CAPTURE[..], &[&name]].concat());
        let answer = with_files_up_to(blocks, &command).end(support::bench::LONG);
        let recorded = usize::from(answer.code == 0);
        if recorded == 0 {
            assert_refused(&answer, &format!("{blocks} blocks"));
            refused += 1;
        }
        assert_eq!(other.setup_with_entries(1).await.unwrap().entries.len(), 1 + recorded, "{blocks} blocks: {answer}");
        other.close().await;
        assert_eq!(entries(&path).await, 1 + recorded);
        bench.done(&[&CAPTURE[..], &[&name]].concat());
        assert_eq!(entries(&path).await, 2 + recorded);
        if recorded == 1 {
            break;
        }
        // Half a page of the log and its frame's header: each write fails at its beginning and in its middle.
        blocks += 4;
    }
    println!("{refused} captures refused, one for each half page that the log could not grow; then it was recorded");
    assert!(refused > 8, "{refused}");
}

/// Whatever else writes to the logbook or beside it. What cannot be written whole is not left behind.
#[tokio::test]
async fn no_file_may_grow_any_more_under_the_other_commands() {
    let bench = bench();
    let name = bench.logbook().display().to_string();
    let head = bench.name("head.toml");
    let (mut writes, mut files) = (0, 0);
    for arguments in writers(&head) {
        // Its log and index are there already, so that it is the log that cannot grow.
        let other = Logbook::open(&Location::from(bench.logbook().as_path())).await.unwrap();
        let before = (other.setups(None, 9).await.unwrap(), other.setup_with_entries(1).await.unwrap().entries);
        for blocks in [0, 4, 12] {
            let command = bench.command(&[&arguments[..], &["--json", "--logbook", &name]].concat());
            let answer = with_files_up_to(blocks, &command).end(support::bench::LONG);
            assert_refused(&answer, &format!("{arguments:?} with {blocks} blocks"));
            let after = (other.setups(None, 9).await.unwrap(), other.setup_with_entries(1).await.unwrap().entries);
            assert!(after == before, "{arguments:?} with {blocks} blocks");
            writes += 1;
        }
        other.close().await;
    }
    let other = Logbook::open(&Location::from(bench.logbook().as_path())).await.unwrap();
    other.setup_with_entries(1).await.unwrap();
    let out = bench.name("sheet.html");
    for arguments in [["report", "1", "--out", &out], ["export", "1", "--out", &out]] {
        for blocks in [0, 1, 4] {
            let answer = with_files_up_to(blocks, &bench.command(&arguments)).end(support::bench::LONG);
            assert!(answer.code == 2 && answer.stderr.contains("sheet.html"), "{blocks} blocks: {answer}");
            let beside = fs::read_dir(bench.path("")).unwrap().map(|file| file.unwrap().file_name());
            let left: Vec<_> = beside.filter(|name| name.to_string_lossy().contains("sheet")).collect();
            assert!(left.is_empty(), "{arguments:?} leaves a part behind: {left:?}");
            files += 1;
        }
        bench.done(&arguments);
        fs::remove_file(&out).unwrap();
    }
    other.close().await;
    println!(
        "{writes} other commands refused where no file may grow, {files} sheets and documents not left half written"
    );
    assert_eq!((writes, files), (12, 6));
}

/// Commands that write to the logbook, none of which reads a sensor.
fn writers(head: &str) -> [Vec<&str>; 4] {
    [
        vec!["setup", "new", "--head", head, "--cautions-read", "--close-open"],
        vec!["adjust", "link", "B", "+1"],
        vec!["setup", "withdraw"],
        vec!["datum", "gravity"],
    ]
}

/// A small disk of its own, where the system lets us have one.
struct SmallDisk(PathBuf);

impl SmallDisk {
    fn of(bytes: usize, at: PathBuf) -> Option<Self> {
        fs::create_dir(&at).unwrap();
        let size = format!("size={bytes}");
        let mounted = Command::new("mount").args(["-t", "tmpfs", "-o", &size, "tmpfs"]).arg(&at).output();
        mounted.is_ok_and(|done| done.status.success()).then_some(Self(at))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    /// Fills it up but for so many pages of 4096 bytes.
    fn leave(&self, pages: usize) {
        let mut bytes = 4096;
        let filler = self.path("filler");
        while fs::write(&filler, vec![1; bytes]).is_ok() {
            bytes += 4096;
        }
        let whole = fs::metadata(&filler).unwrap().len() / 4096 * 4096;
        let file = fs::File::options().write(true).open(&filler).unwrap();
        file.set_len(whole.saturating_sub(pages as u64 * 4096)).unwrap();
    }

    fn clear(&self) {
        for file in fs::read_dir(&self.0).unwrap() {
            fs::remove_file(file.unwrap().path()).unwrap();
        }
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).output();
    }
}

#[tokio::test]
async fn a_disk_is_full_at_each_page_that_a_capture_needs() {
    let bench = bench();
    let Some(disk) = SmallDisk::of(400 * 1024, bench.path("disk")) else {
        println!("0 commands on a small disk: none may be mounted here; the limit on the size of a file stands for it");
        return;
    };
    let path = disk.path("club.sqlite");
    let name = path.display().to_string();
    let capture = [&CAPTURE[..], &[&name]].concat();
    let (mut refused, mut pages) = (0, 0);
    loop {
        disk.clear();
        copy(&bench, &path);
        disk.leave(pages);
        let answer = bench.run(&capture);
        let recorded = usize::from(answer.code == 0);
        if recorded == 0 {
            assert_refused(&answer, &format!("{pages} pages"));
            refused += 1;
        }
        fs::remove_file(disk.path("filler")).unwrap();
        assert_eq!(entries(&path).await, 1 + recorded, "{pages} pages: {answer}");
        bench.done(&capture);
        assert_eq!(entries(&path).await, 2 + recorded);
        if recorded == 1 {
            break;
        }
        pages += 1;
    }
    println!("{refused} captures refused on a full disk, one for each page that was missing; then it was recorded");
    assert!(refused > 8, "{refused}");

    let head = bench.name("head.toml");
    let mut said = 0;
    for arguments in writers(&head) {
        for pages in [0, 4, 8, 9, 10] {
            disk.clear();
            copy(&bench, &path);
            disk.leave(pages);
            let answer = bench.run(&[&arguments[..], &["--json", "--logbook", &name]].concat());
            assert!(
                matches!(answer.code, 0 | 1 | 2 | 4) && !answer.stderr.contains("panicked"),
                "{arguments:?}: {answer}"
            );
            if answer.code == 4 {
                assert_refused(&answer, &format!("{arguments:?} with {pages} pages"));
                said += 1;
            }
            fs::remove_file(disk.path("filler")).unwrap();
            assert!(entries(&path).await >= 1);
        }
    }
    println!("{said} other commands refused on a full disk");
    assert!(said >= 6, "{said}");
    // What cannot be written whole is not left behind.
    disk.clear();
    disk.leave(1);
    let out = disk.path("sheet.html").display().to_string();
    for arguments in [["report", "1", "--out", &out], ["export", "1", "--out", &out]] {
        let answer = bench.run(&arguments);
        assert!(answer.code == 2 && answer.stderr.contains("sheet.html"), "{answer}");
        assert!(!disk.path("sheet.html").exists(), "{arguments:?} leaves a part behind");
    }
}

#[tokio::test]
async fn a_raw_log_or_an_answer_that_has_no_room() {
    let bench = bench();
    let answer =
        bench.run(&["capture", "collective", "mid", "--replay", "resting.log", "--json", "--save-raw", "/dev/full"]);
    assert_eq!(answer.code, 2, "{answer}");
    assert!(answer.json()["error"].as_str().unwrap().contains("/dev/full"), "{answer}");
    assert_eq!(entries(&bench.logbook()).await, 1, "without its raw log nothing is recorded");
    // An answer that cannot be printed takes nothing back: what was recorded is recorded.
    let mut command = bench.command(&["capture", "collective", "mid", "--replay", "resting.log"]);
    let full = fs::File::options().write(true).open("/dev/full").unwrap();
    let done = command.stdout(full).output().unwrap();
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(!done.status.success() && said.contains("Cannot print the answer"), "{said}");
    assert!(said.contains("is recorded: do not repeat the step"), "{said}");
    assert_eq!(entries(&bench.logbook()).await, 2);
    // Where nothing was recorded, nothing is said of it.
    let full = fs::File::options().write(true).open("/dev/full").unwrap();
    let looked = bench.command(&["setup", "list"]).stdout(full).output().unwrap();
    let said = String::from_utf8_lossy(&looked.stderr).into_owned();
    assert!(said.contains("Cannot print the answer") && !said.contains("is recorded"), "{said}");
    println!("2 full targets: the raw log and the answer");
}
