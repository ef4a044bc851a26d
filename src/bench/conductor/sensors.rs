//! The sensors of a session: one whose clip goes from blade to blade, or several that stay each on a blade of its own.
//!
//! Each has a session of its own, so that its bytes are taken whoever is read. The guide knows one clock that never steps
//! back: it goes on from sensor to sensor, whatever each one's own clock shows.

use super::gallery::Rests;
use crate::bench::{Instrument, LiveReading, Session, Taken};
use crate::filter::Progress;
use crate::rotor::Carrier;
use crate::stream::{Counters, Options, Plug, SampleStream, StreamError};
use crate::units::Seconds;
use std::path::PathBuf;

/// A sensor with its stream, open.
#[derive(Debug)]
pub struct Sensor {
    /// Its stream.
    pub stream: SampleStream,
    /// How it is calibrated and mounted, and on which blade it stays, if it does.
    pub instrument: Instrument,
    /// What to open again when it breaks, wherever it has come back; none: a break is the end.
    pub plug: Option<Plug>,
    /// The source, as shown to the person.
    pub name: String,
    /// The raw log that `stream` keeps, if it does: it goes on when the sensor is opened again.
    pub save_raw: Option<PathBuf>,
}

/// A sensor as the conductor keeps it.
#[derive(Debug)]
pub(super) struct Kept {
    pub instrument: Instrument,
    pub plug: Option<Plug>,
    pub name: String,
    save_raw: Option<PathBuf>,
    /// Its running session; none while its line is broken, or while it is read.
    pub session: Option<Session>,
    /// What its noise did in every capture.
    pub rests: Rests,
}

impl Kept {
    fn new(sensor: Sensor) -> Self {
        let session = Some(Session::start(sensor.stream, sensor.instrument.clone()));
        let Sensor { instrument, plug, name, save_raw, .. } = sensor;
        Self { instrument, plug, name, save_raw, session, rests: Rests::default() }
    }

    /// What its stream has brought since it was opened; none before the first sample, and while it is read.
    pub fn counters(&self) -> Option<Counters> {
        let live = self.session.as_ref()?.live();
        live.borrow().map(|reading| reading.counters)
    }

    /// Whether its line is up, as far as is known without asking it.
    pub fn is_up(&self) -> bool {
        self.session.as_ref().is_some_and(|session| session.live().has_changed().is_ok())
    }
}

/// All sensors of a session, and the one that is read now.
#[derive(Debug)]
pub(super) struct Sensors {
    all: Vec<Kept>,
    at: usize,
    clock: Clock,
}

impl Sensors {
    /// The first is read until the guide wants another one.
    pub fn new(first: Sensor, others: Vec<Sensor>) -> Self {
        let all = std::iter::once(first).chain(others).map(Kept::new).collect();
        Self { all, at: 0, clock: Clock::default() }
    }

    /// The blades that carry a sensor of their own.
    pub fn carriers(&self) -> Vec<Carrier> {
        self.all.iter().filter_map(|sensor| sensor.instrument.carrier).collect()
    }

    /// The sensor that is read now.
    pub fn now(&self) -> &Kept {
        &self.all[self.at]
    }

    pub fn now_mut(&mut self) -> &mut Kept {
        &mut self.all[self.at]
    }

    /// Every sensor, each with whether it is the one that is read.
    pub fn iter(&self) -> impl Iterator<Item = (&Kept, bool)> {
        self.all.iter().enumerate().map(|(index, sensor)| (sensor, index == self.at))
    }

    /// How many of those that are not read have a broken line.
    pub fn broken(&self) -> usize {
        self.iter().filter(|(sensor, read)| !read && !sensor.is_up()).count()
    }

    /// Whether another sensor than the one that is read stays on this blade.
    pub fn is_elsewhere(&self, carrier: Option<Carrier>) -> bool {
        self.place_of(carrier).is_some_and(|index| index != self.at)
    }

    /// Reads the sensor on this blade from here on.
    pub fn go_to(&mut self, carrier: Option<Carrier>) {
        if let Some(index) = self.place_of(carrier).filter(|index| *index != self.at) {
            self.at = index;
            self.clock.another();
        }
    }

    fn place_of(&self, carrier: Option<Carrier>) -> Option<usize> {
        let carrier = carrier?;
        self.all.iter().position(|sensor| sensor.instrument.carrier == Some(carrier))
    }

    /// The live reading on the guide's clock.
    pub fn timed(&mut self, reading: LiveReading) -> LiveReading {
        let shift = self.clock.shift(reading.clock);
        let progress = match reading.progress {
            Progress::Settling { since, repeat, pitch, vibration } => {
                Progress::Settling { since: since + shift, repeat, pitch, vibration }
            }
            other => other,
        };
        LiveReading { clock: reading.clock + shift, progress, ..reading }
    }

    /// From when to when a steady reading lasted, on the guide's clock.
    pub fn span(&mut self, taken: &Taken) -> (Seconds, Seconds) {
        let shift = self.clock.shift(taken.steady.finished_at);
        (taken.steady.settled_at + shift, taken.steady.finished_at + shift)
    }

    /// Opens the source of the one that is read again: its own clock begins anew, the guide's goes on.
    pub async fn reopen(&mut self, plug: &Plug) -> Result<(), StreamError> {
        let sensor = &mut self.all[self.at];
        let options = Options { save_raw: sensor.save_raw.clone(), raw_goes_on: true, ..Options::default() };
        let stream = SampleStream::open(&plug.now()?, &sensor.instrument.profile, &options).await?;
        sensor.session = Some(Session::start(stream, sensor.instrument.clone()));
        self.clock.another();
        Ok(())
    }

    /// Ends every session: what the raw logs still hold goes to the disk.
    pub async fn end(&mut self) {
        for sensor in &mut self.all {
            if let Some(session) = sensor.session.take() {
                // Whatever ended it was said already.
                let _ = session.end().await;
            }
        }
    }
}

/// A clock that goes on when another sensor's takes over.
#[derive(Debug, Default)]
struct Clock {
    shift: Option<Seconds>,
    latest: Option<Seconds>,
}

impl Clock {
    /// What to add to the clock of the sensor that is read, which now shows `own`.
    fn shift(&mut self, own: Seconds) -> Seconds {
        let latest = self.latest;
        let shift = *self.shift.get_or_insert_with(|| latest.map_or(Seconds::new(0.0), |latest| latest - own));
        self.latest = Some(own + shift);
        shift
    }

    /// From here on another one is read.
    fn another(&mut self) {
        self.shift = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_sensors_clock_is_the_guides_and_anothers_goes_on_from_it() {
        let mut clock = Clock::default();
        let at = |clock: &mut Clock, own: f64| (Seconds::new(own) + clock.shift(Seconds::new(own))).value();
        assert_eq!((at(&mut clock, 3.0), at(&mut clock, 8.5)), (3.0, 8.5));
        clock.another();
        assert_eq!((at(&mut clock, 400.0), at(&mut clock, 402.0)), (8.5, 10.5));
        clock.another();
        assert_eq!((at(&mut clock, 9.0), at(&mut clock, 10.0)), (10.5, 11.5));
    }
}
