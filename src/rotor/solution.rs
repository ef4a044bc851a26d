//! The rotor solution as a result: what it found, how well, and what it did not.

use super::model::{Layout, Spotted, Unknown};
use super::{BladeName, Clip, Datum, Rotation, ShaftTilt, Station};
use crate::units::Angle;

/// One figure of the solution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Its value; of no meaning where it is not observable.
    pub value: Angle,
    /// Its standard error (k = 1).
    pub standard_error: Angle,
    /// Whether the readings tell it at all.
    pub observable: bool,
}

/// Above this standard error nothing is known, whatever the readings.
pub(super) const LARGEST_ERROR_DEGREES: f64 = 1.0;

impl Estimate {
    /// A value with its variance, in radians: known unless it is too uncertain to be of use.
    pub(super) fn told(value: f64, variance: f64) -> Self {
        let standard_error = Angle::from_radians(variance.max(0.0).sqrt());
        let observable = standard_error.degrees() <= LARGEST_ERROR_DEGREES;
        Self { value: Angle::from_radians(value), standard_error, observable }
    }

    /// The value where the readings tell it.
    #[must_use]
    pub fn known(self) -> Option<Angle> {
        self.observable.then_some(self.value)
    }
}

/// One blade of the solution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BladeSolution {
    /// The blade.
    pub blade: BladeName,
    /// Its collective in the rotor's own frame.
    pub collective: Estimate,
    /// Its flap at rest, tip up positive; a drooping blade is negative.
    pub droop: Estimate,
    /// Collective of the first blade less this one's; `None` for the first blade.
    pub split: Option<Estimate>,
}

/// A reading that would help.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suggestion {
    /// The blade to read.
    pub blade: BladeName,
    /// Where.
    pub station: Station,
    /// With the clip so.
    pub clip: Clip,
}

/// What the model leaves of one reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Of the apparent pitch, read less foretold.
    pub apparent: Angle,
    /// Of the span slope.
    pub span: Angle,
}

/// The rotor as its readings show it.
#[derive(Debug, Clone)]
pub struct RotorSolution {
    /// The direction in which stations are counted.
    pub rotation: Rotation,
    /// Every unknown with its estimate, in the order of documents.
    pub estimates: Vec<(Unknown, Estimate)>,
    /// Blade by blade, in the order of their names.
    pub blades: Vec<BladeSolution>,
    /// What is left of each reading, in the readings' order.
    pub residuals: Vec<Residual>,
    /// Root mean square of all residuals.
    pub residual_rms: Angle,
    /// Condition number of the weighed equations, each unknown in its own scale; 1 is best.
    pub condition: f64,
    /// Equations less unknowns.
    pub degrees_of_freedom: usize,
    /// Whether the residuals are larger than the readings' uncertainties explain.
    pub misfit: bool,
    /// Readings that would make the rest observable, the most telling first; empty when all is.
    pub suggestions: Vec<Suggestion>,
    pub(super) layout: Layout,
    pub(super) values: Vec<f64>,
}

impl RotorSolution {
    /// The estimate of one unknown; `None` where the readings do not have it.
    #[must_use]
    pub fn get(&self, unknown: Unknown) -> Option<Estimate> {
        self.estimates.iter().find(|(u, _)| *u == unknown).map(|(_, estimate)| *estimate)
    }

    /// The value of one unknown where the readings tell it.
    #[must_use]
    pub fn known(&self, unknown: Unknown) -> Option<Angle> {
        self.get(unknown).and_then(Estimate::known)
    }

    /// What the readings do not tell.
    #[must_use]
    pub fn unobservable(&self) -> Vec<Unknown> {
        self.estimates.iter().filter(|(_, e)| !e.observable).map(|(u, _)| *u).collect()
    }

    /// Swashplate tilt: its amplitude, and the azimuth where pitch is greatest.
    #[must_use]
    pub fn swash(&self) -> Option<(Angle, Angle)> {
        let (cos, sin) = (self.known(Unknown::Cos)?, self.known(Unknown::Sin)?);
        let azimuth = sin.radians().atan2(cos.radians()).rem_euclid(std::f64::consts::TAU);
        Some((cos.hypot(sin), Angle::from_radians(azimuth)))
    }

    /// How far the shaft leans.
    #[must_use]
    pub fn shaft_tilt(&self) -> Option<ShaftTilt> {
        Some(ShaftTilt { nose: self.known(Unknown::Nose)?, left: self.known(Unknown::Left)? })
    }

    /// The shaft as a datum, where the readings tell its lean.
    #[must_use]
    pub fn datum(&self) -> Option<Datum> {
        let u = |unknown| self.get(unknown).map_or(Angle::ZERO, |e| e.standard_error);
        let lean = if u(Unknown::Nose) > u(Unknown::Left) { u(Unknown::Nose) } else { u(Unknown::Left) };
        let clip_offset = self.known(Unknown::ClipOffset);
        let u_clip = if clip_offset.is_some() { u(Unknown::ClipOffset) } else { Angle::ZERO };
        Some(Datum::Shaft { tilt: self.shaft_tilt()?, rotation: self.rotation, clip_offset, u: lean.hypot(u_clip) })
    }

    /// What the solution foretells for a reading: apparent pitch and span slope. For plots, measured against fitted.
    #[must_use]
    pub fn foretell(&self, blade: BladeName, station: Station, clip: Clip) -> (Angle, Angle) {
        let told = self.layout.foretell(&self.values, Spotted { blade, station, clip });
        (Angle::from_radians(told.apparent).wrapped(), Angle::from_radians(told.span))
    }
}
