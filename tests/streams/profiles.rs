//! Profiles: built in, out of a file, changed from the command line.

use clinoblade::stream::codec::Frame;
use clinoblade::stream::{Format, Overrides, Profile, SampleDecoder};

fn refused(toml: &str) -> String {
    Profile::from_toml(toml, "workshop.toml").unwrap_err().to_string()
}

#[test]
fn the_reference_firmware_is_built_in() {
    let sentence = Profile::find("sentence").unwrap();
    assert_eq!((sentence.counts_per_g(), sentence.baud(), sentence.full_scale()), (16_384.0, 115_200, Some(32_767.0)));
    assert_eq!(sentence.rate().unwrap().value(), 200.0);
    assert_eq!((sentence.axes().chord().to_string(), sentence.axes().normal().to_string()), ("+x".into(), "+z".into()));
    for name in Profile::BUILT_IN {
        assert_eq!(Profile::built_in(name).unwrap().name(), name);
    }
}

#[test]
fn an_unknown_name_is_answered_with_the_known_ones() {
    let text = Profile::find("sentense").unwrap_err().to_string();
    assert!(text.contains("sentence, columns, labelled, xdr, frame, modbus") && text.contains("TOML"), "{text}");
}

#[test]
fn every_example_profile_is_understood() {
    let mut count = 0;
    for entry in std::fs::read_dir("examples/profiles").unwrap() {
        let path = entry.unwrap().path();
        let profile = Profile::find(path.to_str().unwrap()).unwrap_or_else(|error| panic!("{error}"));
        // And what its encoder writes is what its decoder reads.
        let mut bytes = b"\r\n".to_vec();
        // 2² + 3² + 6² = 7²: a direction that angles can tell as well.
        let counts = [2.0, -3.0, 6.0].map(|g| g / 7.0 * profile.counts_per_g());
        for seq in 0..3u16 {
            let micros = 2_000_000 + u32::from(seq) * 10_000;
            profile.encoder().encode(&Frame { seq, micros, counts, celsius: Some(20.0) }, &mut bytes);
        }
        let (samples, counters) = SampleDecoder::all(&profile, &bytes);
        // What the stream is joined with may cost the first frame.
        assert!(samples.len() >= 2 && counters.damaged() == 0, "{}: {counters:?}", path.display());
        let last = samples.last().unwrap();
        for (read, sent) in last.counts.iter().zip(counts) {
            assert!((read - sent).abs() <= 0.5 + 1e-9 || (read - sent).abs() <= 3e-5 * profile.counts_per_g());
        }
        assert!(last.clock.value() >= 0.01, "time goes on in {}", path.display());
        count += 1;
    }
    assert!(count >= 6, "{count} example profiles");
}

#[test]
fn a_file_says_unit_columns_and_mounting() {
    let profile = Profile::from_toml(
        r#"
        name = "bench board"
        format = "columns"
        unit = "mg"
        full_scale = 2000
        baud = 57600
        [axes]
        chord = "-y"
        normal = "+z"
        [columns]
        time = 1
        time_unit = "ms"
        x = 2
        y = 3
        z = 4
        temperature = 6
        "#,
        "bench.toml",
    )
    .unwrap();
    assert_eq!((profile.name(), profile.counts_per_g(), profile.baud()), ("bench board", 1000.0, 57_600));
    assert_eq!(profile.axes().chord().to_string(), "-y");
    assert!(matches!(profile.format(), Format::Columns(_)));
    assert_eq!(profile.rate(), None);
    assert!(profile.tells_time());
    let (samples, _) =
        SampleDecoder::all(&profile, b"\n4294967290,1,2,3,x,20.5\n4294967295,2000,2,3,x,20.5\n4,-1999.9,2,3,x,20\n");
    assert_eq!(samples.iter().map(|sample| sample.clock.value()).collect::<Vec<_>>(), [0.0, 0.005, 0.01]);
    assert_eq!(samples[2].temperature.unwrap().value(), 20.0);
    let saturated: Vec<bool> = samples.iter().map(|sample| profile.saturated(sample)).collect();
    assert_eq!(saturated, [false, true, false]);
}

#[test]
fn a_mistake_is_shown_with_its_line_and_the_words_that_fit() {
    let unknown = refused("format = \"columns\"\nbuad = 9600\n");
    assert!(unknown.contains("line 2") && unknown.contains("buad") && unknown.contains("baud"), "{unknown}");
    let format = refused("format = \"xml\"\n");
    assert!(format.contains("line 1") && format.contains("labelled"), "{format}");
    assert!(refused("format = \"columns\"\nunit = \"g\"\n").contains("[columns]"));
    assert!(refused("format = \"labelled\"\nunit = \"g\"\n").contains("[labelled]"));
    assert!(refused("format = \"columns\"\n[columns]\nx = 1\ny = 2\nz = 3\n").contains("unit ="));
    assert!(refused("format = \"columns\"\nunit = \"g\"\n[columns]\nx = 1\ny = 2\nz = 2\n").contains("named twice"));
    assert!(refused("format = \"columns\"\nunit = \"g\"\n[columns]\nx = 0\ny = 2\nz = 3\n").contains("line 4"));
    assert!(
        refused("format = \"columns\"\nunit = \"g\"\n[columns]\nx = 1\ny = 2\nz = 3\ntime = 4\n").contains("time_unit")
    );
    assert!(refused("format = \"sentence\"\ncounts_per_g = 0\n").contains("above zero"));
    assert!(refused("format = \"sentence\"\nrate_hz = nan\n").contains("rate_hz"));
    assert!(refused("format = \"sentence\"\n[axes]\nchord = \"+x\"\nnormal = \"-x\"\n").contains("two different axes"));
    assert!(refused("format = \"sentence\"\n[columns]\nx = 1\ny = 2\nz = 3\n").contains("remove it"));
    assert!(
        refused("format = \"labelled\"\nunit = \"g\"\n[labelled]\nx = \"a:\"\ny = \"b\"\nz = \"c\"\n")
            .contains("cannot be a label")
    );
}

#[test]
fn the_command_line_changes_counts_and_baud() {
    let changed = Profile::sentence()
        .with(Overrides { counts_per_g: Some(256.0), baud: Some(921_600), ..Overrides::default() })
        .unwrap();
    assert_eq!((changed.counts_per_g(), changed.baud(), changed.name()), (256.0, 921_600, "sentence"));
    for wrong in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(Profile::sentence().with(Overrides { counts_per_g: Some(wrong), ..Overrides::default() }).is_err());
    }
    assert!(Profile::sentence().with(Overrides { baud: Some(0), ..Overrides::default() }).is_err());
}

/// The text, and in which line of it the mistake is said to stand.
fn refused_at(toml: &str, line: usize, words: &str) {
    let said = refused(toml);
    let shown = toml.lines().nth(line - 1).unwrap();
    assert!(said.contains(&format!("line {line}, column ")), "{said}");
    assert!(said.contains(&format!("{line} | {shown}\n")) && said.contains('^'), "{said}");
    assert!(said.contains(words), "{said}");
}

#[test]
fn every_mistake_is_shown_with_its_line() {
    let columns = "format = 'columns'\nunit = 'g'\n[columns]\nx = 1\ny = 2\n";
    refused_at(&format!("{columns}z = 2\n"), 6, "named twice");
    refused_at(&format!("{columns}z = 40\n"), 6, "beyond the 32 columns");
    refused_at(&format!("{columns}z = 3\ntime = 4\n"), 7, "time_unit");
    refused_at(&format!("{columns}z = 3\ntime_unit = 'ms'\n"), 7, "leave time_unit out");
    refused_at("name = 'a'\nformat = 'sentence'\nbaud = 0\n", 3, "above zero");
    refused_at("format = 'sentence'\n\nrate_hz = 1e9\n", 3, "at most 10000");
    refused_at("name = 'a'\nformat = 'columns'\n[columns]\nx = 1\ny = 2\nz = 3\n", 2, "unit =");
    refused_at("format = 'sentence'\n[labelled]\nx='x'\ny='y'\nz='z'\n", 2, "remove it");
    refused_at("format = 'sentence'\ncounts_per_g = 1\nunit = 'g'\n", 3, "not both");
    refused_at("format = 'sentence'\nparity = 'ever'\n", 2, "even");
    refused_at("format = 'xdr'\nunit = 'g'\n[xdr]\ntilt = 'X'\n", 2, "degrees");
    refused_at("format = 'xdr'\n[xdr]\npitch = 'PITCH'\n", 3, "both");
    refused_at("format = 'xdr'\n[xdr]\npitch = 'A'\nroll = 'a'\n", 4, "named twice");
    refused_at("format = 'xdr'\n[xdr]\ntilt = 'A,B'\n", 3, "no comma");
    let frame = "format = 'frame'\nunit = 'mg'\n[frame]\norder = 'big'\nlength = 10\nx = { at = 2, type = 'i16' }\ny = { at = 4, type = 'i16' }\n";
    let z = "z = { at = 6, type = 'i16' }\n";
    refused_at(&format!("{frame}z = {{ at = 9, type = 'i16' }}\nsync = 'AA'\n"), 8, "ends behind the frame");
    refused_at(&format!("{frame}z = {{ at = 6, type = 'i12' }}\nsync = 'AA'\n"), 8, "i16");
    refused_at(&format!("{frame}z = {{ at = 6, type = 'i16', scale = 0 }}\nsync = 'AA'\n"), 8, "scale");
    refused_at(&format!("{frame}{z}sync = 'AX'\n"), 9, "hexadecimal");
    refused_at(&format!("{frame}{z}"), 3, "sync");
    refused_at(
        &format!("{frame}{z}sync = 'AA'\nchecksum = {{ kind = 'CRC-16/MODBUSS', at = 8 }}\n"),
        10,
        "CRC-16/MODBUS,",
    );
    refused_at(&format!("{frame}{z}sync = 'AA'\nchecksum = {{ kind = 'CRC-16/MODBUS', at = 9 }}\n"), 10, "ends behind");
    refused_at(&format!("{frame}{z}sync = 'AA'\ncounter = {{ at = 8, type = 'i16' }}\n"), 10, "unsigned");
    refused_at(&format!("{frame}{z}sync = 'AA'\nsink = 'AA'\n"), 10, "unknown field `sink`");
    refused_at(&frame.replace("length = 10", "length = 300"), 5, "1 to 256 bytes");
    let modbus = "format = 'modbus'\nunit = 'mg'\n[modbus]\nregisters = 'input'\nx = { at = 2, type = 'i16' }\ny = { at = 4, type = 'i16' }\n";
    refused_at(&format!("{modbus}{z}address = 0\n"), 8, "1 to 247");
    refused_at(&format!("{modbus}z = {{ at = 6, type = 'i8' }}\naddress = 1\n"), 7, "register holds 16 bits");
    refused_at(&format!("{modbus}z = {{ at = 600, type = 'i16' }}\naddress = 1\n"), 3, "too far apart");
    refused_at(&format!("{modbus}tilt = {{ at = 6, type = 'i16' }}\naddress = 1\n"), 3, "two ways");
}

#[test]
fn what_is_written_out_is_read_back_the_same() {
    let mut profiles: Vec<Profile> = Profile::BUILT_IN.into_iter().filter_map(Profile::built_in).collect();
    for entry in std::fs::read_dir("examples/profiles").unwrap() {
        profiles.push(Profile::find(entry.unwrap().path().to_str().unwrap()).unwrap());
    }
    for profile in profiles {
        let text = profile.to_toml().unwrap();
        assert_eq!(Profile::from_toml(&text, "again").unwrap(), profile, "{text}");
    }
}

#[test]
fn a_sensor_of_angles_says_what_it_cannot_show() {
    assert!(Profile::xdr().is_angle_only() && !Profile::xdr().limits().is_empty());
    for name in ["sentence", "columns", "labelled", "frame", "modbus"] {
        assert!(Profile::built_in(name).unwrap().limits().is_empty(), "{name}");
    }
}
