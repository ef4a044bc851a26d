//! Numbers in columns, one sample a line, parted by comma, semicolon, tab or blanks.
//!
//! Such a line has no checksum. What can be told is told: every line must have as many columns as the others, and
//! the wanted ones must be finite numbers to their last byte. A flipped digit, or two lines joined into one of the
//! right width, cannot be told from a sample; a sensor that can send sentences should. The first line of a stream
//! is never read, for it may have been joined in its middle, and neither is a last one without its line end.

use super::lines::Lines;
use super::number::leading_number;
use super::{BadFrame, Decoded, Frame, Received};
use bytes::BytesMut;
use std::io::{self, Write};
use std::num::NonZeroU8;
use tokio_util::codec::Decoder;

/// The highest column that can be named.
pub const MOST_COLUMNS: u8 = 32;

/// Which column holds what; columns count from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ColumnsLayout {
    /// The columns of x, y and z.
    pub axes: [NonZeroU8; 3],
    /// The column of the sensor's clock.
    pub time: Option<NonZeroU8>,
    /// How many microseconds one unit of the clock's column is.
    pub micros_per_tick: u32,
    /// The column of a counter that goes up by one a sample and wraps at 65536 (or is cut to 16 bits here).
    pub counter: Option<NonZeroU8>,
    /// The column of the temperature in °C.
    pub temperature: Option<NonZeroU8>,
}

/// How many values a line can hold that are wanted: x, y, z, clock, counter and temperature.
pub(super) const PLACES: usize = 6;
/// A column that nobody wants.
const UNWANTED: u8 = u8::MAX;

impl ColumnsLayout {
    /// The columns of x, y, z, clock, counter and temperature.
    const fn places(&self) -> [Option<NonZeroU8>; PLACES] {
        let [x, y, z] = self.axes;
        [Some(x), Some(y), Some(z), self.time, self.counter, self.temperature]
    }

    fn widest(&self) -> usize {
        self.places().into_iter().flatten().map(|column| usize::from(column.get())).max().unwrap_or(3)
    }

    /// For each column the place that it fills, so that a line is read in one pass.
    fn place_of_column(&self) -> [u8; MOST_COLUMNS as usize] {
        let mut places = [UNWANTED; MOST_COLUMNS as usize];
        for (place, column) in (0..).zip(self.places()) {
            if let Some(slot) = column.and_then(|column| places.get_mut(usize::from(column.get()) - 1)) {
                *slot = place;
            }
        }
        places
    }
}

/// Reads columns.
#[derive(Debug)]
pub struct ColumnsDecoder {
    layout: ColumnsLayout,
    places: [u8; MOST_COLUMNS as usize],
    lines: Lines,
    /// How many columns the lines have, learned from the first good one.
    width: Option<usize>,
    /// The width of the last line that had another.
    other_width: Option<usize>,
}

impl ColumnsDecoder {
    /// A decoder for lines laid out like this.
    #[must_use]
    pub fn new(layout: ColumnsLayout) -> Self {
        Self { layout, places: layout.place_of_column(), lines: Lines::default(), width: None, other_width: None }
    }

    /// The layout it reads.
    #[must_use]
    pub const fn layout(&self) -> ColumnsLayout {
        self.layout
    }

    #[inline]
    fn line(&mut self, line: &[u8], first: bool) -> Option<Decoded> {
        if first || line.trim_ascii().is_empty() || is_heading(line) {
            return None;
        }
        match self.read(line) {
            Some((received, width)) if self.width_fits(width) => Some(Decoded::Frame(received)),
            _ => Some(Decoded::Bad(BadFrame::Field)),
        }
    }

    /// One line of another width is damage; two running with the same one are a stream that has changed.
    fn width_fits(&mut self, width: usize) -> bool {
        let fits = self.width.is_none_or(|known| known == width) || self.other_width == Some(width);
        if fits {
            self.width = Some(width);
        }
        self.other_width = (!fits).then_some(width);
        fits
    }

    #[inline]
    fn read(&self, line: &[u8]) -> Option<(Received, usize)> {
        let mut values = [None; PLACES];
        let mut width = 0;
        let mut rest = Some(line.trim_ascii());
        while let Some(text) = rest {
            let place = self.places.get(width).map_or(UNWANTED, |place| *place);
            rest = match values.get_mut(usize::from(place)) {
                Some(value) => {
                    let (number, length) = leading_number(text)?;
                    *value = Some(number);
                    behind(text.get(length..)?)?
                }
                None => behind(text.get(field_length(text)..)?)?,
            };
            width += 1;
        }
        let named = self.layout.places().map(|column| column.is_some());
        received(values, named, self.layout.micros_per_tick).map(|received| (received, width))
    }
}

/// What the numbers of a line say, in the order of [`ColumnsLayout::places`]; none where a named one is missing or makes no
/// sense.
#[inline]
pub(super) fn received(values: [Option<f64>; PLACES], named: [bool; PLACES], micros_per_tick: u32) -> Option<Received> {
    let complete = named.iter().zip(values).all(|(named, value)| !named || value.is_some());
    let [x, y, z, time, count, celsius] = values;
    let seq = count.map(counter);
    let micros = time.map(|time| micros(time, micros_per_tick));
    // A value that is there but makes no sense spoils the line.
    let sensible = complete && seq != Some(None) && micros != Some(None);
    let frame = Received { seq: seq.flatten(), micros: micros.flatten(), counts: [x?, y?, z?], celsius };
    sensible.then_some(frame)
}

/// The counter's low 16 bits.
pub(super) fn counter(value: f64) -> Option<u16> {
    let whole = value.fract() == 0.0 && (0.0..=9e15).contains(&value);
    #[expect(clippy::cast_possible_truncation, reason = "the low 16 bits are what is wanted")]
    whole.then_some(value as u64 as u16)
}

/// A clock's value in microseconds.
pub(super) fn micros(value: f64, micros_per_tick: u32) -> Option<u64> {
    let micros = (value * f64::from(micros_per_tick)).round();
    (0.0..=9e15).contains(&micros).then_some(micros as u64)
}

const fn parts(byte: u8) -> bool {
    matches!(byte, b',' | b';' | b'\t' | b' ')
}

#[inline]
fn field_length(text: &[u8]) -> usize {
    text.iter().position(|byte| parts(*byte)).unwrap_or(text.len())
}

/// What stands behind the separator at the front: `Some(None)` at the end of the line, `None` if there is no
/// separator. A comma or semicolon may stand among blanks; blanks alone, tabs among them, are one separator.
#[expect(clippy::option_option, reason = "the outer one says whether the field ended where it should")]
#[inline]
fn behind(text: &[u8]) -> Option<Option<&[u8]>> {
    match text.split_first() {
        None => Some(None),
        Some((b',' | b';', after)) => Some(Some(after.trim_ascii_start())),
        Some((first, after)) if parts(*first) => {
            let after = after.trim_ascii_start();
            let comma = after.strip_prefix(b",").or_else(|| after.strip_prefix(b";"));
            Some(Some(comma.map_or(after, <[u8]>::trim_ascii_start)))
        }
        Some(_) => None,
    }
}

/// A heading or a remark: it begins like a word.
fn is_heading(line: &[u8]) -> bool {
    let first = line.trim_ascii_start().first();
    first.is_some_and(|byte| byte.is_ascii_alphabetic() || matches!(byte, b'#' | b'\x22' | b'_' | b'/'))
}

/// Writes columns.
#[derive(Debug, Clone, Copy)]
pub struct ColumnsEncoder {
    layout: ColumnsLayout,
    decimals: usize,
}

impl ColumnsEncoder {
    /// An encoder for lines laid out like this, the axes with so many decimals.
    #[must_use]
    pub const fn new(layout: ColumnsLayout, decimals: usize) -> Self {
        Self { layout, decimals }
    }

    /// Appends one line with its CR LF. Columns that the layout does not name are written as 0.
    pub fn encode(&self, frame: &Frame, out: &mut Vec<u8>) {
        let is = |place: Option<NonZeroU8>, column: usize| place.is_some_and(|p| usize::from(p.get()) == column);
        for column in 1..=self.layout.widest() {
            if column > 1 {
                out.push(b',');
            }
            let axis = self.layout.axes.iter().position(|place| usize::from(place.get()) == column);
            // Writing into a Vec cannot fail.
            let _ = if let Some(count) = axis.and_then(|axis| frame.counts.get(axis)) {
                write!(out, "{count:.*}", self.decimals)
            } else if is(self.layout.time, column) {
                write_time(frame.micros, self.layout.micros_per_tick, out)
            } else if is(self.layout.counter, column) {
                write!(out, "{}", frame.seq)
            } else if is(self.layout.temperature, column) {
                write!(out, "{:.2}", frame.celsius.unwrap_or(0.0))
            } else {
                write!(out, "0")
            };
        }
        out.extend_from_slice(b"\r\n");
    }
}

/// Whole ticks where a tick is a millisecond or less, else seconds to the microsecond.
pub(super) fn write_time(micros: u32, micros_per_tick: u32, out: &mut Vec<u8>) -> io::Result<()> {
    if micros_per_tick <= 1000 {
        write!(out, "{}", micros / micros_per_tick.max(1))
    } else {
        write!(out, "{:.6}", f64::from(micros) / f64::from(micros_per_tick))
    }
}

impl Decoder for ColumnsDecoder {
    type Item = Decoded;
    type Error = io::Error;

    #[inline]
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
