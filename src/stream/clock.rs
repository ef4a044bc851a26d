//! The stream's own clock: unwrapped, zero at the first good sample, never thrown by a repeat or a restart.
//!
//! Time comes from the sensor's clock where the format carries one, else from its counter and the nominal rate,
//! else from the nominal rate alone, else from the arrival of the bytes. Counter and clock are believed only where
//! they agree: a step back by a little is an old line that came again, a step that no reading can have made is a
//! sensor that started anew, and the clock then goes on by one period.

use super::codec::Received;
use crate::units::Seconds;

/// How far an old line may lie behind, in samples and in microseconds.
const OLD_SAMPLES: i16 = 64;
const OLD_MICROS: i64 = 1_000_000;
/// A step ahead beyond this needs counter and clock to agree.
const LONG_STEP_MICROS: i64 = 10_000_000;
/// No sensor of this kind sends more samples a second.
const HIGHEST_RATE_HZ: f64 = 10_000.0;

/// Where one frame stands on the stream's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tick {
    pub(super) clock: Seconds,
    pub(super) lost_before: u32,
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

#[derive(Debug)]
pub(super) struct StreamClock {
    /// After how many microseconds the sensor's clock wraps.
    wraps: Option<u64>,
    nominal_micros: Option<f64>,
    /// The period as the stream shows it, a running mean.
    shown_micros: Option<f64>,
    last: Option<Marks>,
    /// Microseconds since the first good sample.
    at: f64,
    arrivals: Arrivals,
    pub(super) restarts: u64,
}

impl StreamClock {
    pub(super) fn new(wraps: Option<u64>, nominal_micros: Option<f64>) -> Self {
        Self {
            wraps,
            nominal_micros,
            shown_micros: None,
            last: None,
            at: 0.0,
            arrivals: Arrivals::default(),
            restarts: 0,
        }
    }

    /// Places the next frame. `arrival` is when its bytes came, on any steady clock.
    pub(super) fn tick(&mut self, frame: &Received, arrival: Seconds) -> Tick {
        let marks = Marks { seq: frame.seq, micros: frame.micros };
        let Some(last) = self.last else {
            self.last = Some(marks);
            self.arrivals.step(arrival);
            return Tick { clock: Seconds::new(0.0), lost_before: 0 };
        };
        let step = self.step(last, marks, arrival);
        match step {
            Step::Behind { micros } => {
                return Tick { clock: Seconds::new((self.at + micros).max(0.0) * 1e-6), lost_before: 0 };
            }
            Step::Ahead { micros, .. } => self.at += micros,
            Step::Anew => {
                self.at += self.period();
                self.restarts += 1;
            }
        }
        self.last = Some(marks);
        let lost_before = if let Step::Ahead { lost, .. } = step { lost } else { 0 };
        Tick { clock: Seconds::new(self.at * 1e-6), lost_before }
    }

    fn step(&mut self, last: Marks, now: Marks, arrival: Seconds) -> Step {
        let counted = last.seq.zip(now.seq).map(|(last, now)| now.wrapping_sub(last));
        let timed = last.micros.zip(now.micros).map(|(last, now)| self.signed_difference(last, now));
        match (counted, timed) {
            (Some(samples), Some(micros)) => self.step_of_both(samples, micros),
            (None, Some(micros)) => self.step_of_clock(micros, last.micros <= now.micros),
            (Some(samples), None) => self.step_of_counter(samples),
            (None, None) => {
                let micros = self.nominal_micros.unwrap_or_else(|| self.arrivals.step(arrival));
                Step::Ahead { micros, lost: 0 }
            }
        }
    }

    /// The way from one clock value to another, the short way round where the clock wraps.
    fn signed_difference(&self, last: u64, now: u64) -> i64 {
        let plain = i64::try_from(now).unwrap_or(i64::MAX).saturating_sub(i64::try_from(last).unwrap_or(i64::MAX));
        let Some(wraps) = self.wraps.and_then(|wraps| i64::try_from(wraps).ok()).filter(|wraps| *wraps > 0) else {
            return plain;
        };
        let forward = plain.rem_euclid(wraps);
        if forward > wraps / 2 { forward - wraps } else { forward }
    }

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
        self.shown_micros.or(self.nominal_micros).unwrap_or(10_000.0)
    }
}

/// Time out of the arrival of bytes, which come in bunches: a steady tick that follows the arrivals slowly.
#[derive(Debug, Default)]
struct Arrivals {
    first: Option<f64>,
    frames: f64,
    at: f64,
}

impl Arrivals {
    /// Microseconds since the tick before.
    fn step(&mut self, arrival: Seconds) -> f64 {
        let first = *self.first.get_or_insert(arrival.value());
        let since = (arrival.value() - first) * 1e6;
        self.frames += 1.0;
        if self.frames < 2.0 {
            return 0.0;
        }
        let period = (since / (self.frames - 1.0)).max(1.0);
        let step = (period + 0.05 * (since - self.at - period)).max(0.1 * period);
        self.at += step;
        step
    }
}
