//! Where bytes come from, and how each kind of source is opened.

use super::error::StreamError;
use super::file;
use super::poll;
use super::ports::{self, PortReport};
use super::profile::Profile;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio::io::AsyncRead;
use tokio::net::TcpStream;

const CONNECT_WITHIN: Duration = Duration::from_secs(5);

/// A source of bytes that can be opened (again) by its name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// A serial port, by its path.
    Port(String),
    /// A TCP server, `HOST:PORT`.
    Tcp(String),
    /// A raw log.
    Replay(PathBuf),
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Port(path) => f.write_str(path),
            Self::Tcp(address) => f.write_str(address),
            Self::Replay(path) => write!(f, "{}", path.display()),
        }
    }
}

/// The reading end of any source.
pub type Reader = Box<dyn AsyncRead + Send + Unpin>;

impl Source {
    pub(super) async fn reader(&self, profile: &Profile) -> Result<Reader, StreamError> {
        let request = profile.request();
        match self {
            Self::Port(path) => {
                let port = ports::open(path, profile.baud(), profile.parity())?;
                Ok(if request.is_some() { poll::reader(port, profile) } else { Box::new(port) })
            }
            Self::Tcp(address) => {
                let connection = connect(address).await?;
                Ok(if request.is_some() { poll::reader(connection, profile) } else { Box::new(connection) })
            }
            Self::Replay(path) => open_log(path).await,
        }
    }
}

async fn connect(address: &str) -> Result<TcpStream, StreamError> {
    let refused = |source| StreamError::Connect { address: address.to_owned(), source };
    match tokio::time::timeout(CONNECT_WITHIN, TcpStream::connect(address)).await {
        Ok(connected) => connected.map_err(refused),
        Err(_) => Err(refused(io::ErrorKind::TimedOut.into())),
    }
}

async fn open_log(path: &Path) -> Result<Reader, StreamError> {
    let log = file::open_log(path).await.map_err(|source| StreamError::Log { path: path.to_owned(), source })?;
    Ok(Box::new(log))
}

/// The source when none is named: the saved one, else the only port present.
///
/// Where USB ports are present, only they count: a computer's built-in ports are often there with nothing behind them. So one of
/// those is taken only if `hears` a byte from it.
///
/// # Errors
/// When nothing is found, or more than one; the error lists what was found.
pub fn choose(
    found: &[PortReport],
    saved: Option<&Source>,
    hears: impl Fn(&str) -> bool,
) -> Result<Source, StreamError> {
    if let Some(saved) = saved {
        return Ok(saved.clone());
    }
    let any_usb = found.iter().any(|port| port.usb.is_some());
    let candidates: Vec<&PortReport> = found.iter().filter(|port| !any_usb || port.usb.is_some()).collect();
    match candidates.as_slice() {
        [] => Err(StreamError::NoPort),
        [only] if only.usb.is_some() || hears(&only.path) => Ok(Source::Port(only.path.clone())),
        [only] => Err(StreamError::SilentPort { path: only.path.clone() }),
        several => Err(StreamError::SeveralPorts { found: several.iter().map(|port| (*port).clone()).collect() }),
    }
}
