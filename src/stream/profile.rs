//! A sensor as a stream sees it: wire format, counts per g, line speed, rate, and how it sits in its clip.

use super::clock::StreamClock;
use super::codec::{
    Codec, ColumnsDecoder, ColumnsEncoder, ColumnsLayout, Encoder, LabelledDecoder, LabelledEncoder, LabelledLayout,
    SentenceDecoder, SentenceEncoder,
};
use super::profile_file;
use crate::units::{AxisMap, Hertz, Sample};
use std::num::NonZeroU8;
use std::path::{Path, PathBuf};

/// The wire format and what it leaves open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Format {
    /// `$PCLIN,seq,micros,x,y,z[,celsius]*hh`.
    Sentence,
    /// Numbers in columns.
    Columns(ColumnsLayout),
    /// Numbers behind labels.
    Labelled(LabelledLayout),
}

/// Everything a stream must know of a sensor. Built in by name, or read from a TOML file of the same shape.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    pub(super) name: String,
    pub(super) format: Format,
    pub(super) counts_per_g: f64,
    pub(super) full_scale: Option<f64>,
    pub(super) baud: u32,
    pub(super) rate: Option<Hertz>,
    /// Whether the person has said the rate, which then counts before the arrival of the bytes.
    pub(super) rate_is_sure: bool,
    pub(super) axes: AxisMap,
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
    #[error("there is no profile '{0}': name one of {names}, or a TOML file that describes the sensor", names = Profile::BUILT_IN.join(", "))]
    Unknown(String),
    /// The file is there but cannot be read.
    #[error("the profile {path} cannot be read ({source}): is it a text file that you may read?", path = path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// Not TOML, or a key that is unknown or of the wrong kind. The reason shows line and place.
    #[error("the profile {name} is not understood:\n{reason}")]
    NotUnderstood {
        /// The file's name.
        name: String,
        /// Line, caret and reason.
        reason: String,
    },
    /// A value that cannot be.
    #[error("the profile {name}: {reason}")]
    Impossible {
        /// The file's or the profile's name.
        name: String,
        /// What is wrong and what to write instead.
        reason: String,
    },
}

impl Profile {
    /// The profiles that need no file.
    pub const BUILT_IN: [&'static str; 3] = ["sentence", "columns", "labelled"];

    /// A built-in profile.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Self> {
        match name {
            "sentence" => Some(Self::sentence()),
            "columns" => Some(Self::columns()),
            "labelled" => Some(Self::labelled()),
            _ => None,
        }
    }

    /// The reference firmware: 16384 counts per g in 16 bits, 200 Hz, 115200 baud.
    #[must_use]
    pub fn sentence() -> Self {
        Self {
            name: "sentence".to_owned(),
            format: Format::Sentence,
            counts_per_g: 16_384.0,
            full_scale: Some(32_767.0),
            rate_is_sure: false,
            baud: 115_200,
            rate: Some(Hertz::new(200.0)),
            axes: AxisMap::default(),
        }
    }

    /// x, y, z in g in the first three columns, 100 Hz, 115200 baud.
    #[must_use]
    pub fn columns() -> Self {
        let [x, y, z] = [NonZeroU8::MIN, NonZeroU8::MIN.saturating_add(1), NonZeroU8::MIN.saturating_add(2)];
        let layout =
            ColumnsLayout { axes: [x, y, z], time: None, micros_per_tick: 1, counter: None, temperature: None };
        Self { name: "columns".to_owned(), format: Format::Columns(layout), ..Self::in_g() }
    }

    /// `x:`, `y:`, `z:` in g, 100 Hz, 115200 baud.
    #[must_use]
    pub fn labelled() -> Self {
        let layout = LabelledLayout {
            axes: ["x", "y", "z"].map(str::to_owned),
            time: None,
            micros_per_tick: 1,
            counter: None,
            temperature: None,
        };
        Self { name: "labelled".to_owned(), format: Format::Labelled(layout), ..Self::in_g() }
    }

    fn in_g() -> Self {
        Self { counts_per_g: 1.0, full_scale: None, rate: Some(Hertz::new(100.0)), ..Self::sentence() }
    }

    /// A built-in profile by its name, else the one that the TOML file of that path describes.
    ///
    /// # Errors
    /// When there is neither, or the file says something that cannot be.
    pub fn find(name_or_file: &str) -> Result<Self, ProfileError> {
        if let Some(profile) = Self::built_in(name_or_file) {
            return Ok(profile);
        }
        let path = Path::new(name_or_file);
        let text = match std::fs::read_to_string(path) {
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

    pub(super) fn checked(self) -> Result<Self, ProfileError> {
        let refuse =
            |reason: &str| Err(ProfileError::Impossible { name: self.name.clone(), reason: reason.to_owned() });
        let positive = |value: f64| value.is_finite() && value > 0.0;
        if !positive(self.counts_per_g) {
            return refuse("counts per g must be above zero, such as 16384");
        }
        if self.full_scale.is_some_and(|full| !positive(full)) {
            return refuse("full_scale must be above zero: the largest number that the sensor can send, such as 32767");
        }
        if self.baud == 0 {
            return refuse("the baud rate must be above zero, such as 115200");
        }
        if self.rate.is_some_and(|rate| !positive(rate.value()) || rate.value() > 10_000.0) {
            return refuse("rate_hz must be above zero and at most 10000");
        }
        Ok(self)
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

    /// Line speed in bits per second, 8 data bits, no parity, one stop bit.
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
    pub fn tells_time(&self) -> bool {
        let has_clock = match &self.format {
            Format::Sentence => true,
            Format::Columns(layout) => layout.time.is_some(),
            Format::Labelled(layout) => layout.time.is_some(),
        };
        has_clock || self.rate.is_some()
    }

    /// The encoder that writes as this sensor does.
    #[must_use]
    pub fn encoder(&self) -> Encoder {
        match &self.format {
            Format::Sentence => Encoder::Sentence(SentenceEncoder),
            Format::Columns(layout) => Encoder::Columns(ColumnsEncoder::new(*layout, self.decimals())),
            Format::Labelled(layout) => Encoder::Labelled(LabelledEncoder::new(layout.clone(), self.decimals())),
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
        }
    }

    pub(super) fn clock(&self) -> StreamClock {
        let per_tick = match &self.format {
            Format::Sentence => 1,
            Format::Columns(layout) => layout.micros_per_tick,
            Format::Labelled(layout) => layout.micros_per_tick,
        };
        // Clocks of whole micro- or milliseconds are 32-bit counters that wrap; one in seconds is not.
        let wraps = (per_tick <= 1000).then(|| u64::from(per_tick) << 32);
        StreamClock::new(wraps, self.rate.map(|rate| 1e6 / rate.value()))
    }
}
