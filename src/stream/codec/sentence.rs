//! The reference firmware's sentence: `$PCLIN,seq,micros,x,y,z[,celsius]*hh` CR LF.
//!
//! Counter and clock wrap at 16 and 32 bits; the axes are integers in counts; the temperature in °C may be absent.
//! The line end may be LF alone, the checksum's digits of either case; everything else is as strict as the
//! specification in `firmware-notes/wire-format.md`. The checksum lets a pair of equal bit errors through, which
//! is why the fields are checked as well; what passes both cannot be told from a sample that was sent.

use super::fault::report;
use super::nmea::{Sentences, checksum};
use super::number::Cursor;
use super::{BadFrame, Decoded, Frame, Received};
use bytes::BytesMut;
use std::io::{self, Write};
use tokio_util::codec::Decoder;

const ADDRESS: &[u8] = b"PCLIN,";

/// Reads sentences out of a stream that may be joined in the middle of a line.
#[derive(Debug, Default)]
pub struct SentenceDecoder {
    sentences: Sentences,
}

impl Decoder for SentenceDecoder {
    type Item = Decoded;
    type Error = io::Error;

    #[inline]
    fn decode(&mut self, bytes: &mut BytesMut) -> io::Result<Option<Decoded>> {
        Ok(self.sentences.next(bytes, read))
    }

    fn decode_eof(&mut self, bytes: &mut BytesMut) -> io::Result<Option<Decoded>> {
        let item = self.sentences.next(bytes, read);
        Ok(item.or_else(|| self.sentences.last(bytes, read)))
    }
}

#[inline]
fn read(body: &[u8]) -> Result<Option<Received>, BadFrame> {
    let fields = body.strip_prefix(ADDRESS).ok_or_else(|| report(body))?;
    read_fields(Cursor(fields)).map(Some).ok_or(BadFrame::Field)
}

#[inline]
fn read_fields(mut fields: Cursor<'_>) -> Option<Received> {
    let seq = fields.unsigned(u32::from(u16::MAX))?;
    fields.comma()?;
    let micros = fields.unsigned(u32::MAX)?;
    let mut counts = [0.0; 3];
    for axis in &mut counts {
        fields.comma()?;
        *axis = f64::from(fields.signed()?);
    }
    let celsius = if fields.0.is_empty() {
        None
    } else {
        fields.comma()?;
        Some(fields.decimal_to_end()?)
    };
    Some(Received { seq: u16::try_from(seq).ok(), micros: Some(u64::from(micros)), counts, celsius })
}

/// Writes sentences as the reference firmware does.
#[derive(Debug, Clone, Copy, Default)]
pub struct SentenceEncoder;

impl SentenceEncoder {
    /// Appends one sentence with its CR LF. Counts are rounded to whole ones and held within 32 bits, the
    /// temperature is written with two decimals.
    pub fn encode(&self, frame: &Frame, out: &mut Vec<u8>) {
        // A cast from float to integer saturates, and makes 0 of what is no number.
        let [x, y, z] = frame.counts.map(|count| count.round() as i32);
        out.push(b'$');
        let start = out.len();
        // Writing into a Vec cannot fail.
        let _ = write!(out, "PCLIN,{},{},{x},{y},{z}", frame.seq, frame.micros);
        if let Some(celsius) = frame.celsius.filter(|celsius| celsius.is_finite()) {
            let _ = write!(out, ",{celsius:.2}");
        }
        let sum = checksum(out.get(start..).unwrap_or_default());
        let _ = write!(out, "*{sum:02X}\r\n");
    }
}
