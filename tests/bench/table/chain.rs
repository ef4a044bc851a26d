//! Raw log to steady angles, by time on a processor: file, codec, clock, calibration, gate, live filter, steady reader.
//!
//! A stick is moved every three seconds; one steady reading is asked for after the other. The goal is a day of work in well
//! under a minute.

use super::line::Line;
use super::repeated::processor_seconds;
use super::{Size, Told, recorded};
use bytes::BytesMut;
use clinoblade::bench::{BenchError, Instrument, Session};
use clinoblade::filter::{EndedBy, Progress, SteadyReader, SteadySettings};
use clinoblade::rotor::Rotation;
use clinoblade::stream::{Options, Profile, SampleDecoder, SampleStream, Source};
use clinoblade::units::{Angle, Seconds};
use std::path::Path;

const ROUNDS: u32 = 3;
/// Samples a second of the sensor.
const RATE: f64 = 400.0;
/// Times as fast as the sensor sends.
const GOAL: f64 = 2000.0;

pub fn measure(size: Size, told: &mut Told) {
    let log = recorded::handled(size.or(20, 5));
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("handled.log");
    std::fs::write(&path, &log).expect("the log");
    let wanted = |degrees: f64, at_least: f64| SteadySettings {
        want: Angle::from_degrees(degrees),
        at_least: Seconds::new(at_least),
        ..SteadySettings::default()
    };
    for (what, settings) in [
        ("session, ±0.05°", wanted(0.05, 0.0)),
        ("session, as the page asks", wanted(0.05, 1.5)),
        ("session, ±0.01°", wanted(0.01, 0.0)),
    ] {
        let (samples, readings) = in_session(&path, settings);
        let seconds = taken(|| assert_eq!(in_session(&path, settings), (samples, readings)));
        told.tell(&line(what, samples, readings, seconds).goal("> 2000", f64::from(samples) / seconds / RATE > GOAL));
    }
    let (samples, readings) = by_hand(&log, wanted(0.05, 0.0));
    let seconds = taken(|| assert_eq!(by_hand(&log, wanted(0.05, 0.0)), (samples, readings)));
    told.tell(&line("the same without a runtime", samples, readings, seconds));
}

/// Seconds on a processor for one round.
fn taken(mut round: impl FnMut()) -> f64 {
    let begun = processor_seconds("self");
    (0..ROUNDS).for_each(|_| round());
    (processor_seconds("self") - begun) / f64::from(ROUNDS)
}

fn line(what: &str, samples: u32, readings: u32, seconds: f64) -> Line {
    let speed = f64::from(samples) / seconds;
    Line::new("chain", what, format!("{:.3} M/s, {readings} readings", speed / 1e6))
        .against("real time: 400 /s", speed / RATE)
}

/// As the commands do it; how many samples came, and how many steady readings.
fn in_session(path: &Path, settings: SteadySettings) -> (u32, u32) {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    runtime.block_on(async {
        let profile = Profile::sentence();
        let source = Source::Replay(path.to_owned());
        let stream = SampleStream::open(&source, &profile, &Options::default()).await.expect("the log");
        let session = Session::start(stream, Instrument::new(profile, None, Rotation::Clockwise));
        let live = session.live();
        let mut readings = 0;
        loop {
            match session.read(settings).await {
                Ok(taken) => readings += u32::from(taken.steady.steady),
                Err(BenchError::Ended | BenchError::Nothing) => break,
                Err(error) => panic!("{error}"),
            }
        }
        let counted = live.borrow().map_or(0, |live| live.counters.good);
        (u32::try_from(counted).expect("a short log"), readings)
    })
}

/// The same rooms one after the other, with the log at hand.
fn by_hand(log: &[u8], settings: SteadySettings) -> (u32, u32) {
    let profile = Profile::sentence();
    let instrument = Instrument::new(profile.clone(), None, Rotation::Clockwise);
    let settings = instrument.settings(settings);
    let (mut decoder, mut buffer) = (SampleDecoder::new(&profile), BytesMut::from(log));
    let (mut samples, mut readings) = (0, 0);
    let mut reader = SteadyReader::new(settings);
    while let Some(sample) = decoder.next(&mut buffer, Seconds::default()) {
        samples += 1;
        if let Progress::Done(ended_by) = reader.push(&instrument.force(&sample)) {
            let done = std::mem::replace(&mut reader, SteadyReader::new(settings));
            readings += u32::from(done.finish(ended_by).is_some_and(|reading| reading.steady));
        }
    }
    readings += u32::from(reader.finish(EndedBy::End).is_some_and(|reading| reading.steady));
    (samples, readings)
}
