//! A simulated head, sensor and clip that know the truth.

pub mod noise;
pub mod operator;
