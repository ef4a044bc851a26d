//! How much of what the samples could tell the recorded angle tells, and how soon, by kind of noise and motion.
//!
//! The bound of the angle's variance is that of an estimate which knows when the blade stopped and what the noise is: σ²/n for
//! white noise over all n samples from the stop to the end of the reading (Cramér 1946, Rao 1945), generalised least
//! squares for 1/f noise. The bound of the time is the oracle's, who waits as long as the wanted uncertainty needs after the true stop,
//! 0.3 s at least.

use super::line::Line;
use super::{Size, Told, bound};
use support::streams::{CLASSES, Class, Stream, WANT_DEGREES, stream};

use clinoblade::filter::SteadyReading;
use clinoblade::stats::robust::median_of;
use clinoblade::units::Angle;

/// Times as long as the oracle at most.
const GOAL: f64 = 2.0;
const SEED: u64 = 77;

pub fn measure(size: Size, told: &mut Told) {
    assert!((bound::of_level(1.0, 0.0, 100) / 0.01 - 1.0).abs() < 1e-3, "white noise alone gives σ²/n");
    for class in CLASSES.into_iter().filter(|class| *class != Class::NeverStops) {
        let read = Read::of(class, size.or(600, 60));
        told.tell(&read.exactness(class));
        told.tell(&read.time(class));
    }
}

/// The readings of one class.
#[derive(Default)]
struct Read {
    streams: usize,
    /// Readings that never became steady, and those that ended before the blade stood.
    unsteady: usize,
    early: usize,
    /// Squared errors and their bounds, radians squared.
    errors: Vec<(f64, f64)>,
    /// Times after the stop, and the oracle's, seconds.
    times: Vec<(f64, f64)>,
}

impl Read {
    fn of(class: Class, streams: usize) -> Self {
        let mut read = Self { streams, ..Self::default() };
        for number in 0..streams {
            let stream = stream(class, number, SEED);
            let reading = stream.read();
            read.unsteady += usize::from(!reading.steady);
            // Slow noise may never look still; the figure that is given all the same is held against its bound.
            if reading.steady || class == Class::Flicker {
                read.add(&stream, &reading);
            }
        }
        read
    }

    fn add(&mut self, stream: &Stream, reading: &SteadyReading) {
        let (finished, stopped) = (reading.finished_at.value(), stream.stopped.expect("the blade stops"));
        let Some(bound) = bound_of(stream, stopped, finished) else {
            self.early += 1;
            return;
        };
        let error = (reading.apparent_pitch() - stream.truth).wrapped().radians();
        self.errors.push((error * error, bound));
        if reading.steady {
            self.times.push((finished - stopped, stream.oracle(Angle::from_degrees(WANT_DEGREES))));
        }
    }

    fn exactness(&self, class: Class) -> Line {
        let n = self.errors.len() as f64;
        let rms = |of: fn(&(f64, f64)) -> f64| (self.errors.iter().map(of).sum::<f64>() / n).sqrt().to_degrees();
        // Each error is held against its own bound: streams differ in noise and length.
        let times_the_bound = self.errors.iter().map(|(square, bound)| square / bound).sum::<f64>() / n;
        Line::new("efficiency", format!("{class:?}, variance"), format!("rms {:.4}° of {}", rms(|e| e.0), self.count()))
            .against(format!("bound: rms {:.4}°", rms(|e| e.1)), 1.0 / times_the_bound)
    }

    fn time(&self, class: Class) -> Line {
        let (ours, oracle) = (median(self.times.iter().map(|t| t.0)), median(self.times.iter().map(|t| t.1)));
        let ratio = median(self.times.iter().map(|(ours, oracle)| ours / oracle));
        Line::new("efficiency", format!("{class:?}, time"), format!("median {ours:.2} s"))
            .against(format!("oracle: median {oracle:.2} s"), ratio)
            .goal(format!("≤ {GOAL:.1}"), ratio <= GOAL)
    }

    fn count(&self) -> String {
        let Self { streams, unsteady, early, .. } = self;
        match (unsteady, early) {
            (0, 0) => streams.to_string(),
            _ => format!("{streams}, {unsteady} unsteady, {early} early"),
        }
    }
}

/// The least variance that the samples from the stop to the end of the reading allow, radians squared; none where the reading
/// ended before.
fn bound_of(stream: &Stream, stopped: f64, finished: f64) -> Option<f64> {
    let clocks = stream.forces.iter().map(|force| force.clock.value());
    let mut had: Vec<f64> = clocks.filter(|clock| (stopped..=finished).contains(clock)).collect();
    // A line that came twice tells nothing new.
    had.dedup();
    if had.is_empty() {
        return None;
    }
    if stream.flicker == 0.0 {
        return Some(stream.sigma.radians().powi(2) / had.len() as f64);
    }
    let rounded = stream.noise.hypot(stream.counts_per_g.recip() / 12f64.sqrt());
    let to_pitch = stream.sigma.radians() / rounded;
    Some(bound::of_level(rounded, stream.flicker, had.len()) * to_pitch.powi(2))
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    median_of(values).unwrap_or(f64::NAN)
}
