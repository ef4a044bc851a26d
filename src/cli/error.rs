//! How a command ends, and the exit code that says so.

use super::Output;
use super::rig_driver::RigDriverError;
use crate::bench::{BenchError, DeedError, EvaluateError, KeepError, RecomputeError};
use crate::logbook::{DocumentError, LogbookError};
use crate::record::{
    AdjustmentError, AdjustmentRefusal, CellNameError, EntryError, HeadError, LinkSurveyError, SpindleError,
    SubjectError, SurveyError, TravelSurveyError,
};
use crate::rig::RigError;
use crate::rotor::{
    DatumError, ParseDeflectionError, PlaceError, ReadingsError, SolutionError, SpanTooSteep, TailError, TrackError,
};
use crate::sensor::health::HealthError;
use crate::sensor::orient::OrientError;
use crate::sensor::reseat::TooFewSeatings;
use crate::sensor::{CalibrationError, PosesError, SensorFault};
use crate::stream::propose::ProposeError;
use crate::stream::{ProfileError, StreamError};
use crate::units::{AxisMapError, ParseAngleError};
use crate::words::{Face, Say, errors, one_line};
use serde_json::{Map, Value};
use std::fmt::{self, Display, Formatter};
use std::io;
use std::path::Path;
use std::process::ExitCode;

pub(super) use crate::words::logbook::waits;

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

/// What failed; its number is the exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// What was measured does not allow what is wanted.
    Measurement = 1,
    /// The command cannot be carried out as it was written.
    Use = 2,
    /// The sensor or its link.
    Link = 3,
    /// The logbook.
    Logbook = 4,
}

/// The exit code of a program that failed in itself, as where nothing catches that.
const PANICKED: u8 = 101;

/// An error that can end a command.
pub trait Failure: Say {
    /// What failed.
    fn fault(&self) -> Fault;
}

/// Why a command failed.
#[derive(Debug)]
pub enum CliError {
    /// What is wanted cannot be done as it was written.
    Use(String),
    /// What was measured does not allow what is wanted: a contradiction, a refusal.
    Measurement(String),
    /// Any failure, with further fields for the document.
    Failed {
        /// What failed.
        fault: Fault,
        /// What happened, and what to do.
        said: String,
        /// The same where no command can be typed.
        on_page: String,
        /// Further fields of the document.
        shown: Value,
    },
    /// A file that was named cannot be read or written.
    File {
        /// The file.
        path: String,
        /// What the system said.
        source: io::Error,
    },
    /// Something failed after the document on standard output was complete.
    Answered(Box<Self>),
    /// The answer could not be printed.
    Print(io::Error),
    /// Something is recorded, and then this failed.
    Recorded(Box<Self>),
    /// The program could not start.
    Runtime(io::Error),
    /// A part of the program failed, and has said so.
    Panicked,
}

impl Display for CliError {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        match self {
            Self::Use(said) | Self::Measurement(said) | Self::Failed { said, .. } => f.write_str(said),
            Self::File { path, source } => f.write_str(&errors::file(path, source)),
            Self::Answered(error) => error.fmt(f),
            Self::Print(source) => f.write_str(&errors::not_printed(source)),
            Self::Recorded(error) => write!(f, "{error} {}", errors::RECORDED),
            Self::Runtime(source) => f.write_str(&errors::not_started(source)),
            Self::Panicked => f.write_str(errors::FAILED),
        }
    }
}

impl<E: Failure> From<E> for CliError {
    fn from(error: E) -> Self {
        let (said, on_page) = (error.say(Face::Terminal), error.say(Face::Page));
        Self::Failed { fault: error.fault(), said, on_page, shown: Value::Null }
    }
}

impl CliError {
    /// An error about a thing with a name, such as a file.
    pub(super) fn about(name: impl Display, error: &impl Failure) -> Self {
        let name = name.to_string();
        let name = one_line(&name);
        let said = |face| format!("{name}: {}", error.say(face));
        let (said, on_page) = (said(Face::Terminal), said(Face::Page));
        Self::Failed { fault: error.fault(), said, on_page, shown: Value::Null }
    }

    /// What the system says about a file, for `map_err`.
    pub(super) fn file(path: &Path) -> impl Fn(io::Error) -> Self {
        move |source| Self::File { path: path.display().to_string(), source }
    }

    /// What happened, and what to do, where no command can be typed.
    pub(super) fn on_page(&self) -> String {
        match self {
            Self::Failed { on_page, .. } => on_page.clone(),
            Self::Answered(error) | Self::Recorded(error) => error.on_page(),
            other => other.to_string(),
        }
    }

    fn code(&self) -> u8 {
        match self {
            Self::Failed { fault, .. } => *fault as u8,
            Self::Measurement(_) => Fault::Measurement as u8,
            Self::Answered(error) | Self::Recorded(error) => error.code(),
            Self::Panicked => PANICKED,
            Self::Use(_) | Self::File { .. } | Self::Print(_) | Self::Runtime(_) => Fault::Use as u8,
        }
    }

    /// Prints the error once and gives its exit code. With `--json`, and if no document is printed yet, the error is the
    /// document.
    #[must_use]
    pub fn report(&self, output: Output) -> ExitCode {
        if self.nobody_reads() {
            return ExitCode::SUCCESS;
        }
        let said = self.to_string();
        if !matches!(self, Self::Answered(_) | Self::Print(_) | Self::Recorded(_)) {
            let shown = if let Self::Failed { shown, .. } = self { shown.clone() } else { Value::Null };
            document_of_failure(shown, &said, self.code(), output);
        }
        output.say(&format!("clinoblade: {said}"));
        ExitCode::from(self.code())
    }

    /// Whether the reader of the answer has closed the pipe (`watch | head`), which is not a failure.
    fn nobody_reads(&self) -> bool {
        match self {
            Self::Answered(error) | Self::Recorded(error) => error.nobody_reads(),
            Self::Print(error) => error.kind() == io::ErrorKind::BrokenPipe,
            _ => false,
        }
    }
}

/// With `--json`, prints the failure as the document, with the fields in `shown`.
pub(super) fn document_of_failure(shown: Value, text: &str, code: u8, output: Output) {
    if !output.is_json() {
        return;
    }
    let mut fields = if let Value::Object(fields) = shown { fields } else { Map::new() };
    fields.insert("error".to_owned(), text.into());
    fields.insert("exit_code".to_owned(), code.into());
    // Standard output may be closed; the exit code remains.
    let _ = output.line(&Value::Object(fields).to_string());
}

macro_rules! faults {
    ($($fault:ident: $($error:ty),+;)+) => {
        $($(impl Failure for $error {
            fn fault(&self) -> Fault {
                Fault::$fault
            }
        })+)+
    };
}

faults! {
    Measurement: DatumError, EntryError, HealthError, LinkSurveyError, OrientError, PosesError, ProposeError, RecomputeError, SpanTooSteep,
        SurveyError, TailError, TooFewSeatings, TrackError;
    Use: AdjustmentError, AdjustmentRefusal, AxisMapError, CalibrationError, CellNameError, DocumentError, HeadError, ParseAngleError, ParseDeflectionError,
        PlaceError, ProfileError, ReadingsError, RigDriverError, RigError, SpindleError, SubjectError;
}

impl Failure for DeedError {
    fn fault(&self) -> Fault {
        if let Self::Logbook(error) = self { error.fault() } else { Fault::Use }
    }
}

impl Failure for EvaluateError {
    fn fault(&self) -> Fault {
        if matches!(self, Self::NoBlade { .. }) { Fault::Use } else { Fault::Measurement }
    }
}

impl Failure for SolutionError {
    fn fault(&self) -> Fault {
        if *self == Self::Unsettled { Fault::Measurement } else { Fault::Use }
    }
}

impl Failure for TravelSurveyError {
    fn fault(&self) -> Fault {
        if matches!(self, Self::NoEnd(_)) { Fault::Use } else { Fault::Measurement }
    }
}

impl Failure for StreamError {
    fn fault(&self) -> Fault {
        if self.is_wrong_use() { Fault::Use } else { Fault::Link }
    }
}

impl Failure for BenchError {
    fn fault(&self) -> Fault {
        match self {
            Self::Stream(error) => error.fault(),
            Self::Sensor(SensorFault::GravityOff { .. } | SensorFault::WrongScale { .. }) => Fault::Measurement,
            _ => Fault::Link,
        }
    }
}

impl Failure for LogbookError {
    fn fault(&self) -> Fault {
        match self {
            Self::Scheme(_)
            | Self::NoName
            | Self::NoSetup(_)
            | Self::Unwritable { .. }
            | Self::TooLong(_)
            | Self::NotAUrl
            | Self::PasswordFile { .. }
            | Self::NotABackup(_)
            | Self::KeptByServer(_)
            | Self::NoOpenSetup
            | Self::Closed(_)
            | Self::Different { .. }
            | Self::AlreadyRecorded { .. } => Fault::Use,
            _ => Fault::Logbook,
        }
    }
}

impl Failure for KeepError {
    fn fault(&self) -> Fault {
        match self {
            Self::Entry(error) => error.fault(),
            Self::Logbook(error) => error.fault(),
        }
    }
}
