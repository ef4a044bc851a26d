//! Files that are written once: what is there is never overwritten.

use crate::cli::CliError;
use crate::words::sensor_commands as words;
use std::path::Path;

/// Refuses a name that is taken, before anyone takes the trouble to fill it.
pub(super) fn must_be_free(path: &Path) -> Result<(), CliError> {
    if path.exists() { Err(taken(path)) } else { Ok(()) }
}

/// Writes a file that was not there, down to the disk.
pub(super) fn keep(path: &Path, text: &str) -> Result<(), CliError> {
    let failed = |source: std::io::Error| match source.kind() {
        std::io::ErrorKind::AlreadyExists => taken(path),
        _ => CliError::File { path: path.display().to_string(), source },
    };
    crate::bench::written::new(path, text).map_err(failed)
}

fn taken(path: &Path) -> CliError {
    CliError::Use(words::already_there(path))
}
