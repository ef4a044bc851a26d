//! Progress in one line of the terminal, which is cleared at the end.

use super::Output;
use std::io::{IsTerminal, Write};

/// The line on standard error; nothing is drawn with `--json` or without a terminal.
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
            // A closed standard error must not end the measurement.
            let _ = write!(std::io::stderr(), "\r\x1b[2K{text}");
        }
    }
}

impl Drop for ProgressLine {
    fn drop(&mut self) {
        self.show("");
    }
}
