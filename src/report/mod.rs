//! What a person keeps: plots.

pub mod pictures;
pub mod plot;
