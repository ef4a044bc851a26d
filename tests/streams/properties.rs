//! Whatever the bytes: no decoder panics, and none yields a sample that was not sent whole.
//!
//! How far that can be promised: the sentence's checksum finds every single damage of a sentence, and damages in
//! several places all but one time in 256, unless they cancel. Columns and labels have no checksum: there the promise
//! holds for streams that are joined late, cut off or chopped, and for lost line ends; a flipped digit cannot be told.

use bytes::BytesMut;
use clinoblade::stream::codec::{Encoder, Frame, checksum};
use clinoblade::stream::{Profile, SampleDecoder};
use clinoblade::units::{Sample, Seconds};
use proptest::collection::vec;
use proptest::prelude::*;

fn frames(counts: std::ops::RangeInclusive<i32>) -> impl Strategy<Value = Vec<Frame>> {
    let frame =
        (any::<u16>(), any::<u32>(), [counts.clone(), counts.clone(), counts], proptest::option::of(-4000..12_500i32));
    let frame = frame.prop_map(|(seq, micros, counts, celsius)| Frame {
        seq,
        micros,
        counts: counts.map(f64::from),
        celsius: celsius.map(|hundredths| f64::from(hundredths) / 100.0),
    });
    vec(frame, 1..12)
}

fn written(encoder: &Encoder, frames: &[Frame]) -> Vec<Vec<u8>> {
    let line = |frame: &Frame| {
        let mut line = Vec::new();
        encoder.encode(frame, &mut line);
        line
    };
    frames.iter().map(line).collect()
}

/// Decodes bytes that arrive in pieces of these lengths, again and again.
fn decoded(profile: &Profile, bytes: &[u8], pieces: &[usize]) -> Vec<Sample> {
    let (mut decoder, mut buffer, mut samples) = (SampleDecoder::new(profile), BytesMut::new(), Vec::new());
    let (mut rest, mut lengths) = (bytes, pieces.iter().cycle());
    while !rest.is_empty() {
        let length = lengths.next().map_or(rest.len(), |length| (*length).clamp(1, rest.len()));
        let (part, behind) = rest.split_at(length);
        buffer.extend_from_slice(part);
        rest = behind;
        while let Some(sample) = decoder.next(&mut buffer, Seconds::default()) {
            samples.push(sample);
        }
        assert!(buffer.len() <= 513, "an unfinished line stays within its bound");
    }
    samples.extend(decoder.last(&mut buffer, Seconds::default()));
    samples
}

/// What can be compared with a frame that was sent.
fn values(sample: &Sample) -> ([f64; 3], Option<f64>) {
    (sample.counts, sample.temperature.map(|celsius| celsius.value()))
}

fn sent_values(frame: &Frame) -> ([f64; 3], Option<f64>) {
    (frame.counts, frame.celsius)
}

/// A slow reader of sentences, written apart from the one under test: what stands whole between a `$` and a line end.
fn plainly_read(bytes: &[u8]) -> Vec<([f64; 3], Option<f64>)> {
    let text: String = bytes.iter().map(|byte| char::from(*byte)).collect();
    let mut lines: Vec<&str> = text.split('\n').collect();
    let tail = lines.pop();
    let lines = lines.into_iter().filter(|line| line.strip_suffix('\r').unwrap_or(line).chars().count() <= 512);
    let sentence = |line: &str| -> Option<([f64; 3], Option<f64>)> {
        let line = line.strip_suffix('\r').unwrap_or(line);
        let (body, sum) = line.get(line.rfind('$')? + 1..)?.rsplit_once('*')?;
        let body_bytes: Vec<u8> = body.chars().map(|c| c as u8).collect();
        if sum.len() != 2 || u8::from_str_radix(sum, 16).ok()? != checksum(&body_bytes) || sum.starts_with('+') {
            return None;
        }
        let fields: Vec<&str> = body.strip_prefix("PCLIN,")?.split(',').collect();
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()) && text.len() <= 10;
        let whole = |text: &&str| digits(text.strip_prefix('-').unwrap_or(text));
        let (seq, micros) = (fields.first()?, fields.get(1)?);
        if !(digits(seq) && digits(micros))
            || seq.parse::<u32>().ok()? > 65_535
            || micros.parse::<u64>().ok()? >= 1 << 32
        {
            return None;
        }
        let axis = |at: usize| fields.get(at).filter(|text| whole(text))?.parse::<i32>().ok().map(f64::from);
        let celsius = match fields.get(5) {
            None => None,
            Some(text) if text.bytes().all(|b| b.is_ascii_digit() || b == b'.' || b == b'-') => {
                Some(text.parse().ok()?)
            }
            Some(_) => return None,
        };
        (fields.len() <= 6).then_some(([axis(2)?, axis(3)?, axis(4)?], celsius))
    };
    lines.chain(tail).filter_map(sentence).collect()
}

/// One damage to one byte.
#[derive(Debug, Clone)]
enum Damage {
    Change(u8),
    Loss,
    Addition(u8),
}

fn damage() -> impl Strategy<Value = Damage> {
    prop_oneof![(1..=255u8).prop_map(Damage::Change), Just(Damage::Loss), any::<u8>().prop_map(Damage::Addition)]
}

fn damaged(line: &[u8], at: usize, damage: &Damage) -> Vec<u8> {
    let mut line = line.to_vec();
    let at = at % line.len();
    match damage {
        Damage::Change(bits) => line[at] ^= bits,
        Damage::Loss => drop(line.remove(at)),
        Damage::Addition(byte) => line.insert(at, *byte),
    }
    line
}

/// Bytes made of pieces that a decoder might take for something.
fn suspicious_bytes() -> impl Strategy<Value = Vec<u8>> {
    let piece = prop_oneof![
        4 => prop::sample::select(vec![
            "$", "PCLIN,", "$PCLIN,", "*", "\r\n", "\n", "\r", ",", ";", "\t", " ", "-", "+", ".", "e9", "e-400", "nan",
            "inf", "x:", "y=", "z:", "X:", "$IIXDR,", "A,1.5,D,PITCH,", "A,-2,D,ROLL*", "A,91,D,X*00\r\n", "\u{1}\u{4}\u{6}", "\0", "65535", "65536", "4294967296", "2147483648", "99999999999999999999", "0", "1",
        ]).prop_map(|text| text.as_bytes().to_vec()),
        3 => (-9i32..9, -9i32..9, -9i32..9, proptest::option::of(0..99i32)).prop_map(|(x, y, z, celsius)| {
            let end = celsius.map_or(String::new(), |celsius| format!(",{celsius}"));
            let body = format!("PCLIN,1,2,{x},{y},{z}{end}");
            format!("${body}*{:02x}\r\n", checksum(body.as_bytes())).into_bytes()
        }),
        2 => (any::<[u8; 3]>(), any::<u16>()).prop_map(|(which, seq)| {
            let profiles = all_profiles();
            let mut bytes = Vec::new();
            let counts = which.map(|byte| f64::from(byte) / 255.0);
            let profile = &profiles[usize::from(which[0]) % profiles.len()];
            profile.encoder().encode(&Frame { seq, micros: 7, counts, celsius: Some(20.0) }, &mut bytes);
            bytes
        }),
        1 => vec(any::<u8>(), 0..20),
        1 => (any::<u8>(), 400..700usize).prop_map(|(byte, count)| vec![byte; count]),
    ];
    vec(piece, 0..40).prop_map(|pieces| pieces.concat())
}

fn own_profile(text: &str) -> Profile {
    Profile::from_toml(text, "test").unwrap()
}

/// Those whose lines carry numbers as they are.
fn text_profiles() -> Vec<Profile> {
    let columns = "format = 'columns'\nunit = 'mg'\n[columns]\ncounter = 1\ntime = 2\ntime_unit = 'us'\nx = 3\ny = 4\nz = 5\ntemperature = 6";
    let labelled = "format = 'labelled'\nunit = 'mg'\n[labelled]\nx = 'x'\ny = 'y'\nz = 'z'\ntime = 't'\ntime_unit = 's'\ncounter = 'n'";
    let built_in = [Profile::sentence(), Profile::columns(), Profile::labelled()];
    built_in.into_iter().chain([columns, labelled].map(own_profile)).collect()
}

fn all_profiles() -> Vec<Profile> {
    let stuffed = "format = 'frame'\nunit = 'mg'\n[frame]\nlength = 9\ncobs = true\norder = 'big'\nx = { at = 0, type = 'i16' }\ny = { at = 2, type = 'i16' }\nz = { at = 4, type = 'i24' }\nchecksum = { kind = 'CRC-16/XMODEM', at = 7 }";
    let unproven = "format = 'frame'\nunit = 'mg'\n[frame]\nsync = '24'\nlength = 8\norder = 'little'\nx = { at = 1, type = 'f32' }\ny = { at = 2, type = 'i16' }\nz = { at = 4, type = 'u24' }\ncounter = { at = 7, type = 'u8' }";
    let tilt = "format = 'xdr'\n[xdr]\ntilt = 'X'\ntemperature = 'T'";
    let mut profiles = text_profiles();
    profiles.extend([Profile::xdr(), Profile::frame(), Profile::modbus()]);
    profiles.extend([stuffed, unproven, tilt].map(own_profile));
    profiles
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes_leave_every_decoder_standing(bytes in vec(any::<u8>(), 0..3000), pieces in vec(1..600usize, 1..5)) {
        for profile in all_profiles() {
            for sample in decoded(&profile, &bytes, &pieces) {
                prop_assert!(sample.counts.iter().all(|count| count.is_finite()));
                prop_assert!(sample.clock.value().is_finite() && sample.clock.value() >= 0.0);
            }
        }
    }

    #[test]
    fn bytes_that_look_like_frames_do_so_too(bytes in suspicious_bytes(), pieces in vec(1..600usize, 1..5)) {
        for profile in all_profiles() {
            let samples = decoded(&profile, &bytes, &pieces);
            prop_assert!(samples.iter().all(|sample| sample.counts.iter().all(|count| count.is_finite())));
            prop_assert_eq!(samples, decoded(&profile, &bytes, &[usize::MAX]), "chopping makes no difference");
        }
    }

    #[test]
    fn exactly_the_sentences_that_stand_whole_on_the_wire_are_read(bytes in suspicious_bytes(), pieces in vec(1..600usize, 1..5)) {
        let read: Vec<_> = decoded(&Profile::sentence(), &bytes, &pieces).iter().map(values).collect();
        prop_assert_eq!(read, plainly_read(&bytes));
    }

    #[test]
    fn one_damaged_byte_costs_one_sentence_and_invents_none(
        frames in frames(i32::MIN..=i32::MAX),
        which in any::<prop::sample::Index>(),
        at in any::<usize>(),
        damage in damage(),
        pieces in vec(1..90usize, 1..5),
    ) {
        let mut lines = written(&Profile::sentence().encoder(), &frames);
        let which = which.index(lines.len());
        lines[which] = damaged(&lines[which], at, &damage);
        let read: Vec<_> = decoded(&Profile::sentence(), &lines.concat(), &pieces).iter().map(values).collect();
        let sent: Vec<_> = frames.iter().map(sent_values).collect();
        // All but the damaged one come through, in their order; that one too where only its line end or a blank line suffered.
        let without: Vec<_> = sent.iter().enumerate().filter(|(n, _)| *n != which).map(|(_, v)| *v).collect();
        // A line end that is lost at the very end leaves the last sentence proven by its checksum.
        prop_assert!(read == sent || read == without, "sent {:?}, read {:?}", sent, read);
    }

    #[test]
    fn a_stream_joined_late_and_cut_off_yields_only_what_was_sent(
        frames in frames(-99_999..=99_999),
        from in any::<prop::sample::Index>(),
        to in any::<prop::sample::Index>(),
        pieces in vec(1..90usize, 1..5),
    ) {
        for profile in text_profiles() {
            let bytes = written(&profile.encoder(), &frames).concat();
            let part = &bytes[from.index(bytes.len())..];
            let part = &part[..to.index(part.len() + 1)];
            let samples = decoded(&profile, part, &pieces);
            let lines = part.iter().filter(|byte| **byte == b'\n').count();
            prop_assert!(samples.len() + 1 >= lines, "at most the first line is given up");
            for sample in samples {
                prop_assert!(frames.iter().any(|frame| frame.counts == sample.counts), "{}: {:?}", profile.name(), sample);
            }
        }
    }

    #[test]
    fn two_lines_run_together_are_never_read_as_one(frames in frames(-99_999..=99_999), which in any::<prop::sample::Index>()) {
        for profile in text_profiles() {
            let mut lines = written(&profile.encoder(), &frames);
            // The first two lines stay whole: a stream of columns shows there how wide it is.
            lines.insert(0, lines[0].clone());
            lines.insert(0, lines[0].clone());
            let which = 2 + which.index(frames.len());
            let kept = lines[which].len() - 2;
            lines[which].truncate(kept);
            for sample in decoded(&profile, &lines.concat(), &[usize::MAX]) {
                prop_assert!(frames.iter().any(|frame| frame.counts == sample.counts), "{}: {:?}", profile.name(), sample);
            }
        }
    }

    #[test]
    fn no_text_breaks_the_reader_of_profiles(text in ".{0,400}") {
        let _ = Profile::from_toml(&text, "test");
    }

    #[test]
    fn nor_does_a_profile_with_a_part_of_it_changed(
        which in any::<prop::sample::Index>(),
        from in any::<prop::sample::Index>(),
        length in 0..12usize,
        instead in prop_oneof![Just(String::new()), "[-0-9a-z\"'=.{}\\[\\], \n°]{0,8}", ".{0,3}"],
        bytes in vec(any::<u8>(), 0..300),
    ) {
        let texts: Vec<String> = all_profiles().iter().map(|profile| profile.to_toml().unwrap()).collect();
        let text: Vec<char> = texts[which.index(texts.len())].chars().collect();
        let from = from.index(text.len());
        let to = (from + length).min(text.len());
        let changed: String = text[..from].iter().copied().chain(instead.chars()).chain(text[to..].iter().copied()).collect();
        match Profile::from_toml(&changed, "test") {
            // What is taken can be read with, written out, and read again as the same.
            Ok(profile) => {
                let _ = SampleDecoder::all(&profile, &bytes);
                profile.encoder().encode(&Frame { seq: 1, micros: 2, counts: [0.1, 0.2, 0.9], celsius: None }, &mut Vec::new());
                prop_assert_eq!(Profile::from_toml(&profile.to_toml().unwrap(), "test").unwrap(), profile);
            }
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
    }
}
