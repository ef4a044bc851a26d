//! A port whose other end is the test.

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
