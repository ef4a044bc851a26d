//! The exact bytes received, kept in a file that a replay can play.

use super::error::StreamError;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// What a crash may cost: the bytes of this long.
const FLUSHED_EVERY: Duration = Duration::from_secs(1);

#[derive(Debug)]
pub(super) struct RawLog {
    path: PathBuf,
    file: BufWriter<File>,
    flushed: Instant,
}

impl RawLog {
    /// Begins a log. An earlier one is never overwritten.
    pub(super) fn create(path: &Path) -> Result<Self, StreamError> {
        if std::fs::metadata(path).is_ok_and(|found| found.is_file() && found.len() > 0) {
            return Err(StreamError::SaveRawExists { path: path.to_owned() });
        }
        let file = File::create(path).map_err(|source| StreamError::saving(path, source))?;
        Ok(Self { path: path.to_owned(), file: BufWriter::new(file), flushed: Instant::now() })
    }

    pub(super) fn write(&mut self, bytes: &[u8]) -> Result<(), StreamError> {
        self.file.write_all(bytes).map_err(|source| StreamError::saving(&self.path, source))?;
        if self.flushed.elapsed() >= FLUSHED_EVERY {
            self.flush()?;
        }
        Ok(())
    }

    pub(super) fn flush(&mut self) -> Result<(), StreamError> {
        self.flushed = Instant::now();
        self.file.flush().map_err(|source| StreamError::saving(&self.path, source))
    }
}
