//! Numbers out of the bytes of a field, strictly: what is not wholly a number in its range is none.

/// Reads fields one behind the other.
pub(super) struct Cursor<'a>(pub(super) &'a [u8]);

impl Cursor<'_> {
    /// Decimal digits up to the value `max`.
    #[inline]
    pub(super) fn unsigned(&mut self, max: u32) -> Option<u32> {
        let mut value: u64 = 0;
        let mut digits = 0;
        // Ten digits hold every 32-bit number; eleven cannot overflow 64 bits.
        for byte in self.0.iter().take(11) {
            let digit = byte.wrapping_sub(b'0');
            if digit > 9 {
                break;
            }
            value = value * 10 + u64::from(digit);
            digits += 1;
        }
        self.0 = self.0.get(digits..)?;
        if digits == 0 || digits > 10 || value > u64::from(max) { None } else { u32::try_from(value).ok() }
    }

    /// Decimal digits, perhaps behind a minus, within 32 bits.
    #[inline]
    pub(super) fn signed(&mut self) -> Option<i32> {
        if self.skip(b'-') {
            let magnitude = i64::from(self.unsigned(1 << 31)?);
            i32::try_from(-magnitude).ok()
        } else {
            i32::try_from(self.unsigned(i32::MAX as u32)?).ok()
        }
    }

    /// A decimal number without exponent, to the end of the bytes.
    pub(super) fn decimal_to_end(&mut self) -> Option<f64> {
        let text = std::mem::take(&mut self.0);
        let plain =
            text.iter().enumerate().all(|(at, byte)| matches!(byte, b'0'..=b'9' | b'.') || at == 0 && *byte == b'-');
        if plain { fast_float2::parse(text).ok().filter(|value: &f64| value.is_finite()) } else { None }
    }

    /// Steps over `byte` if it is the next one.
    #[inline]
    pub(super) fn skip(&mut self, byte: u8) -> bool {
        match self.0.split_first() {
            Some((&first, rest)) if first == byte => {
                self.0 = rest;
                true
            }
            _ => false,
        }
    }

    /// A comma, and nothing else.
    #[inline]
    pub(super) fn comma(&mut self) -> Option<()> {
        self.skip(b',').then_some(())
    }
}

/// A finite number that fills the whole field. The parser's words for infinity and not-a-number are none.
#[inline]
pub(super) fn number(field: &[u8]) -> Option<f64> {
    fast_float2::parse(field).ok().filter(|value: &f64| value.is_finite())
}

/// A finite number at the front, and how many bytes it takes.
#[inline]
pub(super) fn leading_number(text: &[u8]) -> Option<(f64, usize)> {
    fast_float2::parse_partial(text).ok().filter(|(value, _): &(f64, usize)| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn integers_stay_within_their_range() {
        assert_eq!(Cursor(b"65535").unsigned(65535), Some(65535));
        assert_eq!(Cursor(b"00007").unsigned(65535), Some(7));
        for text in ["65536", "", "-1", "+1", " 1", "99999999999999999999"] {
            assert_eq!(Cursor(text.as_bytes()).unsigned(65535), None, "{text}");
        }
        assert_eq!(Cursor(b"-2147483648").signed(), Some(i32::MIN));
        assert_eq!(Cursor(b"2147483647").signed(), Some(i32::MAX));
        for text in ["2147483648", "-2147483649", "--1", "-", "+5"] {
            assert_eq!(Cursor(text.as_bytes()).signed(), None, "{text}");
        }
    }

    #[test]
    fn decimals_are_plain_and_finite() {
        assert_eq!(Cursor(b"-12.25").decimal_to_end(), Some(-12.25));
        for text in ["", "-", ".", "1e3", "1-2", "nan", "inf", "+3", "3 "] {
            assert_eq!(Cursor(text.as_bytes()).decimal_to_end(), None, "{text}");
        }
        assert_eq!(number(b"+1.5e-3"), Some(0.0015));
        for text in ["", "1e400", "inf", "-inf", "nan", "infinity", "1.0.0", "0x1", "e", " 1"] {
            assert_eq!(number(text.as_bytes()), None, "{text}");
        }
    }
}
