//! What tests and benchmarks share. Whatever cannot go on here has failed, and says so by a panic.

pub mod advice;
pub mod bench;
pub mod browser;
pub mod conductor;
pub mod coverage;
pub mod dice;
pub mod judgement;
pub mod line;
pub mod logbook;
pub mod packages;
pub mod page;
pub mod paper;
pub mod place;
#[cfg(unix)]
pub mod port;
#[cfg(unix)]
pub mod postgres;
pub mod rig;
pub mod rotor;
pub mod soak;
pub mod streams;
#[path = "../../fuzz/src/targets.rs"]
pub mod targets;
#[cfg(unix)]
pub mod terminal;
