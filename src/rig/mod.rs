//! A simulated head, sensor and clip that know the truth.
