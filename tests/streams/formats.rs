//! Angles in sentences, declared binary frames and their checksums, against published values; chopped and damaged.

use bytes::BytesMut;
use clinoblade::stream::codec::{Checksum, Frame, Limit};
use clinoblade::stream::{Counters, Profile, SampleDecoder};
use clinoblade::units::{Sample, Seconds};
use proptest::prelude::*;

fn own(text: &str) -> Profile {
    Profile::from_toml(text, "test.toml").unwrap()
}

fn read(profile: &Profile, bytes: &[u8], piece: usize) -> (Vec<Sample>, Counters) {
    let mut decoder = SampleDecoder::new(profile);
    let (mut buffer, mut samples) = (BytesMut::new(), Vec::new());
    for part in bytes.chunks(piece) {
        decoder.received(part.len());
        buffer.extend_from_slice(part);
        while let Some(sample) = decoder.next(&mut buffer, Seconds::default()) {
            samples.push(sample);
        }
    }
    samples.extend(decoder.last(&mut buffer, Seconds::default()));
    (samples, decoder.counters())
}

/// Catalogue of parametrised CRC algorithms: the check value is the checksum of the nine digits.
#[test]
fn every_checksum_has_the_catalogues_check_value() {
    let reference: serde_json::Value = serde_json::from_str(include_str!("../reference/crc_catalogue.json")).unwrap();
    let listed = reference["check"].as_object().unwrap();
    for (name, check) in listed {
        let sum: Checksum = name.parse().unwrap_or_else(|error| panic!("{error}"));
        let check = u16::from_str_radix(check.as_str().unwrap().trim_start_matches("0x"), 16).unwrap();
        assert_eq!(sum.of(b"123456789"), check, "{name}");
        assert_eq!(sum.width(), if name.starts_with("CRC-8") { 1 } else { 2 }, "{name}");
    }
    assert_eq!(Checksum::KNOWN.len(), listed.len() + 2, "and the two plain sums");
    // By hand: 0x31 + … + 0x39 = 477 = 0x1DD; the exclusive or of 0x31 … 0x39 is 0x31.
    let plain = |name: &str| name.parse::<Checksum>().unwrap().of(b"123456789");
    assert_eq!((plain("sum8"), plain("xor8")), (0xdd, 0x31));
    assert_eq!("CRC-32/BZIP2".parse::<Checksum>().unwrap_err().0, "CRC-32/BZIP2");
}

fn angles(samples: &[Sample]) -> Vec<(f64, f64)> {
    let of = |[x, y, z]: [f64; 3]| (x.asin().to_degrees(), y.atan2(z).to_degrees());
    samples.iter().map(|sample| of(sample.counts)).collect()
}

/// Sentences published in parsers, converters and recordings of NMEA 0183, found in public repositories; their checksums are
/// theirs.
#[test]
fn published_xdr_sentences_are_read() {
    let examples = [
        ("$WIXDR,A,+02.9,D,PITCH,A,+00.7,D,ROLL*07", (2.9, 0.7)),
        ("$IIXDR,A,10.1,D,PTCH,A,29.0,D,ROLL*57", (10.1, 29.0)),
        ("$IIXDR,A,3.0000,D,PTCH,A,10.0000,D,ROLL*6E", (3.0, 10.0)),
        ("$YXXDR,A,86.0,D,PTCH,A,-85.2,D,ROLL*71", (86.0, -85.2)),
        ("$GPXDR,A,0.6135744,D,PTCH,A,-0.6135744,D,ROLL*66", (0.613_574_4, -0.613_574_4)),
        ("$IIXDR,A,4.2,D,Yaw,A,10.1,D,Pitch,A,29.0,D,Roll,,3,,Calibration*25", (10.1, 29.0)),
    ];
    for (line, (pitch, roll)) in examples {
        let (samples, counters) = SampleDecoder::all(&Profile::xdr(), format!("{line}\r\n").as_bytes());
        assert_eq!((samples.len(), counters.damaged()), (1, 0), "{line}");
        let (read_pitch, read_roll) = angles(&samples)[0];
        assert!((read_pitch - pitch).abs() < 1e-9 && (read_roll - roll).abs() < 1e-9, "{line}");
    }
    // Whole sentences without the angles that are wanted, with a pitch that no sensor has, or published with a wrong checksum.
    let none = [
        ("$GPXDR,A,0.071,D,PITCH,A,228.132,D,YAW*5E", (0, 0)),
        ("$WIXDR,C,+023.9,C,TEMP,P,1.0243,B,PRESS,H,039,P,RH*01", (0, 1)),
        ("$HCXDR,A,171,D,PITCH,A,-37,D,ROLL,G,367,,MAGX,G,2420,,MAGY,G,-8984,,MAGZ*41", (0, 1)),
        ("$IIXDR,A,1.2,D,PTCH,A,-2.3,D,ROLL*00", (0, 1)),
    ];
    for (line, (foreign, damaged)) in none {
        let (samples, counters) = SampleDecoder::all(&Profile::xdr(), format!("{line}\r\n").as_bytes());
        assert_eq!((samples.len(), counters.bad.foreign, counters.damaged()), (0, foreign, damaged), "{line}");
    }
}

fn sentence(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n")
}

#[test]
fn pitch_and_roll_may_come_one_after_the_other_but_never_from_two_moments() {
    let pitch = |degrees: i32| sentence(&format!("IIXDR,A,{degrees},D,PITCH"));
    let roll = |degrees: i32| sentence(&format!("IIXDR,A,{degrees},D,ROLL"));
    let heading = sentence("HCHDT,115.1,T");
    let spoilt = roll(2).replace(",2,", ",7,");
    let bytes = [pitch(1), heading, roll(1), pitch(2), spoilt, pitch(3), roll(3), pitch(4), pitch(5), roll(5)].concat();
    let (samples, counters) = SampleDecoder::all(&Profile::xdr(), bytes.as_bytes());
    let rounded: Vec<(f64, f64)> = angles(&samples).iter().map(|(p, r)| (p.round(), r.round())).collect();
    assert_eq!(rounded, [(1.0, 1.0), (3.0, 3.0), (5.0, 5.0)]);
    assert_eq!((counters.bad.checksum, counters.bad.foreign), (1, 1));
}

#[test]
fn a_temperature_comes_with_the_angle_where_it_is_named() {
    let profile = own("format = 'xdr'\nrate_hz = 10\n[xdr]\ntilt = 'TILT'\ntemperature = 'TEMP'");
    let bytes = sentence("IIXDR,A,30,D,TILT,C,21.5,C,TEMP") + &sentence("IIXDR,A,-150,D,TILT,C,22,C,TEMP");
    let (samples, _) = SampleDecoder::all(&profile, bytes.as_bytes());
    assert_eq!(samples[0].temperature.unwrap().value(), 21.5);
    assert!((samples[0].counts[0] - 0.5).abs() < 1e-12 && samples[0].counts[1] == 0.0);
    assert!((samples[1].counts[0] + 0.5).abs() < 1e-12 && samples[1].counts[2] < -0.8, "all the way round");
    assert!(profile.is_blind_across() && profile.limits().contains(&Limit::BlindAcross));
}

const STUFFED: &str = "format = 'frame'\nunit = 'mg'\nrate_hz = 100\n[frame]\nlength = 9\ncobs = true\norder = 'big'\n\
    x = { at = 0, type = 'i16' }\ny = { at = 2, type = 'i16' }\nz = { at = 4, type = 'i24' }\nchecksum = { kind = 'CRC-16/XMODEM', at = 7 }";
const UNPROVEN: &str = "format = 'frame'\nunit = 'mg'\nrate_hz = 100\n[frame]\nsync = 'AA 55'\nlength = 9\norder = 'little'\n\
    counter = { at = 2, type = 'u8' }\nx = { at = 3, type = 'i16' }\ny = { at = 5, type = 'i16' }\nz = { at = 7, type = 'i16' }";

fn frame(n: u16) -> Frame {
    Frame { seq: n, micros: 5000 * u32::from(n), counts: [f64::from(n), -7.0, 1000.0], celsius: Some(21.25) }
}

fn frames(profile: &Profile, range: std::ops::Range<u16>) -> Vec<Vec<u8>> {
    let encoder = profile.encoder();
    let one = |n| {
        let mut bytes = Vec::new();
        encoder.encode(&frame(n), &mut bytes);
        bytes
    };
    range.map(one).collect()
}

fn firsts(samples: &[Sample]) -> Vec<f64> {
    samples.iter().map(|sample| sample.counts[0]).collect()
}

/// The bytes of one frame, written out by hand from the description in the documentation; its CRC by crccalc's description
/// of CRC-16/IBM-3740, computed bit by bit below.
#[test]
fn the_built_in_frame_is_what_its_description_says() {
    let mut bytes = Vec::new();
    let sent = Frame { seq: 0x1234, micros: 0x89ab_cdef, counts: [1.0, -2.0, 16_384.0], celsius: Some(-0.5) };
    Profile::frame().encoder().encode(&sent, &mut bytes);
    let body = [0xa7, 0x5c, 0x34, 0x12, 0xef, 0xcd, 0xab, 0x89, 0x01, 0x00, 0xfe, 0xff, 0x00, 0x40, 0xce, 0xff];
    let mut crc = 0xffffu16;
    for byte in body {
        crc ^= u16::from(byte) << 8;
        for _ in 0..8 {
            crc = if crc & 0x8000 == 0 { crc << 1 } else { crc << 1 ^ 0x1021 };
        }
    }
    assert_eq!(bytes, [&body[..], &crc.to_le_bytes()].concat());
    let (samples, _) = SampleDecoder::all(&Profile::frame(), &bytes);
    assert_eq!((samples[0].counts, samples[0].temperature.unwrap().value()), (sent.counts, -0.5));
}

#[test]
fn damaged_frames_are_counted_once_and_cost_no_other() {
    for profile in [Profile::frame(), Profile::modbus(), own(STUFFED), own(UNPROVEN)] {
        let mut all = frames(&profile, 0..20);
        all[5][4] ^= 0x10;
        all[9].truncate(5);
        all.insert(12, vec![0x11; 40]);
        let bytes = all.concat();
        let whole = read(&profile, &bytes, bytes.len());
        let text = format!("{}: {:?}", profile.to_toml().unwrap(), whole.1);
        let good = firsts(&whole.0);
        let spoilt = |n: f64| n == 5.0 || n == 9.0;
        assert!(
            (0..19).map(f64::from).filter(|n| !spoilt(*n)).filter(|n| good.contains(n)).count() >= 15,
            "{good:?} {text}"
        );
        assert!((2..=4).contains(&whole.1.damaged()), "{text}");
        for piece in [1, 2, 3, 7, 13, 64] {
            assert_eq!(read(&profile, &bytes, piece), whole, "in pieces of {piece}: {text}");
        }
    }
}

#[test]
fn a_frame_without_checksum_counts_when_the_next_begins_behind_it() {
    let profile = own(UNPROVEN);
    let mut all = frames(&profile, 250..260);
    // The last one is not proven.
    assert_eq!(firsts(&read(&profile, &all.concat(), 5).0), (250..259).map(f64::from).collect::<Vec<_>>());
    // A counter of one byte goes on over its end: a lost frame is one lost frame.
    all.remove(6);
    let (_, counters) = read(&profile, &all.concat(), 64);
    assert_eq!((counters.lost, counters.restarts), (1, 0));
}

#[test]
fn joining_in_the_middle_of_a_frame_is_no_damage() {
    for profile in [Profile::frame(), Profile::modbus(), own(STUFFED), own(UNPROVEN)] {
        let bytes = frames(&profile, 0..9).concat();
        for from in 1..bytes.len() / 9 {
            let (samples, counters) = read(&profile, &bytes[from..], 7);
            assert!(samples.len() >= 7 && counters.damaged() == 0, "{from}: {counters:?}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn a_changed_byte_costs_one_proven_frame_and_invents_none(
        which in any::<prop::sample::Index>(), at in any::<prop::sample::Index>(), bits in 1..=255u8, piece in 1..50usize,
    ) {
        for profile in [Profile::frame(), Profile::modbus(), own(STUFFED)] {
            let mut all = frames(&profile, 100..112);
            let which = which.index(all.len());
            let at = at.index(all[which].len());
            all[which][at] ^= bits;
            let good = firsts(&read(&profile, &all.concat(), piece).0);
            // A zero that was changed joins two stuffed frames: both are lost.
            let lost = if all[which].len() - 1 == at { 2 } else { 1 };
            prop_assert!(good.len() >= 12 - lost, "{:?}", good);
            prop_assert!(good.iter().all(|n| (100.0..112.0).contains(n)), "{:?}", good);
        }
    }
}
