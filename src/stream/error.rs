//! What can go wrong between the sensor and the first sample, in the words of the person at the bench.

use super::Origin;
use super::codec::SensorFault;
use super::ports::Obstacle;
use super::profile::ProfileError;
use std::io;
use std::path::{Path, PathBuf};

/// Why a stream brings no samples.
#[derive(Debug, thiserror::Error)]
pub enum StreamError {
    /// A serial port that cannot be opened.
    #[error("the port {path} cannot be opened: {obstacle}")]
    Port {
        /// The path of the port.
        path: String,
        /// What stands in the way, and what to do.
        obstacle: Obstacle,
    },
    /// Opening failed for a reason that has no name of its own.
    #[error(
        "the port {path} cannot be opened at {baud} baud ({reason}): unplug the sensor, plug it in again, or try another --baud"
    )]
    PortRefused {
        /// The path of the port.
        path: String,
        /// The line speed asked for.
        baud: u32,
        /// What the system says.
        reason: String,
    },
    /// No connection to a TCP source.
    #[error(
        "no connection to {address} ({source}): is it switched on, on the same network, and is the port number right?"
    )]
    Connect {
        /// Host and port.
        address: String,
        /// What the system says.
        source: io::Error,
    },
    /// A raw log that cannot be opened.
    #[error("the log {path} cannot be read ({source})", path = path.display())]
    Log {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// A raw log without a byte in it.
    #[error("{from} is empty: there is nothing to replay")]
    EmptyLog {
        /// The log.
        from: String,
    },
    /// Neither the log nor the profile tells when a sample was taken.
    #[error(
        "a replay with the profile {profile} has no time: its lines carry no clock. Add rate_hz to the profile, such as rate_hz = 100"
    )]
    NoTime {
        /// The profile.
        profile: String,
    },
    /// The other end is gone.
    #[error("{from} is gone: the cable came off, or the sensor lost its power. Plug it in again")]
    Unplugged {
        /// The source.
        from: String,
    },
    /// A live connection is gone.
    #[error(
        "{from} is gone: the other end closed the connection, or the network failed. See that it is switched on and in reach, and start anew"
    )]
    Disconnected {
        /// The source.
        from: String,
    },
    /// Not a byte for longer than a sensor pauses.
    #[error("no bytes for {seconds} s from {from}: is the sensor powered, its cable firm, and is this the right port?")]
    Silent {
        /// The source.
        from: String,
        /// How long nothing came.
        seconds: u64,
    },
    /// Samples come, and no time passes in them.
    #[error(
        "the sensor at {from} has sent the same sample again and again for {seconds} s: its clock and its counter stand still. \
         Unplug it and plug it in again"
    )]
    StandsStill {
        /// The source.
        from: String,
        /// For how long.
        seconds: u64,
    },
    /// Not a byte from a sensor that is asked.
    #[error(
        "no answer for {seconds} s from {from}, asked as {asked}: is the sensor powered, are its two data wires the right way round, \
         and are address, baud and parity what its manual says? `sensor identify` tries the usual ones"
    )]
    NoAnswer {
        /// The source.
        from: String,
        /// How it is asked.
        asked: String,
        /// How long nothing came.
        seconds: u64,
    },
    /// Bytes come, but they make no frames.
    #[error("bytes arrive from {from}, none of them decode as `{profile}`; first bytes {shown}; {advice}")]
    NothingDecodes {
        /// The source.
        from: String,
        /// The profile that does not fit.
        profile: String,
        /// The first bytes, as text where they are text, else in hexadecimal.
        shown: String,
        /// What to try.
        advice: String,
    },
    /// The sensor's board works, but not its accelerometer.
    #[error("the sensor on {from} sends no samples and reports: {fault}")]
    SensorFault {
        /// The source.
        from: String,
        /// What the board reports.
        fault: SensorFault,
    },
    /// Reading failed in a way that is not an unplugged cable.
    #[error("reading from {from} failed ({source}): unplug the sensor, plug it in again, and start anew")]
    Read {
        /// The source.
        from: String,
        /// What the system says.
        source: io::Error,
    },
    /// The raw log cannot be written.
    #[error("the raw bytes cannot be saved to {path} ({source}): is there room, and may you write there?", path = path.display())]
    SaveRaw {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The raw log would overwrite an earlier one.
    #[error("{path} holds something already: name another file for the raw bytes, or remove it first", path = path.display())]
    SaveRawExists {
        /// The file.
        path: PathBuf,
    },
    /// No source is named and none can be guessed.
    #[error(
        "no source is named, none is saved as default, and no serial port is present: plug the sensor in, or name a source with --port, --tcp, --replay or --rig"
    )]
    NoPort,
    /// No source is named and there are several.
    #[error(
        "no source is named, none is saved as default, and several serial ports are present; name one with --port:\n{found}"
    )]
    SeveralPorts {
        /// The ports, one a line.
        found: String,
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
                | Self::SeveralPorts { .. }
                | Self::Profile(_)
        )
    }

    /// A failed read: an unplugged cable has many names.
    pub(super) fn reading(origin: &Origin, source: io::Error) -> Self {
        use io::ErrorKind::{BrokenPipe, ConnectionAborted, ConnectionReset, NotConnected, TimedOut, UnexpectedEof};
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
