//! Finds the rests of a sensor that is turned by hand: hands-free, in any attitude, calibrated or not.
//!
//! A rest is taken when the sensor has been turned and lies still again by itself. Each attempt looks at the sensor from
//! two sides at right angles, about the axis that carries the most of gravity: a steady reading sees no motion about its
//! chord, the other one does, and stillness is judged as sharply with the clip's span upright as with the span level. Directions come from the nominal counts per g; offsets of 0.1 g turn them by
//! some degrees, which matters to nothing here.

use super::{Instrument, Taken};
use crate::filter::{EndedBy, Progress, SteadyReader, SteadyReading, SteadySettings};
use crate::sensor::fault::FaultWatch;
use crate::sensor::{Mounting, SensorFault};
use crate::stream::Counters;
use crate::units::{Angle, AxisMap, Celsius, Sample, Seconds, SensorVector};
use std::collections::VecDeque;

/// The sensor has been turned when it points so far away from where it lay.
const TURNED_DEGREES: f64 = 10.0;
/// An attempt that sees the sensor from another side than it began begins anew.
const OTHER_SIDE_DEGREES: f64 = 20.0;
/// So many samples in a row must say so: a spike says it once.
const IN_A_ROW: u8 = 4;
/// Least share of the shorter still stretch that the longer must have too.
const LEAST_SHARED: f64 = 0.5;
/// Samples from so long before the still stretch are kept.
const LEAD_IN: Seconds = Seconds::new(0.2);
const MOVING_TAIL: Seconds = Seconds::new(4.0);
/// A rest that ends before it is as good as wanted has lasted so long.
const LEAST_REST: Seconds = Seconds::new(0.4);
/// The same of one that is found only in looking back, seconds.
const LEAST_FOUND: f64 = 0.6;
/// In looking back a rest is tried to end so much before now, seconds, and again so much earlier; so often.
const STEP_BACK: f64 = 0.1;
const STEPS_BACK: u8 = 20;
/// And to have lasted so long at most, seconds: what disturbed its beginning is then left out.
const LENGTHS: [f64; 5] = [f64::INFINITY, 2.0, 1.5, 1.0, 0.75];
/// One side is done so long before the other, seconds, before it looks again.
const APART: f64 = 0.1;

/// The angle between two directions; a half turn where one is none.
#[must_use]
pub fn angle_between(one: SensorVector, other: SensorVector) -> Angle {
    let product: f64 = one.0.iter().zip(other.0).map(|(a, b)| a * b).sum();
    let cosine = product / (one.norm() * other.norm());
    Angle::from_radians(if cosine.is_finite() { cosine.clamp(-1.0, 1.0).acos() } else { std::f64::consts::PI })
}

/// What one more sample makes of it.
#[derive(Debug)]
pub enum Seen {
    /// It lies where the last rest was taken: it is to be turned.
    Waiting,
    /// It is being turned, or has not been still for long enough.
    Moving,
    /// It came to rest.
    Rest(Box<Rest>),
    /// What it sends cannot be true, however it is turned, or an axis stands at its end as it lies.
    Fault(SensorFault),
}

/// A sensor at rest.
#[derive(Debug, Clone)]
pub struct Rest {
    /// What was read, as seen from one side of the sensor: its mean is not along the blade.
    pub taken: Taken,
    /// Where the vertical stands in the sensor's own axes, by the nominal counts per g.
    pub up: SensorVector,
}

/// Looks for rests, sample by sample.
pub struct RestFinder {
    instrument: Instrument,
    settings: SteadySettings,
    state: State,
    beside: u8,
    counters: Counters,
    faults: FaultWatch,
}

enum State {
    /// A rest has been taken, and the sensor has not left it yet.
    Resting(SensorVector),
    Looking(Box<Attempt>),
    /// The next sample begins an attempt.
    Afresh,
}

struct Attempt {
    sides: [(SteadyReader, Mounting); 2],
    begun_at: SensorVector,
    kept: VecDeque<Sample>,
    temperature: Option<Celsius>,
    before: Counters,
}

impl RestFinder {
    /// A finder for this instrument: it takes a rest when the reading is as good as the settings want.
    #[must_use]
    pub fn new(instrument: Instrument, settings: SteadySettings) -> Self {
        let settings = instrument.settings(settings);
        let faults = FaultWatch::new(instrument.count());
        Self { instrument, settings, state: State::Afresh, beside: 0, counters: Counters::default(), faults }
    }

    /// Takes the next sample; `counters` are those of the stream so far.
    pub fn push(&mut self, sample: &Sample, counters: Counters) -> Seen {
        self.counters = counters;
        if let Some(fault) = self.faults.push(sample, self.instrument.profile.saturated(sample)) {
            return Seen::Fault(fault);
        }
        let up = self.instrument.calibration.apply(sample.counts);
        match &mut self.state {
            State::Resting(at) => {
                let at = *at;
                if self.is_beside(up, at, TURNED_DEGREES) {
                    self.state = State::Afresh;
                    return Seen::Moving;
                }
                return Seen::Waiting;
            }
            State::Looking(attempt) => {
                let begun_at = attempt.begun_at;
                if self.is_beside(up, begun_at, OTHER_SIDE_DEGREES) {
                    // It is turned on before the reading was as good as wanted: what it was at rest counts all the same.
                    if let Some(rest) = self.take(EndedBy::End).filter(lasted) {
                        return Seen::Rest(Box::new(rest));
                    }
                    self.state = State::Afresh;
                }
            }
            State::Afresh => {}
        }
        if matches!(self.state, State::Afresh) {
            self.beside = 0;
            self.state = State::Looking(Box::new(Attempt::new(&self.instrument, self.settings, up, counters)));
        }
        let State::Looking(attempt) = &mut self.state else { return Seen::Moving };
        match attempt.push(sample, &self.instrument) {
            Progress::Done(ended_by) => self.take(ended_by).map_or(Seen::Moving, |rest| Seen::Rest(Box::new(rest))),
            _ => Seen::Moving,
        }
    }

    /// Forgets what it has seen: the next rest counts wherever it is.
    pub fn afresh(&mut self) {
        self.state = State::Afresh;
        self.beside = 0;
    }

    /// The stream was interrupted: what was half seen is forgotten, but a rest that was taken is still not a new one.
    pub fn interrupted(&mut self) {
        if !matches!(self.state, State::Resting(_)) {
            self.state = State::Afresh;
        }
        self.beside = 0;
        self.faults = FaultWatch::new(self.instrument.count());
    }

    /// The rest at which the stream ended, if it was one.
    pub fn end(&mut self) -> Option<Rest> {
        self.take(EndedBy::End)
    }

    fn is_beside(&mut self, up: SensorVector, from: SensorVector, degrees: f64) -> bool {
        let away = angle_between(up, from).degrees() > degrees;
        self.beside = if away { self.beside + 1 } else { 0 };
        self.beside >= IN_A_ROW
    }

    fn take(&mut self, ended_by: EndedBy) -> Option<Rest> {
        let State::Looking(attempt) = std::mem::replace(&mut self.state, State::Afresh) else { return None };
        let (before, kept) =
            (attempt.before, if ended_by == EndedBy::End { attempt.kept.clone() } else { VecDeque::new() });
        let taken = attempt.finish(ended_by, self.counters, &self.instrument).filter(|taken| taken.steady.steady);
        // Where the movement is seen later than it began, the rest before it is over already for who reads on.
        let taken = taken.or_else(|| self.look_back(&kept, before))?;
        let mean = super::pose(&taken)?.mean;
        let up = self.instrument.calibration.apply(mean);
        self.state = State::Resting(up);
        self.beside = 0;
        Some(Rest { taken, up })
    }
}

impl RestFinder {
    /// The rest that lies whole in what was kept, if there is one.
    fn look_back(&self, kept: &VecDeque<Sample>, before: Counters) -> Option<Taken> {
        let (first, last) = (kept.front()?.clock, kept.back()?.clock);
        for step in 1..=STEPS_BACK {
            let end = last - Seconds::new(STEP_BACK * f64::from(step));
            for length in LENGTHS.into_iter().filter(|length| length.is_infinite() || (end - first).value() > *length) {
                let begin = if length.is_finite() { end - Seconds::new(length) } else { first };
                if (end - begin).value() < LEAST_FOUND {
                    return None;
                }
                let mut samples = kept.iter().filter(|sample| sample.clock >= begin && sample.clock <= end).peekable();
                let up = self.instrument.calibration.apply(samples.peek()?.counts);
                let mut attempt = Attempt::new(&self.instrument, self.settings, up, before);
                for sample in samples {
                    if matches!(attempt.push(sample, &self.instrument), Progress::Done(_)) {
                        break;
                    }
                }
                let found = attempt.finish(EndedBy::End, self.counters, &self.instrument);
                let lasted =
                    |taken: &Taken| (taken.steady.finished_at - taken.steady.settled_at).value() >= LEAST_FOUND;
                if let Some(taken) = found.filter(|taken| taken.steady.steady && lasted(taken)) {
                    return Some(taken);
                }
            }
        }
        None
    }
}

impl Attempt {
    fn new(instrument: &Instrument, settings: SteadySettings, up: SensorVector, before: Counters) -> Self {
        Self {
            sides: sides(up).map(|axes| {
                let view = Mounting { axes, anticlockwise: instrument.mounting.anticlockwise };
                (SteadyReader::new(settings), view)
            }),
            begun_at: up,
            kept: VecDeque::new(),
            temperature: None,
            before,
        }
    }

    fn push(&mut self, sample: &Sample, instrument: &Instrument) -> Progress {
        self.kept.push_back(*sample);
        self.temperature = sample.temperature.or(self.temperature);
        let saturated = instrument.profile.saturated(sample);
        let [one, other] = self.sides.each_mut().map(|(reader, view)| {
            let force = instrument.calibration.force(sample, *view, saturated);
            reader.push(&force)
        });
        let (progress, from) = match (one, other) {
            (Progress::Done(_), Progress::Done(_)) => return one,
            (Progress::Settling { since: a, .. }, Progress::Settling { since: b, .. }) => {
                (one, if a < b { a - LEAD_IN } else { b - LEAD_IN })
            }
            (Progress::Moving, Progress::Moving) => (one, sample.clock - MOVING_TAIL),
            // What one side has finished with is needed until the other has.
            _ => return Progress::Moving,
        };
        while self.kept.front().is_some_and(|oldest| oldest.clock < from) {
            self.kept.pop_front();
        }
        progress
    }

    fn finish(self, ended_by: EndedBy, now: Counters, instrument: &Instrument) -> Option<Taken> {
        let views = self.sides.each_ref().map(|(_, view)| *view);
        let [one, other] = self.sides.map(|(reader, _)| reader.finish(ended_by));
        let (mut one, mut other) = (one?, other?);
        // The side that was done first, or has not come to an end, looks again at what the other was still over.
        let ahead = (other.finished_at - one.finished_at).value();
        let again = |view: Mounting, of: &SteadyReading| {
            let mut reader = SteadyReader::new(of.asked);
            let from = of.settled_at - LEAD_IN;
            for sample in self.kept.iter().filter(|sample| sample.clock >= from && sample.clock <= of.finished_at) {
                reader.push(&instrument.calibration.force(sample, view, instrument.profile.saturated(sample)));
            }
            reader.finish(EndedBy::End).filter(|reading| reading.steady)
        };
        match (one.steady, other.steady) {
            (false, true) => one = again(views[0], &other).unwrap_or(one),
            (true, false) => other = again(views[1], &one).unwrap_or(other),
            (true, true) if ahead > APART => one = again(views[0], &other).unwrap_or(one),
            (true, true) if ahead < -APART => other = again(views[1], &one).unwrap_or(other),
            _ => {}
        }
        let steady = both(one, other);
        let (counters, samples) = (now.since(&self.before), self.kept.into());
        Some(Taken { steady, counters, temperature: self.temperature, samples })
    }
}

/// What was still from both sides: the time that they share, and of each side what that time is worth.
fn both(one: SteadyReading, other: SteadyReading) -> SteadyReading {
    let later = if one.settled_at > other.settled_at { one.settled_at } else { other.settled_at };
    let earlier = if one.finished_at < other.finished_at { one.finished_at } else { other.finished_at };
    let length = |reading: &SteadyReading| (reading.finished_at - reading.settled_at).value();
    let [first, second] = [&one, &other].map(|side| ((earlier - later).value() / length(side)).clamp(0.0, 1.0));
    let repeats = [(one.repeat, first), (other.repeat, second)].map(|(repeat, share)| repeat / share.sqrt());
    SteadyReading {
        steady: one.steady && other.steady && first.max(second) > LEAST_SHARED,
        settled_at: later,
        finished_at: earlier,
        repeat: if repeats[0] > repeats[1] { repeats[0] } else { repeats[1] },
        effective_samples: (first * one.effective_samples).min(second * other.effective_samples),
        ..one
    }
}

/// Whether it was a rest, and no halt on the way.
fn lasted(rest: &Rest) -> bool {
    rest.taken.steady.finished_at - rest.taken.steady.settled_at >= LEAST_REST
}

/// Two views whose normal is the axis that carries the most of gravity.
fn sides(up: SensorVector) -> [AxisMap; 2] {
    let [x, y, z] = up.0.map(f64::abs);
    let (normal, chords) = match () {
        () if x >= y && x >= z => ("+x", ["+y", "+z"]),
        () if y >= z => ("+y", ["+x", "+z"]),
        () => ("+z", ["+x", "+y"]),
    };
    chords.map(|chord| match (chord.parse(), normal.parse()) {
        (Ok(chord), Ok(normal)) => AxisMap::new(chord, normal).unwrap_or_default(),
        _ => AxisMap::default(),
    })
}

#[cfg(test)]
#[path = "rests_tests.rs"]
mod tests;
