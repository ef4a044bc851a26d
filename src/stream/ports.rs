//! Serial ports: which are there, what stands in the way of opening them, and opening them.
//!
//! A listing never opens a port: opening one raises its control lines, which restarts many a sensor. Use by others
//! is read from the system's tables instead, where they show it.

use super::error::StreamError;
use serde::{Deserialize, Serialize};
use serialport::SerialPortType;
use std::path::Path;
use std::time::Duration;
use tokio_serial::{ClearBuffer, SerialPort, SerialPortBuilderExt, SerialStream};

/// A serial port that is present.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PortReport {
    /// Its path, to be given as `--port`.
    pub path: String,
    /// What the USB device behind it says of itself.
    pub usb: Option<UsbIdentity>,
    /// Why it cannot be opened now, if that is known.
    pub obstacle: Option<Obstacle>,
}

/// What a USB device says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct UsbIdentity {
    /// Vendor number.
    pub vendor_id: u16,
    /// Product number.
    pub product_id: u16,
    /// Product name.
    pub product: Option<String>,
    /// Serial number.
    pub serial_number: Option<String>,
}

/// What stands in the way of opening a port.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "reason")]
pub enum Obstacle {
    /// Another program has it open.
    InUse {
        /// Which one, where the system tells.
        by: Option<String>,
    },
    /// The user may not open it.
    NotPermitted {
        /// The group whose members may.
        group: Option<String>,
    },
    /// There is no such port.
    Gone,
    /// The path is something else.
    NotSerial,
    /// Another device has been plugged in where the sensor was.
    Another,
}

/// The serial ports that are present, in the order of their paths. Pseudo-terminals are never listed, but any path
/// can be opened.
#[must_use]
pub fn list() -> Vec<PortReport> {
    let with_obstacle = |port: PortReport| PortReport { obstacle: obstacle(&port.path), ..port };
    present().into_iter().map(with_obstacle).collect()
}

/// The same without looking for what stands in the way of opening them, which takes longer.
pub(super) fn present() -> Vec<PortReport> {
    // The enumeration fails hard where this folder is missing, as it may be in a container.
    if cfg!(target_os = "linux") && !Path::new("/sys/class/tty").is_dir() {
        return Vec::new();
    }
    let mut found: Vec<PortReport> = serialport::available_ports()
        .unwrap_or_default()
        .into_iter()
        .map(|port| {
            let usb = match port.port_type {
                SerialPortType::UsbPort(usb) => Some(UsbIdentity {
                    vendor_id: usb.vid,
                    product_id: usb.pid,
                    product: usb.product,
                    serial_number: usb.serial_number,
                }),
                _ => None,
            };
            PortReport { path: port.port_name, usb, obstacle: None }
        })
        .collect();
    found.sort_by(|a, b| in_order(&a.path).cmp(&in_order(&b.path)));
    found
}

/// A port's name as people count: 9 comes before 10.
fn in_order(path: &str) -> (&str, u64) {
    let name = path.trim_end_matches(|c: char| c.is_ascii_digit());
    (name, path[name.len()..].parse().unwrap_or(0))
}

/// What stands in the way of opening `path`, as far as can be told without opening it.
#[must_use]
pub fn obstacle(path: &str) -> Option<Obstacle> {
    system::barred(path).or_else(|| system::user_of(path).map(|by| Obstacle::InUse { by: Some(by) }))
}

/// Parity of a serial line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Parity {
    /// No parity bit.
    #[default]
    None,
    /// An even number of ones.
    Even,
    /// An odd number of ones.
    Odd,
}

impl From<Parity> for tokio_serial::Parity {
    fn from(parity: Parity) -> Self {
        match parity {
            Parity::None => Self::None,
            Parity::Even => Self::Even,
            Parity::Odd => Self::Odd,
        }
    }
}

/// Opens a port, for us alone, and forgets what had gathered in it.
pub(super) fn open(path: &str, baud: u32, parity: Parity) -> Result<SerialStream, StreamError> {
    let barred = |obstacle| StreamError::Port { path: path.to_owned(), obstacle };
    if let Some(obstacle) = system::barred(path) {
        return Err(barred(obstacle));
    }
    let guard = system::probe(path).map_err(barred)?;
    let settings = tokio_serial::new(path, baud).parity(parity.into());
    let port = settings.open_native_async().map_err(|error| refused(path, baud, &error))?;
    drop(guard);
    // Bytes from before are old news; a port that cannot forget them is still good.
    let _ = port.clear(ClearBuffer::Input);
    Ok(port)
}

/// Whether a byte comes from a port within so long; also of one that cannot be opened nothing is heard. It waits, so it is not for a
/// task that has other work.
#[must_use]
pub fn hears(path: &str, baud: u32, within: Duration) -> bool {
    if system::barred(path).is_some() {
        return false;
    }
    let Ok(guard) = system::probe(path) else { return false };
    let Ok(mut port) = serialport::new(path, baud).timeout(within).open() else { return false };
    drop(guard);
    let _ = port.clear(ClearBuffer::Input);
    port.read(&mut [0]).is_ok_and(|bytes| bytes > 0)
}

/// The library's error as one of ours.
pub(super) fn refused(path: &str, baud: u32, error: &tokio_serial::Error) -> StreamError {
    use std::io::ErrorKind::{NotFound, PermissionDenied};
    let path = path.to_owned();
    let obstacle = match error.kind {
        tokio_serial::ErrorKind::NoDevice => Obstacle::InUse { by: system::user_of(&path) },
        tokio_serial::ErrorKind::Io(NotFound) => Obstacle::Gone,
        tokio_serial::ErrorKind::Io(PermissionDenied) => Obstacle::NotPermitted { group: None },
        _ => return StreamError::PortRefused { path, baud, reason: error.description.clone() },
    };
    StreamError::Port { path, obstacle }
}

#[cfg(unix)]
#[path = "ports_unix.rs"]
mod system;

/// Elsewhere the obstacles show only when a port is opened.
#[cfg(not(unix))]
mod system {
    use super::Obstacle;

    pub(super) const fn barred(_path: &str) -> Option<Obstacle> {
        None
    }

    pub(super) const fn user_of(_path: &str) -> Option<String> {
        None
    }

    /// Nothing is held open meanwhile.
    pub(super) struct Unheld;

    pub(super) const fn probe(_path: &str) -> Result<Unheld, Obstacle> {
        Ok(Unheld)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn listing_never_fails() {
        for port in list() {
            assert!(!port.path.is_empty());
        }
    }
}
