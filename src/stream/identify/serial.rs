//! A real serial port to listen on and to ask through.

use super::{Heard, Line};
use crate::error::StreamError;
use crate::poll;
use crate::ports::{self, Parity};
use crate::profile::Profile;
use crate::sample_stream::Origin;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncReadExt};
use tokio::time::{Instant, timeout_at};
use tokio_serial::{ClearBuffer, SerialPort, SerialStream};

/// Opening a port starts many a board anew: so long it may take to its first byte.
const STARTING: Duration = Duration::from_millis(2500);
/// More bytes than this say nothing new.
const ENOUGH: usize = 16 * 1024;

/// A serial port that stays open while its baud changes, since opening it anew would start many a board anew.
#[derive(Debug)]
pub struct SerialLine {
    path: String,
    port: Option<SerialStream>,
}

impl SerialLine {
    /// The port of this path.
    #[must_use]
    pub const fn new(path: String) -> Self {
        Self { path, port: None }
    }
}

impl Line for SerialLine {
    async fn listen(&mut self, baud: u32, parity: Parity, within: Duration) -> Result<Heard, StreamError> {
        let refused = |error: tokio_serial::Error| ports::refused(&self.path, baud, &error);
        let (mut port, starting) = match self.port.take() {
            Some(mut port) => {
                port.set_baud_rate(baud).map_err(refused)?;
                port.set_parity(parity.into()).map_err(refused)?;
                let _ = port.clear(ClearBuffer::Input);
                (port, Duration::ZERO)
            }
            None => (ports::open(&self.path, baud, parity)?, STARTING),
        };
        let heard = hear(&mut port, starting, within, &self.path).await?;
        self.port = Some(port);
        Ok(heard)
    }

    async fn ask(&mut self, profile: &Profile, within: Duration) -> Result<Heard, StreamError> {
        // The other end must be free before it is opened with other settings.
        self.port = None;
        let port = ports::open(&self.path, profile.baud(), profile.parity())?;
        hear(&mut poll::reader(port, profile), Duration::ZERO, within, &self.path).await
    }
}

/// Listens for so long after the first byte, for which it waits a little longer.
async fn hear(
    line: &mut (impl AsyncRead + Unpin),
    starting: Duration,
    within: Duration,
    path: &str,
) -> Result<Heard, StreamError> {
    let origin = Origin::Port(path.to_owned());
    let mut bytes = Vec::new();
    let begun = Instant::now();
    let (mut first, mut until) = (begun, begun + starting.max(within));
    while bytes.len() < ENOUGH {
        let Ok(read) = timeout_at(until, line.read_buf(&mut bytes)).await else { break };
        let count = read.map_err(|source| StreamError::reading(&origin, source))?;
        if count == 0 {
            return Err(StreamError::gone(&origin));
        }
        if count == bytes.len() {
            first = Instant::now();
            until = first + within;
        }
    }
    Ok(Heard { bytes, seconds: Some((Instant::now() - first).as_secs_f64()) })
}
