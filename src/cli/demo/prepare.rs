//! What was done in the workshop before: the sensor tumbled, and turned end for end on the bench. On a copy of the simulated
//! head, faster than life.

use crate::bench::{Instrument, RestFinder, Seen, Taken, pose, zero};
use crate::cli::CliError;
use crate::filter::{Progress, SteadyReader, SteadySettings};
use crate::rig::Rig;
use crate::rotor::{Datum, Rotation};
use crate::sensor::poses::{Facing, guided};
use crate::sensor::{JUDGED_POSES, Label, tumble};
use crate::stream::{Counters, Profile, SampleDecoder};
use crate::units::{Angle, Sample, Seconds};
use crate::words::demo::NO_REST;
use bytes::BytesMut;

/// Longer than any reading of a sensor at rest takes.
const LONGEST: Seconds = Seconds::new(60.0);

/// The rig's commands that lay the sensor on the table, and then turn it end for end.
pub(super) const ON_THE_TABLE: [&str; 2] = ["clip table forward over 0.5", "clip table reversed over 0.5"];

/// The sensor as calibrated on a copy of this head, and its own error as a reversal shows it.
pub(super) fn prepared(rig: &Rig, rotation: Rotation) -> Result<(Instrument, Datum), CliError> {
    let profile = Profile::sentence();
    let mut bench = Bench { rig: rig.clone(), decoder: SampleDecoder::new(&profile) };
    let bare = Instrument::new(profile.clone(), None, rotation);
    let settings = SteadySettings { want: Angle::from_degrees(0.03), ..SteadySettings::default() };
    let mut finder = RestFinder::new(bare, settings);
    let mut poses = Vec::new();
    let mut label = Label { name: "demo".to_owned(), sensor: "simulated".to_owned(), ..Label::default() };
    for facing in guided(JUDGED_POSES) {
        bench.hands(&pose_command(facing))?;
        let rest = bench.until(|sample| match finder.push(sample, Counters::default()) {
            Seen::Rest(rest) => Some(rest),
            _ => None,
        })?;
        label.temperature = rest.taken.temperature;
        poses.extend(pose(&rest.taken));
    }
    let calibration = tumble(&poses, label)?;
    let instrument = Instrument::new(profile, Some(calibration), rotation);
    let [forward, reversed] = ON_THE_TABLE;
    bench.hands(forward)?;
    let first = bench.read(&instrument)?;
    bench.hands(reversed)?;
    let second = bench.read(&instrument)?;
    Ok((instrument, zero::reversal(&first, &second, zero::Seating::on_a_surface())?))
}

/// The rig's words for turning one of the sensor's directions up: rolled about x, then pitched about its y, the vertical
/// stands along (−cos r·sin p, sin r, cos r·cos p).
pub(super) fn pose_command(facing: Facing) -> String {
    let [x, y, z] = facing.unit();
    let roll = y.asin().to_degrees();
    let pitch = (-x).atan2(z).to_degrees();
    format!("clip pose {roll:.1} {pitch:.1} over 0.3")
}

struct Bench {
    rig: Rig,
    decoder: SampleDecoder,
}

impl Bench {
    fn hands(&mut self, command: &str) -> Result<(), CliError> {
        self.rig.command(command)?;
        Ok(())
    }

    /// Lets the sensor send until `taken` has what it wants.
    fn until<T>(&mut self, mut taken: impl FnMut(&Sample) -> Option<T>) -> Result<T, CliError> {
        let (end, mut bytes) = (self.rig.now() + LONGEST, Vec::new());
        while self.rig.now() < end {
            bytes.clear();
            self.rig.advance(self.rig.now() + Seconds::new(0.1), &mut bytes);
            let mut buffer = BytesMut::from(&*bytes);
            while let Some(sample) = self.decoder.next(&mut buffer, Seconds::default()) {
                if let Some(found) = taken(&sample) {
                    return Ok(found);
                }
            }
        }
        Err(CliError::Measurement(NO_REST.into()))
    }

    fn read(&mut self, instrument: &Instrument) -> Result<Taken, CliError> {
        let settings = SteadySettings { want: Angle::from_degrees(0.03), ..SteadySettings::default() };
        let mut reader = Some(SteadyReader::new(instrument.settings(settings)));
        let (mut samples, mut temperature) = (Vec::new(), None);
        let steady = self.until(|sample| {
            temperature = sample.temperature.or(temperature);
            samples.push(*sample);
            match reader.as_mut()?.push(&instrument.force(sample)) {
                Progress::Done(ended_by) => reader.take()?.finish(ended_by),
                _ => None,
            }
        })?;
        Ok(Taken { steady, counters: Counters::default(), temperature, samples })
    }
}
