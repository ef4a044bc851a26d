//! Raw log to samples, for each kind of sensor.
//!
//! The limit finds each line with `memchr`, and the numbers in it with fast-float2 at the places where they must stand; it
//! checks nothing, keeps no time and counts no loss. In binary logs it finds the sync bytes and reads the integers.

use super::line::Line;
use super::repeated::least;
use super::{Size, Told, peer, recorded};
use bytes::BytesMut;
use clinoblade::stream::{Profile, SampleDecoder};
use clinoblade::units::Seconds;
use serde_json::json;
use std::hint::black_box;

/// The program reads a log in pieces of this size.
const PIECE: usize = 65_536;
/// Short rounds, and many: some of them meet a quiet machine.
const ROUNDS: usize = 200;
const SAMPLES: u32 = 20_000;
/// Of the limit, at least, for the firmware's own sentence.
const GOAL: f64 = 0.6;

pub fn measure(size: Size, told: &mut Told) {
    let python = peer::python(&["json"]);
    for name in Profile::BUILT_IN {
        let profile = Profile::built_in(name).expect("it is built in");
        let log = recorded::rocking(&profile, SAMPLES);
        let columns = columns(name);
        let [ours, limit, csv] = least(
            size.or(ROUNDS, ROUNDS / 10),
            [
                &mut || {
                    // Without a checksum the first line may have been joined in its middle, and is passed over.
                    let samples = decoded(&profile, &log);
                    assert!((SAMPLES - 1..=SAMPLES).contains(&samples), "{name}: {samples}");
                },
                &mut || assert_eq!(black_box(believed(name, &log)).0, SAMPLES),
                &mut || assert!(columns.is_none_or(|columns| black_box(by_csv(columns, &log)).0 == SAMPLES)),
            ],
        );
        let line = |peer: &str, seconds: f64| {
            Line::new("decode", name, speed(&log, ours))
                .against(format!("{peer}: {}", speed(&log, seconds)), seconds / ours)
        };
        let against_limit = line("limit", limit);
        told.tell(&match name {
            "sentence" => against_limit.goal(format!("≥ {GOAL:.2}"), limit / ours >= GOAL),
            _ => against_limit,
        });
        if columns.is_some() {
            told.tell(&line("csv crate", csv));
        }
        told.tell(&match &python {
            Some(python) => line("Python", by_python(python, name, &log)),
            None => Line::new("decode", name, speed(&log, ours)).without("not measured: no Python"),
        });
    }
}

fn speed(log: &[u8], seconds: f64) -> String {
    format!("{:.1} MB/s, {:.3} M/s", log.len() as f64 / seconds / 1e6, f64::from(SAMPLES) / seconds / 1e6)
}

/// As the program reads a log.
fn decoded(profile: &Profile, log: &[u8]) -> u32 {
    let (mut decoder, mut buffer, now) = (SampleDecoder::new(profile), BytesMut::new(), Seconds::default());
    let mut samples = 0;
    for piece in log.chunks(PIECE) {
        buffer.extend_from_slice(piece);
        decoder.received(piece.len());
        while let Some(sample) = decoder.next(&mut buffer, now) {
            black_box(sample);
            samples += 1;
        }
    }
    while let Some(sample) = decoder.last(&mut buffer, now) {
        black_box(sample);
        samples += 1;
    }
    samples
}

/// How many samples there are, and the sum of their numbers, so that none is left out.
fn believed(name: &str, log: &[u8]) -> (u32, f64) {
    match name {
        "sentence" => lines(log, ["$PCLIN,", ",", ",", ",", ","].map(str::len)),
        "columns" => lines(log, ["", ",", ","].map(str::len)),
        "labelled" => lines(log, ["x:", " y:", " z:"].map(str::len)),
        "xdr" => lines(log, ["$IIXDR,A,", ",D,PITCH,A,"].map(str::len)),
        "frame" => frames(log, 0xa7, 18, 8, i16::from_le_bytes),
        _ => frames(log, 0x01, 11, 3, i16::from_be_bytes),
    }
}

/// Lines whose numbers stand so many bytes apart.
fn lines<const NUMBERS: usize>(log: &[u8], between: [usize; NUMBERS]) -> (u32, f64) {
    let (mut count, mut sum, mut begin) = (0, 0.0, 0);
    for end in memchr::memchr_iter(b'\n', log) {
        let mut rest = &log[begin..end];
        for gap in between {
            rest = &rest[gap..];
            let (number, length): (f64, usize) = fast_float2::parse_partial(rest).expect("a number");
            sum += number;
            rest = &rest[length..];
        }
        count += 1;
        begin = end + 1;
    }
    (count, sum)
}

/// Frames of one length, with three words at one place.
fn frames(log: &[u8], sync: u8, length: usize, at: usize, word: fn([u8; 2]) -> i16) -> (u32, f64) {
    let (mut count, mut sum, mut begin) = (0, 0.0, 0);
    while let Some(front) = log.get(begin..).and_then(|rest| memchr::memchr(sync, rest)) {
        let frame = &log[begin + front..begin + front + length];
        for axis in 0..3 {
            let place = at + 2 * axis;
            sum += f64::from(word([frame[place], frame[place + 1]]));
        }
        count += 1;
        begin += front + length;
    }
    (count, sum)
}

/// In which columns the numbers stand, where a table has such a form.
fn columns(name: &str) -> Option<&'static [usize]> {
    match name {
        "sentence" => Some(&[1, 2, 3, 4, 5]),
        "columns" => Some(&[0, 1, 2]),
        "xdr" => Some(&[2, 6]),
        _ => None,
    }
}

fn by_csv(columns: &[usize], log: &[u8]) -> (u32, f64) {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(log);
    let (mut record, mut count, mut sum) = (csv::StringRecord::new(), 0, 0.0);
    while reader.read_record(&mut record).expect("a record") {
        // The last number of a sentence stands before its checksum.
        let number = |column: usize| record[column].split('*').next().unwrap_or_default().parse::<f64>();
        sum += columns.iter().map(|&column| number(column).expect("a number")).sum::<f64>();
        count += 1;
    }
    (count, sum)
}

/// Seconds of a loop of reads, splits and floats, the least of some rounds.
fn by_python(python: &str, name: &str, log: &[u8]) -> f64 {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("log");
    std::fs::write(&path, log).expect("the log");
    let answer = peer::ask(python, "decode.py", &json!({ "profile": name, "log": path, "samples": SAMPLES }));
    assert_eq!(answer["bytes"], log.len(), "{name}");
    answer["seconds"].as_f64().expect("seconds")
}
