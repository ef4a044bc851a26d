//! When samples are taken, and what they say.

use super::Rig;
use super::mechanics::With;
use crate::stream::codec::Frame;
use crate::units::Seconds;

impl Rig {
    /// Draws the moment of the next sample, always after the last.
    pub(super) fn schedule(&mut self) {
        let stream = &self.scenario.stream;
        let rate = stream.rate_hz.value() * (1.0 + stream.rate_error_percent.value() / 100.0);
        let due = self.powered_at + self.count as f64 / rate;
        let jitter = if stream.jitter_ms > 0.0 { 1e-3 * stream.jitter_ms * self.clock.normal() } else { 0.0 };
        let earliest = if self.count == 0 { self.powered_at } else { self.last_sample + 0.05 / rate };
        self.next_sample = (due + jitter).max(earliest);
    }

    /// Takes a sample at this moment and sends it.
    pub(super) fn sample(&mut self, out: &mut Vec<u8>) {
        self.settle();
        self.swing = self.hum.at(Seconds::new(self.now)).radians();
        let celsius = self.celsius.at(self.now);
        let counts = self.chip.counts(self.case_feels(With::Shaking), celsius, &self.scenario.sensor);
        // Both counters wrap, as those of a microcontroller do.
        let micros = ((self.now - self.powered_at) * 1e6).round() as u64;
        let frame = Frame {
            seq: (self.count as u16).wrapping_add(self.first.0),
            micros: (micros as u32).wrapping_add(self.first.1),
            counts,
            celsius: self.scenario.stream.temperature.then_some(celsius),
        };
        self.line.send(frame, self.scenario.sensor.counts_per_g, out);
        self.last_sample = self.now;
        self.count += 1;
        self.schedule();
    }
}
