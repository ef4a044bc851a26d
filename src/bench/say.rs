//! The bench's errors in words.

use super::zero::ReversalError;
use super::{BenchError, EvaluateError, KeepError, RecomputeError};
use crate::words::{Face, Say, cli, reading};

impl Say for BenchError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Stream(error) => error.say(face),
            Self::Nothing => reading::nothing_usable(face),
            Self::Unusable(dropped) => reading::unusable(*dropped, face),
            Self::Sensor(fault) => fault.say(face),
            Self::Ended => reading::stream_ended(),
        }
    }
}

impl Say for EvaluateError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Span(error) => error.say(face),
            Self::Tail(error) => error.say(face),
            Self::Datum(error) => error.say(face),
            Self::NoPlace => reading::place_not_named(face),
            Self::NoBlade { head, blade, blades } => reading::no_blade(head, *blade, *blades),
            Self::LeadingEdge { said, seen } => reading::leading_edge(*said, *seen, face),
        }
    }
}

impl Say for ReversalError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Datum(error) => error.say(face),
            Self::NotBack { off } => cli::not_back(*off),
        }
    }
}

impl Say for RecomputeError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::NotSteady => reading::not_steady_any_more(),
            Self::Evaluate(error) => error.say(face),
        }
    }
}

impl Say for KeepError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Entry(error) => error.say(face),
            Self::Logbook(error) => error.say(face),
        }
    }
}
