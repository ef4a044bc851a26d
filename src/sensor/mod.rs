//! From raw samples to a force in g along a blade's axes.

#[cfg(test)]
use clinoblade_rig as rig;
use clinoblade_stats as stats;
use clinoblade_stream as stream;
use clinoblade_uncertainty as uncertainty;
use clinoblade_units as units;

mod calibration;
mod calibration_file;
pub mod faces;
pub mod fault;
mod force;
pub mod health;
pub mod orient;
pub mod poses;
pub mod reseat;
mod tumble;
pub mod verdict;

pub use calibration::{
    Calibration, Covariance, Model, Mounting, PARAMETERS, prior, prior_case_rotation, temperature_effects,
};
pub use calibration_file::{CalibrationError, Flaw};
pub use fault::SensorFault;
pub use force::Force;
pub use tumble::{FEWEST_POSES, FULL_POSES, GUIDED_POSES, LARGEST_CONDITION, Label, PosesError, tumble};
