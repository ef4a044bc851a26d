//! Profiles: built in, out of a file, changed from the command line.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on should stop")]

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
    assert!(text.contains("sentence, columns, labelled") && text.contains("TOML"), "{text}");
}

#[test]
fn every_example_profile_is_understood() {
    let mut count = 0;
    for entry in std::fs::read_dir("examples/profiles").unwrap() {
        let path = entry.unwrap().path();
        let profile = Profile::find(path.to_str().unwrap()).unwrap_or_else(|error| panic!("{error}"));
        // And what its encoder writes is what its decoder reads.
        let mut bytes = b"\r\n".to_vec();
        let counts = [0.25, -0.5, 0.75].map(|g| g * profile.counts_per_g());
        for seq in 0..3u16 {
            let micros = 2_000_000 + u32::from(seq) * 10_000;
            profile.encoder().encode(&Frame { seq, micros, counts, celsius: Some(20.0) }, &mut bytes);
        }
        let (samples, counters) = SampleDecoder::all(&profile, &bytes);
        assert_eq!((samples.len(), counters.damaged()), (3, 0), "{}", path.display());
        for (read, sent) in samples[2].counts.iter().zip(counts) {
            assert!((read - sent).abs() <= 0.5 + 1e-9 || (read - sent).abs() <= 1e-5 * profile.counts_per_g());
        }
        assert!(samples[2].clock.value() > 0.01, "time goes on in {}", path.display());
        count += 1;
    }
    assert!(count >= 3, "{count} example profiles");
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
