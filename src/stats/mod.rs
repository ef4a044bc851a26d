//! Statistics that the other rooms stand on: mean, autocorrelation, effective number, Student's t, least squares,
//! Allan deviation, analysis of variance, spectra, the monotone cubic.

#[cfg(test)]
use clinoblade_rig as rig;

pub mod allan;
pub mod anova;
pub mod autocorrelation;
pub mod control_chart;
pub mod gauss_newton;
pub mod least_squares;
pub mod moments;
pub mod normal_equations;
pub mod pchip;
pub mod robust;
pub mod spectrum;
pub mod student;
pub mod transform;

#[cfg(test)]
mod reference;
