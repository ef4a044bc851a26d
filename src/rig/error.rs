//! What can be wrong with a scenario or a command.

/// Why the rig cannot do as it was told.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RigError {
    /// The scenario's text is not TOML, or names a field that does not exist.
    #[error("the scenario cannot be read: {0}")]
    Scenario(String),
    /// A number in the scenario makes no helicopter.
    #[error("the scenario's {field} is {given}: {wanted}")]
    Value {
        /// Which field, as `section.field`.
        field: &'static str,
        /// What it holds.
        given: String,
        /// What it may hold.
        wanted: &'static str,
    },
    /// A line of the timeline cannot be carried out.
    #[error("the scenario's timeline at {at} s: {reason}")]
    Timeline {
        /// The moment.
        at: String,
        /// What is wrong with it.
        reason: Box<RigError>,
    },
    /// No such command.
    #[error("'{0}' is no command of the rig: write one of {1}")]
    Command(String, &'static str),
    /// A command with too little, too much or the wrong things behind it.
    #[error("'{given}' is not complete or says too much: write {usage}")]
    Usage {
        /// What was written.
        given: String,
        /// The form of the command.
        usage: &'static str,
    },
    /// A word that is none of its kind.
    #[error("'{given}' is not {what}: write one of {choices}")]
    Word {
        /// What was written.
        given: String,
        /// What it should have been.
        what: &'static str,
        /// What may be written.
        choices: &'static str,
    },
    /// A text that is no number, or one out of range.
    #[error("'{given}' is no {what}: write a number from {lowest} to {highest}")]
    Number {
        /// What was written.
        given: String,
        /// What it stands for.
        what: &'static str,
        /// Lowest value taken.
        lowest: i64,
        /// Highest value taken.
        highest: i64,
    },
    /// The head has no such blade.
    #[error("there is no blade {blade}: this rotor has {count}")]
    NoSuchBlade {
        /// The blade asked for.
        blade: String,
        /// How many there are.
        count: usize,
    },
    /// The clip is on no tail blade, so none can be turned leading edge up or down.
    #[error("the clip is not on a tail blade: write 'clip tail A' first")]
    NotOnTail,
}
