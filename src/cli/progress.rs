//! Progress in one line of the terminal, which is cleared at the end.

use super::{Output, terminal};
use crate::words::kept::ASKING;
use std::io::IsTerminal;
use std::time::Duration;

/// How long something may take before the person is told what is waited for.
const AT_ONCE: Duration = Duration::from_millis(700);

/// Waits for a logbook, and says so when it takes long: a file answers at once, a server that is gone does not.
pub(super) async fn while_waiting<T>(output: &Output, answer: impl Future<Output = T>) -> T {
    tokio::pin!(answer);
    tokio::select! {
        answer = &mut answer => return answer,
        () = tokio::time::sleep(AT_ONCE) => {}
    }
    let line = ProgressLine::new(output);
    line.show(ASKING);
    answer.await
}

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
            terminal::overwrite_said(text);
        }
    }
}

impl Drop for ProgressLine {
    fn drop(&mut self) {
        self.show("");
    }
}
