//! Errors: what happened, then what to do. An error says its causes itself, so that nobody walks a chain of them.

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

/// Why a file that is there is not replaced.
pub const ANOTHER_KIND: &str = "a file of another kind has this name, and it is not replaced";

/// The answer does not reach its reader.
#[must_use]
pub fn not_printed(cause: &std::io::Error) -> String {
    format!("Cannot print the answer: {cause}.")
}

/// The answer could not be printed, after something was recorded.
pub const RECORDED: &str = "What was to be recorded is recorded: do not repeat the step.";

/// The program cannot start what it runs on.
#[must_use]
pub fn not_started(cause: &std::io::Error) -> String {
    format!("Cannot start: {cause}.")
}

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
            file("sheet.html", &Error::new(ErrorKind::AlreadyExists, ANOTHER_KIND)),
            not_printed(&denied),
            not_started(&denied),
        ];
        insta::assert_snapshot!(all.join("\n"));
    }
}
