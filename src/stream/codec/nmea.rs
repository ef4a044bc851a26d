//! The frame of an NMEA 0183 sentence: `$`, a body, `*` and a checksum of two hexadecimal digits.
//!
//! The checksum is the exclusive or of all bytes between `$` and `*`. It finds any single damaged byte; two
//! damages of the same bits in two bytes cancel and pass.

use super::BadFrame;

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
