//! Numbers behind labels, one sample a line: `x:0.01 y:-0.02 z:0.99`, in any order.
//!
//! A label is parted from its number by `:` or `=`, the pairs by blank, tab, comma or semicolon. Labels that the
//! profile does not name are passed over; capital and small letters are the same. A sample needs each of its labels exactly once and
//! each number to its last byte, so that a line cut anywhere but inside its last number is recognised. There is no checksum: a flipped digit passes.

use super::columns::{PLACES, received, write_time};
use super::lines::Lines;
use super::number::number;
use super::{BadFrame, Decoded, Frame, Received};
use bytes::BytesMut;
use std::io::{self, Write};
use tokio_util::codec::Decoder;

/// Which label stands before what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LabelledLayout {
    /// The labels of x, y and z.
    pub axes: [String; 3],
    /// The label of the sensor's clock.
    pub time: Option<String>,
    /// How many microseconds one unit of the clock is.
    pub micros_per_tick: u32,
    /// The label of a counter that goes up by one a sample.
    pub counter: Option<String>,
    /// The label of the temperature in °C.
    pub temperature: Option<String>,
}

impl LabelledLayout {
    /// The labels of x, y, z, clock, counter and temperature.
    const fn places(&self) -> [Option<&String>; PLACES] {
        let [x, y, z] = &self.axes;
        [Some(x), Some(y), Some(z), self.time.as_ref(), self.counter.as_ref(), self.temperature.as_ref()]
    }

    /// Where the value of a label goes, in that order.
    fn place(&self, label: &[u8]) -> Option<usize> {
        self.places().iter().position(|name| name.is_some_and(|name| name.as_bytes().eq_ignore_ascii_case(label)))
    }
}

/// Reads labelled numbers.
#[derive(Debug)]
pub struct LabelledDecoder {
    layout: LabelledLayout,
    lines: Lines,
}

impl LabelledDecoder {
    /// A decoder for these labels.
    #[must_use]
    pub fn new(layout: LabelledLayout) -> Self {
        Self { layout, lines: Lines::default() }
    }

    /// The labels it reads.
    #[must_use]
    pub const fn layout(&self) -> &LabelledLayout {
        &self.layout
    }

    fn line(&self, line: &[u8], first: bool) -> Option<Decoded> {
        match self.read(line) {
            Some(received) => Some(Decoded::Frame(received)),
            // The first line may have been joined in its middle; a line without any pair is a heading.
            None if first || !line.iter().any(|byte| is_mark(*byte)) => None,
            None => Some(Decoded::Bad(BadFrame::Field)),
        }
    }

    fn read(&self, line: &[u8]) -> Option<Received> {
        let mut values = [None; PLACES];
        let pairs = line.split(|byte| matches!(byte, b' ' | b'\t' | b',' | b';')).filter(|pair| !pair.is_empty());
        let mut label_before: Option<&[u8]> = None;
        for pair in pairs {
            // A blank may stand behind the mark: `x: 0.01`.
            let (label, value) = match label_before.take() {
                Some(label) => (label, pair),
                None => {
                    let mark = pair.iter().position(|byte| is_mark(*byte))?;
                    let (label, value) = pair.split_at(mark);
                    (label, value.get(1..).unwrap_or_default())
                }
            };
            if value.is_empty() {
                label_before = Some(label);
            } else if let Some(place) = self.layout.place(label).and_then(|place| values.get_mut(place)) {
                let twice = place.replace(number(value)?).is_some();
                if twice {
                    return None;
                }
            }
        }
        if label_before.is_some() {
            return None;
        }
        received(values, self.layout.places().map(|label| label.is_some()), self.layout.micros_per_tick)
    }
}

fn is_mark(byte: u8) -> bool {
    matches!(byte, b':' | b'=')
}

/// Writes labelled numbers.
#[derive(Debug, Clone)]
pub struct LabelledEncoder {
    layout: LabelledLayout,
    decimals: usize,
}

impl LabelledEncoder {
    /// An encoder for these labels, the axes with so many decimals.
    #[must_use]
    pub const fn new(layout: LabelledLayout, decimals: usize) -> Self {
        Self { layout, decimals }
    }

    /// Appends one line with its CR LF.
    pub fn encode(&self, frame: &Frame, out: &mut Vec<u8>) {
        // Writing into a Vec cannot fail.
        if let Some(label) = &self.layout.counter {
            let _ = write!(out, "{label}:{} ", frame.seq);
        }
        if let Some(label) = &self.layout.time {
            let _ = write!(out, "{label}:").and_then(|()| write_time(frame.micros, self.layout.micros_per_tick, out));
            out.push(b' ');
        }
        if let Some(label) = &self.layout.temperature {
            let _ = write!(out, "{label}:{:.2} ", frame.celsius.unwrap_or(0.0));
        }
        for (at, (label, count)) in self.layout.axes.iter().zip(frame.counts).enumerate() {
            let gap = if at == 0 { "" } else { " " };
            let _ = write!(out, "{gap}{label}:{count:.*}", self.decimals);
        }
        out.extend_from_slice(b"\r\n");
    }
}

impl Decoder for LabelledDecoder {
    type Item = Decoded;
    type Error = io::Error;

    fn decode(&mut self, bytes: &mut BytesMut) -> io::Result<Option<Decoded>> {
        let mut lines = std::mem::take(&mut self.lines);
        let item = lines.next(bytes, |line, first| self.line(line, first));
        self.lines = lines;
        Ok(item)
    }

    fn decode_eof(&mut self, bytes: &mut BytesMut) -> io::Result<Option<Decoded>> {
        let item = self.decode(bytes)?;
        if item.is_none() {
            bytes.clear();
        }
        Ok(item)
    }
}
