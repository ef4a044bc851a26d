//! What can go wrong between the sensor and the first sample.

use super::Origin;
use super::codec::SensorFault;
use super::file::FileLimit;
use super::ports::{Obstacle, PortReport};
use super::profile::{Asked, ProfileError};
use super::recognise::Advice;
use std::io;
use std::path::{Path, PathBuf};

/// Why a stream brings no samples.
#[derive(Debug, thiserror::Error)]
pub enum StreamError {
    /// A serial port that cannot be opened.
    #[error("port barred: {path}")]
    Port {
        /// The path of the port.
        path: String,
        /// What stands in the way, and what to do.
        obstacle: Obstacle,
    },
    /// Opening failed for a reason that has no name of its own.
    #[error("refused: {path}: {reason}")]
    PortRefused {
        /// The path of the port.
        path: String,
        /// The line speed asked for.
        baud: u32,
        /// What the system says.
        reason: String,
    },
    /// No connection to a TCP source.
    #[error("not connected: {address}")]
    Connect {
        /// Host and port.
        address: String,
        /// What the system says.
        source: io::Error,
    },
    /// A raw log that cannot be opened.
    #[error("log unreadable: {path}", path = path.display())]
    Log {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// A raw log without a byte in it.
    #[error("empty log: {from}")]
    EmptyLog {
        /// The log.
        from: String,
    },
    /// Neither the log nor the profile tells when a sample was taken.
    #[error("no time: {profile}")]
    NoTime {
        /// The profile.
        profile: String,
    },
    /// The other end is gone.
    #[error("unplugged: {from}")]
    Unplugged {
        /// The source.
        from: String,
    },
    /// A live connection is gone.
    #[error("disconnected: {from}")]
    Disconnected {
        /// The source.
        from: String,
    },
    /// Not a byte for longer than a sensor pauses.
    #[error("silent: {from}")]
    Silent {
        /// The source.
        from: String,
        /// How long nothing came.
        seconds: u64,
    },
    /// Samples come, and no time passes in them.
    #[error("stands still: {from}")]
    StandsStill {
        /// The source.
        from: String,
        /// For how long.
        seconds: u64,
    },
    /// Not a byte from a sensor that is asked.
    #[error("no answer: {from}")]
    NoAnswer {
        /// The source.
        from: String,
        /// How it is asked.
        asked: Asked,
        /// How long nothing came.
        seconds: u64,
    },
    /// Bytes come, but they make no frames.
    #[error("nothing decodes: {from}")]
    NothingDecodes {
        /// The source.
        from: String,
        /// The profile that does not fit.
        profile: String,
        /// The first bytes, as text where they are text, else in hexadecimal.
        shown: String,
        /// What to try.
        advice: Advice,
    },
    /// The sensor's board works, but not its accelerometer.
    #[error("sensor fault: {from}")]
    SensorFault {
        /// The source.
        from: String,
        /// What the board reports.
        fault: SensorFault,
    },
    /// Reading failed in a way that is not an unplugged cable.
    #[error("read failed: {from}")]
    Read {
        /// The source.
        from: String,
        /// What the system says.
        source: io::Error,
    },
    /// The raw log cannot be written.
    #[error("not saved: {path}", path = path.display())]
    SaveRaw {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The raw log would overwrite an earlier one.
    #[error("log exists: {path}", path = path.display())]
    SaveRawExists {
        /// The file.
        path: PathBuf,
    },
    /// No source is named and none can be guessed.
    #[error("no port")]
    NoPort,
    /// The only port is built in, and nothing comes from it.
    #[error("silent port: {path}")]
    SilentPort {
        /// Its path.
        path: String,
    },
    /// No source is named and there are several.
    #[error("several ports")]
    SeveralPorts {
        /// The ports.
        found: Vec<PortReport>,
    },
    /// The profile.
    #[error(transparent)]
    Profile(#[from] ProfileError),
}

impl StreamError {
    /// Whether plugging in again can mend it, so that waiting makes sense.
    #[must_use]
    pub const fn may_come_back(&self) -> bool {
        matches!(
            self,
            Self::Unplugged { .. }
                | Self::Disconnected { .. }
                | Self::Silent { .. }
                | Self::StandsStill { .. }
                | Self::SensorFault { .. }
                | Self::NoAnswer { .. }
                | Self::Connect { .. }
                | Self::Read { .. }
                | Self::Port { .. }
                | Self::PortRefused { .. }
        )
    }

    /// Whether the command was put wrongly, rather than sensor or link at fault.
    #[must_use]
    pub const fn is_wrong_use(&self) -> bool {
        matches!(
            self,
            Self::Log { .. }
                | Self::EmptyLog { .. }
                | Self::NoTime { .. }
                | Self::SaveRaw { .. }
                | Self::SaveRawExists { .. }
                | Self::SilentPort { .. }
                | Self::SeveralPorts { .. }
                | Self::Profile(_)
        )
    }

    /// A failed read: an unplugged cable has many names.
    pub(super) fn reading(origin: &Origin, source: io::Error) -> Self {
        use io::ErrorKind::{BrokenPipe, ConnectionAborted, ConnectionReset, NotConnected, TimedOut, UnexpectedEof};
        if origin.is_log() && FileLimit::of(&source).is_some() {
            return Self::Log { path: origin.name().into(), source };
        }
        // ENXIO, EIO and ENODEV of Linux and its kin.
        let device_gone = matches!(source.raw_os_error(), Some(5 | 6 | 19));
        let gone = matches!(
            source.kind(),
            BrokenPipe | ConnectionAborted | ConnectionReset | NotConnected | TimedOut | UnexpectedEof
        );
        if gone || device_gone { Self::gone(origin) } else { Self::Read { from: origin.name().to_owned(), source } }
    }

    /// The other end is gone: a cable came off, or a connection was closed.
    pub(super) fn gone(origin: &Origin) -> Self {
        let from = origin.name().to_owned();
        if matches!(origin, Origin::Live(_)) { Self::Disconnected { from } } else { Self::Unplugged { from } }
    }

    pub(super) fn saving(path: &Path, source: io::Error) -> Self {
        Self::SaveRaw { path: path.to_owned(), source }
    }
}
