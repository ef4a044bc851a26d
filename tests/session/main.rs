//! A sensor, a head and somebody at the bench: the whole job, by the sheet, by commands, on the screen and over HTTP.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod bad_line;
mod capture_killed;
mod conductor;
mod exchanged_sensors;
mod job;
mod line;
mod outage;
mod page_http;
mod returned_sensor;
mod sensor_faults;
mod several_sensors;
mod sweep;
mod watch_screen;
#[cfg(unix)]
mod watch_signals;
mod workshop;
