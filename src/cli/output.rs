//! Standard output and standard error of a command.

use super::{CliError, terminal};
use serde::Serialize;

/// How a command prints: text for people or one JSON document, with or without details.
#[derive(Debug, Clone, Copy)]
pub struct Output {
    json: bool,
    verbose: bool,
}

impl Output {
    /// Without details.
    #[must_use]
    pub const fn new(json: bool) -> Self {
        Self { json, verbose: false }
    }

    /// The same, with details that nobody acts on (`-v`).
    #[must_use]
    pub const fn verbose(self, verbose: bool) -> Self {
        Self { verbose, ..self }
    }

    /// Whether details are printed.
    #[must_use]
    pub const fn is_verbose(self) -> bool {
        self.verbose
    }

    /// Whether the answer is a JSON document.
    #[must_use]
    pub const fn is_json(self) -> bool {
        self.json
    }

    /// Prints the answer, as `document` or as `text`.
    ///
    /// # Errors
    /// When standard output is closed or full.
    pub fn answer(&self, document: &impl Serialize, text: &str) -> Result<(), CliError> {
        if self.json {
            let document = serde_json::to_string(document).map_err(|e| CliError::Print(e.into()))?;
            self.line(&document)
        } else {
            self.line(text.trim_end_matches('\n'))
        }
    }

    /// The same after something was recorded: when it cannot be printed, the person is told that it is recorded.
    ///
    /// # Errors
    /// As [`Self::answer`].
    pub fn answer_recorded(&self, document: &impl Serialize, text: &str) -> Result<(), CliError> {
        self.answer(document, text).map_err(|error| CliError::Recorded(Box::new(error)))
    }

    /// Prints one line on standard output and flushes it.
    ///
    /// # Errors
    /// When standard output is closed or full.
    pub fn line(&self, line: &str) -> Result<(), CliError> {
        if self.json { terminal::print_document(line) } else { terminal::print(line) }.map_err(CliError::Print)
    }

    /// Prints one line on standard error: a step, a hint, a caution.
    pub fn say(&self, line: &str) {
        terminal::say(line);
    }
}
