//! How far something has come, in one line of a terminal that is written over and goes away at the end.

use super::Output;
use std::io::{IsTerminal, Write};

/// The line on standard error; nothing is drawn where nobody looks on, or where a JSON document was asked for.
#[derive(Debug)]
pub(super) struct ProgressLine {
    drawn: bool,
}

impl ProgressLine {
    pub fn new(output: &Output) -> Self {
        Self { drawn: !output.is_json() && std::io::stderr().is_terminal() }
    }

    /// Writes the line anew.
    pub fn show(&self, text: &str) {
        if self.drawn {
            // What cannot be shown must not end the measurement.
            let _ = write!(std::io::stderr(), "\r\x1b[2K{text}");
        }
    }
}

impl Drop for ProgressLine {
    fn drop(&mut self) {
        self.show("");
    }
}
