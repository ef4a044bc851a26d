//! Bytes to samples: serial port, TCP, replay and rig, all behind one type that yields samples.
//!
//! A [`Profile`] says how a sensor speaks. A [`SampleStream`] opens a [`Source`] and yields one
//! [`Sample`](crate::units::Sample) after the other, with times on the stream's own clock in seconds, zero at the
//! first good sample, and the axes in counts as they stood on the wire. Damaged frames are skipped and counted,
//! never guessed. [`SampleDecoder`] does the same for bytes at hand, without a runtime, and [`codec`] holds the
//! wire formats with their encoders.
//!
//! What it cannot do: formats without a checksum let a flipped digit through, and a stream without a clock of its
//! own is timed by its nominal rate, which is as good as that rate.

use clinoblade_stats as stats;
use clinoblade_units as units;

pub mod codec;
pub mod identify;
pub mod ports;
pub mod propose;

mod arrivals;
mod built_in;
mod clock;
mod decoder;
mod error;
pub mod file;
mod poll;
mod profile;
mod profile_file;
mod raw_log;
mod recognise;
mod reconnect;
mod replug;
mod sample_stream;
mod source;

pub use codec::SensorFault;
pub use decoder::{BadFrames, Counters, SampleDecoder};
pub use error::StreamError;
pub use profile::{Asked, Format, Overrides, Profile, ProfileError};
pub use profile_file::{Holder, Mark, Mistake};
pub use recognise::Advice;
pub use reconnect::{Event, Reconnecting};
pub use replug::Plug;
pub use sample_stream::{Options, Origin, Pace, SampleStream};
pub use source::{Reader, Source, choose};
