//! Captures a second with full durability, and how quickly a logbook that has grown answers, in both engines.
//!
//! A capture with two seconds of raw samples is on the disk when its call returns. What that is held against is the disk
//! itself: as many bytes appended to a file and synchronised, one capture after the other. The questions are those of `setup list`,
//! `compare` and `history`, and then the commands themselves, from their start to their end.

use super::grown::{ENTRIES, fill, heads_of, name_of};
use super::line::Line;
use super::quantiles::Quantiles;
use super::{Size, Told};
use clinoblade::logbook::{Location, Logbook};
use clinoblade::rig::noise::Random;
use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::time::Instant;
use support::logbook::{capture_entry, club_setup, raw};
use support::postgres::{Server, is_installed};

/// Every answer within this in 95 of a hundred cases, milliseconds.
const WITHIN: f64 = 50.0;
/// How often each question is asked, and a whole command started.
const TIMES: usize = 200;
const COMMANDS: usize = 40;

pub fn measure(size: Size, told: &mut Told) {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    let grown: &[u32] = size.or(&[100, 10_000, 100_000], &[100, 1000]);
    let folder = tempfile::tempdir().expect("a folder");
    let file = |name: &str| Location::File(folder.path().join(name));
    runtime.block_on(captures("SQLite", &file("captures.sqlite"), folder.path(), size, told));
    for &setups in grown {
        runtime.block_on(ask("SQLite", &file(&format!("{setups}.sqlite")), setups, told));
    }
    if !is_installed() {
        told.tell(&Line::new("logbook", "PostgreSQL", "not measured: no server is installed"));
        return;
    }
    let server = Server::with("-c fsync=on");
    assert_eq!(server.ask("postgres", "SHOW fsync"), "on", "a capture is on its disk");
    let database = |name: &str| server.database(name).parse().expect("its URL");
    runtime.block_on(captures("PostgreSQL", &database("captures"), folder.path(), size, told));
    for &setups in grown {
        runtime.block_on(ask("PostgreSQL", &database(&format!("grown_{setups}")), setups, told));
    }
}

/// One capture after the other, each waited for.
async fn captures(engine: &str, place: &Location, folder: &Path, size: Size, told: &mut Told) {
    let logbook = Logbook::open(place).await.expect("the logbook");
    let setup = logbook.new_setup(club_setup()).await.expect("a setup").number;
    let count = size.or(500, 50);
    let begun = Instant::now();
    for seed in 0..count {
        logbook.append(setup, &capture_entry("elevator up"), Some(&raw(seed))).await.expect("a capture");
    }
    let ours = f64::from(count) / begun.elapsed().as_secs_f64();
    logbook.close().await;
    let bytes = serde_json::to_vec(&raw(0).samples).expect("a document").len();
    let disk = synchronised(&folder.join("synchronised"), bytes, count);
    told.tell(
        &Line::new("logbook", format!("{engine}, captures"), format!("{ours:.0} /s"))
            .against(format!("write and fdatasync: {disk:.0} /s"), ours / disk),
    );
}

/// How often a second the disk takes so many bytes for good.
fn synchronised(path: &Path, bytes: usize, count: u32) -> f64 {
    let (mut file, piece) = (std::fs::File::create(path).expect("a file"), vec![1; bytes]);
    let begun = Instant::now();
    for _ in 0..count {
        file.write_all(&piece).expect("room");
        file.sync_data().expect("a disk");
    }
    f64::from(count) / begun.elapsed().as_secs_f64()
}

async fn ask(engine: &str, place: &Location, setups: u32, told: &mut Told) {
    fill(place, setups).await;
    // As a command finds it: opened anew.
    let logbook = Logbook::open(place).await.expect("the logbook");
    let mut chance = Random::new(u64::from(setups));
    let mut any = || (chance.bits() % u64::from(setups)) as u32 + 1;
    let mut answered = |what: &str, times: Vec<f64>| {
        let times = Quantiles::of(times);
        let figure = format!("median {:.2} ms, 95 % {:.2} ms", times.at(0.5), times.at(0.95));
        told.tell(
            &Line::new("logbook", format!("{engine} {setups}, {what}"), figure)
                .against("95 % within 50 ms", times.at(0.95) / WITHIN)
                .goal("< 1", times.at(0.95) < WITHIN),
        );
    };
    let mut times = Vec::new();
    for _ in 0..TIMES {
        let clock = Instant::now();
        let listed = logbook.setups(None, 20).await.expect("the list");
        times.push(milliseconds(clock));
        assert_eq!(listed.len(), 20.min(setups as usize));
    }
    answered("the newest", std::mem::take(&mut times));
    for _ in 0..TIMES {
        let (one, other) = (any(), any());
        let clock = Instant::now();
        let pair = [logbook.setup_with_entries(one).await, logbook.setup_with_entries(other).await];
        times.push(milliseconds(clock));
        assert!(pair.into_iter().all(|setup| setup.expect("a setup").entries.len() == ENTRIES));
    }
    answered("two setups", std::mem::take(&mut times));
    for _ in 0..TIMES {
        let name = name_of(any() % heads_of(setups) + 1);
        let clock = Instant::now();
        let kept = logbook.setups_of_head(&name, u32::MAX, |kept| kept).await.expect("the head's setups");
        times.push(milliseconds(clock));
        let enough = kept.len() as u32 >= setups / heads_of(setups);
        assert!(enough && kept.iter().all(|one| one.entries.len() == ENTRIES));
    }
    answered("all of one head", std::mem::take(&mut times));
    logbook.close().await;
    let of = |setup: u32| name_of((setup - 1) % heads_of(setups) + 1);
    let commands = |mut words: Box<dyn FnMut() -> Vec<String> + '_>| -> Vec<f64> {
        (0..COMMANDS).map(|_| whole(place, &words())).collect()
    };
    let said = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<String>>();
    answered("`setup list`", commands(Box::new(|| said(&["setup", "list"]))));
    answered("`setup list --head`", commands(Box::new(|| said(&["setup", "list", "--head", &of(any())]))));
    answered("`compare`", commands(Box::new(|| said(&["compare", &any().to_string(), &any().to_string()]))));
    answered("`history`", commands(Box::new(|| said(&["history", &of(any())]))));
}

/// A whole command, from its start to its end, milliseconds.
fn whole(place: &Location, words: &[String]) -> f64 {
    let place = match place {
        Location::Shared(url) => url.clone(),
        file => file.path().expect("a path").expect("a file").display().to_string(),
    };
    let mut command = Command::new(env!("CARGO_BIN_EXE_clinoblade"));
    command.args(["--logbook", &place, "--json"]).args(words);
    let clock = Instant::now();
    let answer = command.output().expect("the program");
    let took = milliseconds(clock);
    let said = String::from_utf8_lossy(&answer.stderr);
    assert!(matches!(answer.status.code(), Some(0 | 1)) && !answer.stdout.is_empty(), "{words:?}: {said}");
    took
}

fn milliseconds(since: Instant) -> f64 {
    since.elapsed().as_secs_f64() * 1e3
}
