//! Files that are written once: what is there is never overwritten.

use crate::cli::CliError;
use std::path::Path;

/// Refuses a name that is taken, before anyone takes the trouble to fill it.
pub(super) fn must_be_free(path: &Path, what: &str) -> Result<(), CliError> {
    if path.exists() { Err(taken(path, what)) } else { Ok(()) }
}

/// Writes a file that was not there, down to the disk.
pub(super) fn keep(path: &Path, text: &str, what: &str) -> Result<(), CliError> {
    let failed = |source: std::io::Error| match source.kind() {
        std::io::ErrorKind::AlreadyExists => taken(path, what),
        _ => CliError::File { path: path.display().to_string(), source },
    };
    crate::cli::written::new(path, text).map_err(failed)
}

fn taken(path: &Path, what: &str) -> CliError {
    CliError::Use(format!(
        "{} is there already, and a {what} is never overwritten: choose another --out",
        path.display()
    ))
}
