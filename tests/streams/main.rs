//! Bytes and what brings them: codecs, profiles, ports, lines that break, the simulated sensor at the other end.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod choice;
mod codecs;
mod formats;
mod fuzz_corpus;
mod identify;
mod live;
mod modbus;
mod profiles;
mod properties;
mod proposed;
mod rig_port;
mod rig_profiles;
mod soak;
