//! From raw samples to a force in g along a blade's axes.

mod calibration;
mod calibration_file;
mod force;

pub use calibration::{
    Calibration, Covariance, Model, Mounting, PARAMETERS, prior, prior_case_rotation, u_temperature,
};
pub use calibration_file::CalibrationError;
pub use force::Force;
