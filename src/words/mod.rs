//! Every sentence for people: a finding, a question, a refusal or an error turned into words for a [`Face`].
//!
//! The other rooms speak in types with numbers; only this room makes sentences of them. It decides nothing: what is judged,
//! owed or advised comes in as a value. A sentence says what happened, then what to do, with the whole command.

extern crate clinoblade_filter as filter;

pub mod advice;
mod advice_link;
pub mod bench;
pub mod cli;
pub mod comparison;
pub mod demo;
pub mod errors;
pub mod guide;
pub mod help;
pub mod kept;
pub mod logbook;
mod number;
pub mod page;
mod question;
pub mod reading;
pub mod record;
mod record_document;
pub mod rig;
pub mod rotor;
pub mod sensor;
pub mod sensor_commands;
mod sensor_fault;
pub mod setup;
pub mod sheet;
pub mod stream;
pub mod survey;
mod swept;
pub mod table;
pub mod uncertainty;
pub mod units;
mod unsettled;
mod visible;
pub mod watch;
pub mod workshop;

pub use number::{angle, plus_minus, signed, size, wanted, with_uncertainty};
pub use visible::{one_line, steers, visible, visible_json};

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

/// What is spoken has no signs in it.
fn by_ear(face: Face, said: String) -> String {
    if face != Face::Voice {
        return said;
    }
    [(" ± ", " plus or minus "), ("°", " degrees"), (" %", " percent"), ("\u{2212}", "minus "), ("+", "plus ")]
        .iter()
        .fold(said, |said, (sign, word)| said.replace(sign, word))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Everything that is said on the page, by room.
    fn on_the_page() -> Vec<String> {
        [bench::tests::all(), guide::tests::all(Face::Page), page::tests::all(), watch::tests::all()].concat()
    }

    /// On the page nothing can be typed: it has buttons.
    #[test]
    fn nothing_on_the_page_is_a_command_or_an_option() {
        let said = on_the_page();
        assert!(said.len() > 100, "{} sentences", said.len());
        for sentence in said {
            assert!(!sentence.contains("--") && !sentence.contains("clinoblade"), "{sentence}");
        }
    }

    #[test]
    fn nothing_that_is_spoken_has_a_sign_in_it() {
        for sentence in guide::tests::all(Face::Voice) {
            assert!(!sentence.contains(['°', '±', '%', '+', '\u{2212}']), "{sentence}");
        }
    }
}
