//! A profile for binary frames that nobody has described: the simulated sensor's samples in many layouts, found again.

use clinoblade::rig::{Rig, Scenario, noise::Random};
use clinoblade::stream::codec::{Carried, Direction, Frame, FrameLayout};
use clinoblade::stream::propose::{Doubt, Known, Proposal, ProposeError, propose};
use clinoblade::stream::{Format, Profile, SampleDecoder};
use clinoblade::units::Seconds;

/// What the simulated head's sensor sends in three seconds, lying still on a blade.
fn sent() -> Vec<Frame> {
    let scenario: Scenario = "head = { nose_deg = 7.0, left_deg = -3.0, station_deg = 30.0 }\nsensor = { noise_density_ug_rthz = 150.0 }\nstream = { profile = 'frame', jitter_ms = 0.01 }\n".parse().unwrap();
    let mut bytes = Vec::new();
    Rig::new(scenario).unwrap().advance(Seconds::new(3.0), &mut bytes);
    let (samples, _) = SampleDecoder::all(&Profile::frame(), &bytes);
    assert!(samples.len() > 590);
    let frame = |(n, sample): (usize, &clinoblade::units::Sample)| Frame {
        seq: 700 + n as u16,
        micros: 3_000_000 + (sample.clock.value() * 1e6).round() as u32,
        counts: sample.counts,
        celsius: None,
    };
    samples.iter().enumerate().map(frame).collect()
}

fn layout(profile: &Profile) -> &FrameLayout {
    let Format::Frame(layout) = profile.format() else { panic!("{:?}", profile.format()) };
    layout
}

/// The frames as a sensor of this description sends them, joined in the middle of one, now and then one damaged.
fn stream(profile: &Profile, per_g: f64) -> Vec<u8> {
    let mut random = Random::new(5);
    let mut bytes = Vec::new();
    for mut frame in sent() {
        frame.counts = frame.counts.map(|count| count * per_g / 16_384.0);
        let begin = bytes.len();
        profile.encoder().encode(&frame, &mut bytes);
        if random.chance(0.01) {
            let at = begin + random.bits() as usize % (bytes.len() - begin);
            bytes[at] ^= 0x11;
        }
    }
    bytes.split_off(3)
}

fn described(section: &str, per_g: f64) -> Profile {
    Profile::from_toml(&format!("format = 'frame'\ncounts_per_g = {per_g}\n[frame]\n{section}"), "test").unwrap()
}

fn proposed(bytes: &[u8], seconds: Option<f64>) -> Proposal {
    propose(bytes, seconds, &Known::default()).unwrap()
}

fn force(carried: &Carried) -> [clinoblade::stream::codec::Field; 3] {
    let Direction::Force(fields) = carried.direction else { panic!("{carried:?}") };
    fields
}

#[test]
fn layouts_are_found_again_from_three_seconds_of_their_stream() {
    let layouts = [
        (
            "sync = 'A7 5C'\nlength = 16\norder = 'little'\ncounter = { at = 2, type = 'u16' }\ntime = { at = 4, type = 'u32' }\ntime_unit = 'us'\n\
          x = { at = 8, type = 'i16' }\ny = { at = 10, type = 'i16' }\nz = { at = 12, type = 'i16' }\nchecksum = { kind = 'CRC-16/IBM-3740', at = 14 }",
            16_384.0,
        ),
        (
            "sync = '01'\nlength = 14\ncobs = true\norder = 'big'\ncounter = { at = 1, type = 'u8' }\nx = { at = 2, type = 'i16' }\ny = { at = 4, type = 'i16' }\n\
          z = { at = 6, type = 'i16' }\ntime = { at = 8, type = 'u32' }\ntime_unit = 'ms'\nchecksum = { kind = 'CRC-16/KERMIT', at = 12, order = 'little' }",
            4096.0,
        ),
        (
            "sync = '24'\nlength = 16\norder = 'little'\ncounter = { at = 1, type = 'u16' }\nx = { at = 3, type = 'f32' }\ny = { at = 7, type = 'f32' }\n\
          z = { at = 11, type = 'f32' }\nchecksum = { kind = 'sum8', at = 15 }",
            1.0,
        ),
        (
            "sync = 'AA 55'\nlength = 16\norder = 'big'\ntime = { at = 2, type = 'u32' }\ntime_unit = 'us'\nx = { at = 6, type = 'i24' }\ny = { at = 9, type = 'i24' }\n\
          z = { at = 12, type = 'i24' }\nchecksum = { kind = 'CRC-8/SMBUS', at = 15, from = 2 }",
            256_000.0,
        ),
        (
            "sync = 'FA CE'\nlength = 15\norder = 'little'\nx = { at = 2, type = 'i32' }\ny = { at = 6, type = 'i32' }\nz = { at = 10, type = 'i32' }\n\
          checksum = { kind = 'xor8', at = 14 }",
            256_000.0,
        ),
        (
            "sync = 'EB 90'\nlength = 11\norder = 'big'\ncounter = { at = 2, type = 'u8' }\nx = { at = 3, type = 'i16' }\ny = { at = 5, type = 'i16' }\n\
          z = { at = 7, type = 'i16' }\nchecksum = { kind = 'CRC-16/MODBUS', at = 9, order = 'little' }",
            1000.0,
        ),
    ];
    for (section, per_g) in layouts {
        let described = described(section, per_g);
        let bytes = stream(&described, per_g);
        let found = proposed(&bytes, Some(3.0));
        let (want, have) = (layout(&described), layout(&found.profile));
        assert_eq!((have.length, have.cobs, &have.sync), (want.length, want.cobs, &want.sync), "{section}");
        // One byte has no order.
        let sum = |layout: &FrameLayout| {
            layout.checksum.map(|sum| (sum.sum, sum.at, sum.from, sum.big_endian && sum.sum.width() > 1))
        };
        assert_eq!(sum(have), sum(want), "{section}\n{:?}", found.doubts);
        assert_eq!(force(&have.carried), force(&want.carried), "{section}");
        let counter = |layout: &FrameLayout| layout.carried.counter.map(|field| (field.at, field.kind));
        assert_eq!((counter(have), have.carried.time), (counter(want), want.carried.time), "{section}");
        assert_eq!(have.carried.micros_per_tick, want.carried.micros_per_tick, "{section}");
        assert!(
            found.gravity_fits && found.profile.counts_per_g() == per_g,
            "{section}: {}",
            found.profile.counts_per_g()
        );
        let rate = found.profile.rate().unwrap().value();
        assert!((195.0..=205.0).contains(&rate), "{section}: {rate} Hz");
        // The described one has no rate of its own, so that times may differ: the counts may not.
        let read = |profile: &Profile| {
            let (samples, counters) = SampleDecoder::all(profile, &bytes);
            (samples.iter().map(|sample| sample.counts).collect::<Vec<_>>(), counters)
        };
        assert_eq!(read(&found.profile), read(&described), "{section}");
    }
}

#[test]
fn without_a_checksum_the_doubt_is_said() {
    let section = "sync = '55 AA'\nlength = 9\norder = 'big'\ncounter = { at = 2, type = 'u8' }\nx = { at = 3, type = 'i16' }\ny = { at = 5, type = 'i16' }\nz = { at = 7, type = 'i16' }";
    let described = described(section, 4096.0);
    let found = proposed(&stream(&described, 4096.0), None);
    let have = layout(&found.profile);
    assert_eq!((have.length, have.checksum), (9, None));
    assert!(found.doubts.contains(&Doubt::NoChecksum), "{:?}", found.doubts);
    assert!(found.gravity_fits);
}

/// Counter, clock and checksum move, and nothing else.
#[test]
fn what_lies_perfectly_still_leaves_its_numbers_open_and_says_so() {
    let described = Profile::frame();
    let mut bytes = Vec::new();
    for n in 0..200u16 {
        let frame =
            Frame { seq: n, micros: 5000 * u32::from(n), counts: [1000.0, -20.0, 16_300.0], celsius: Some(20.0) };
        described.encoder().encode(&frame, &mut bytes);
    }
    let found = proposed(&bytes, Some(1.0));
    assert_eq!(layout(&found.profile).checksum, layout(&described).checksum, "{:?}", found.doubts);
    assert!(found.doubts.contains(&Doubt::ClockWidth { at: 4, bits: 32 }), "{:?}", found.doubts);
}

#[test]
fn what_is_no_stream_of_frames_or_has_no_force_is_told() {
    let mut random = Random::new(9);
    let noise: Vec<u8> = (0..12_000).map(|_| random.bits() as u8).collect();
    assert_eq!(propose(&noise, Some(3.0), &Known::default()), Err(ProposeError::Neither));
    assert!(propose(b"", None, &Known::default()).is_err());
    let angles = "sync = 'A5 5A'\nlength = 8\norder = 'little'\npitch = { at = 2, type = 'i16', scale = 0.01 }\nroll = { at = 4, type = 'i16', scale = 0.01 }\nchecksum = { kind = 'CRC-16/XMODEM', at = 6 }";
    let angles = Profile::from_toml(&format!("format = 'frame'\n[frame]\n{angles}"), "test").unwrap();
    match propose(&stream(&angles, 1.0), Some(3.0), &Known::default()) {
        Err(ProposeError::NoForce { length: 8, sync: Some(sync), checksum: Some(checksum) }) => {
            assert_eq!((sync.as_slice(), checksum.sum.name()), (&[0xa5, 0x5a][..], "CRC-16/XMODEM"));
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_person_may_say_where_the_axes_stand() {
    let described = Profile::frame();
    let bytes = stream(&described, 16_384.0);
    let known = |axes: [&str; 3]| Known { axes: Some(axes.map(str::to_owned)), ..Known::default() };
    let found = propose(&bytes, Some(3.0), &known(["12", "10", "8"])).unwrap();
    assert_eq!(force(&layout(&found.profile).carried).map(|field| field.at), [12, 10, 8]);
    let beyond = ProposeError::NoByte { name: "88".to_owned(), length: 18 };
    assert_eq!(propose(&bytes, Some(3.0), &known(["12", "10", "88"])), Err(beyond));
}
