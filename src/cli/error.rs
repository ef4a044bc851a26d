//! How a command ends, and the exit code that says so.

use super::Output;
use crate::bench::{BenchError, EvaluateError, KeepError};
use crate::logbook::LogbookError;
use crate::record::{AdjustmentError, EntryError, HeadError, SubjectError, SurveyError};
use crate::rotor::{DatumError, ParseDeflectionError, PlaceError, SpanTooSteep, TailError};
use crate::stream::StreamError;
use serde_json::{Map, Value};
use std::process::ExitCode;

/// How a command ended that did not fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Done: exit code 0.
    Done,
    /// The measurement says no (outside, incomplete, not steady): exit code 1.
    SaysNo,
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Done => Self::SUCCESS,
            Outcome::SaysNo => Self::from(1),
        }
    }
}

/// Why a command failed.
#[derive(Debug, thiserror::Error)]
pub enum CliError {
    /// What was asked for cannot be done as asked.
    #[error("{0}")]
    Use(String),
    /// What was measured does not allow what was asked for: a contradiction, a refusal.
    #[error("{0}")]
    Measurement(String),
    /// What was read is not recorded; the document shows it.
    #[error("{said}")]
    Refused {
        /// Why not, and what to do.
        said: String,
        /// What was read.
        document: serde_json::Value,
    },
    /// What was read gives no blade angle.
    #[error(transparent)]
    Evaluate(#[from] EvaluateError),
    /// The datum does not hold here.
    #[error(transparent)]
    Datum(#[from] DatumError),
    /// The span stands too steep.
    #[error(transparent)]
    Span(#[from] SpanTooSteep),
    /// The tail blade stands wrong.
    #[error(transparent)]
    Tail(#[from] TailError),
    /// A reading that cannot be kept.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// The sensor or its link failed.
    #[error(transparent)]
    Stream(#[from] StreamError),
    /// The session failed.
    #[error(transparent)]
    Bench(#[from] BenchError),
    /// The logbook failed.
    #[error(transparent)]
    Logbook(#[from] LogbookError),
    /// The shared logbook cannot be reached, and something waits for it here.
    #[error("{source}. {}", waits(*.waiting).unwrap_or_default())]
    Waits {
        /// Why it cannot be reached.
        source: LogbookError,
        /// How many entries wait.
        waiting: usize,
    },
    /// The head's description is wrong.
    #[error(transparent)]
    Head(#[from] HeadError),
    /// No such adjustment.
    #[error(transparent)]
    Adjustment(#[from] AdjustmentError),
    /// No such subject of a capture.
    #[error(transparent)]
    Subject(#[from] SubjectError),
    /// No such axis direction.
    #[error(transparent)]
    Deflection(#[from] ParseDeflectionError),
    /// No such place.
    #[error(transparent)]
    Place(#[from] PlaceError),
    /// The captures give no rotor.
    #[error(transparent)]
    Survey(#[from] SurveyError),
    /// The simulated head.
    #[error(transparent)]
    Rig(#[from] super::rig_driver::RigDriverError),
    /// A file that was named cannot be read or written.
    #[error("{path}: {source}. Check the name and that you may read and write there")]
    File {
        /// The file.
        path: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// Something failed after the document on standard output was complete.
    #[error(transparent)]
    Answered(Box<Self>),
    /// The answer could not be printed.
    #[error("the answer could not be printed: {0}")]
    Print(std::io::Error),
    /// The program could not start.
    #[error("the program could not start its tasks: {0}")]
    Runtime(std::io::Error),
}

impl CliError {
    fn code(&self) -> u8 {
        match self {
            Self::Answered(error) => error.code(),
            Self::Evaluate(EvaluateError::NoBlade { .. }) => 2,
            Self::Measurement(_)
            | Self::Refused { .. }
            | Self::Evaluate(_)
            | Self::Datum(_)
            | Self::Span(_)
            | Self::Tail(_)
            | Self::Entry(_)
            | Self::Survey(_) => 1,
            Self::Stream(error) => of_stream(error),
            Self::Bench(BenchError::Stream(error)) => of_stream(error),
            Self::Bench(_) => 3,
            Self::Logbook(
                LogbookError::NoSetup(_)
                | LogbookError::Unwritable { .. }
                | LogbookError::NoOpenSetup
                | LogbookError::Closed(_)
                | LogbookError::Different { .. }
                | LogbookError::AlreadyRecorded { .. },
            ) => 2,
            Self::Logbook(_) | Self::Waits { .. } => 4,
            _ => 2,
        }
    }

    /// Prints the error with its chain of causes, once, and gives its exit code. Where a JSON document was asked for and
    /// none is printed yet, the error is that document.
    #[must_use]
    pub fn report(&self, output: Output) -> ExitCode {
        if self.nobody_reads() {
            return ExitCode::SUCCESS;
        }
        let text = self.chain();
        if !matches!(self, Self::Answered(_) | Self::Print(_)) {
            let shown = match self {
                Self::Refused { document, .. } => document.clone(),
                Self::Waits { waiting, .. } => serde_json::json!({ "waiting": waiting }),
                _ => Value::Null,
            };
            document_of_failure(shown, &text, self.code(), output);
        }
        output.say(&format!("clinoblade: {text}"));
        ExitCode::from(self.code())
    }

    /// Whoever read the answer has closed the pipe (`watch | head`): enough is enough, and no failure.
    fn nobody_reads(&self) -> bool {
        match self {
            Self::Answered(error) => error.nobody_reads(),
            Self::Print(error) => error.kind() == std::io::ErrorKind::BrokenPipe,
            _ => false,
        }
    }

    fn chain(&self) -> String {
        let mut text = self.to_string();
        let mut cause = std::error::Error::source(self);
        while let Some(error) = cause {
            let said = error.to_string();
            // Many errors already quote their cause; saying it twice helps nobody.
            if !text.contains(&said) {
                text = format!("{text}\n  because {said}");
            }
            cause = error.source();
        }
        text
    }
}

/// What waits on this bench for a shared logbook, in a line; none where nothing does.
pub(super) fn waits(waiting: usize) -> Option<String> {
    match waiting {
        0 => None,
        1 => Some("1 entry waits on this bench for the shared logbook: it is safe here, and not there yet".to_owned()),
        many => Some(format!(
            "{many} entries wait on this bench for the shared logbook: they are safe here, and not there yet"
        )),
    }
}

/// Whether the sensor failed, or what was asked for.
const fn of_stream(error: &StreamError) -> u8 {
    if error.is_wrong_use() { 2 } else { 3 }
}

/// Where a JSON document is asked for, what went wrong is that document, with what there is to show besides.
pub(super) fn document_of_failure(shown: Value, text: &str, code: u8, output: Output) {
    if !output.is_json() {
        return;
    }
    let mut fields = if let Value::Object(fields) = shown { fields } else { Map::new() };
    fields.insert("error".to_owned(), text.into());
    fields.insert("exit_code".to_owned(), code.into());
    // Standard output may be closed; the exit code still speaks.
    let _ = output.line(&Value::Object(fields).to_string());
}

impl From<KeepError> for CliError {
    fn from(error: KeepError) -> Self {
        match error {
            KeepError::Entry(error) => Self::Entry(error),
            KeepError::Logbook(error) => Self::Logbook(error),
        }
    }
}
