//! A number at a fixed place among bytes.

/// What kind of number it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NumberKind {
    /// Unsigned whole number of so many bytes, 1 to 4.
    Unsigned(u8),
    /// Two's complement of so many bytes, 1 to 4.
    Signed(u8),
    /// IEEE 754 in 4 bytes.
    Single,
    /// IEEE 754 in 8 bytes.
    Double,
}

/// In which order its bytes come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ByteOrder {
    /// The least significant byte first.
    Little,
    /// The most significant byte first.
    Big,
    /// Pairs of bytes, the least significant pair first, each with its most significant byte first: two registers with the
    /// low word in front.
    LowWordFirst,
}

/// A number in a frame: where it stands, and how it is turned into what it means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Field {
    /// Its first byte, counted from the front of the frame.
    pub at: usize,
    /// What kind of number it is.
    pub kind: NumberKind,
    /// In which order its bytes come.
    pub order: ByteOrder,
    /// By what the number on the wire is multiplied.
    pub scale: f64,
    /// What is added then.
    pub offset: f64,
}

const WIDEST: usize = 8;

impl NumberKind {
    /// In bytes.
    #[must_use]
    pub const fn width(self) -> usize {
        match self {
            Self::Unsigned(width) | Self::Signed(width) => width as usize,
            Self::Single => 4,
            Self::Double => 8,
        }
    }
}

impl Field {
    /// A field without scale and offset.
    #[must_use]
    pub const fn new(at: usize, kind: NumberKind, order: ByteOrder) -> Self {
        Self { at, kind, order, scale: 1.0, offset: 0.0 }
    }

    /// Behind its last byte.
    #[must_use]
    pub const fn end(&self) -> usize {
        self.at + self.kind.width()
    }

    /// What the frame says; none if the field is not within it, or no finite number.
    #[must_use]
    pub fn read(&self, frame: &[u8]) -> Option<f64> {
        let mut bytes = [0; WIDEST];
        let bytes = bytes.get_mut(..self.kind.width())?;
        bytes.copy_from_slice(frame.get(self.at..self.end())?);
        self.turn(bytes);
        let whole = || bytes.iter().fold(0u64, |value, byte| value << 8 | u64::from(*byte));
        let number = match self.kind {
            NumberKind::Unsigned(_) => whole() as f64,
            NumberKind::Signed(width) => {
                let unused = 64 - 8 * u32::from(width.clamp(1, 8));
                ((whole() << unused) as i64 >> unused) as f64
            }
            NumberKind::Single => f64::from(f32::from_bits(u32::try_from(whole()).ok()?)),
            NumberKind::Double => f64::from_bits(whole()),
        };
        Some(number * self.scale + self.offset).filter(|value| value.is_finite())
    }

    /// Writes a value, rounded and held within the kind's range; a field outside the frame is left out.
    pub fn write(&self, value: f64, frame: &mut [u8]) {
        let number = (value - self.offset) / self.scale;
        // A cast from float to integer saturates, and makes 0 of what is no number.
        let bits = match self.kind {
            NumberKind::Unsigned(width) => number.round().clamp(0.0, 2f64.powi(8 * i32::from(width)) - 1.0) as u64,
            NumberKind::Signed(width) => {
                let half = 2f64.powi(8 * i32::from(width) - 1);
                number.round().clamp(-half, half - 1.0) as i64 as u64
            }
            NumberKind::Single => u64::from((number as f32).to_bits()),
            NumberKind::Double => number.to_bits(),
        };
        let mut bytes = bits.to_be_bytes();
        let width = self.kind.width();
        if let (Some(source), Some(place)) =
            (bytes.get_mut(WIDEST.saturating_sub(width)..), frame.get_mut(self.at..self.at + width))
        {
            self.turn(source);
            place.copy_from_slice(source);
        }
    }

    /// From the wire's order to the most significant byte first, or back.
    fn turn(&self, bytes: &mut [u8]) {
        match self.order {
            ByteOrder::Big => {}
            ByteOrder::Little => bytes.reverse(),
            ByteOrder::LowWordFirst => {
                bytes.reverse();
                bytes.chunks_exact_mut(2).for_each(|word| word.reverse());
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_comes_back_in_each_order() {
        let kinds = [
            (NumberKind::Unsigned(1), 200.0),
            (NumberKind::Signed(1), -100.0),
            (NumberKind::Unsigned(2), 65_535.0),
            (NumberKind::Signed(2), -32_768.0),
            (NumberKind::Signed(3), -8_388_608.0),
            (NumberKind::Unsigned(3), 16_777_215.0),
            (NumberKind::Unsigned(4), 4_294_967_295.0),
            (NumberKind::Signed(4), -2_147_483_648.0),
            (NumberKind::Single, -0.15625),
            (NumberKind::Double, 1e-9),
        ];
        for (kind, value) in kinds {
            for order in [ByteOrder::Little, ByteOrder::Big] {
                let field = Field::new(3, kind, order);
                let mut frame = [0xa5; 12];
                field.write(value, &mut frame);
                assert_eq!(field.read(&frame), Some(value), "{kind:?} {order:?}");
                assert_eq!((frame[2], frame[3 + kind.width()]), (0xa5, 0xa5), "nothing beside it");
            }
        }
    }

    /// −118.625 is C2ED4000 in IEEE 754 single precision, a textbook example [from memory].
    #[test]
    fn the_orders_are_what_their_names_say() {
        let read = |order, bytes: [u8; 4]| Field::new(0, NumberKind::Single, order).read(&bytes);
        assert_eq!(read(ByteOrder::Big, [0xc2, 0xed, 0x40, 0x00]), Some(-118.625));
        assert_eq!(read(ByteOrder::Little, [0x00, 0x40, 0xed, 0xc2]), Some(-118.625));
        assert_eq!(read(ByteOrder::LowWordFirst, [0x40, 0x00, 0xc2, 0xed]), Some(-118.625));
        let word = Field::new(0, NumberKind::Signed(2), ByteOrder::LowWordFirst);
        assert_eq!(word.read(&[0xff, 0xfe]), Some(-2.0));
    }

    #[test]
    fn a_field_outside_the_frame_or_no_number_is_none() {
        let field = Field::new(2, NumberKind::Single, ByteOrder::Big);
        assert_eq!(field.read(&[0; 5]), None);
        assert_eq!(field.read(&[0, 0, 0x7f, 0x80, 0, 0]), None, "infinity");
        let mut short = [7; 3];
        field.write(1.0, &mut short);
        assert_eq!(short, [7; 3]);
    }
}
