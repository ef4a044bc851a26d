//! Every sentence for people: a finding, a question, a refusal or an error turned into words for a [`Face`].
//!
//! The other rooms speak in types with numbers; only this room makes sentences of them. It decides nothing: what is judged,
//! owed or advised comes in as a value. A sentence says what happened, then what to do, with the whole command.

extern crate clinoblade_filter as filter;
extern crate clinoblade_guide as guide;
extern crate clinoblade_sensor as sensor;
extern crate clinoblade_stream as stream;
extern crate clinoblade_units as units;

pub mod advice;
pub mod cli;
pub mod comparison;
pub mod errors;
pub mod help;
pub mod logbook;
mod number;
pub mod reading;
pub mod record;
pub mod rig;
pub mod rotor;
pub mod setup;
pub mod sheet;
pub mod survey;
pub mod table;
pub mod uncertainty;

pub use number::{angle, signed, size, with_uncertainty};

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

impl Face {
    /// The first text where a command can be typed, else the second.
    const fn command<'a>(self, typed: &'a str, otherwise: &'a str) -> &'a str {
        match self {
            Self::Terminal => typed,
            Self::Page | Self::Paper | Self::Voice => otherwise,
        }
    }
}

/// The same with a capital letter at its beginning.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
