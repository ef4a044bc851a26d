//! A sensor as a stream sees it: wire format, counts per g, line speed, rate, and how it sits in its clip.

use super::clock::StreamClock;
use super::codec::{
    Codec, ColumnsDecoder, ColumnsEncoder, ColumnsLayout, Encoder, FrameDecoder, FrameEncoder, FrameLayout,
    LabelledDecoder, LabelledEncoder, LabelledLayout, Limit, ModbusLayout, SentenceDecoder, SentenceEncoder,
    XdrDecoder, XdrEncoder, XdrLayout,
};
use super::file;
use super::ports::Parity;
use super::profile_file::{self, Mark, Mistake};
use crate::units::{AxisMap, Hertz, Sample};
use std::path::{Path, PathBuf};

/// The wire format and what it leaves open.
#[derive(Debug, Clone, PartialEq)]
pub enum Format {
    /// `$PCLIN,seq,micros,x,y,z[,celsius]*hh`.
    Sentence,
    /// Numbers in columns.
    Columns(ColumnsLayout),
    /// Numbers behind labels.
    Labelled(LabelledLayout),
    /// Angles in NMEA 0183 `XDR` sentences.
    Xdr(XdrLayout),
    /// Declared binary frames.
    Frame(FrameLayout),
    /// Registers of a Modbus RTU slave, which is polled.
    Modbus(ModbusLayout),
}

/// Everything a stream must know of a sensor. Built in by name, or read from a TOML file of the same shape.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    pub(super) name: String,
    pub(super) format: Format,
    pub(super) counts_per_g: f64,
    pub(super) full_scale: Option<f64>,
    pub(super) baud: u32,
    pub(super) parity: Parity,
    pub(super) rate: Option<Hertz>,
    /// Whether the person has said the rate, which then counts before the arrival of the bytes.
    pub(super) rate_is_sure: bool,
    pub(super) axes: AxisMap,
}

/// How a Modbus slave is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asked {
    /// The slave's address.
    pub address: u8,
    /// Line speed in bits per second.
    pub baud: u32,
    /// Parity of the serial line.
    pub parity: Parity,
}

/// What the command line changes in a profile.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Overrides {
    /// Counts (or whatever unit the numbers have) per g.
    pub counts_per_g: Option<f64>,
    /// Line speed in bits per second.
    pub baud: Option<u32>,
    /// Samples a second.
    pub rate: Option<Hertz>,
}

/// Why a profile cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ProfileError {
    /// Neither built in nor a file.
    #[error("no profile: {0}")]
    Unknown(String),
    /// The file is there but cannot be read.
    #[error("unreadable: {path}", path = path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// Not TOML, or a key that is unknown or of the wrong kind.
    #[error("no TOML: {name}: {reason}")]
    NotToml {
        /// The file's name.
        name: String,
        /// Line, caret and reason, by the TOML parser.
        reason: String,
    },
    /// A value that cannot be.
    #[error("wrong: {name}: {mistake:?}")]
    Wrong {
        /// The file's or the profile's name.
        name: String,
        /// Where it stands; none where it is not in a file.
        mark: Option<Mark>,
        /// What is wrong.
        mistake: Mistake,
    },
}

impl Profile {
    /// The profiles that need no file.
    pub const BUILT_IN: [&'static str; 6] = ["sentence", "columns", "labelled", "xdr", "frame", "modbus"];

    /// A built-in profile by its name, else the one that the TOML file of that path describes.
    ///
    /// # Errors
    /// When there is neither, or the file says something that cannot be.
    pub fn find(name_or_file: &str) -> Result<Self, ProfileError> {
        if let Some(profile) = Self::built_in(name_or_file) {
            return Ok(profile);
        }
        let path = Path::new(name_or_file);
        let text = match file::read_text(path, file::MOST_OF_A_DESCRIPTION) {
            Ok(text) => text,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                return Err(ProfileError::Unknown(name_or_file.to_owned()));
            }
            Err(source) => return Err(ProfileError::Unreadable { path: path.to_owned(), source }),
        };
        Self::from_toml(&text, name_or_file)
    }

    /// The profile that a TOML text describes; `origin` names it in errors, and the profile if it gives itself no name.
    ///
    /// # Errors
    /// When the text is not TOML, has unknown keys, or says something that cannot be.
    pub fn from_toml(text: &str, origin: &str) -> Result<Self, ProfileError> {
        profile_file::read(text, origin)
    }

    /// The profile with the command line's changes.
    ///
    /// # Errors
    /// When counts per g, baud or rate is not above zero.
    pub fn with(mut self, overrides: Overrides) -> Result<Self, ProfileError> {
        self.counts_per_g = overrides.counts_per_g.unwrap_or(self.counts_per_g);
        self.baud = overrides.baud.unwrap_or(self.baud);
        self.rate_is_sure |= overrides.rate.is_some();
        self.rate = overrides.rate.or(self.rate);
        self.checked()
    }

    fn checked(self) -> Result<Self, ProfileError> {
        match self.fault() {
            Some((_, mistake)) => Err(ProfileError::Wrong { name: self.name, mark: None, mistake }),
            None => Ok(self),
        }
    }

    /// The first value that cannot be: its key in a profile file, and what is wrong with it.
    pub(super) fn fault(&self) -> Option<(&'static str, Mistake)> {
        let positive = |value: f64| value.is_finite() && value > 0.0;
        if !positive(self.counts_per_g) {
            return Some(("counts_per_g", Mistake::CountsPerG));
        }
        if self.full_scale.is_some_and(|full| !positive(full)) {
            return Some(("full_scale", Mistake::FullScale));
        }
        if self.baud == 0 {
            return Some(("baud", Mistake::Baud));
        }
        if self.rate.is_some_and(|rate| !positive(rate.value()) || rate.value() > 10_000.0) {
            return Some(("rate_hz", Mistake::Rate));
        }
        None
    }

    /// The profile as a TOML text that [`Profile::from_toml`] reads back.
    ///
    /// # Errors
    /// When the name cannot be written.
    pub fn to_toml(&self) -> Result<String, ProfileError> {
        profile_file::write(self)
    }

    /// The profile of a sensor that sits otherwise in its clip.
    #[must_use]
    pub const fn with_axes(mut self, axes: AxisMap) -> Self {
        self.axes = axes;
        self
    }

    /// The profile on a line of another parity.
    #[must_use]
    pub const fn with_parity(mut self, parity: Parity) -> Self {
        self.parity = parity;
        self
    }

    /// The profile under another name.
    #[must_use]
    pub fn named(self, name: &str) -> Self {
        Self { name: name.to_owned(), ..self }
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its wire format.
    #[must_use]
    pub const fn format(&self) -> &Format {
        &self.format
    }

    /// How many counts of the stream make one g.
    #[must_use]
    pub const fn counts_per_g(&self) -> f64 {
        self.counts_per_g
    }

    /// The step between two neighbouring numbers, where the sensor counts in whole numbers.
    #[must_use]
    pub const fn count(&self) -> Option<f64> {
        // A full scale is only stated of a sensor that counts.
        if self.full_scale.is_some() { Some(1.0) } else { None }
    }

    /// The count at which an axis is at its end, where that is known.
    #[must_use]
    pub const fn full_scale(&self) -> Option<f64> {
        self.full_scale
    }

    /// Whether it sends angles only, no force.
    #[must_use]
    pub const fn is_angle_only(&self) -> bool {
        !self.limits().is_empty()
    }

    /// What such a sensor cannot show; nothing for an accelerometer.
    #[must_use]
    pub const fn limits(&self) -> &'static [Limit] {
        match &self.format {
            Format::Sentence | Format::Columns(_) | Format::Labelled(_) => &[],
            Format::Xdr(layout) => layout.direction.limits(),
            Format::Frame(FrameLayout { carried, .. }) | Format::Modbus(ModbusLayout { carried, .. }) => {
                carried.direction.limits()
            }
        }
    }

    /// Whether a single angle is all that it sends.
    #[must_use]
    pub fn is_blind_across(&self) -> bool {
        self.limits().contains(&Limit::BlindAcross)
    }

    /// What must be asked before the sensor answers, where it does not send by itself.
    #[must_use]
    pub fn request(&self) -> Option<Vec<u8>> {
        match &self.format {
            Format::Modbus(layout) => Some(layout.request()),
            _ => None,
        }
    }

    /// How it is asked, where it does not send by itself.
    pub(super) const fn asked(&self) -> Option<Asked> {
        match &self.format {
            Format::Modbus(layout) => Some(Asked { address: layout.address, baud: self.baud, parity: self.parity }),
            _ => None,
        }
    }

    /// Parity of the serial line.
    #[must_use]
    pub const fn parity(&self) -> Parity {
        self.parity
    }

    /// Line speed in bits per second; 8 data bits, one stop bit.
    #[must_use]
    pub const fn baud(&self) -> u32 {
        self.baud
    }

    /// The nominal sample rate.
    #[must_use]
    pub const fn rate(&self) -> Option<Hertz> {
        self.rate
    }

    /// How the sensor sits in its clip.
    #[must_use]
    pub const fn axes(&self) -> AxisMap {
        self.axes
    }

    /// Whether an axis of the sample is at its end, so that the true force may be larger.
    #[must_use]
    pub fn saturated(&self, sample: &Sample) -> bool {
        self.full_scale.is_some_and(|full| sample.counts.iter().any(|count| count.abs() >= full))
    }

    /// Whether a sample's time follows from the bytes alone: a sensor's clock, a counter with a rate, or a rate.
    #[must_use]
    pub const fn tells_time(&self) -> bool {
        self.has_clock() || self.rate.is_some()
    }

    /// Whether the stream carries the sensor's own clock.
    #[must_use]
    pub const fn has_clock(&self) -> bool {
        match &self.format {
            Format::Sentence => true,
            Format::Columns(layout) => layout.time.is_some(),
            Format::Labelled(layout) => layout.time.is_some(),
            Format::Xdr(_) => false,
            Format::Frame(FrameLayout { carried, .. }) | Format::Modbus(ModbusLayout { carried, .. }) => {
                carried.time.is_some()
            }
        }
    }

    /// The encoder that writes as this sensor does.
    #[must_use]
    pub fn encoder(&self) -> Encoder {
        match &self.format {
            Format::Sentence => Encoder::Sentence(SentenceEncoder),
            Format::Columns(layout) => Encoder::Columns(ColumnsEncoder::new(*layout, self.decimals())),
            Format::Labelled(layout) => Encoder::Labelled(LabelledEncoder::new(layout.clone(), self.decimals())),
            Format::Xdr(layout) => Encoder::Xdr(XdrEncoder::new(layout.clone())),
            Format::Frame(layout) => Encoder::Frame(FrameEncoder::new(layout.clone())),
            Format::Modbus(layout) => Encoder::Frame(FrameEncoder::new(layout.answer())),
        }
    }

    /// Decimals that resolve a tenth of a milli-g or better; whole numbers where counts are finer than that.
    fn decimals(&self) -> usize {
        match self.counts_per_g {
            per_g if per_g < 100.0 => 5,
            per_g if per_g <= 1000.0 => 2,
            _ => 0,
        }
    }

    pub(super) fn codec(&self) -> Codec {
        match &self.format {
            Format::Sentence => Codec::Sentence(SentenceDecoder::default()),
            Format::Columns(layout) => Codec::Columns(ColumnsDecoder::new(*layout)),
            Format::Labelled(layout) => Codec::Labelled(LabelledDecoder::new(layout.clone())),
            Format::Xdr(layout) => Codec::Xdr(XdrDecoder::new(layout.clone())),
            Format::Frame(layout) => Codec::Frame(FrameDecoder::new(layout.clone())),
            Format::Modbus(layout) => Codec::Frame(FrameDecoder::new(layout.answer())),
        }
    }

    pub(super) fn clock(&self) -> StreamClock {
        // Clocks of whole micro- or milliseconds are 32-bit counters that wrap; one in seconds is not.
        let of_text = |per_tick: u32| (per_tick <= 1000).then(|| u64::from(per_tick) << 32);
        let wraps = match &self.format {
            Format::Sentence | Format::Xdr(_) => of_text(1),
            Format::Columns(layout) => of_text(layout.micros_per_tick),
            Format::Labelled(layout) => of_text(layout.micros_per_tick),
            Format::Frame(FrameLayout { carried, .. }) | Format::Modbus(ModbusLayout { carried, .. }) => {
                carried.wraps()
            }
        };
        StreamClock::new(wraps, self.rate.map(|rate| 1e6 / rate.value()))
    }
}
