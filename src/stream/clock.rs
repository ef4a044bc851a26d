//! The stream's own clock: unwrapped, zero at the first good sample, never thrown by a repeat or a restart.
//!
//! Time comes from the sensor's clock where the format carries one, else from its counter and the nominal rate, else, live,
//! from the arrival of the bytes unless the person said the rate, and in a recording from the nominal rate. Counter and clock are believed only where
//! they agree: a step back by a little is an old line that came again, a step that no reading can have made is a
//! sensor that started anew, and the clock then goes on by one period.
//!
//! A checksum of one byte lets a damaged line through once in 256 times, more often where two equal digits were lost.
//! So a frame whose counter and clock contradict each other is held until the next one: if that one goes on from the
//! frames before, the held one was damaged; if it goes on from the held one, the sensor has started anew. Two doubtful
//! frames in a row are believed: then it is the stream that has changed, not a line.

use super::arrivals::Arrivals;
use super::codec::Received;
use crate::units::Seconds;

/// How far an old line may lie behind, in samples and in microseconds.
const OLD_SAMPLES: i16 = 64;
const OLD_MICROS: i64 = 1_000_000;
/// A step ahead beyond this needs counter and clock to agree.
const LONG_STEP_MICROS: i64 = 10_000_000;
/// So many steps must have shown the period before a frame is doubted by it.
const STEPS_TO_DOUBT: u32 = 16;
/// How far counter and clock may be apart: so many periods, and so much of the step.
const APART_PERIODS: f64 = 0.6;
const APART_SHARE: f64 = 0.02;
/// The period of a stream of which nothing is known yet.
const UNKNOWN_PERIOD_MICROS: f64 = 10_000.0;
/// No sensor of this kind sends more samples a second.
const HIGHEST_RATE_HZ: f64 = 10_000.0;

/// Where one frame stands on the stream's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tick {
    pub(super) clock: Seconds,
    pub(super) lost_before: u32,
}

/// What is to be done with a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum FrameTrust {
    /// Counter and clock agree.
    Believe,
    /// They do not: it is held until the next frame.
    Hold,
    /// This frame is believed, the one held before it was damaged.
    HeldWasDamaged,
    /// The one held before it is believed as well, and comes first.
    HeldFirst(Received),
}

/// What the difference of two frames means.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Step {
    Ahead { micros: f64, lost: u32 },
    Behind { micros: f64 },
    Anew,
}

#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Marks {
    seq: Option<u16>,
    micros: Option<u64>,
}

impl Marks {
    const fn of(frame: &Received) -> Self {
        Self { seq: frame.seq, micros: frame.micros }
    }
}

#[derive(Debug)]
pub(super) struct StreamClock {
    /// After how many microseconds the sensor's clock wraps.
    wraps: Option<u64>,
    nominal_micros: Option<f64>,
    /// Whether arrivals tell the time where the stream does not, whatever the nominal rate.
    by_arrival: bool,
    /// The period as the stream shows it, a running mean.
    shown_micros: Option<f64>,
    /// How many single steps have shown it.
    shown_steps: u32,
    last: Option<Marks>,
    /// A frame in doubt.
    held: Option<Received>,
    /// Microseconds since the first good sample.
    at: f64,
    arrivals: Arrivals,
    /// Whether the line was broken since the last frame.
    broken: bool,
    pub(super) restarts: u64,
}

impl StreamClock {
    pub(super) fn new(wraps: Option<u64>, nominal_micros: Option<f64>) -> Self {
        Self {
            wraps,
            nominal_micros,
            by_arrival: nominal_micros.is_none(),
            shown_micros: None,
            shown_steps: 0,
            last: None,
            held: None,
            at: 0.0,
            arrivals: Arrivals::new(nominal_micros.unwrap_or(UNKNOWN_PERIOD_MICROS)),
            broken: false,
            restarts: 0,
        }
    }

    /// A clock of a live stream: its bytes come when they were sent, which is better than a rate that is only nominal.
    pub(super) const fn by_arrival(mut self) -> Self {
        self.by_arrival = true;
        self
    }

    /// The line was opened again.
    pub(super) const fn rejoin(&mut self) {
        self.broken = true;
        self.held = None;
    }

    /// Whether the next frame is to be believed.
    #[inline]
    pub(super) fn trust(&mut self, frame: &Received) -> FrameTrust {
        let Some(last) = self.last.filter(|_| !self.broken) else { return FrameTrust::Believe };
        let now = Marks::of(frame);
        match self.held.take() {
            Some(held) if self.agree(Marks::of(&held), now) => FrameTrust::HeldFirst(held),
            Some(_) if self.agree(last, now) => FrameTrust::HeldWasDamaged,
            Some(held) => FrameTrust::HeldFirst(held),
            // A long silence may well be one, but a single line is no proof of it.
            None if self.agree(last, now) && !self.is_long(last, now) => FrameTrust::Believe,
            None => {
                self.held = Some(*frame);
                FrameTrust::Hold
            }
        }
    }

    #[inline]
    fn is_long(&self, last: Marks, now: Marks) -> bool {
        let micros = last.micros.zip(now.micros).map(|(last, now)| self.signed_difference(last, now));
        let known = self.shown_steps >= STEPS_TO_DOUBT && now.seq.is_some();
        known && micros.is_some_and(|micros| micros > LONG_STEP_MICROS)
    }

    /// Whether the stream ends with a frame in doubt.
    pub(super) const fn ends_in_doubt(&mut self) -> bool {
        self.held.take().is_some()
    }

    /// Whether the clock went on by about as many periods as samples were counted.
    #[inline]
    fn agree(&self, last: Marks, now: Marks) -> bool {
        let counted = last.seq.zip(now.seq).map(|(last, now)| now.wrapping_sub(last));
        let timed = last.micros.zip(now.micros).map(|(last, now)| self.signed_difference(last, now));
        let (Some(samples), Some(micros)) = (counted, timed) else { return true };
        if self.shown_steps < STEPS_TO_DOUBT {
            return true;
        }
        if micros > LONG_STEP_MICROS {
            return self.long_step(samples, micros as f64) != Step::Anew;
        }
        // Far behind nothing is an old line any more.
        if micros < -OLD_MICROS || (samples as i16) < -OLD_SAMPLES {
            return false;
        }
        let (period, samples) = (self.period(), f64::from(samples as i16));
        let apart = (micros as f64 - samples * period).abs();
        apart <= (APART_PERIODS + APART_SHARE * samples.abs()) * period
    }

    /// Places the next frame. `arrival` is when its bytes came, on any steady clock.
    #[inline]
    pub(super) fn tick(&mut self, frame: &Received, arrival: Seconds) -> Tick {
        let marks = Marks::of(frame);
        let Some(last) = self.last else {
            self.last = Some(marks);
            self.arrivals.step(arrival);
            return Tick { clock: Seconds::new(0.0), lost_before: 0 };
        };
        let mut step = self.step(last, marks, arrival);
        // Across a broken line no old line comes again: what lies behind has started anew.
        if std::mem::take(&mut self.broken) && matches!(step, Step::Behind { .. }) {
            step = Step::Anew;
        }
        match step {
            Step::Behind { micros } => {
                return Tick { clock: Seconds::new((self.at + micros).max(0.0) / 1e6), lost_before: 0 };
            }
            Step::Ahead { micros, .. } => self.at += micros,
            Step::Anew => {
                self.at += self.period();
                self.restarts += 1;
            }
        }
        self.last = Some(marks);
        let lost_before = if let Step::Ahead { lost, .. } = step { lost } else { 0 };
        Tick { clock: Seconds::new(self.at / 1e6), lost_before }
    }

    #[inline]
    fn step(&mut self, last: Marks, now: Marks, arrival: Seconds) -> Step {
        let counted = last.seq.zip(now.seq).map(|(last, now)| now.wrapping_sub(last));
        let timed = last.micros.zip(now.micros).map(|(last, now)| self.signed_difference(last, now));
        match (counted, timed) {
            (Some(samples), Some(micros)) => self.step_of_both(samples, micros),
            (None, Some(micros)) => self.step_of_clock(micros, last.micros <= now.micros),
            (Some(samples), None) => self.step_of_counter(samples),
            (None, None) => {
                let nominal = self.nominal_micros.filter(|_| !self.by_arrival);
                Step::Ahead { micros: nominal.unwrap_or_else(|| self.arrivals.step(arrival)), lost: 0 }
            }
        }
    }

    /// The way from one clock value to another, the short way round where the clock wraps.
    #[inline]
    fn signed_difference(&self, last: u64, now: u64) -> i64 {
        let plain = i64::try_from(now).unwrap_or(i64::MAX).saturating_sub(i64::try_from(last).unwrap_or(i64::MAX));
        let Some(wraps) = self.wraps.and_then(|wraps| i64::try_from(wraps).ok()).filter(|wraps| *wraps > 0) else {
            return plain;
        };
        // Most steps are short and need no division.
        if (0..=wraps / 2).contains(&plain) {
            return plain;
        }
        let forward = plain.rem_euclid(wraps);
        if forward > wraps / 2 { forward - wraps } else { forward }
    }

    #[inline]
    fn step_of_both(&mut self, samples: u16, micros: i64) -> Step {
        let lost = u32::from(samples.saturating_sub(1));
        let signed_samples = samples as i16;
        match micros {
            0 if samples == 0 => Step::Ahead { micros: 0.0, lost: 0 },
            // A clock that stands still while the counter goes on: time then comes from the counter.
            0 if (1..=OLD_SAMPLES).contains(&signed_samples) => {
                Step::Ahead { micros: f64::from(samples) * self.period(), lost }
            }
            _ if (-OLD_MICROS..0).contains(&micros) && (-OLD_SAMPLES..=0).contains(&signed_samples) => {
                Step::Behind { micros: micros as f64 }
            }
            _ if (1..=LONG_STEP_MICROS).contains(&micros) => {
                let micros = micros as f64;
                if f64::from(lost) > micros * 1e-6 * HIGHEST_RATE_HZ + 1.0 {
                    return Step::Anew;
                }
                if samples == 1 && micros < 1e6 {
                    let shown = self.shown_micros.get_or_insert(micros);
                    *shown += (micros - *shown) / 64.0;
                    self.shown_steps = self.shown_steps.saturating_add(1);
                }
                Step::Ahead { micros, lost }
            }
            _ if micros > LONG_STEP_MICROS => self.long_step(samples, micros as f64),
            _ => Step::Anew,
        }
    }

    /// A long silence, unless the counter says otherwise: the clock must have made as many periods as samples
    /// were counted, whole turns of the counter apart, to half a percent and three samples.
    fn long_step(&self, samples: u16, micros: f64) -> Step {
        let periods = micros / self.period();
        let turns = ((periods - f64::from(samples)) / 65_536.0).round().max(0.0);
        let counted = f64::from(samples) + turns * 65_536.0;
        if (periods - counted).abs() > 0.005 * periods + 3.0 {
            return Step::Anew;
        }
        // A cast from float to integer saturates.
        Step::Ahead { micros, lost: (counted - 1.0) as u32 }
    }

    fn step_of_clock(&mut self, micros: i64, rising: bool) -> Step {
        match micros {
            0 => Step::Ahead { micros: 0.0, lost: 0 },
            _ if (-OLD_MICROS..0).contains(&micros) => Step::Behind { micros: micros as f64 },
            _ if micros > 0 && (rising || micros <= LONG_STEP_MICROS) => {
                let micros = micros as f64;
                if micros < 1e6 {
                    let shown = self.shown_micros.get_or_insert(micros);
                    *shown += (micros - *shown) / 64.0;
                }
                Step::Ahead { micros, lost: 0 }
            }
            _ => Step::Anew,
        }
    }

    fn step_of_counter(&self, samples: u16) -> Step {
        let signed_samples = samples as i16;
        let micros = f64::from(samples) * self.period();
        if (-OLD_SAMPLES..0).contains(&signed_samples) {
            Step::Behind { micros: f64::from(signed_samples) * self.period() }
        } else if micros <= LONG_STEP_MICROS as f64 {
            Step::Ahead { micros, lost: u32::from(samples.saturating_sub(1)) }
        } else {
            Step::Anew
        }
    }

    /// One period in microseconds: as shown by the stream, else as the profile says, else a hundredth of a second.
    fn period(&self) -> f64 {
        self.shown_micros.or(self.nominal_micros).unwrap_or(UNKNOWN_PERIOD_MICROS)
    }
}

#[cfg(test)]
#[path = "clock_tests.rs"]
mod tests;
