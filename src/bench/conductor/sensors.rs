//! The sensors of a session: one whose clip goes from blade to blade, or several that stay each on a blade of its own.
//!
//! Each has a session of its own, so that its bytes are taken whoever is read. The guide knows one clock that never steps
//! back: it goes on from sensor to sensor, whatever each one's own clock shows.

use super::gallery::Rests;
use crate::filter::Progress;
use crate::rotor::Carrier;
use crate::stream::{Counters, Plug, SampleStream};
use crate::units::Seconds;
use crate::{Instrument, Line, LiveReading, Session, Taken};
use tokio::sync::watch;

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
}

/// A sensor as the conductor keeps it.
#[derive(Debug)]
pub(super) struct Kept {
    pub instrument: Instrument,
    pub name: String,
    /// Its running session; none while it is lent to who reads it.
    pub session: Option<Session>,
    live: watch::Receiver<Option<LiveReading>>,
    line: watch::Receiver<Line>,
    /// What its noise did in every capture.
    pub rests: Rests,
}

impl Kept {
    fn new(sensor: Sensor) -> Self {
        let Sensor { stream, instrument, plug, name } = sensor;
        let session = Session::lasting(stream, plug, instrument.clone());
        let (live, line) = (session.live(), session.line());
        Self { instrument, name, session: Some(session), live, line, rests: Rests::default() }
    }

    /// What its stream has brought so far, over all breaks; none before the first sample.
    pub fn counters(&self) -> Option<Counters> {
        self.live.borrow().map(|reading| reading.counters)
    }

    /// How its line stands.
    pub fn line(&self) -> Line {
        self.line.borrow().clone()
    }

    /// The same, to wait for a change.
    pub fn watch_line(&self) -> watch::Receiver<Line> {
        self.line.clone()
    }

    /// Whether its line is up.
    pub fn is_up(&self) -> bool {
        matches!(*self.line.borrow(), Line::Up)
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
