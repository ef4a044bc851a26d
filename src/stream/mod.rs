//! Bytes to samples: serial port, TCP, replay and rig, all behind one type that yields samples.
pub mod codec;

mod clock;
mod decoder;
mod profile;
mod profile_file;

pub use decoder::{BadFrames, Counters, SampleDecoder};
pub use profile::{Format, Overrides, Profile, ProfileError};
