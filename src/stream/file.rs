//! Files that a person names, read within bounds: a name can be mistaken, and what is there may have no end.

use std::fmt::{self, Display, Formatter};
use std::fs::{File, Metadata};
use std::future::Future;
use std::io::{self, Read};
use std::path::Path;
use std::pin::Pin;
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::task::{Context, Poll};
use std::time::{Duration, Instant};
use tokio::io::{AsyncRead, ReadBuf};
use tokio::time::Sleep;

/// The most bytes of a description: a helicopter, a profile, a calibration, a scenario.
pub const MOST_OF_A_DESCRIPTION: u64 = 1 << 20;
/// The most bytes of a table of readings.
pub const MOST_OF_A_TABLE: u64 = 16 << 20;
/// The most bytes of a recording that is looked at as a whole.
pub const MOST_OF_A_SAMPLE: u64 = 256 << 20;
/// The most bytes of a recording that is played: four days of 200 samples a second.
pub const MOST_OF_A_LOG: u64 = 4 << 30;

/// How long a pipe may bring nothing, also before its other end is opened.
const NOTHING: Duration = Duration::from_millis(800);
/// How long a pipe may take in all.
const IN_ALL: Duration = Duration::from_secs(10);

/// Why a file is not read to its end. It is the cause inside an [`io::Error`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileLimit {
    /// It has more bytes than this.
    TooLarge(u64),
    /// It is no file but a pipe or device, and nothing came for so long, or no end.
    Endless(Duration),
}

impl Display for FileLimit {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLarge(most) => write!(f, "over {most} bytes"),
            Self::Endless(waited) => write!(f, "endless: {} ms", waited.as_millis()),
        }
    }
}

impl std::error::Error for FileLimit {}

impl From<FileLimit> for io::Error {
    fn from(limit: FileLimit) -> Self {
        let kind = match limit {
            FileLimit::TooLarge(_) => io::ErrorKind::FileTooLarge,
            FileLimit::Endless(_) => io::ErrorKind::TimedOut,
        };
        Self::new(kind, limit)
    }
}

impl FileLimit {
    /// The limit that an error is about, if it is about one.
    #[must_use]
    pub fn of(error: &io::Error) -> Option<Self> {
        error.get_ref().and_then(|cause| cause.downcast_ref()).copied()
    }
}

/// All of a file, or of what a pipe brings at once.
///
/// # Errors
/// As the system says, and with a [`FileLimit`] as the cause where it is too large or has no end.
pub fn read(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    let found = std::fs::metadata(path)?;
    if is_within(&found, most)? {
        return all(File::open(path)?, most);
    }
    // Opening a pipe waits for its other end, and a read cannot be broken off.
    let (sender, parts) = sync_channel(4);
    let path = path.to_owned();
    std::thread::spawn(move || {
        let mut file = match File::open(path) {
            Ok(file) => file,
            Err(error) => return drop(sender.send(Err(error))),
        };
        loop {
            let mut part = vec![0; 65_536];
            let read = file.read(&mut part).map(|count| {
                part.truncate(count);
                part
            });
            let over = read.as_ref().map_or(true, Vec::is_empty);
            if sender.send(read).is_err() || over {
                return;
            }
        }
    });
    let (begun, mut bytes) = (Instant::now(), Vec::new());
    loop {
        match parts.recv_timeout(NOTHING) {
            Ok(Ok(part)) if part.is_empty() => return Ok(bytes),
            Ok(part) => bytes.extend(part?),
            Err(RecvTimeoutError::Timeout) => return Err(FileLimit::Endless(NOTHING).into()),
            Err(RecvTimeoutError::Disconnected) => return Ok(bytes),
        }
        if bytes.len() as u64 > most {
            return Err(FileLimit::TooLarge(most).into());
        }
        if begun.elapsed() > IN_ALL {
            return Err(FileLimit::Endless(IN_ALL).into());
        }
    }
}

/// The same as text.
///
/// # Errors
/// As [`read`], and where it is no UTF-8.
pub fn read_text(path: &Path, most: u64) -> io::Result<String> {
    String::from_utf8(read(path, most)?).map_err(|error| io::Error::new(io::ErrorKind::InvalidData, error.utf8_error()))
}

/// Whether it is a file whose length is known and within the limit; false for pipes and devices, whose length is not known.
fn is_within(found: &Metadata, most: u64) -> io::Result<bool> {
    if found.is_dir() {
        return Err(io::ErrorKind::IsADirectory.into());
    }
    if found.is_file() && found.len() > most {
        return Err(FileLimit::TooLarge(most).into());
    }
    Ok(found.is_file())
}

/// A file can grow, or be one of the system's whose length is said to be 0.
fn all(file: File, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    file.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most { Err(FileLimit::TooLarge(most).into()) } else { Ok(bytes) }
}

/// Opens a recording to be played.
pub(super) async fn open_log(path: &Path) -> io::Result<Log> {
    let found = tokio::fs::metadata(path).await?;
    let is_file = is_within(&found, MOST_OF_A_LOG)?;
    let opened = tokio::fs::File::open(path);
    let file = match is_file {
        true => opened.await?,
        // Opening a pipe waits for its other end.
        false => match tokio::time::timeout(NOTHING, opened).await {
            Ok(opened) => opened?,
            Err(_) => return Err(FileLimit::Endless(NOTHING).into()),
        },
    };
    Ok(Log { file, patience: (!is_file).then(|| Box::pin(tokio::time::sleep(NOTHING))), left: MOST_OF_A_LOG })
}

/// A recording while it is played.
pub(super) struct Log {
    file: tokio::fs::File,
    /// How long nothing may come; none of a file.
    patience: Option<Pin<Box<Sleep>>>,
    left: u64,
}

impl AsyncRead for Log {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let before = buffer.filled().len();
        let came = Pin::new(&mut self.file).poll_read(context, buffer);
        if came.is_pending() {
            let patience = self.patience.as_mut().map(|patience| patience.as_mut().poll(context));
            return match patience {
                Some(Poll::Ready(())) => Poll::Ready(Err(FileLimit::Endless(NOTHING).into())),
                _ => Poll::Pending,
            };
        }
        if let Some(patience) = &mut self.patience {
            patience.as_mut().reset(tokio::time::Instant::now() + NOTHING);
        }
        let count = buffer.filled().len().saturating_sub(before) as u64;
        match self.left.checked_sub(count) {
            Some(left) => self.left = left,
            None => return Poll::Ready(Err(FileLimit::TooLarge(MOST_OF_A_LOG).into())),
        }
        came
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_read_up_to_its_limit_and_no_further() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        std::fs::write(&path, "twelve bytes").unwrap();
        assert_eq!(read(&path, 12).unwrap(), b"twelve bytes");
        assert_eq!(FileLimit::of(&read(&path, 11).unwrap_err()), Some(FileLimit::TooLarge(11)));
        assert_eq!(read(folder.path(), 12).unwrap_err().kind(), io::ErrorKind::IsADirectory);
        File::create(&path).unwrap().set_len(10 << 30).unwrap();
        assert_eq!(FileLimit::of(&read(&path, 1 << 20).unwrap_err()), Some(FileLimit::TooLarge(1 << 20)));
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn what_is_no_file_is_read_while_it_brings_something() {
        let folder = tempfile::tempdir().unwrap();
        // One of the system's own: it is said to have no bytes.
        assert!(!read(Path::new("/proc/self/status"), 1 << 20).unwrap().is_empty());
        assert_eq!(read(Path::new("/dev/null"), 10).unwrap(), b"");
        assert_eq!(
            FileLimit::of(&read(Path::new("/dev/zero"), 1 << 20).unwrap_err()),
            Some(FileLimit::TooLarge(1 << 20))
        );
        let path = folder.path().join("pipe");
        assert!(std::process::Command::new("mkfifo").arg(&path).status().unwrap().success());
        assert!(matches!(FileLimit::of(&read(&path, 10).unwrap_err()), Some(FileLimit::Endless(_))));
        // A pipe whose other end writes and closes is as good as a file. The read that was given up is still at it.
        let other = folder.path().join("other");
        assert!(std::process::Command::new("mkfifo").arg(&other).status().unwrap().success());
        let end = other.clone();
        let writer = std::thread::spawn(move || std::fs::write(end, "all of it").unwrap());
        assert_eq!(read(&other, 10).unwrap(), b"all of it");
        writer.join().unwrap();
    }
}
