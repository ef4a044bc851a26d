//! Lines out of bytes, with a bound on their length.

use super::{BadFrame, Decoded};
use bytes::{Buf, BytesMut};

/// The longest line that is read, in bytes without its line end. A longer one is dropped and counted once.
pub const LONGEST_LINE: usize = 512;

/// Finds line ends without looking at a byte twice.
#[derive(Debug, Default)]
pub(super) struct Lines {
    /// Bytes at the front of the buffer that hold no line end.
    scanned: usize,
    /// Whether what comes up to the next line end belongs to a line beyond the bound.
    dropping: bool,
    /// Whether a line has come: the first one may have been joined in its middle.
    joined: bool,
}

/// What stands at the front of the buffer.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Front {
    /// A line of so many bytes, its LF (one byte more) behind it.
    Line(usize),
    /// A line beyond the bound, already dropped.
    TooLong,
    /// Not yet a whole line.
    More,
}

impl Lines {
    /// What `read` makes of the next line of which it makes anything; it is told whether the line is the first. `None`: more
    /// bytes are needed.
    #[inline]
    pub(super) fn next(
        &mut self,
        bytes: &mut BytesMut,
        mut read: impl FnMut(&[u8], bool) -> Option<Decoded>,
    ) -> Option<Decoded> {
        loop {
            let front = self.front(bytes);
            let first = front != Front::More && !std::mem::replace(&mut self.joined, true);
            let item = match front {
                Front::More => return None,
                Front::TooLong => Some(Decoded::Bad(BadFrame::TooLong)),
                Front::Line(length) => {
                    let item = read(without_cr(bytes.get(..length).unwrap_or_default()), first);
                    bytes.advance(length + 1);
                    item
                }
            };
            if item.is_some() {
                return item;
            }
        }
    }

    /// Looks for the next line end; consumes nothing but over-long lines.
    #[inline]
    pub(super) fn front(&mut self, bytes: &mut BytesMut) -> Front {
        loop {
            let unseen = bytes.get(self.scanned..).unwrap_or_default();
            let Some(at) = memchr::memchr(b'\n', unseen) else {
                return self.unfinished(bytes);
            };
            let length = self.scanned + at;
            self.scanned = 0;
            if self.dropping {
                self.dropping = false;
                bytes.advance(length + 1);
            } else if without_cr(bytes.get(..length).unwrap_or_default()).len() > LONGEST_LINE {
                bytes.advance(length + 1);
                return Front::TooLong;
            } else {
                return Front::Line(length);
            }
        }
    }

    fn unfinished(&mut self, bytes: &mut BytesMut) -> Front {
        let over_long = bytes.len() > LONGEST_LINE + 1;
        if self.dropping || over_long {
            bytes.clear();
        }
        self.scanned = bytes.len();
        if over_long && !self.dropping {
            self.dropping = true;
            return Front::TooLong;
        }
        Front::More
    }
}

/// The line without the CR that may end it.
#[inline]
pub(super) fn without_cr(line: &[u8]) -> &[u8] {
    line.strip_suffix(b"\r").unwrap_or(line)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fronts(input: &[u8], piece: usize) -> Vec<Front> {
        let (mut lines, mut bytes, mut seen) = (Lines::default(), BytesMut::new(), Vec::new());
        for part in input.chunks(piece) {
            bytes.extend_from_slice(part);
            loop {
                match lines.front(&mut bytes) {
                    Front::More => break,
                    Front::Line(length) => {
                        bytes.advance(length + 1);
                        seen.push(Front::Line(length));
                    }
                    Front::TooLong => seen.push(Front::TooLong),
                }
            }
            assert!(bytes.len() <= LONGEST_LINE + 1, "the buffer stays bounded");
        }
        seen
    }

    #[test]
    fn a_line_beyond_the_bound_is_dropped_once_however_it_is_chopped() {
        let mut input = b"ab\r\n".to_vec();
        input.extend(vec![b'x'; LONGEST_LINE]);
        input.extend(b"\r\n");
        input.extend(vec![b'y'; LONGEST_LINE + 1]);
        input.extend(b"\r\n");
        input.extend(vec![b'z'; 5 * LONGEST_LINE]);
        input.extend(b"\ncd\n");
        let expected = [Front::Line(3), Front::Line(LONGEST_LINE + 1), Front::TooLong, Front::TooLong, Front::Line(2)];
        for piece in [1, 7, 511, 513, input.len()] {
            assert_eq!(fronts(&input, piece), expected, "in pieces of {piece}");
        }
    }
}
