//! The frame of an NMEA 0183 sentence: `$`, a body, `*` and a checksum of two hexadecimal digits.
//!
//! The checksum is the exclusive or of all bytes between `$` and `*`. It finds any single damaged byte; two
//! damages of the same bits in two bytes cancel and pass.

use super::lines::{Front, Lines, without_cr};
use super::{BadFrame, Decoded, Received};
use bytes::{Buf, BytesMut};

/// Finds sentences in a stream that may be joined in the middle of a line.
#[derive(Debug, Default)]
pub(super) struct Sentences {
    lines: Lines,
    joined: bool,
}

impl Sentences {
    /// The next item; `read` makes a frame of a sentence's body, or nothing yet.
    #[inline]
    pub(super) fn next(
        &mut self,
        bytes: &mut BytesMut,
        mut read: impl FnMut(&[u8]) -> Result<Option<Received>, BadFrame>,
    ) -> Option<Decoded> {
        loop {
            match self.lines.front(bytes) {
                Front::More => return None,
                Front::TooLong => return Some(Decoded::Bad(BadFrame::TooLong)),
                Front::Line(length) => {
                    if let Some(item) = self.line(bytes, length, &mut read) {
                        return Some(item);
                    }
                }
            }
        }
    }

    /// Looks at one line; takes from the buffer what was understood of it.
    #[inline]
    fn line(
        &mut self,
        bytes: &mut BytesMut,
        length: usize,
        read: &mut impl FnMut(&[u8]) -> Result<Option<Received>, BadFrame>,
    ) -> Option<Decoded> {
        let line = without_cr(bytes.get(..length).unwrap_or_default());
        let begins_inside = !std::mem::replace(&mut self.joined, true) && line.first() != Some(&b'$');
        let (item, used) = match open_sentence(line).and_then(read) {
            Ok(received) => (received.map(Decoded::Frame), length + 1),
            Err(bad) => {
                // One bad byte costs one sentence: the search goes on at the next start inside the same line.
                let next = line.get(1..).and_then(|rest| memchr::memchr(b'$', rest)).map(|at| at + 1);
                let silent = begins_inside || line.is_empty();
                ((!silent).then_some(Decoded::Bad(bad)), next.unwrap_or(length + 1))
            }
        };
        bytes.advance(used);
        item
    }

    /// A last line without its line end counts if its checksum proves it whole; else it was cut off, which is not damage.
    pub(super) fn last(
        &mut self,
        bytes: &mut BytesMut,
        read: impl FnOnce(&[u8]) -> Result<Option<Received>, BadFrame>,
    ) -> Option<Decoded> {
        let tail = bytes.split();
        open_sentence(without_cr(&tail)).and_then(read).ok().flatten().map(Decoded::Frame)
    }
}

/// The exclusive or of all bytes.
#[must_use]
#[inline]
pub fn checksum(body: &[u8]) -> u8 {
    body.iter().fold(0, |sum, byte| sum ^ byte)
}

/// The body of a sentence, which must fill `line` from `$` to the second digit of its checksum.
///
/// # Errors
/// [`BadFrame::Framing`] where `$`, `*` or the two digits are not in their places, [`BadFrame::Checksum`] where
/// the digits say another sum than the body has.
#[inline]
pub fn open_sentence(line: &[u8]) -> Result<&[u8], BadFrame> {
    let inner = line.strip_prefix(b"$").ok_or(BadFrame::Framing)?;
    let (body, tail) = inner.split_last_chunk::<3>().ok_or(BadFrame::Framing)?;
    let [b'*', high, low] = *tail else { return Err(BadFrame::Framing) };
    let stated = hex(high).zip(hex(low)).map(|(high, low)| high << 4 | low).ok_or(BadFrame::Framing)?;
    if stated == checksum(body) { Ok(body) } else { Err(BadFrame::Checksum) }
}

#[inline]
fn hex(digit: u8) -> Option<u8> {
    match digit {
        b'0'..=b'9' => Some(digit - b'0'),
        b'A'..=b'F' => Some(digit - b'A' + 10),
        b'a'..=b'f' => Some(digit - b'a' + 10),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_part_must_stand_in_its_place() {
        assert_eq!(open_sentence(b"$A*41"), Ok(&b"A"[..]));
        assert_eq!(open_sentence(b"$*00"), Ok(&b""[..]));
        for line in [&b""[..], b"$", b"$*0", b"A*41", b"$A41", b"$A*4", b"$A*4g", b"$A*41 "] {
            assert_eq!(open_sentence(line), Err(BadFrame::Framing), "{}", line.escape_ascii());
        }
        assert_eq!(open_sentence(b"$A*42"), Err(BadFrame::Checksum));
    }
}
