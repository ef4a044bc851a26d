//! What is kept: in a file and on a server, by several writers, through kills and cuts, and handed on as a document.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod backup;
mod exchange;
mod kill;
mod places;
mod refusals;
mod setups;
mod shared;
mod writers;
