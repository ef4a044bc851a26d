//! Where a sensor has come back that was unplugged: its USB serial number is the same, whatever its port is called now.

use super::error::StreamError;
use super::ports::{self, Obstacle, PortReport, UsbIdentity};
use super::source::Source;
use std::fmt;
use std::sync::Arc;

/// What lists the ports that are present.
type Listing = Arc<dyn Fn() -> Vec<PortReport> + Send + Sync>;

/// A source, and by what its sensor is known when it comes back.
#[derive(Clone)]
pub struct Plug {
    source: Source,
    usb: Option<Usb>,
    list: Listing,
}

/// A USB device with a serial number.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Usb {
    device: UsbIdentity,
    /// Which of the device's own ports it is: a device may have several.
    at: usize,
}

impl Plug {
    /// A source with its sensor plugged in now.
    #[must_use]
    pub fn new(source: Source) -> Self {
        Self::listed_by(source, ports::present)
    }

    /// The same, where the ports that are present are listed otherwise than by the system.
    #[must_use]
    pub fn listed_by(source: Source, list: impl Fn() -> Vec<PortReport> + Send + Sync + 'static) -> Self {
        let usb = match &source {
            Source::Port(path) => Usb::of(path, &list()),
            Source::Tcp(_) | Source::Replay(_) => None,
        };
        Self { source, usb, list: Arc::new(list) }
    }

    /// The source as it was named.
    #[must_use]
    pub const fn first(&self) -> &Source {
        &self.source
    }

    /// Whether its sensor is known again by more than the name of its port.
    #[must_use]
    pub const fn is_known(&self) -> bool {
        self.usb.is_some() || !matches!(self.source, Source::Port(_))
    }

    /// Whether its sensor has a number of its own, so that no other one is taken for it. A recording has no other.
    #[must_use]
    pub const fn is_numbered(&self) -> bool {
        self.usb.is_some() || matches!(self.source, Source::Replay(_))
    }

    /// Where it is now. Without a USB serial number the name is all that is known of a sensor.
    ///
    /// # Errors
    /// When another device has taken its place.
    pub fn now(&self) -> Result<Source, StreamError> {
        let (Some(usb), Source::Port(path)) = (&self.usb, &self.source) else { return Ok(self.source.clone()) };
        let listed = (self.list)();
        if let Some(port) = usb.find(&listed) {
            return Ok(Source::Port(port.path.clone()));
        }
        let taken = listed.iter().any(|port| is_at(path, port) && port.usb.is_some());
        if taken {
            return Err(StreamError::Port { path: path.clone(), obstacle: Obstacle::Another });
        }
        Ok(self.source.clone())
    }
}

impl Usb {
    fn of(path: &str, listed: &[PortReport]) -> Option<Self> {
        let device = listed.iter().find(|port| is_at(path, port))?.usb.clone()?;
        device.serial_number.as_ref().filter(|number| !number.is_empty())?;
        let at = ports_of(&device, listed).position(|port| is_at(path, port))?;
        Some(Self { device, at })
    }

    fn find<'a>(&'a self, listed: &'a [PortReport]) -> Option<&'a PortReport> {
        ports_of(&self.device, listed).nth(self.at)
    }
}

fn ports_of<'a>(device: &'a UsbIdentity, listed: &'a [PortReport]) -> impl Iterator<Item = &'a PortReport> {
    let key = |device: &UsbIdentity| (device.vendor_id, device.product_id, device.serial_number.clone());
    listed.iter().filter(move |port| port.usb.as_ref().is_some_and(|usb| key(usb) == key(device)))
}

/// Whether a port is at a path, which may be a link to it.
fn is_at(path: &str, port: &PortReport) -> bool {
    port.path == path || std::fs::canonicalize(path).is_ok_and(|found| found.as_os_str() == port.path.as_str())
}

impl fmt::Debug for Plug {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Plug").field("source", &self.source).field("usb", &self.usb).finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    fn port(path: &str, serial_number: Option<&str>) -> PortReport {
        let serial_number = serial_number.map(str::to_owned);
        let usb = UsbIdentity { vendor_id: 1, product_id: 2, product: None, serial_number };
        PortReport { path: path.to_owned(), usb: Some(usb), obstacle: None }
    }

    /// A sensor that was at `path` while `before` was listed, when `after` is.
    fn now(path: &str, before: Vec<PortReport>, after: Vec<PortReport>) -> Result<String, StreamError> {
        let listed = Arc::new(Mutex::new(before));
        let shown = listed.clone();
        let plug = Plug::listed_by(Source::Port(path.to_owned()), move || shown.lock().unwrap().clone());
        *listed.lock().unwrap() = after;
        plug.now().map(|source| source.to_string())
    }

    #[test]
    fn the_serial_number_is_followed_to_another_name() {
        let before = vec![port("/dev/ttyX0", Some("77")), port("/dev/ttyX1", Some("78"))];
        let after = vec![port("/dev/ttyX1", Some("78")), port("/dev/ttyX2", Some("77"))];
        assert_eq!(now("/dev/ttyX0", before.clone(), after).unwrap(), "/dev/ttyX2");
        assert_eq!(now("/dev/ttyX0", before.clone(), before.clone()).unwrap(), "/dev/ttyX0");
        assert_eq!(
            now("/dev/ttyX0", before, vec![]).unwrap(),
            "/dev/ttyX0",
            "what is away is waited for at its old name"
        );
    }

    #[test]
    fn a_stranger_in_its_place_is_not_opened() {
        let error = now("/dev/ttyX0", vec![port("/dev/ttyX0", Some("77"))], vec![port("/dev/ttyX0", Some("99"))]);
        let error = error.unwrap_err();
        assert!(
            error.may_come_back() && matches!(error, StreamError::Port { obstacle: Obstacle::Another, .. }),
            "{error}"
        );
    }

    #[test]
    fn without_a_serial_number_the_name_is_all_there_is() {
        let after = vec![port("/dev/ttyX0", Some("99")), port("/dev/ttyX1", None)];
        assert_eq!(now("/dev/ttyX0", vec![port("/dev/ttyX0", None)], after.clone()).unwrap(), "/dev/ttyX0");
        assert_eq!(now("/dev/pts/9", vec![], after).unwrap(), "/dev/pts/9");
    }

    #[test]
    fn a_device_with_two_ports_comes_back_at_the_same_one_of_them() {
        let both = |a: &str, b: &str| vec![port(a, Some("77")), port(b, Some("77"))];
        let second = now("/dev/ttyX1", both("/dev/ttyX0", "/dev/ttyX1"), both("/dev/ttyX4", "/dev/ttyX5"));
        assert_eq!(second.unwrap(), "/dev/ttyX5");
    }
}
