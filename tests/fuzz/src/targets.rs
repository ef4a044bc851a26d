//! What must hold whatever the bytes: one function a target, shared by the fuzzer and the test that replays the corpus.
//!
//! No input makes anything panic. Beyond that, a decoder gives the same samples however its bytes are chopped, counts
//! what it gives, and keeps no more than an unfinished frame; what a parser takes, it writes and reads again as the same.

use bytes::BytesMut;
use clinoblade::logbook::SetupDocument;
use clinoblade::record::Head;
use clinoblade::stream::codec::{Frame, LONGEST_LINE, cobs};
use clinoblade::stream::{Counters, Format, Profile, SampleDecoder};
use clinoblade::units::{Sample, Seconds};
use std::sync::OnceLock;

/// What is run on each input.
pub type Target = fn(&[u8]);

/// Each target by its name.
pub const TARGETS: &[(&str, Target)] = &[
    ("sentence", sentence),
    ("columns", columns),
    ("labelled", labelled),
    ("xdr", xdr),
    ("frame", frame),
    ("modbus", modbus),
    ("profile", profile),
    ("head", head),
    ("document", document),
];

fn sentence(bytes: &[u8]) {
    static PROFILES: OnceLock<Vec<Profile>> = OnceLock::new();
    stream(bytes, PROFILES.get_or_init(|| vec![Profile::sentence()]));
}

fn columns(bytes: &[u8]) {
    static PROFILES: OnceLock<Vec<Profile>> = OnceLock::new();
    let full = "format = 'columns'\nunit = 'mg'\n[columns]\ncounter = 1\ntime = 2\ntime_unit = 'us'\nx = 3\ny = 4\nz = 5\ntemperature = 6";
    let seconds =
        "format = 'columns'\nunit = 'g'\nrate_hz = 50\n[columns]\ntime = 1\ntime_unit = 's'\nx = 4\ny = 3\nz = 2";
    stream(bytes, PROFILES.get_or_init(|| vec![Profile::columns(), described(full), described(seconds)]));
}

fn labelled(bytes: &[u8]) {
    static PROFILES: OnceLock<Vec<Profile>> = OnceLock::new();
    let full = "format = 'labelled'\nunit = 'mg'\n[labelled]\nx = 'ax'\ny = 'ay'\nz = 'az'\ntime = 't'\ntime_unit = 'ms'\ncounter = 'n'\ntemperature = 'c'";
    stream(bytes, PROFILES.get_or_init(|| vec![Profile::labelled(), described(full)]));
}

fn xdr(bytes: &[u8]) {
    static PROFILES: OnceLock<Vec<Profile>> = OnceLock::new();
    let tilt = "format = 'xdr'\n[xdr]\ntilt = 'X'\ntemperature = 'T'";
    let inclined = "format = 'xdr'\n[xdr]\npitch = 'PITCH'\nroll = 'ROLL'\nangles = 'inclinations'";
    stream(bytes, PROFILES.get_or_init(|| vec![Profile::xdr(), described(tilt), described(inclined)]));
}

fn frame(bytes: &[u8]) {
    static PROFILES: OnceLock<Vec<Profile>> = OnceLock::new();
    let field = "x = { at = 0, type = 'i16' }\ny = { at = 2, type = 'i16' }\nz = { at = 4, type = 'i24' }";
    let stuffed = format!(
        "format = 'frame'\nunit = 'mg'\n[frame]\nlength = 9\ncobs = true\norder = 'big'\n{field}\nchecksum = {{ kind = 'CRC-16/XMODEM', at = 7 }}"
    );
    let long = format!("format = 'frame'\nunit = 'mg'\n[frame]\nlength = 256\ncobs = true\norder = 'little'\n{field}");
    let unproven = "format = 'frame'\nunit = 'mg'\n[frame]\nsync = '24'\nlength = 8\norder = 'little'\nx = { at = 1, type = 'f32' }\ny = { at = 2, type = 'i16' }\nz = { at = 4, type = 'u24' }\ncounter = { at = 7, type = 'u8' }";
    let summed = "format = 'frame'\n[frame]\nsync = 'AA AA 55'\nlength = 26\norder = 'big'\npitch = { at = 3, type = 'f64' }\nroll = { at = 11, type = 'f32' }\ntime = { at = 15, type = 'u8' }\ntime_unit = 's'\nchecksum = { kind = 'sum8', at = 25, from = 3 }";
    let profiles = PROFILES.get_or_init(|| {
        vec![Profile::frame(), described(&stuffed), described(&long), described(unproven), described(summed)]
    });
    stream(bytes, profiles);
    let mut stuffed = Vec::new();
    cobs::stuff(bytes, &mut stuffed);
    assert!(!stuffed.contains(&0) && stuffed.len() <= cobs::longest(bytes.len()));
    assert_eq!(cobs::unstuff(&stuffed).as_deref(), Some(bytes));
    if let Some(plain) = cobs::unstuff(bytes) {
        assert!(plain.len() < bytes.len());
    }
}

fn modbus(bytes: &[u8]) {
    static PROFILES: OnceLock<Vec<Profile>> = OnceLock::new();
    let words = "format = 'modbus'\nunit = 'g'\n[modbus]\naddress = 17\nregisters = 'holding'\norder = 'little'\nx = { at = 100, type = 'f32' }\ny = { at = 102, type = 'f32' }\nz = { at = 104, type = 'i32' }\ntime = { at = 106, type = 'u32' }\ntime_unit = 'us'\ntemperature = { at = 108, type = 'i16', scale = 0.1 }";
    let profiles = PROFILES.get_or_init(|| vec![Profile::modbus(), described(words)]);
    stream(bytes, profiles);
    for profile in profiles {
        if let Format::Modbus(layout) = profile.format() {
            assert!(layout.refusal(bytes).is_none_or(|refusal| refusal.address == layout.address));
        }
    }
}

/// A description up to the first zero byte, and what its sensor sends behind it.
fn profile(bytes: &[u8]) {
    let end = bytes.iter().position(|byte| *byte == 0).unwrap_or(bytes.len());
    let (text, sent) = bytes.split_at(end);
    let Ok(text) = std::str::from_utf8(text) else { return };
    match Profile::from_toml(text, "fuzzed") {
        Ok(profile) => {
            let written = profile.to_toml().expect("what was read can be written");
            assert_eq!(Profile::from_toml(&written, "fuzzed").as_ref().ok(), Some(&profile), "{written}");
            let _ = (profile.request(), profile.limits(), profile.tells_time());
            let mut own = Vec::new();
            let frame = Frame { seq: 65_535, micros: u32::MAX, counts: [0.1, -0.2, 0.97], celsius: Some(-40.0) };
            profile.encoder().encode(&frame, &mut own);
            decoded(&profile, &[sent, &own, &own].concat(), 7);
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

fn head(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match Head::from_toml(text) {
        Ok(head) => {
            let written = serde_json::to_value(&head).expect("a head can be written");
            assert_eq!(serde_json::from_value::<Head>(written).ok().as_ref(), Some(&head));
        }
        Err(error) => assert!(error.to_string().contains("head description")),
    }
}

fn document(bytes: &[u8]) {
    match SetupDocument::read(bytes) {
        Ok(document) => {
            let written = serde_json::to_vec(&document).expect("what was taken can be written");
            let again = SetupDocument::read(&written).expect("what was written can be taken");
            // A sample may be no number, which never equals itself: what is written must be the same.
            assert_eq!(serde_json::to_vec(&again).ok(), Some(written));
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

fn described(text: &str) -> Profile {
    Profile::from_toml(text, "fuzz target").expect("the target's own profile")
}

/// The first byte says which profile and how the rest is chopped.
fn stream(bytes: &[u8], profiles: &[Profile]) {
    let Some((choice, bytes)) = bytes.split_first() else { return };
    let choice = usize::from(*choice);
    if let Some(profile) = profiles.get(choice % profiles.len()) {
        decoded(profile, bytes, 1 + choice / profiles.len());
    }
}

fn decoded(profile: &Profile, bytes: &[u8], piece: usize) {
    let whole = chopped(profile, bytes, bytes.len().max(1));
    assert_eq!(whole, chopped(profile, bytes, piece), "{}: in pieces of {piece}", profile.name());
    let (samples, counters) = whole;
    assert_eq!(counters.good, samples.len() as u64);
    assert_eq!(counters.lost, samples.iter().map(|sample| u64::from(sample.lost_before)).sum::<u64>());
    for sample in &samples {
        assert!(sample.counts.iter().all(|count| count.is_finite()));
        assert!(sample.clock.value().is_finite() && sample.clock.value() >= 0.0);
    }
}

fn chopped(profile: &Profile, bytes: &[u8], piece: usize) -> (Vec<Sample>, Counters) {
    let (mut decoder, mut buffer, mut samples) = (SampleDecoder::new(profile), BytesMut::new(), Vec::new());
    let now = Seconds::default();
    for part in bytes.chunks(piece) {
        buffer.extend_from_slice(part);
        decoder.received(part.len());
        while let Some(sample) = decoder.next(&mut buffer, now) {
            samples.push(sample);
        }
        assert!(buffer.len() <= LONGEST_LINE + 1, "an unfinished frame stays within its bound");
    }
    while let Some(sample) = decoder.last(&mut buffer, now) {
        samples.push(sample);
    }
    (samples, decoder.counters())
}
