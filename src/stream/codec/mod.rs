//! Bytes to frames, one wire format a file, each decoder with its encoder beside it.
//!
//! A decoder never fails for what the bytes say: a damaged frame is an item of its own, so that a stream goes on
//! behind it and the damage is counted. The encoders are pure: a simulated sensor uses them as a real one would.

mod carried;
mod checksum;
pub mod cobs;
mod columns;
mod fault;
mod field;
mod frame;
mod labelled;
mod lines;
mod modbus;
mod nmea;
mod number;
mod sentence;
mod slave;
mod xdr;

pub use carried::{Carried, Direction, Limit};
pub use checksum::{Checksum, UnknownChecksum};
pub use columns::{ColumnsDecoder, ColumnsEncoder, ColumnsLayout, MOST_COLUMNS};
pub use fault::SensorFault;
pub use field::{ByteOrder, Field, NumberKind};
pub use frame::{FrameChecksum, FrameDecoder, FrameEncoder, FrameLayout, LONGEST_FRAME};
pub use labelled::{LabelledDecoder, LabelledEncoder, LabelledLayout};
pub use lines::LONGEST_LINE;
pub(crate) use modbus::FRONT;
pub use modbus::{MOST_REGISTERS, ModbusLayout, Refusal, Registers};
pub use nmea::{checksum, open_sentence};
pub use sentence::{SentenceDecoder, SentenceEncoder};
pub use slave::{ModbusSlave, Owed};
pub use xdr::{Names, XdrDecoder, XdrEncoder, XdrLayout};

use bytes::BytesMut;
use serde::{Deserialize, Serialize};
use std::io;
use tokio_util::codec::Decoder;

/// What a sensor sends in one frame: the input of every encoder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// The sample counter, 0 to 65535, wrapping.
    pub seq: u16,
    /// The sensor's clock in microseconds, wrapping after 2³² (71.6 minutes).
    pub micros: u32,
    /// The three axes in counts. The formats that carry integers round them.
    pub counts: [f64; 3],
    /// The sensor's temperature in °C, where it has one.
    pub celsius: Option<f64>,
}

/// What arrived in one frame: a format may lack counter, clock or temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Received {
    /// The sample counter, 0 to 65535, wrapping.
    pub seq: Option<u16>,
    /// The sensor's clock in microseconds, wrapping as the format says.
    pub micros: Option<u64>,
    /// The three axes, as the numbers stood on the wire.
    pub counts: [f64; 3],
    /// The sensor's temperature in °C.
    pub celsius: Option<f64>,
}

/// One step of decoding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Decoded {
    /// A whole frame.
    Frame(Received),
    /// A damaged one, skipped.
    Bad(BadFrame),
}

/// Why a frame was skipped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BadFrame {
    /// Bytes with no start of a frame among them, or a frame whose end is not what it must be.
    Framing,
    /// The checksum does not fit the bytes.
    Checksum,
    /// A field is missing, too many, or no number within its range.
    Field,
    /// A line of more than [`LONGEST_LINE`] bytes.
    TooLong,
    /// A sentence that is whole but another's: not damage.
    Foreign,
    /// The sensor's own report that it has no sample: not damage either.
    Fault(SensorFault),
}

/// The decoder of whichever format a profile names.
#[derive(Debug)]
pub enum Codec {
    /// The reference firmware's sentence.
    Sentence(SentenceDecoder),
    /// Numbers in columns.
    Columns(ColumnsDecoder),
    /// Numbers behind labels.
    Labelled(LabelledDecoder),
    /// Angles in NMEA 0183 sentences.
    Xdr(XdrDecoder),
    /// Declared binary frames, and the answers of a Modbus slave.
    Frame(FrameDecoder),
}

impl Codec {
    /// Forgets the half frame at hand: the next bytes come from a newly opened line, perhaps from its middle.
    pub fn rejoin(&mut self) {
        match self {
            Self::Sentence(decoder) => *decoder = SentenceDecoder::default(),
            Self::Columns(decoder) => *decoder = ColumnsDecoder::new(decoder.layout()),
            Self::Labelled(decoder) => *decoder = LabelledDecoder::new(decoder.layout().clone()),
            Self::Xdr(decoder) => *decoder = XdrDecoder::new(decoder.layout().clone()),
            Self::Frame(decoder) => *decoder = FrameDecoder::new(decoder.layout().clone()),
        }
    }
}

impl Decoder for Codec {
    type Item = Decoded;
    type Error = io::Error;

    #[inline]
    fn decode(&mut self, bytes: &mut BytesMut) -> io::Result<Option<Decoded>> {
        match self {
            Self::Sentence(decoder) => decoder.decode(bytes),
            Self::Columns(decoder) => decoder.decode(bytes),
            Self::Labelled(decoder) => decoder.decode(bytes),
            Self::Xdr(decoder) => decoder.decode(bytes),
            Self::Frame(decoder) => decoder.decode(bytes),
        }
    }

    fn decode_eof(&mut self, bytes: &mut BytesMut) -> io::Result<Option<Decoded>> {
        match self {
            Self::Sentence(decoder) => decoder.decode_eof(bytes),
            Self::Columns(decoder) => decoder.decode_eof(bytes),
            Self::Labelled(decoder) => decoder.decode_eof(bytes),
            Self::Xdr(decoder) => decoder.decode_eof(bytes),
            Self::Frame(decoder) => decoder.decode_eof(bytes),
        }
    }
}

/// The encoder of whichever format a profile names.
#[derive(Debug, Clone)]
pub enum Encoder {
    /// The reference firmware's sentence.
    Sentence(SentenceEncoder),
    /// Numbers in columns.
    Columns(ColumnsEncoder),
    /// Numbers behind labels.
    Labelled(LabelledEncoder),
    /// Angles in NMEA 0183 sentences.
    Xdr(XdrEncoder),
    /// Declared binary frames, and the answers of a Modbus slave.
    Frame(FrameEncoder),
}

impl Encoder {
    /// Appends the bytes of one frame, its line end included.
    pub fn encode(&self, frame: &Frame, out: &mut Vec<u8>) {
        match self {
            Self::Sentence(encoder) => encoder.encode(frame, out),
            Self::Columns(encoder) => encoder.encode(frame, out),
            Self::Labelled(encoder) => encoder.encode(frame, out),
            Self::Xdr(encoder) => encoder.encode(frame, out),
            Self::Frame(encoder) => encoder.encode(frame, out),
        }
    }
}
