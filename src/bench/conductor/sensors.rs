//! The sensors of a session: one whose clip goes from blade to blade, or several that stay each on a blade of its own.
//!
//! Each has a session of its own, so that its bytes are taken whoever is read. The guide knows one clock that never steps
//! back: it goes on from sensor to sensor, whatever each one's own clock shows.

use super::gallery::Rests;
use super::returned::{Likeness, Memory};
use crate::filter::Progress;
use crate::rotor::Carrier;
use crate::stream::{Counters, Plug, SampleStream};
use crate::units::{Angle, Seconds};
use crate::{Instrument, Line, LiveReading, Session, Taken};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::sync::watch;

/// A line that has broken is down for longer than this.
const LOOK: Duration = Duration::from_millis(50);
/// The blade that is to be moved turns so far from where it was a moment ago, and the others stay within so much, degrees.
const MOVED: f64 = 5.0;
const UNMOVED: f64 = 2.0;
/// Where a blade was a moment ago follows it with this time constant, seconds.
const MOMENT: f64 = 2.0;

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
    /// Whether it is known again when it comes back, by more than the name of its port.
    known: bool,
    /// Whether it has a number of its own by which it is known again.
    numbered: bool,
    /// What it showed at rest.
    memory: Memory,
    /// Its line, to be asked whether it was broken since.
    breaks: watch::Receiver<Line>,
    /// Whether it has come back, and has not been seen to be the same yet.
    returned: bool,
}

/// Where a sensor points while it is asked which one it is.
#[derive(Debug, Clone, Copy, Default)]
struct Asked {
    /// The clock of its newest reading before that.
    before: Option<Seconds>,
    /// When it was last looked at, and the pitch and the inclination that it had a moment before.
    at: Option<(Seconds, Angle, Angle)>,
}

impl Asked {
    /// How far it has turned in the last moment, degrees.
    fn turned(&mut self, reading: &LiveReading) -> f64 {
        let (pitch, span) = (reading.apparent_pitch, reading.span_inclination);
        let (clock, was, lay) = self.at.unwrap_or((reading.clock, pitch, span));
        let share = 1.0 - (-(reading.clock - clock).value().max(0.0) / MOMENT).exp();
        let (by, up) = ((pitch - was).wrapped(), span - lay);
        self.at = Some((reading.clock, was + by * share, lay + up * share));
        by.degrees().abs().max(up.degrees().abs())
    }
}

/// Which sensor is which.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Known {
    /// As they were named.
    Surely,
    /// Two were away at once: the blade that is read is to be moved, and no other.
    Doubtful,
    /// Another sensor moved than the one of the blade that was to be moved.
    Exchanged,
    /// What has come back on its port is another sensor than before: its blade is to be moved.
    Another,
}

impl Kept {
    fn new(sensor: Sensor) -> Self {
        let Sensor { stream, instrument, plug, name } = sensor;
        let known = plug.as_ref().is_none_or(Plug::is_known);
        let numbered = plug.as_ref().is_none_or(Plug::is_numbered);
        let session = Session::lasting(stream, plug, instrument.clone());
        let (live, line) = (session.live(), session.line());
        Self {
            instrument,
            name,
            session: Some(session),
            live,
            breaks: line.clone(),
            line,
            rests: Rests::default(),
            known,
            numbered,
            memory: Memory::default(),
            returned: false,
        }
    }

    /// Whether a rest shows another sensor than the one that was there before the line broke.
    fn is_another(&mut self, taken: &Taken) -> bool {
        if self.breaks.has_changed().unwrap_or(false) {
            self.breaks.mark_unchanged();
            self.returned |= !self.numbered;
        }
        if self.returned {
            match self.memory.likeness(taken, &self.instrument) {
                Likeness::Another => return true,
                Likeness::Same => self.returned = false,
                Likeness::Unknown => return false,
            }
        }
        self.memory.add(taken, &self.instrument);
        false
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
    /// Whether two that are not known again were away at once, since this was last looked at.
    away: Arc<AtomicBool>,
    /// What each showed when that was seen.
    asked: Option<Vec<Asked>>,
    exchanged: bool,
    /// Whether it is asked because another sensor has come back.
    another: bool,
}

impl Sensors {
    /// The first is read until the guide wants another one.
    pub fn new(first: Sensor, others: Vec<Sensor>) -> Self {
        let all: Vec<Kept> = std::iter::once(first).chain(others).map(Kept::new).collect();
        let away = notice(all.iter().filter(|sensor| !sensor.known).map(Kept::watch_line).collect());
        Self { all, at: 0, clock: Clock::default(), away, asked: None, exchanged: false, another: false }
    }

    /// Looks at a rest of the sensor that is read: one that has come back may be another.
    pub fn rested(&mut self, taken: &Taken) {
        if self.asked.is_none() && self.all[self.at].is_another(taken) {
            self.asked = Some(self.asked_now());
            (self.exchanged, self.another) = (false, true);
        }
    }

    fn asked_now(&self) -> Vec<Asked> {
        let asked = |sensor: &Kept| Asked { before: sensor.live.borrow().map(|reading| reading.clock), at: None };
        self.all.iter().map(asked).collect()
    }

    /// Which sensor is which, as far as their ports and their movements tell: to be asked at every reading.
    pub fn known(&mut self) -> Known {
        if self.away.swap(false, Ordering::Relaxed) {
            self.asked = Some(self.asked_now());
            (self.exchanged, self.another) = (false, false);
        }
        let doubt = if self.another { Known::Another } else { Known::Doubtful };
        let Some(asked) = &mut self.asked else { return Known::Surely };
        let mut turned = Vec::new();
        for (sensor, asked) in self.all.iter().zip(asked.iter_mut()) {
            let fresh = sensor.live.borrow().filter(|reading| asked.before.is_none_or(|before| reading.clock > before));
            let Some(reading) = fresh.filter(|_| sensor.is_up()) else { return doubt };
            turned.push(asked.turned(&reading));
        }
        let read = turned[self.at];
        let others: Vec<f64> = turned.iter().enumerate().filter(|(i, _)| *i != self.at).map(|(_, by)| *by).collect();
        let most = others.iter().copied().fold(0.0, f64::max);
        if read >= MOVED && most < UNMOVED {
            (self.asked, self.exchanged) = (None, false);
            if std::mem::take(&mut self.another) {
                let read = &mut self.all[self.at];
                // From here on it is this one.
                read.memory.forget();
                read.returned = false;
            }
            return Known::Surely;
        }
        // Whoever moves them all shows nothing.
        self.exchanged |= most >= MOVED && read < UNMOVED;
        if self.exchanged { Known::Exchanged } else { doubt }
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

/// Whether two of these lines are down at once, told from now on for as long as the sessions last.
fn notice(lines: Vec<watch::Receiver<Line>>) -> Arc<AtomicBool> {
    let away = Arc::new(AtomicBool::new(false));
    if lines.len() > 1 {
        let told = away.clone();
        tokio::spawn(async move {
            let mut look = tokio::time::interval(LOOK);
            while lines.iter().any(|line| line.has_changed().is_ok()) {
                look.tick().await;
                if lines.iter().filter(|line| matches!(*line.borrow(), Line::Down(_))).count() > 1 {
                    told.store(true, Ordering::Relaxed);
                }
            }
        });
    }
    away
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
