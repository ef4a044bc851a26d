//! NMEA 0183 `XDR` sentences: transducer measurements in groups of type, value, unit and name.
//!
//! Angles are type `A` in unit `D` (degrees), a temperature is type `C` in unit `C`. Any talker may send them. Pitch and
//! roll may come in one sentence or one after the other; a damaged sentence between them spoils the pair. Other measurements
//! and other sentences are passed over.

use super::nmea::{Sentences, checksum};
use super::number::number;
use super::{BadFrame, Decoded, Direction, Frame, Received};
use bytes::BytesMut;
use std::io::{self, Write};
use tokio_util::codec::Decoder;

/// The names under which a transducer may appear.
pub type Names = Vec<String>;

/// Which transducer measures what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct XdrLayout {
    /// The angles.
    pub direction: Direction<Names>,
    /// The temperature.
    pub temperature: Option<Names>,
}

/// The angles, then the temperature.
const PLACES: usize = 3;
const TEMPERATURE: usize = 2;

/// Reads `XDR` sentences.
#[derive(Debug)]
pub struct XdrDecoder {
    layout: XdrLayout,
    sentences: Sentences,
    /// What has come of the sample at hand.
    pending: [Option<f64>; PLACES],
}

impl XdrDecoder {
    /// A decoder for these transducers.
    #[must_use]
    pub fn new(layout: XdrLayout) -> Self {
        Self { layout, sentences: Sentences::default(), pending: [None; PLACES] }
    }

    /// What it reads.
    #[must_use]
    pub const fn layout(&self) -> &XdrLayout {
        &self.layout
    }

    fn sentence(
        layout: &XdrLayout,
        pending: &mut [Option<f64>; PLACES],
        body: &[u8],
    ) -> Result<Option<Received>, BadFrame> {
        let groups = body.get(2..).and_then(|body| body.strip_prefix(b"XDR,")).ok_or(BadFrame::Foreign)?;
        let found = measurements(layout, groups)?;
        if found.iter().all(Option::is_none) {
            return Err(BadFrame::Foreign);
        }
        // A name that comes again begins a new sample: what was missing of the old one was lost.
        if found.iter().zip(pending.iter()).any(|(new, old)| new.is_some() && old.is_some()) {
            *pending = [None; PLACES];
        }
        for (place, value) in pending.iter_mut().zip(found) {
            *place = value.or(*place);
        }
        let wanted = layout.direction.values().len();
        let complete = pending.iter().take(wanted).all(Option::is_some)
            && (layout.temperature.is_none() || pending[TEMPERATURE].is_some());
        if !complete {
            return Ok(None);
        }
        let values = std::mem::replace(pending, [None; PLACES]);
        let counts = layout.direction.axes(|at| values.get(at).copied().flatten()).ok_or(BadFrame::Field)?;
        let celsius = layout.temperature.as_ref().and(values[TEMPERATURE]);
        Ok(Some(Received { seq: None, micros: None, counts, celsius }))
    }
}

/// The values of the named transducers in one sentence.
fn measurements(layout: &XdrLayout, groups: &[u8]) -> Result<[Option<f64>; PLACES], BadFrame> {
    let mut found = [None; PLACES];
    let mut fields = groups.split(|byte| *byte == b',');
    while let (Some(kind), Some(value), Some(unit), Some(name)) =
        (fields.next(), fields.next(), fields.next(), fields.next())
    {
        let named = |names: &Names| names.iter().any(|known| known.as_bytes().eq_ignore_ascii_case(name));
        let place = match (kind, unit) {
            (b"A", b"D") => layout.direction.values().iter().position(named),
            (b"C", b"C") => layout.temperature.as_ref().filter(|names| named(names)).map(|_| TEMPERATURE),
            _ => None,
        };
        if let Some(place) = place.and_then(|place| found.get_mut(place)) {
            let twice = place.replace(number(value).ok_or(BadFrame::Field)?).is_some();
            if twice {
                return Err(BadFrame::Field);
            }
        }
    }
    Ok(found)
}

impl Decoder for XdrDecoder {
    type Item = Decoded;
    type Error = io::Error;

    fn decode(&mut self, bytes: &mut BytesMut) -> io::Result<Option<Decoded>> {
        let Self { layout, sentences, pending } = self;
        let item = sentences.next(bytes, |body| Self::sentence(layout, pending, body));
        if matches!(item, Some(Decoded::Bad(bad)) if bad != BadFrame::Foreign) {
            self.pending = [None; PLACES];
        }
        Ok(item)
    }

    fn decode_eof(&mut self, bytes: &mut BytesMut) -> io::Result<Option<Decoded>> {
        match self.decode(bytes)? {
            Some(item) => Ok(Some(item)),
            None => {
                let Self { layout, sentences, pending } = self;
                Ok(sentences.last(bytes, |body| Self::sentence(layout, pending, body)))
            }
        }
    }
}

/// Writes one `XDR` sentence a sample.
#[derive(Debug, Clone)]
pub struct XdrEncoder {
    layout: XdrLayout,
}

impl XdrEncoder {
    /// An encoder for these transducers.
    #[must_use]
    pub const fn new(layout: XdrLayout) -> Self {
        Self { layout }
    }

    /// Appends one sentence with its CR LF. Angles are written to a thousandth of a degree.
    pub fn encode(&self, frame: &Frame, out: &mut Vec<u8>) {
        let mut body = b"IIXDR".to_vec();
        // Writing into a Vec cannot fail.
        for (names, angle) in self.layout.direction.values().iter().zip(self.layout.direction.told(frame.counts)) {
            let _ = write!(body, ",A,{angle:.3},D,{}", first(names));
        }
        if let Some(names) = &self.layout.temperature {
            let _ = write!(body, ",C,{:.2},C,{}", frame.celsius.unwrap_or(0.0), first(names));
        }
        let sum = checksum(&body);
        out.push(b'$');
        out.extend_from_slice(&body);
        let _ = write!(out, "*{sum:02X}\r\n");
    }
}

fn first(names: &Names) -> &str {
    names.first().map_or("", String::as_str)
}
