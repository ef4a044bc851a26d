//! Every sentence for people: a finding, a question, a refusal or an error turned into words for a [`Face`].
//!
//! The other rooms speak in types with numbers; only this room makes sentences of them. It decides nothing: what is judged,
//! owed or advised comes in as a value. A sentence says what happened, then what to do, with the whole command.

extern crate clinoblade_advice as advice;
extern crate clinoblade_filter as filter;
extern crate clinoblade_guide as guide;
extern crate clinoblade_logbook as logbook;
extern crate clinoblade_rig as rig;
extern crate clinoblade_rotor as rotor;
extern crate clinoblade_sensor as sensor;
extern crate clinoblade_stats as stats;
extern crate clinoblade_stream as stream;
extern crate clinoblade_uncertainty as uncertainty;
extern crate clinoblade_units as units;

pub mod cli;
pub mod errors;
pub mod help;
mod number;
pub mod reading;
pub mod record;

pub use number::{angle, signed, with_uncertainty};

/// Where a sentence is read or heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Face {
    /// A terminal, where a command can be typed.
    Terminal,
    /// The bench page, where there are buttons and no commands.
    Page,
    /// The setup sheet, which outlives the session.
    Paper,
    /// Spoken aloud: no signs, no abbreviations.
    Voice,
}

/// What can be said to a person.
pub trait Say {
    /// The sentence for this face, without a line break at its end.
    fn say(&self, face: Face) -> String;
}
