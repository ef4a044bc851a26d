//! The gate: which samples are fit to be used, and whether the force says that the blade is being moved.
//!
//! A sample is dropped, and counted, when it is not finite, out of range, saturated, no later than the one before, or
//! a spike. A spike is a triple of which any axis lies further than five scales from the median of the last nine
//! (Hampel identifier; Hampel 1974, Davies and Gather 1993); the scale is the median absolute deviation of the nine,
//! but never less than the running noise nor one count: nine samples alone would call every tenth clean triple a
//! spike. Nine raw triples are kept, so a real step is followed after five samples.
//!
//! Motion is a *change* of the length of the force by more than 0.05 g against its running median: an uncalibrated
//! sensor rests up to 0.2 g away from 1 g and must be usable. A slow turn of the blade does not show here; it shows in
//! the angle, which the steady reader watches.

use super::reading::Dropped;
use crate::sensor::Force;
use crate::stats::robust::{NORMAL_CONSISTENCY, median};
use crate::units::{Gravities, Seconds, SensorVector};

const NEIGHBOURS: usize = 9;
const SPIKE_SCALES: f64 = 5.0;
const MOTION_CHANGE: f64 = 0.05;
/// So many samples in a row that are no later than the last good one mean that the sensor's clock began anew.
const CLOCK_RESTARTED: u32 = 20;
const STUCK_FOR: f64 = 1.0;
/// Share of each new difference in the running noise.
const NOISE_SHARE: f64 = 1.0 / 64.0;
/// Differences seen before the running noise is trusted to call a sensor stuck.
const NOISE_KNOWN_AFTER: u64 = 128;

/// What the gate says of one sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GateVerdict {
    /// Fit to be used.
    Pass,
    /// Fit to be used, and the length of the force says that the blade is being moved.
    Moving,
    /// Dropped and counted.
    Dropped,
    /// The sensor's clock began anew with this sample: nothing from before belongs to it.
    Restarted,
}

/// Lets the fit samples through and counts the others by reason.
#[derive(Debug, Clone)]
pub struct Gate {
    count: f64,
    full_scale: f64,
    recent: [[f64; 3]; NEIGHBOURS],
    filled: usize,
    next: usize,
    last_clock: Option<f64>,
    stalled_clock: u32,
    noise: [f64; 3],
    noise_samples: u64,
    same_since: f64,
    stuck: bool,
    dropped: Dropped,
}

impl Gate {
    /// A gate for a sensor with the given count, where known, and range.
    #[must_use]
    pub fn new(count: Option<Gravities>, full_scale: Gravities) -> Self {
        Self {
            count: count.map_or(0.0, Gravities::value),
            full_scale: full_scale.value(),
            recent: [[0.0; 3]; NEIGHBOURS],
            filled: 0,
            next: 0,
            last_clock: None,
            stalled_clock: 0,
            noise: [0.0; 3],
            noise_samples: 0,
            same_since: 0.0,
            stuck: false,
            dropped: Dropped::default(),
        }
    }

    /// Judges the next sample.
    pub fn push(&mut self, force: &Force) -> GateVerdict {
        let triple = [force.up.span, force.up.chord, force.up.normal];
        let clock = force.clock.value();
        if !clock.is_finite() || triple.iter().any(|axis| !axis.is_finite()) {
            self.dropped.not_finite += 1;
            return GateVerdict::Dropped;
        }
        if triple.iter().any(|axis| axis.abs() > self.full_scale) {
            self.dropped.out_of_range += 1;
            return GateVerdict::Dropped;
        }
        if force.saturated {
            self.dropped.saturated += 1;
            return GateVerdict::Dropped;
        }
        if self.last_clock.is_some_and(|last| clock <= last) {
            self.stalled_clock += 1;
            if self.stalled_clock < CLOCK_RESTARTED {
                self.dropped.repeated += 1;
                return GateVerdict::Dropped;
            }
            self.restart(triple, clock);
            return GateVerdict::Restarted;
        }
        self.stalled_clock = 0;
        self.last_clock = Some(clock);
        self.watch_for_standstill(triple, clock);
        self.judge_among_neighbours(triple)
    }

    /// The samples dropped so far.
    #[must_use]
    pub const fn dropped(&self) -> Dropped {
        self.dropped
    }

    /// Whether the sensor has repeated one triple for a second although its noise should have moved it.
    #[must_use]
    pub const fn is_stuck(&self) -> bool {
        self.stuck
    }

    /// The time of the last sample that had one later than the sample before.
    #[must_use]
    pub fn last_clock(&self) -> Option<Seconds> {
        self.last_clock.map(Seconds::new)
    }

    fn restart(&mut self, triple: [f64; 3], clock: f64) {
        self.filled = 0;
        self.next = 0;
        self.stalled_clock = 0;
        self.last_clock = Some(clock);
        self.same_since = clock;
        self.remember(triple);
    }

    fn previous(&self) -> Option<[f64; 3]> {
        let index = (self.next + NEIGHBOURS - 1) % NEIGHBOURS;
        (self.filled > 0).then(|| self.recent[index])
    }

    fn remember(&mut self, triple: [f64; 3]) {
        self.recent[self.next] = triple;
        self.next = (self.next + 1) % NEIGHBOURS;
        self.filled = (self.filled + 1).min(NEIGHBOURS);
    }

    fn watch_for_standstill(&mut self, triple: [f64; 3], clock: f64) {
        if self.previous() != Some(triple) {
            self.same_since = clock;
            return;
        }
        let noise_known = self.noise_samples >= NOISE_KNOWN_AFTER;
        let should_move = self.noise.iter().any(|&noise| noise > 0.0 && noise >= self.count / 2.0);
        if noise_known && should_move && clock - self.same_since >= STUCK_FOR {
            self.stuck = true;
        }
    }

    fn judge_among_neighbours(&mut self, triple: [f64; 3]) -> GateVerdict {
        let previous = self.previous();
        self.remember(triple);
        if self.filled < NEIGHBOURS {
            return GateVerdict::Pass;
        }
        let mut medians = [0.0; 3];
        let mut spike = false;
        for axis in 0..3 {
            let mut values = self.recent.map(|recent| recent[axis]);
            let middle = median(&mut values).unwrap_or_default();
            medians[axis] = middle;
            let offset = (triple[axis] - middle).abs();
            // The deviation of the nine matters only where the cheap bounds do not already let the sample pass.
            let known = self.noise[axis].max(self.count);
            if offset > SPIKE_SCALES * known {
                let mut deviations = self.recent.map(|recent| (recent[axis] - middle).abs());
                let scale = NORMAL_CONSISTENCY * median(&mut deviations).unwrap_or_default();
                spike |= offset > SPIKE_SCALES * scale.max(known).max(f64::EPSILON);
            }
        }
        if spike {
            self.dropped.spikes += 1;
            return GateVerdict::Dropped;
        }
        if let Some(previous) = previous {
            self.learn_noise(triple, previous);
        }
        let change = SensorVector(triple).norm() - SensorVector(medians).norm();
        if change.abs() > MOTION_CHANGE { GateVerdict::Moving } else { GateVerdict::Pass }
    }

    /// Running noise from successive differences: their mean size is 2/√π standard deviations. A difference far beyond
    /// the noise is held back to twice it, so that motion does not pass for noise.
    fn learn_noise(&mut self, triple: [f64; 3], previous: [f64; 3]) {
        let half_root_pi = std::f64::consts::PI.sqrt() / 2.0;
        self.noise_samples += 1;
        let share = NOISE_SHARE.max(1.0 / self.noise_samples as f64);
        for axis in 0..3 {
            let scatter = (triple[axis] - previous[axis]).abs() * half_root_pi;
            let held = if self.noise_samples > 32 {
                scatter.min(3.0 * self.noise[axis].max(self.count / 4.0))
            } else {
                scatter
            };
            self.noise[axis] += share * (held - self.noise[axis]);
        }
    }
}
