//! Watches a sensor's samples for what cannot be true, sample by sample, for whoever looks at the live reading.

use super::Instrument;
use crate::filter::Progress;
use crate::sensor::fault::FaultWatch;
use crate::sensor::{Force, SensorFault};
use crate::units::{BladeVector, Celsius, Sample};

/// Share of each new sample in the running mean of the force.
const SHARE: f64 = 1.0 / 64.0;
/// The blade has been still for so long, in seconds, before its mean is taken for gravity.
const STILL_FOR: f64 = 1.0;

/// Says what is wrong with a sensor at this moment.
#[derive(Debug, Clone)]
pub struct FaultFinder {
    watch: FaultWatch,
    mean: Option<BladeVector>,
    temperature: Option<Celsius>,
}

impl FaultFinder {
    /// Has seen nothing yet of this instrument.
    #[must_use]
    pub fn new(instrument: &Instrument) -> Self {
        Self { watch: FaultWatch::new(instrument.count()), mean: None, temperature: None }
    }

    /// Takes the next sample, its force, and whether the blade is still.
    pub fn push(
        &mut self,
        sample: &Sample,
        force: &Force,
        progress: Progress,
        instrument: &Instrument,
    ) -> Option<SensorFault> {
        self.temperature = sample.temperature.or(self.temperature);
        let found = self.watch.push(sample, force.saturated);
        let still = progress.still_since().filter(|since| (force.clock - *since).value() >= STILL_FOR);
        if still.is_none() {
            self.mean = None;
            return found;
        }
        let before = self.mean.unwrap_or(force.up);
        let nearer = |before: f64, now: f64| before + SHARE * (now - before);
        let mean = BladeVector {
            span: nearer(before.span, force.up.span),
            chord: nearer(before.chord, force.up.chord),
            normal: nearer(before.normal, force.up.normal),
        };
        self.mean = Some(mean);
        found.or_else(|| instrument.gravity_fault_of(mean, self.temperature))
    }
}
