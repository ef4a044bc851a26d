//! What can be wrong with a scenario or a command.

use super::vocabulary::Blade;
use crate::units::Seconds;

/// Why the rig cannot do as it was told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RigError {
    /// The scenario's text is not TOML, or names a field that does not exist.
    #[error("scenario: {0}")]
    Scenario(String),
    /// A number in the scenario makes no helicopter.
    #[error("{field}: {given}")]
    Value {
        /// Which field, as `section.field`.
        field: &'static str,
        /// What it holds.
        given: f64,
        /// The lowest value it may hold.
        lowest: f64,
        /// The highest.
        highest: f64,
    },
    /// A list of the scenario names more blades than the rotor has.
    #[error("{field}: {given} blades")]
    TooLong {
        /// Which list of the section `blades`.
        field: &'static str,
        /// How many it has.
        given: usize,
        /// How many blades there are.
        blades: usize,
    },
    /// The lines of a second do not fit on the line.
    #[error("{baud} baud")]
    TooSlow {
        /// Its speed.
        baud: u32,
        /// The speed that they need.
        needed: f64,
    },
    /// A line of the timeline cannot be carried out.
    #[error("at {at}: {reason}")]
    Timeline {
        /// The moment.
        at: Seconds,
        /// What is wrong with it.
        reason: Box<RigError>,
    },
    /// No such command.
    #[error("unknown command: {0}")]
    Command(String),
    /// A command with too little, too much or the wrong things behind it.
    #[error("not '{form}': {given}")]
    Form {
        /// What was written.
        given: String,
        /// The form of the command.
        form: &'static str,
    },
    /// A word that is none of its kind.
    #[error("unknown {what}: {given}")]
    Word {
        /// What was written.
        given: String,
        /// What it should have been.
        what: &'static str,
        /// What may be written.
        known: &'static [&'static str],
    },
    /// A text that is no number, or one out of range.
    #[error("{what}: {given}")]
    Number {
        /// What was written.
        given: String,
        /// What it stands for.
        what: &'static str,
        /// Lowest value taken.
        lowest: f64,
        /// Highest value taken.
        highest: f64,
    },
    /// The head has no such blade.
    #[error("no blade {blade}")]
    NoSuchBlade {
        /// The blade asked for.
        blade: Blade,
        /// How many there are.
        blades: usize,
    },
    /// The clip is on no tail blade, so none can be turned leading edge up or down.
    #[error("not on tail")]
    NotOnTail,
}
