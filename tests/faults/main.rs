//! What a workshop does to a program: the power goes, the disk is full, the folder is gone, the clock is set back, two
//! programs want the same thing, a sensor floods the line, a browser never reads, a file is mangled.
//!
//! Each test says how much it tried. Whatever happens, nothing that was reported as recorded is lost, every refusal is in
//! words with its exit code, and nothing panics.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test ends where it fails")]

#[path = "../bench_kit/mod.rs"]
mod bench_kit;
#[path = "../conductor_kit/mod.rs"]
mod conductor_kit;
#[path = "../logbook_kit/mod.rs"]
mod logbook_kit;
#[path = "../port_kit/mod.rs"]
mod port_kit;

mod clock_set_back;
mod commands;
mod dice;
mod full_disk;
mod malformed;
mod onlookers;
mod power_cut;
mod record_soak;
mod sleepers;
mod two_programs;
mod vanished;
mod wire;
