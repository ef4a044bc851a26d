//! A profile for a sensor that nobody has described, made from a few seconds of its stream.
//!
//! What cannot be told from the bytes is left for the person to say, or told as a doubt.

mod binary;
mod fields;
mod framing;
mod sums;
mod text;

use super::codec::FrameChecksum;
use super::profile::Profile;

/// Fewer frames show nothing.
const FEWEST: usize = 12;
/// So much of the stream must be of one shape, and so many steps must say the same of a number.
const MOST: f64 = 0.8;

/// What the stream looks like, as far as can be told.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The profile, as it stands so far.
    pub profile: Profile,
    /// What each place is called (a column's number, a label, or what a binary frame was found to hold), with a value of it.
    pub places: Vec<(String, f64)>,
    /// Whether gravity is what it must be, so that the axes and their unit are known.
    pub gravity_fits: bool,
    /// What the bytes leave open.
    pub doubts: Vec<Doubt>,
}

/// What the bytes of binary frames leave open.
#[derive(Debug, Clone, PartialEq)]
pub enum Doubt {
    /// No checksum of the catalogue fits: where a frame begins is a guess.
    NoChecksum,
    /// Several checksums fit; the first was taken.
    Checksums {
        /// The one that was taken.
        taken: FrameChecksum,
        /// Those that fit as well.
        others: Vec<FrameChecksum>,
    },
    /// The upper bytes of the clock did not move: it may have fewer.
    ClockWidth {
        /// Its first byte.
        at: usize,
        /// For how many bits it is taken.
        bits: usize,
    },
    /// The axes did not move by a count: their width is a guess.
    AxesStill,
    /// What stands at these bytes is not known.
    Unnamed(Vec<usize>),
}

/// Why a stream shows no profile.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ProposeError {
    /// Fewer than three numbers are left for the axes.
    #[error("no axes")]
    NoAxes,
    /// A line has no such column or label.
    #[error("no place: {name}")]
    NoPlace {
        /// What was named.
        name: String,
        /// What there is.
        places: Vec<String>,
    },
    /// One column or label was named for two things.
    #[error("named twice: {0}")]
    Twice(String),
    /// A temperature was named in binary frames.
    #[error("no temperature")]
    Temperature,
    /// Neither lines of numbers nor frames of one length.
    #[error("no frames")]
    Neither,
    /// The number at this byte does not count frames.
    #[error("no counter: {0}")]
    NoCounter(String),
    /// The number at this byte is no clock.
    #[error("no clock: {0}")]
    NoClock(String),
    /// A frame has no such byte.
    #[error("no byte: {name}")]
    NoByte {
        /// What was named.
        name: String,
        /// Bytes of a frame.
        length: usize,
    },
    /// No three numbers of the frames are a force.
    #[error("no force")]
    NoForce {
        /// Bytes of a frame.
        length: usize,
        /// By what it begins; none where COBS parts the frames.
        sync: Option<Vec<u8>>,
        /// Its checksum.
        checksum: Option<FrameChecksum>,
    },
}

/// What is known of the stream already, in the words of a profile file: column numbers, labels, or in binary frames the first
/// byte of a number.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Known {
    /// Where x, y and z stand.
    pub axes: Option<[String; 3]>,
    /// Where the clock stands.
    pub time: Option<String>,
    /// Where a counter stands.
    pub counter: Option<String>,
    /// Where the temperature stands.
    pub temperature: Option<String>,
    /// Microseconds in one unit of the clock.
    pub micros_per_tick: Option<u32>,
    /// Counts per g.
    pub counts_per_g: Option<f64>,
}

/// Looks at lines or binary frames that came in so many seconds.
///
/// # Errors
/// When the bytes are neither, or what is known does not go with them.
pub fn propose(bytes: &[u8], seconds: Option<f64>, known: &Known) -> Result<Proposal, ProposeError> {
    text::propose(bytes, seconds, known).unwrap_or_else(|| binary::propose(bytes, seconds, known))
}

/// To two figures.
fn rounded(value: f64) -> f64 {
    let unit = 10f64.powf(value.log10().floor() - 1.0);
    (value / unit).round() * unit
}
