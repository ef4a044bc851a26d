//! Errors: what happened, then what to do. An error says its causes itself, so that nobody walks a chain of them.

use super::one_line;
use clinoblade_stream::file::FileLimit;
use std::fmt::Display;

/// What happened, with its cause on a line of its own.
#[must_use]
pub fn because(said: &str, cause: impl Display) -> String {
    format!("{said}\n  because {cause}")
}

/// A file that cannot be read or written.
#[must_use]
pub fn file(path: &str, cause: &std::io::Error) -> String {
    let path = one_line(path);
    match FileLimit::of(cause) {
        Some(limit) => limited(&path, limit),
        None => format!("Cannot read or write {path}: {cause}. Check the name and your access rights."),
    }
}

/// A file that is not read to its end.
#[must_use]
pub fn limited(path: &str, limit: FileLimit) -> String {
    match limit {
        FileLimit::TooLarge(most) => {
            let most = if most >= 1 << 30 { format!("{} GiB", most >> 30) } else { format!("{} MiB", most >> 20) };
            format!("{path} is larger than {most}, the most that is read of such a file. Check the name.")
        }
        FileLimit::Endless(waited) => format!(
            "{path} is a pipe or a device that has not come to its end: {:.1} s were waited for it, and that is the limit. Name a file.",
            waited.as_secs_f64()
        ),
    }
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

/// A part of the program fails: in which thread, and what it says of itself.
#[must_use]
pub fn panicked(thread: &str, failure: impl Display) -> String {
    format!("clinoblade: a fault of the program, in thread {thread}: {failure}")
}

/// A part of the program has failed, and the rest ends.
pub const FAILED: &str =
    "A part of the program has failed, so it ends. What was recorded is kept: start the command again.";

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
            file("zero", &FileLimit::TooLarge(1 << 20).into()),
            file("log", &FileLimit::TooLarge(4 << 30).into()),
            file("pipe", &FileLimit::Endless(std::time::Duration::from_millis(800)).into()),
            file("sheet.html", &Error::new(ErrorKind::AlreadyExists, ANOTHER_KIND)),
            not_printed(&denied),
            not_started(&denied),
            panicked("main", "panicked at a place:\na number"),
            FAILED.to_owned(),
        ];
        insta::assert_snapshot!(all.join("\n"));
    }
}
