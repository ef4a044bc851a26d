//! The program as people meet it: commands, pages, paper, examples, firmware, licences, and what a workshop does to it.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod adjust_command;
mod advise_command;
mod command_line;
mod demo;
mod examples;
mod faults;
mod firmware;
mod hand_over;
mod judged_figures;
mod licences;
mod one_angle;
mod one_setup;
mod packages;
mod page_browser;
mod page_places;
mod page_start;
mod rotor_bench;
mod rotor_command;
mod sensor_bench;
mod sensor_setup;
mod setup_sheet;
