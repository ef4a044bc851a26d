//! What a person keeps: plots.

pub mod plot;
