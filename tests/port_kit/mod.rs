//! A port whose other end is the test.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::fs::File;

/// A pseudo-terminal: what is written to the master arrives at the path.
pub fn pseudo_terminal() -> (File, String) {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&master).unwrap();
    unlockpt(&master).unwrap();
    let path = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
    (File::from(master), path)
}
