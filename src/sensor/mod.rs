//! From raw samples to a force in g along a blade's axes.

mod force;

pub use force::Force;
