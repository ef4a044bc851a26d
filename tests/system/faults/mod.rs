//! What a workshop does to a program: the power goes, the disk is full, the folder is gone, the clock is set back, two
//! programs want the same thing, a sensor floods the line, a browser never reads, a file is mangled.
//!
//! Each test says how much it tried. Whatever happens, nothing that was reported as recorded is lost, every refusal is in
//! words with its exit code, and nothing panics.

mod clock_set_back;
mod commands;
mod endless;
mod failing_disk;
mod full_disk;
mod half_open;
mod hostile_text;
mod malformed;
mod onlookers;
mod power_cut;
mod record_soak;
mod sleepers;
mod two_programs;
mod vanished;
mod wire;
