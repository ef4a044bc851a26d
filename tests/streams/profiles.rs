//! Profiles: built in, out of a file, changed from the command line.

use clinoblade::stream::codec::Frame;
use clinoblade::stream::{Format, Holder, Mistake, Overrides, Profile, ProfileError, SampleDecoder};

fn refused(toml: &str) -> ProfileError {
    Profile::from_toml(toml, "workshop.toml").unwrap_err()
}

/// What cannot be, and in which line.
fn mistake(toml: &str) -> (Mistake, Option<usize>) {
    match refused(toml) {
        ProfileError::Wrong { name, mark, mistake } => {
            assert_eq!(name, "workshop.toml");
            (mistake, mark.map(|mark| mark.line))
        }
        other => panic!("{other}"),
    }
}

/// What the TOML parser says.
fn no_toml(toml: &str) -> String {
    match refused(toml) {
        ProfileError::NotToml { reason, .. } => reason,
        other => panic!("{other}"),
    }
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
fn an_unknown_name_is_told() {
    assert!(matches!(Profile::find("sentense"), Err(ProfileError::Unknown(name)) if name == "sentense"));
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
fn a_mistake_is_told_by_its_kind() {
    let unknown = no_toml("format = \"columns\"\nbuad = 9600\n");
    assert!(unknown.contains("line 2") && unknown.contains("buad") && unknown.contains("baud"), "{unknown}");
    let format = no_toml("format = \"xml\"\n");
    assert!(format.contains("line 1") && format.contains("labelled"), "{format}");
    let columns = |rest: &str| mistake(&format!("format = \"columns\"\n{rest}"));
    let xyz = "[columns]\nx = 1\ny = 2\nz = ";
    assert_eq!(columns("unit = \"g\"\n"), (Mistake::SectionMissing("columns"), Some(1)));
    assert_eq!(mistake("format = \"labelled\"\nunit = \"g\"\n").0, Mistake::SectionMissing("labelled"));
    assert_eq!(columns(&format!("{xyz}3\n")).0, Mistake::UnitMissing);
    let twice = Mistake::Twice { kind: Holder::Column, name: "2".to_owned() };
    assert_eq!(columns(&format!("unit = \"g\"\n{xyz}2\n")).0, twice);
    assert!(no_toml("format = \"columns\"\nunit = \"g\"\n[columns]\nx = 0\ny = 2\nz = 3\n").contains("line 4"));
    assert_eq!(columns(&format!("unit = \"g\"\n{xyz}3\ntime = 4\n")).0, Mistake::TimeUnitMissing);
    assert_eq!(mistake("format = \"sentence\"\ncounts_per_g = 0\n").0, Mistake::CountsPerG);
    assert_eq!(mistake("format = \"sentence\"\nrate_hz = nan\n").0, Mistake::Rate);
    let alike = no_toml("format = \"sentence\"\n[axes]\nchord = \"+x\"\nnormal = \"-x\"\n");
    assert!(alike.contains("same axis twice: x"), "{alike}");
    assert_eq!(mistake("format = \"sentence\"\n[columns]\nx = 1\ny = 2\nz = 3\n").0, Mistake::OtherSection("columns"));
    assert_eq!(
        mistake("format = \"labelled\"\nunit = \"g\"\n[labelled]\nx = \"a:\"\ny = \"b\"\nz = \"c\"\n").0,
        Mistake::NoLabel("a:".to_owned())
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

/// The text, in which line of it the mistake stands, and what it is.
fn refused_at(toml: &str, line: usize, expected: Mistake) {
    let ProfileError::Wrong { mark: Some(mark), mistake, .. } = refused(toml) else { panic!("{toml}") };
    assert_eq!((mistake, mark.line), (expected, line), "{toml}");
    assert_eq!(Some(mark.text.as_str()), toml.lines().nth(line - 1));
    assert!(mark.column + mark.width <= mark.text.chars().count() + 1, "{mark:?}");
}

/// The same for what is no TOML of a profile.
fn unread_at(toml: &str, line: usize, words: &str) {
    let said = no_toml(toml);
    let shown = toml.lines().nth(line - 1).unwrap();
    assert!(said.contains(&format!("line {line}, column ")), "{said}");
    assert!(said.contains(&format!("{line} | {shown}\n")) && said.contains('^'), "{said}");
    assert!(said.contains(words), "{said}");
}

#[test]
fn every_mistake_is_shown_with_its_line() {
    let columns = "format = 'columns'\nunit = 'g'\n[columns]\nx = 1\ny = 2\n";
    refused_at(&format!("{columns}z = 2\n"), 6, Mistake::Twice { kind: Holder::Column, name: "2".to_owned() });
    refused_at(&format!("{columns}z = 40\n"), 6, Mistake::ColumnTooHigh(40));
    refused_at(&format!("{columns}z = 3\ntime = 4\n"), 7, Mistake::TimeUnitMissing);
    refused_at(&format!("{columns}z = 3\ntime_unit = 'ms'\n"), 7, Mistake::TimeMissing);
    refused_at("name = 'a'\nformat = 'sentence'\nbaud = 0\n", 3, Mistake::Baud);
    refused_at("format = 'sentence'\n\nrate_hz = 1e9\n", 3, Mistake::Rate);
    refused_at("name = 'a'\nformat = 'columns'\n[columns]\nx = 1\ny = 2\nz = 3\n", 2, Mistake::UnitMissing);
    refused_at("format = 'sentence'\n[labelled]\nx='x'\ny='y'\nz='z'\n", 2, Mistake::OtherSection("labelled"));
    refused_at("format = 'sentence'\ncounts_per_g = 1\nunit = 'g'\n", 3, Mistake::CountsAndUnit);
    unread_at("format = 'sentence'\nparity = 'ever'\n", 2, "even");
    refused_at("format = 'xdr'\nunit = 'g'\n[xdr]\ntilt = 'X'\n", 2, Mistake::CountsOfAngles);
    refused_at("format = 'xdr'\n[xdr]\npitch = 'PITCH'\n", 3, Mistake::XdrAngles);
    refused_at(
        "format = 'xdr'\n[xdr]\npitch = 'A'\nroll = 'a'\n",
        4,
        Mistake::Twice { kind: Holder::Name, name: "a".to_owned() },
    );
    refused_at("format = 'xdr'\n[xdr]\ntilt = 'A,B'\n", 3, Mistake::NoTransducer);
    let frame = "format = 'frame'\nunit = 'mg'\n[frame]\norder = 'big'\nlength = 10\nx = { at = 2, type = 'i16' }\ny = { at = 4, type = 'i16' }\n";
    let z = "z = { at = 6, type = 'i16' }\n";
    refused_at(
        &format!("{frame}z = {{ at = 9, type = 'i16' }}\nsync = 'AA'\n"),
        8,
        Mistake::Outside { key: "z".to_owned(), length: 10 },
    );
    unread_at(&format!("{frame}z = {{ at = 6, type = 'i12' }}\nsync = 'AA'\n"), 8, "i16");
    refused_at(&format!("{frame}z = {{ at = 6, type = 'i16', scale = 0 }}\nsync = 'AA'\n"), 8, Mistake::Scale);
    refused_at(&format!("{frame}{z}sync = 'AX'\n"), 9, Mistake::NotHexadecimal("AX".to_owned()));
    refused_at(&format!("{frame}{z}"), 3, Mistake::SyncMissing);
    refused_at(
        &format!("{frame}{z}sync = 'AA'\nchecksum = {{ kind = 'CRC-16/MODBUSS', at = 8 }}\n"),
        10,
        Mistake::NoChecksum("CRC-16/MODBUSS".to_owned()),
    );
    refused_at(
        &format!("{frame}{z}sync = 'AA'\nchecksum = {{ kind = 'CRC-16/MODBUS', at = 9 }}\n"),
        10,
        Mistake::ChecksumOutside { length: 10 },
    );
    refused_at(
        &format!("{frame}{z}sync = 'AA'\ncounter = {{ at = 8, type = 'i16' }}\n"),
        10,
        Mistake::NotUnsigned("counter"),
    );
    unread_at(&format!("{frame}{z}sync = 'AA'\nsink = 'AA'\n"), 10, "unknown field `sink`");
    refused_at(&frame.replace("length = 10", "length = 300"), 5, Mistake::FrameLength);
    let modbus = "format = 'modbus'\nunit = 'mg'\n[modbus]\nregisters = 'input'\nx = { at = 2, type = 'i16' }\ny = { at = 4, type = 'i16' }\n";
    refused_at(&format!("{modbus}{z}address = 0\n"), 8, Mistake::SlaveAddress);
    refused_at(&format!("{modbus}z = {{ at = 6, type = 'i8' }}\naddress = 1\n"), 7, Mistake::HalfRegister);
    refused_at(&format!("{modbus}z = {{ at = 600, type = 'i16' }}\naddress = 1\n"), 3, Mistake::RegistersApart);
    refused_at(&format!("{modbus}tilt = {{ at = 6, type = 'i16' }}\naddress = 1\n"), 3, Mistake::TwoDirections);
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
