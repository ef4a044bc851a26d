//! Errors: what happened, then what to do. An error says its causes itself, so that nobody walks a chain of them.

use super::{Face, Say};
use std::fmt::Display;

/// What happened, with its cause on a line of its own.
#[must_use]
pub fn because(said: &str, cause: impl Display) -> String {
    format!("{said}\n  because {cause}")
}

/// A file that cannot be read or written.
#[must_use]
pub fn file(path: &str, cause: &std::io::Error) -> String {
    format!("Cannot read or write {path}: {cause}. Check the name and your access rights.")
}

/// The answer does not reach its reader.
#[must_use]
pub fn not_printed(cause: &std::io::Error) -> String {
    format!("Cannot print the answer: {cause}.")
}

/// The program cannot start what it runs on.
#[must_use]
pub fn not_started(cause: &std::io::Error) -> String {
    format!("Cannot start: {cause}.")
}

/// Errors whose own text is still what a person reads, with their causes.
macro_rules! said_as_they_stand {
    ($($error:ty),+ $(,)?) => {
        $(impl Say for $error {
            fn say(&self, _: Face) -> String {
                as_it_stands(self)
            }
        })+
    };
}

fn as_it_stands(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        let said = error.to_string();
        if !text.contains(&said) {
            text = because(&text, said);
        }
        cause = error.source();
    }
    text
}

said_as_they_stand!(
    crate::sensor::CalibrationError,
    crate::sensor::health::HealthError,
    crate::sensor::orient::OrientError,
    crate::sensor::PosesError,
    crate::sensor::reseat::TooFewSeatings,
    crate::stream::ProfileError,
    crate::stream::StreamError,
    crate::units::AxisMapError,
    crate::units::ParseAngleError,
);

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::{Error, ErrorKind};

    #[test]
    fn failures_of_the_program_say_what_happened_and_what_to_do() {
        let denied = Error::from(ErrorKind::PermissionDenied);
        let all = [
            because("Cannot open the logbook.", "the disk is gone"),
            file("sheet.html", &denied),
            not_printed(&denied),
            not_started(&denied),
        ];
        insta::assert_snapshot!(all.join("\n"));
    }
}
