//! The sensor as it is used now: what its stream looks like, how it is calibrated, how it sits in its clip.

use crate::filter::{SteadyReading, SteadySettings};
use crate::rotor::{Carrier, Rotation};
use crate::sensor::reseat::Reseat;
use crate::sensor::{Calibration, Force, Mounting, SensorFault, fault};
use crate::stream::Profile;
use crate::units::{Angle, BladeVector, Celsius, Gravities, Sample};

/// The sensor as it is used now.
#[derive(Debug, Clone)]
pub struct Instrument {
    /// What its stream looks like.
    pub profile: Profile,
    /// From counts to g.
    pub calibration: Calibration,
    /// Which of its axes lie along the blade, and which way the rotor turns.
    pub mounting: Mounting,
    /// How well its clip sits where it sat, where a re-seat study has shown it.
    pub reseat: Option<Reseat>,
    /// Its own floor as an angle, where a health check has shown it: no mean is better.
    pub floor: Option<Angle>,
    /// The blade on which it stays, where each has a sensor of its own; none: its clip goes from blade to blade.
    pub carrier: Option<Carrier>,
}

impl Instrument {
    /// A sensor of this profile, calibrated or, without a calibration, by its nominal counts per g.
    #[must_use]
    pub fn new(profile: Profile, calibration: Option<Calibration>, rotation: Rotation) -> Self {
        let calibration = calibration.unwrap_or_else(|| Calibration::nominal(profile.counts_per_g()));
        let mounting = Mounting { axes: profile.axes(), anticlockwise: rotation.is_anticlockwise() };
        Self { profile, calibration, mounting, reseat: None, floor: None, carrier: None }
    }

    /// The same with what a re-seat study found of its clip.
    #[must_use]
    pub fn with_reseat(self, reseat: Option<Reseat>) -> Self {
        Self { reseat, ..self }
    }

    /// The same with what a health check found of its floor.
    #[must_use]
    pub fn with_floor(self, floor: Option<Angle>) -> Self {
        Self { floor, ..self }
    }

    /// The same, staying on this blade.
    #[must_use]
    pub fn on(self, carrier: Option<Carrier>) -> Self {
        Self { carrier, ..self }
    }

    /// Whose errors its calibration stands for: two sensors that nobody calibrated are still two.
    #[must_use]
    pub fn calibration_identity(&self) -> String {
        let identity = self.calibration.identity();
        match self.carrier.filter(|_| !self.calibration.is_calibrated()) {
            Some(carrier) => format!("{identity} of {}", carrier.said()),
            None => identity,
        }
    }

    /// The calibration's name; none of a sensor that goes by its nominal counts per g.
    #[must_use]
    pub fn calibration_name(&self) -> Option<String> {
        self.calibration.is_calibrated().then(|| self.calibration.name.clone())
    }

    /// One sample as a force along the axes of the clip.
    #[must_use]
    pub fn force(&self, sample: &Sample) -> Force {
        self.calibration.force(sample, self.mounting, self.profile.saturated(sample))
    }

    /// One count of the sensor, where it counts.
    #[must_use]
    pub fn count(&self) -> Option<Gravities> {
        self.profile.count().map(|counts| Gravities::new(counts / self.profile.counts_per_g()))
    }

    /// What the length of a steady force says of the sensor; nothing where it is 1 g as nearly as it must be, or where the
    /// blade was never still.
    #[must_use]
    pub fn gravity_fault(&self, steady: &SteadyReading, now: Option<Celsius>) -> Option<SensorFault> {
        if steady.steady { self.gravity_fault_of(steady.mean, now) } else { None }
    }

    /// The same of a mean force at rest.
    #[must_use]
    pub fn gravity_fault_of(&self, mean: BladeVector, now: Option<Celsius>) -> Option<SensorFault> {
        fault::gravity(mean, &self.calibration, self.mounting, now)
    }

    /// The settings with what is known of this sensor filled in.
    #[must_use]
    pub fn settings(&self, settings: SteadySettings) -> SteadySettings {
        let in_g = |counts: f64| Gravities::new(counts / self.profile.counts_per_g());
        SteadySettings {
            count: self.count().or(settings.count),
            floor: self.floor.or(settings.floor),
            full_scale: self.profile.full_scale().map_or(settings.full_scale, in_g),
            ..settings
        }
    }
}
