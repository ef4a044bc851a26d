//! Why an act was not taken, and why something could not be kept.

use crate::guide;
use crate::logbook::LogbookError;
use crate::record::EntryError;
use crate::words::{self, Face, Say};
use crate::{BenchError, DeedError, EvaluateError, KeepError};
use std::mem::discriminant;
use std::sync::Arc;

/// Why an act was not taken.
#[derive(Debug, Clone, thiserror::Error)]
pub enum Refusal {
    /// It cannot be done now.
    #[error(transparent)]
    Guide(#[from] guide::Refusal),
    /// It could not be kept.
    #[error(transparent)]
    NotKept(#[from] Trouble),
    /// The record cannot be changed so.
    #[error(transparent)]
    Deed(Arc<DeedError>),
    /// The session has ended.
    #[error("session ended")]
    Ended,
}

impl From<DeedError> for Refusal {
    fn from(error: DeedError) -> Self {
        Self::Deed(Arc::new(error))
    }
}

impl Say for Refusal {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Guide(refusal) => refusal.say(face),
            Self::NotKept(trouble) => trouble.say(face),
            Self::Deed(error) => error.say(face),
            Self::Ended => words::bench::SESSION_ENDED.to_owned(),
        }
    }
}

/// Why something could not be kept.
#[derive(Debug, Clone, thiserror::Error)]
pub enum Trouble {
    /// What was read gives no blade angle.
    #[error(transparent)]
    Evaluate(#[from] EvaluateError),
    /// What the sensor sends cannot be true.
    #[error(transparent)]
    Bench(Arc<BenchError>),
    /// It cannot stand as a value.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// The logbook failed.
    #[error(transparent)]
    Logbook(Arc<LogbookError>),
}

impl From<LogbookError> for Trouble {
    fn from(error: LogbookError) -> Self {
        Self::Logbook(Arc::new(error))
    }
}

impl From<KeepError> for Trouble {
    fn from(error: KeepError) -> Self {
        match error {
            KeepError::Entry(error) => Self::Entry(error),
            KeepError::Logbook(error) => error.into(),
        }
    }
}

impl Trouble {
    /// Whether another one is of the same kind: what is tried again at every rest is not spoken of at every rest.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Evaluate(one), Self::Evaluate(other)) => discriminant(one) == discriminant(other),
            (Self::Bench(one), Self::Bench(other)) => match (&**one, &**other) {
                (BenchError::Sensor(one), BenchError::Sensor(other)) => discriminant(one) == discriminant(other),
                (one, other) => discriminant(one) == discriminant(other),
            },
            (Self::Entry(one), Self::Entry(other)) => discriminant(one) == discriminant(other),
            (Self::Logbook(one), Self::Logbook(other)) => discriminant(&**one) == discriminant(&**other),
            _ => false,
        }
    }
}

impl Say for Trouble {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Evaluate(error) => error.say(face),
            Self::Bench(error) => error.say(face),
            Self::Entry(error) => error.say(face),
            Self::Logbook(error) => error.say(face),
        }
    }
}
