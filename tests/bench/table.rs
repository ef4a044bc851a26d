//! How fast, how frugal, how exact: `cargo bench --bench table`, or some rows of it: `-- decode chain`; `--quick` measures less.
//!
//! Prints one table. Each line holds a figure, what it is held against in the same run, the ratio of the two, and its goal where
//! it has one. What cannot be held against its peer, because the peer is not installed, is printed as measured. The exit code is
//! 1 when a goal is missed.

#![allow(clippy::expect_used, clippy::unwrap_used, reason = "a measurement that cannot go on has failed")]

#[cfg(unix)]
#[path = "table/mod.rs"]
mod table;

#[cfg(unix)]
fn main() {
    std::process::exit(table::main())
}

#[cfg(not(unix))]
fn main() {
    println!("this needs pseudo-terminals");
}
