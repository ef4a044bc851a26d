//! The text formats as they arrive on a wire: chopped, joined in the middle, damaged and run together.

use clinoblade::stream::codec::{BadFrame, Frame, SentenceEncoder, checksum, open_sentence};
use clinoblade::stream::{Counters, Profile, SampleDecoder};
use clinoblade::units::{Sample, Seconds};

fn frame(seq: u16) -> Frame {
    Frame {
        seq,
        micros: 1_000_000 + 5000 * u32::from(seq),
        counts: [f64::from(seq) - 40.0, -7.0, 16_384.0],
        celsius: seq.is_multiple_of(2).then_some(21.5),
    }
}

fn sentence(seq: u16) -> Vec<u8> {
    let mut bytes = Vec::new();
    SentenceEncoder.encode(&frame(seq), &mut bytes);
    bytes
}

/// The samples and counters of bytes that arrive in pieces of `piece` bytes.
fn read(profile: &Profile, bytes: &[u8], piece: usize) -> (Vec<Sample>, Counters) {
    let mut decoder = SampleDecoder::new(profile);
    let (mut buffer, mut samples) = (bytes::BytesMut::new(), Vec::new());
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

fn all(bytes: &[u8]) -> (Vec<Sample>, Counters) {
    SampleDecoder::all(&Profile::sentence(), bytes)
}

fn first_axis(samples: &[Sample]) -> Vec<f64> {
    samples.iter().map(|sample| sample.counts[0]).collect()
}

/// NMEA 0183 sentences from public parsers, manuals and test suites (`reference/SOURCES-stream.md`).
#[test]
fn published_sentences_have_the_checksums_that_we_compute() {
    let text = include_str!("../reference/nmea_sentences.json");
    let reference: serde_json::Value = serde_json::from_str(text).unwrap();
    let (mut valid, mut wrong) = (0, 0);
    for entry in reference["sentences"].as_array().unwrap() {
        let line = entry["sentence"].as_str().unwrap();
        let true_sum = u8::from_str_radix(entry["checksum_hex"].as_str().unwrap(), 16).unwrap();
        let body = line.trim_start_matches('$').split('*').next().unwrap();
        assert_eq!(checksum(body.as_bytes()), true_sum, "{line}");
        if entry["valid"].as_bool().unwrap() {
            assert_eq!(open_sentence(line.as_bytes()), Ok(body.as_bytes()), "{line}");
            valid += 1;
        } else {
            assert_eq!(open_sentence(line.as_bytes()), Err(BadFrame::Checksum), "{line}");
            wrong += 1;
        }
    }
    assert!(valid >= 10 && wrong >= 5, "{valid} right, {wrong} wrong");
}

#[test]
fn the_specifications_worked_examples_are_what_the_encoder_writes() {
    let specification = include_str!("../../firmware-notes/wire-format.md");
    let examples = [
        (Frame { seq: 0, micros: 0, counts: [0.0, 0.0, 16_384.0], celsius: None }, "$PCLIN,0,0,0,0,16384*4C"),
        (
            Frame { seq: 4711, micros: 23_555_000, counts: [-3385.0, 12.0, 16_030.0], celsius: Some(23.4) },
            "$PCLIN,4711,23555000,-3385,12,16030,23.40*63",
        ),
        (
            Frame { seq: 65_535, micros: u32::MAX, counts: [-32_768.0, 32_767.0, -1.0], celsius: Some(-4.25) },
            "$PCLIN,65535,4294967295,-32768,32767,-1,-4.25*6B",
        ),
    ];
    for (frame, line) in examples {
        let mut written = Vec::new();
        SentenceEncoder.encode(&frame, &mut written);
        assert_eq!(String::from_utf8(written).unwrap(), format!("{line}\r\n"));
        assert!(specification.contains(line), "the specification shows {line}");
    }
}

#[test]
fn every_sentence_in_the_notes_has_the_sum_of_its_characters() {
    let notes =
        concat!(include_str!("../../firmware-notes/wire-format.md"), include_str!("../../firmware-notes/README.md"));
    let mut examples = 0;
    for sentence in notes.split('`').filter(|text| text.starts_with("$PCLI") && text.contains('*')) {
        let (body, sum) = sentence[1..].split_once('*').unwrap();
        // Independently of the program's own sum: NMEA 0183, the exclusive or of all characters between $ and *.
        let mut by_hand = 0;
        for byte in body.bytes() {
            by_hand ^= byte;
        }
        if let Ok(stated) = u8::from_str_radix(sum, 16) {
            assert_eq!(stated, by_hand, "{sentence}");
            examples += 1;
        }
    }
    assert!(examples >= 5, "{examples}");
}

#[test]
fn a_sensors_report_of_a_fault_is_no_damage_and_is_counted_once_until_samples_come() {
    let report = |word: &str| {
        let body = format!("PCLIF,2,3,{word}");
        format!("${body}*{:02X}\r\n", checksum(body.as_bytes())).into_bytes()
    };
    let lines = [
        report("watchdog"),
        sentence(1),
        report("clock-held"),
        report("clock-held"),
        report("no-answer"),
        sentence(2),
        report("some-new-word"),
        sentence(3),
    ];
    let (samples, counters) = all(&lines.concat());
    assert_eq!((samples.len(), counters.faults, counters.damaged(), counters.bad.foreign), (3, 3, 0, 0));
    let mut damaged = report("clock-held");
    damaged[9] ^= 1;
    let (_, counters) = all(&damaged);
    assert_eq!((counters.faults, counters.damaged()), (0, 1));
}

#[test]
fn chopping_makes_no_difference() {
    let mut bytes = b"34,5*7A\r\n".to_vec();
    for seq in 0..40 {
        bytes.extend(sentence(seq));
    }
    bytes.extend(b"$PCLIN,40,12\xff\xfe4*00\r\n");
    bytes.extend(sentence(41));
    let whole = read(&Profile::sentence(), &bytes, bytes.len());
    assert_eq!((whole.0.len(), whole.1.damaged(), whole.1.lost), (41, 1, 1));
    for piece in [1, 2, 3, 7, 13, 64, 100, 511] {
        assert_eq!(read(&Profile::sentence(), &bytes, piece), whole, "in pieces of {piece}");
    }
}

#[test]
fn every_field_survives_the_way() {
    let mut bytes = sentence(8);
    bytes.extend(sentence(9));
    let (samples, counters) = all(&bytes);
    assert_eq!(samples[0].counts, [-32.0, -7.0, 16_384.0]);
    assert_eq!(samples[0].temperature.map(|t| t.value()), Some(21.5));
    assert_eq!(samples[1].temperature, None);
    assert_eq!(samples[1].clock, Seconds::new(0.005));
    assert_eq!((counters.good, counters.damaged(), counters.lost, counters.bytes), (2, 0, 0, bytes.len() as u64));
}

#[test]
fn lower_case_digits_and_a_bare_line_feed_are_accepted() {
    // The sum of this body has a letter in it.
    let body = (0..200)
        .map(|x| format!("PCLIN,1,2,{x},4,5"))
        .find(|body| format!("{:02x}", checksum(body.as_bytes())).contains(char::is_alphabetic))
        .unwrap();
    let sum = checksum(body.as_bytes());
    let (samples, counters) = all(format!("${body}*{sum:02x}\n${body}*{sum:02X}\r\n").as_bytes());
    assert_eq!((samples.len(), counters.damaged()), (2, 0));
}

#[test]
fn a_cut_sentence_costs_itself_and_not_the_next() {
    let mut bytes = sentence(1);
    bytes.extend(b"$PCLIN,2,34");
    bytes.extend(sentence(3));
    let (samples, counters) = all(&bytes);
    assert_eq!(first_axis(&samples), [-39.0, -37.0]);
    assert_eq!((counters.damaged(), samples[1].lost_before), (1, 1));
}

#[test]
fn a_lost_line_end_costs_one_sentence() {
    let mut bytes = sentence(1);
    let mut cut = sentence(2);
    cut.truncate(cut.len() - 2);
    bytes.extend(cut);
    bytes.extend(sentence(3));
    let (samples, counters) = all(&bytes);
    assert_eq!((first_axis(&samples), counters.damaged()), (vec![-39.0, -37.0], 1));
}

#[test]
fn joining_in_the_middle_of_a_line_is_no_damage_and_neither_is_being_cut_off() {
    let mut bytes = sentence(1).split_off(9);
    bytes.extend(sentence(2));
    bytes.extend(&sentence(3)[..12]);
    let (samples, counters) = all(&bytes);
    assert_eq!((first_axis(&samples), counters.damaged(), counters.lost), (vec![-38.0], 0, 0));
}

#[test]
fn a_last_sentence_without_its_line_end_counts_if_its_checksum_proves_it() {
    let mut bytes = sentence(1);
    bytes.extend(sentence(2));
    bytes.truncate(bytes.len() - 2);
    assert_eq!(all(&bytes).0.len(), 2);
    bytes.truncate(bytes.len() - 1);
    assert_eq!(all(&bytes).0.len(), 1);
}

#[test]
fn each_kind_of_damage_is_counted_once_under_its_name() {
    let with_sum = |body: &str| format!("${body}*{:02X}\r\n", checksum(body.as_bytes()));
    let lines = [
        sentence(1),
        b"noise without a start\r\n".to_vec(),
        b"$PCLIN,2,3,4,5,6*ZZ\r\n".to_vec(),
        b"$PCLIN,2,3,4,5,6*00\r\n".to_vec(),
        with_sum("PCLIN,70000,3,4,5,6").into_bytes(),
        with_sum("PCLIN,2,4294967296,4,5,6").into_bytes(),
        with_sum("PCLIN,2,3,4,5").into_bytes(),
        with_sum("PCLIN,2,3,4,5,6,7,8").into_bytes(),
        with_sum("PCLIN,2,3,4,5,6,").into_bytes(),
        with_sum("PCLIN,2,3,4.5,5,6").into_bytes(),
        with_sum("PCLIN,2,3,2147483648,5,6").into_bytes(),
        with_sum("PCLIN,2,3,4,5,6,nan").into_bytes(),
        with_sum("PCLIN,2,3, 4,5,6").into_bytes(),
        with_sum("GPGLL,4916.45,N,12311.12,W,225444,A").into_bytes(),
        b"\r\n".to_vec(),
        vec![b'9'; 700],
        b"\r\n".to_vec(),
        sentence(2),
    ];
    let (samples, counters) = all(&lines.concat());
    assert_eq!(samples.len(), 2);
    let bad = counters.bad;
    assert_eq!((bad.framing, bad.checksum, bad.field, bad.too_long, bad.foreign), (2, 1, 9, 1, 1));
    assert_eq!(counters.damaged(), 13, "another's whole sentence and an empty line are no damage");
}

#[test]
fn a_repeated_line_keeps_its_time_so_that_it_can_be_told() {
    let bytes = [sentence(1), sentence(2), sentence(2), sentence(3)].concat();
    let (samples, counters) = all(&bytes);
    let seconds: Vec<f64> = samples.iter().map(|sample| sample.clock.value()).collect();
    assert_eq!(seconds, [0.0, 0.005, 0.005, 0.01]);
    assert_eq!((counters.lost, counters.restarts), (0, 0));
}

#[test]
fn columns_are_read_whatever_parts_them_and_headings_are_skipped() {
    let bytes = b"x,y,z\r\n0.1,-0.2,0.97\n0.1; -0.2 ;0.97\r\n0.1\t-0.2\t0.97\r\n  0.1   -0.2 0.97 \n# remark\n1e-1 -2e-1 +0.97\n";
    let (samples, counters) = SampleDecoder::all(&Profile::columns(), bytes);
    assert_eq!((samples.len(), counters.damaged()), (5, 0));
    assert!(samples.iter().all(|sample| sample.counts == [0.1, -0.2, 0.97]));
    assert_eq!(samples[4].clock, Seconds::new(0.04));
}

#[test]
fn a_line_of_columns_that_cannot_be_whole_is_damage() {
    let good = "0.1,0.2,0.9\n";
    for bad in
        ["0.1,0.2\n", "0.1,0.2,0.90.1,0.2,0.9\n", "0.1,0.2,0.9,0.1\n", "0.1,0..2,0.9\n", "0.1,inf,0.9\n", "0.1,,0.9\n"]
    {
        let (samples, counters) =
            SampleDecoder::all(&Profile::columns(), format!("half\n{good}{bad}{good}").as_bytes());
        assert_eq!((samples.len(), counters.bad.field), (2, 1), "{bad}");
    }
}

#[test]
fn the_first_line_of_columns_may_be_half_a_line_and_is_not_read() {
    let (samples, counters) = SampleDecoder::all(&Profile::columns(), b"5,0.2,0.9\n0.15,0.2,0.9\n0.1");
    assert_eq!((first_axis(&samples), counters.damaged()), (vec![0.15], 0));
}

#[test]
fn a_stream_that_grows_a_column_is_followed_after_one_line() {
    let (samples, counters) = SampleDecoder::all(&Profile::columns(), b"\n1,2,3\n1,2,3\n1,2,3,4\n1,2,3,4\n1,2,3,4\n");
    assert_eq!((samples.len(), counters.damaged()), (4, 1));
}

#[test]
fn labels_stand_in_any_order() {
    let bytes = b"y:2 z:3\r\nx:1 y:2 z:3\r\nz=3;y=2;x=1\r\nT:9 Z: 3, X: 1, Y: 2\r\nstarting\r\n";
    let (samples, counters) = SampleDecoder::all(&Profile::labelled(), bytes);
    assert_eq!((samples.len(), counters.damaged()), (3, 0));
    assert!(samples.iter().all(|sample| sample.counts == [1.0, 2.0, 3.0]));
    for bad in ["x:1 y:2\n", "x:1 y:2 z:3x:1 y:2 z:3\n", "x:1 x:1 y:2 z:3\n", "x:1 y:2 z:\n", "x:1 y:2 3\n"] {
        let (samples, counters) =
            SampleDecoder::all(&Profile::labelled(), format!("x:1 y:2 z:3\n{bad}x:1 y:2 z:3\n").as_bytes());
        assert_eq!((samples.len(), counters.bad.field), (2, 1), "{bad}");
    }
}

#[test]
fn a_line_of_labels_at_the_very_beginning_counts_if_it_is_whole() {
    let (samples, _) = SampleDecoder::all(&Profile::labelled(), b"x:1 y:2 z:3\r\nx:4 y:5 z:6\r\n");
    assert_eq!(first_axis(&samples), [1.0, 4.0]);
}

#[test]
fn twenty_minutes_of_samples_pass_through_one_buffer_that_never_grows() {
    let mut decoder = SampleDecoder::new(&Profile::sentence());
    let mut buffer = bytes::BytesMut::with_capacity(4096);
    let (mut line, mut good) = (Vec::new(), 0);
    for n in 0..240_000u32 {
        line.clear();
        let seq = (n % 65_536) as u16;
        SentenceEncoder
            .encode(&Frame { seq, micros: n.wrapping_mul(5000), counts: [1.0, 2.0, 3.0], celsius: None }, &mut line);
        buffer.reserve(line.len());
        buffer.extend_from_slice(&line);
        while decoder.next(&mut buffer, Seconds::default()).is_some() {
            good += 1;
        }
        assert!(buffer.capacity() <= 4096);
    }
    assert_eq!((good, decoder.counters().lost, decoder.counters().restarts), (240_000, 0, 0));
}
