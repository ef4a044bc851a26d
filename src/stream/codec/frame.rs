//! Declared binary frames of a fixed length: sync bytes in front, fields at their places, a checksum, COBS if wished.
//!
//! A frame counts if its sync bytes stand in front and its checksum is right. Without a checksum the next frame must
//! begin right behind it, which is weaker: a damaged field passes. What lies between frames is counted as one damage,
//! however long it is.

use super::carried::NarrowCounter;
use super::{BadFrame, Carried, Checksum, Decoded, Frame, cobs};
use bytes::{Buf, BytesMut};
use std::io;
use tokio_util::codec::Decoder;

/// The longest frame that can be declared, in bytes.
pub const LONGEST_FRAME: usize = 256;

/// A declared frame.
#[derive(Debug, Clone, PartialEq)]
pub struct FrameLayout {
    /// The bytes at the front of each frame. May be missing with COBS only.
    pub sync: Vec<u8>,
    /// The whole frame's length in bytes, sync and checksum included, COBS not.
    pub length: usize,
    /// Whether frames are stuffed and parted by zeros.
    pub cobs: bool,
    /// What it carries.
    pub carried: Carried,
    /// Its checksum.
    pub checksum: Option<FrameChecksum>,
}

/// Where the checksum stands, and over what.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrameChecksum {
    /// How it is computed.
    pub sum: Checksum,
    /// Its first byte, counted from the front of the frame.
    pub at: usize,
    /// The first byte that it covers; the last one is just before it.
    pub from: usize,
    /// Whether its most significant byte comes first.
    pub big_endian: bool,
}

impl FrameChecksum {
    /// Whether it is right; none where the frame is too short for it.
    pub(crate) fn stands_in(&self, frame: &[u8]) -> Option<bool> {
        let sum = self.sum.of(frame.get(self.from..self.at)?);
        let stated = frame.get(self.at..self.at + self.sum.width())?;
        Some(stated == self.bytes(sum).get(..stated.len())?)
    }

    const fn bytes(&self, sum: u16) -> [u8; 2] {
        match (self.sum.width(), self.big_endian) {
            (2, true) => sum.to_be_bytes(),
            _ => sum.to_le_bytes(),
        }
    }

    fn write(&self, frame: &mut [u8]) {
        let sum = self.sum.of(frame.get(self.from..self.at).unwrap_or_default());
        let bytes = self.bytes(sum);
        if let Some(place) = frame.get_mut(self.at..self.at + self.sum.width()) {
            let width = place.len();
            place.copy_from_slice(bytes.get(..width).unwrap_or_default());
        }
    }
}

/// Reads frames out of a stream that may be joined anywhere.
#[derive(Debug)]
pub struct FrameDecoder {
    layout: FrameLayout,
    counter: NarrowCounter,
    /// So many bytes more may be passed over without being damage: the half frame in which the stream was joined, or
    /// the rest of a frame that has been counted.
    quiet: usize,
    /// Whether the damage at hand has been counted.
    counted: bool,
    /// With COBS: passing over bytes up to the next zero.
    dropping: bool,
}

impl FrameDecoder {
    /// A decoder for such frames.
    #[must_use]
    pub fn new(layout: FrameLayout) -> Self {
        let quiet = if layout.cobs { 1 } else { layout.length };
        Self { layout, counter: NarrowCounter::default(), quiet, counted: false, dropping: false }
    }

    /// The frames it reads.
    #[must_use]
    pub const fn layout(&self) -> &FrameLayout {
        &self.layout
    }

    fn read(&mut self, frame: &[u8]) -> Decoded {
        let read = self.layout.carried.read(frame, &mut self.counter);
        read.map_or(Decoded::Bad(BadFrame::Field), Decoded::Frame)
    }

    /// Passes over bytes that are no frame; says so once.
    fn pass_over(&mut self, count: usize, bytes: &mut BytesMut) -> Option<Decoded> {
        bytes.advance(count);
        let loud = count.saturating_sub(self.quiet);
        self.quiet = self.quiet.saturating_sub(count);
        let first = loud > 0 && !self.counted;
        self.counted |= loud > 0;
        first.then_some(Decoded::Bad(BadFrame::Framing))
    }

    fn synced(&mut self, bytes: &mut BytesMut) -> Option<Decoded> {
        loop {
            let (at, whole) = front(&self.layout.sync, bytes);
            if at > 0
                && let Some(item) = self.pass_over(at, bytes)
            {
                return Some(item);
            }
            if !whole {
                return None;
            }
            let length = self.layout.length;
            let frame = bytes.get(..length)?;
            let bad = match &self.layout.checksum {
                Some(checksum) => (checksum.stands_in(frame) != Some(true)).then_some(BadFrame::Checksum),
                None => {
                    let behind = bytes.get(length..length + self.layout.sync.len())?;
                    (behind != self.layout.sync).then_some(BadFrame::Framing)
                }
            };
            if let Some(bad) = bad {
                // One bad byte costs one frame: the search goes on right behind its first byte.
                bytes.advance(1);
                if self.quiet > 0 {
                    self.quiet -= 1;
                    continue;
                }
                self.quiet = length - 1;
                return Some(Decoded::Bad(bad));
            }
            self.quiet = 0;
            self.counted = false;
            let frame = bytes.split_to(length);
            return Some(self.read(&frame));
        }
    }

    fn stuffed(&mut self, bytes: &mut BytesMut) -> Option<Decoded> {
        loop {
            let Some(end) = memchr::memchr(0, bytes) else {
                if self.dropping || bytes.len() > cobs::longest(self.layout.length) {
                    bytes.clear();
                    let quiet = std::mem::take(&mut self.quiet) > 0;
                    let first = !std::mem::replace(&mut self.dropping, true);
                    return (first && !quiet).then_some(Decoded::Bad(BadFrame::TooLong));
                }
                return None;
            };
            let packet = bytes.split_to(end + 1);
            let joined = std::mem::take(&mut self.quiet) > 0;
            let stuffed = packet.get(..end).unwrap_or_default();
            if std::mem::take(&mut self.dropping) || stuffed.is_empty() {
                continue;
            }
            let item = self.unstuffed(stuffed);
            // The first packet may have been joined in its middle.
            if joined && matches!(item, Decoded::Bad(_)) {
                continue;
            }
            return Some(item);
        }
    }

    fn unstuffed(&mut self, stuffed: &[u8]) -> Decoded {
        if stuffed.len() > cobs::longest(self.layout.length) {
            return Decoded::Bad(BadFrame::TooLong);
        }
        match cobs::unstuff(stuffed) {
            Some(frame) if frame.len() == self.layout.length && frame.starts_with(&self.layout.sync) => {
                let sound = self.layout.checksum.is_none_or(|checksum| checksum.stands_in(&frame) == Some(true));
                if sound { self.read(&frame) } else { Decoded::Bad(BadFrame::Checksum) }
            }
            _ => Decoded::Bad(BadFrame::Framing),
        }
    }
}

/// Where the sync bytes begin, whole or cut off by the end of the bytes.
fn front(sync: &[u8], bytes: &[u8]) -> (usize, bool) {
    let Some(first) = sync.first() else { return (0, true) };
    for at in memchr::memchr_iter(*first, bytes) {
        let rest = bytes.get(at..).unwrap_or_default();
        if rest.starts_with(sync) {
            return (at, true);
        }
        if sync.starts_with(rest) {
            return (at, false);
        }
    }
    (bytes.len(), false)
}

impl Decoder for FrameDecoder {
    type Item = Decoded;
    type Error = io::Error;

    fn decode(&mut self, bytes: &mut BytesMut) -> io::Result<Option<Decoded>> {
        Ok(if self.layout.cobs { self.stuffed(bytes) } else { self.synced(bytes) })
    }

    fn decode_eof(&mut self, bytes: &mut BytesMut) -> io::Result<Option<Decoded>> {
        let item = self.decode(bytes)?;
        if item.is_none() {
            bytes.clear();
        }
        Ok(item)
    }
}

/// Writes declared frames.
#[derive(Debug, Clone)]
pub struct FrameEncoder {
    layout: FrameLayout,
}

impl FrameEncoder {
    /// An encoder for such frames.
    #[must_use]
    pub const fn new(layout: FrameLayout) -> Self {
        Self { layout }
    }

    /// Appends one frame. Numbers are rounded and held within the range of their fields.
    pub fn encode(&self, frame: &Frame, out: &mut Vec<u8>) {
        let mut bytes = vec![0; self.layout.length];
        if let Some(front) = bytes.get_mut(..self.layout.sync.len()) {
            front.copy_from_slice(&self.layout.sync);
        }
        self.layout.carried.write(frame, &mut bytes);
        if let Some(checksum) = &self.layout.checksum {
            checksum.write(&mut bytes);
        }
        if self.layout.cobs {
            cobs::stuff(&bytes, out);
            out.push(0);
        } else {
            out.extend_from_slice(&bytes);
        }
    }
}
