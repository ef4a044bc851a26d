//! The simulated head as another program meets it: a process, a device to open, lines to write.
#![cfg(unix)]

use std::fs::{File, OpenOptions};
use std::io::Read;
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use support::bench::LONG;
use support::rig::Process;

fn scenario(folder: &Path, toml: &str) -> PathBuf {
    let path = folder.join("scenario.toml");
    std::fs::write(&path, toml).unwrap();
    path
}

fn open(device: &str) -> File {
    OpenOptions::new().read(true).open(device).unwrap()
}

/// Reads so many lines and gives number, microseconds, x and z of every sentence; each XOR fits. The first, cut line is left out.
fn read(mut device: impl Read, lines: usize) -> Vec<[f64; 4]> {
    let mut bytes = Vec::new();
    let mut buffer = [0; 4096];
    while bytes.iter().filter(|byte| **byte == b'\n').count() < lines {
        let n = device.read(&mut buffer).unwrap();
        assert!(n > 0, "it hangs up");
        bytes.extend_from_slice(&buffer[..n]);
    }
    let text = String::from_utf8(bytes).unwrap();
    let (_, whole) = text.split_once("\r\n").unwrap();
    let (whole, _) = whole.rsplit_once("\r\n").unwrap();
    whole
        .split("\r\n")
        .map(|line| {
            let (body, sum) = line.strip_prefix('$').unwrap().split_once('*').unwrap();
            assert_eq!(body.bytes().fold(0, |x, b| x ^ b), u8::from_str_radix(sum, 16).unwrap(), "{line}");
            let fields: Vec<&str> = body.split(',').collect();
            [1, 2, 3, 5].map(|at| fields[at].parse().unwrap())
        })
        .collect()
}

#[test]
fn a_reader_of_the_device_reads_the_truth() {
    let folder = tempfile::tempdir().unwrap();
    let path = scenario(folder.path(), "head = { nose_deg = 1.0, station_deg = 90.0 }\n");
    let mut rig = Process::start(&[path.to_str().unwrap()]);
    assert!(rig.tell("stick elevator 100 over 0.2").starts_with("ok"));
    let before = Instant::now();
    assert!(rig.tell("wait 0.3").starts_with("ok"));
    assert!(before.elapsed() >= Duration::from_millis(295));
    let samples = read(open(&rig.port), 122);
    assert!(samples.len() >= 120);
    // 200 Hz, and not one is missing.
    assert!(samples.windows(2).all(|pair| pair[1][0] - pair[0][0] == 1.0));
    let seconds = (samples[119][1] - samples[0][1]) / 1e6;
    assert!((seconds - 0.595).abs() < 0.01, "{seconds}");
    let truth = rig.truth();
    let apparent = truth["blades"][0]["apparent_deg"].as_f64().unwrap();
    assert!(apparent > 9.5 && truth["moving"] == false);
    for [_, _, x, z] in samples {
        // Within two counts of 16384 for 1 g.
        assert!((x.atan2(z).to_degrees() - apparent).abs() < 0.007);
    }
    assert!(rig.tell("stick elevator left").starts_with("error"));
}

#[test]
fn readers_come_and_go_and_none_gets_what_was_meant_for_another() {
    let mut rig = Process::start(&[]);
    let seq = |mut device: File| {
        let mut bytes = [0; 200];
        let n = device.read(&mut bytes).unwrap();
        let text = String::from_utf8_lossy(&bytes[..n]).into_owned();
        let sentence = &text[text.find("$PCLIN,").unwrap()..];
        sentence.split(',').nth(1).unwrap().parse::<u32>().unwrap()
    };
    let idle = open(&rig.port);
    rig.tell("wait 0.4");
    drop(idle);
    rig.tell("wait 0.2");
    let late = seq(open(&rig.port));
    assert!(late >= 119, "0.6 s at 200 Hz have passed, but sample {late} comes first");
}

#[test]
fn unplugged_it_hangs_up_and_replugged_it_keeps_its_name() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("sensor");
    let mut rig = Process::start(&["--link", link.to_str().unwrap()]);
    let mut device = open(link.to_str().unwrap());
    assert!(device.read(&mut [0; 64]).unwrap() > 0);
    assert_eq!(rig.tell("unplug"), "ok unplugged");
    let end = Instant::now() + LONG;
    // A hang-up reads as the end of the file, or as an input/output error.
    while matches!(device.read(&mut [0; 4096]), Ok(n) if n > 0) {
        assert!(Instant::now() < end, "no hang-up");
    }
    assert!(std::fs::symlink_metadata(&link).is_err(), "an unplugged device has no name");
    assert_eq!(rig.truth()["plugged"], false);
    assert!(rig.tell("replug").starts_with("ok"));
    let mut again = open(link.to_str().unwrap());
    let mut bytes = [0; 64];
    assert!(again.read(&mut bytes).unwrap() > 0);
    assert!(rig.tell("quit").starts_with("ok"));
    assert!(rig.child.wait().unwrap().success());
    assert!(std::fs::symlink_metadata(&link).is_err());
}

#[test]
fn tcp_serves_several_readers_and_the_truth_is_kept_at_the_end() {
    let folder = tempfile::tempdir().unwrap();
    let kept = folder.path().join("truth.json");
    let mut rig = Process::start(&["--tcp", "127.0.0.1:0", "--truth", kept.to_str().unwrap()]);
    let readers = [TcpStream::connect(&rig.port).unwrap(), TcpStream::connect(&rig.port).unwrap()];
    for reader in readers {
        assert!(read(reader, 22).len() >= 20);
    }
    rig.tell("stick collective 100");
    rig.tell("quit");
    assert!(rig.child.wait().unwrap().success());
    let truth: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(kept).unwrap()).unwrap();
    assert_eq!(truth["sticks"]["collective"], 100.0);
}

#[test]
fn a_link_never_takes_the_place_of_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let precious = scenario(folder.path(), "seed = 1\n");
    let output = Command::new(env!("CARGO_BIN_EXE_clinoblade"))
        .args(["rig", "--link", precious.to_str().unwrap()])
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("is not a link"));
    assert_eq!(std::fs::read_to_string(&precious).unwrap(), "seed = 1\n");
}
