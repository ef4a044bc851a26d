//! Modbus RTU as a master sees it: a request for registers, and the frames that answer it.
//!
//! After "MODBUS Application Protocol Specification" V1.1b3 (functions 3 and 4) and "MODBUS over Serial Line" V1.02 (RTU
//! framing, CRC). An answer of a known slave to a known request has a known length, so that it is a declared frame:
//! address, function and byte count are its sync bytes.

use super::{Carried, Checksum, FrameChecksum, FrameLayout};

/// The most registers that one request may ask for (specification, function 3 and 4).
pub const MOST_REGISTERS: u16 = 125;
/// Bytes before the first register of an answer.
pub(crate) const FRONT: usize = 3;
const EXCEPTION: u8 = 0x80;

/// Which registers are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Registers {
    /// Holding registers, function 3.
    Holding,
    /// Input registers, function 4.
    Input,
}

impl Registers {
    pub(super) const fn function(self) -> u8 {
        match self {
            Self::Holding => 3,
            Self::Input => 4,
        }
    }
}

/// What is asked of which slave, and what its answer carries.
#[derive(Debug, Clone, PartialEq)]
pub struct ModbusLayout {
    /// The slave's address, 1 to 247.
    pub address: u8,
    /// Which kind of registers.
    pub registers: Registers,
    /// The first register asked for, counted from 0 as on the wire.
    pub first: u16,
    /// How many.
    pub count: u16,
    /// What they carry; the fields count bytes from the front of the answer, the registers beginning at byte 3.
    pub carried: Carried,
}

impl ModbusLayout {
    /// The request, byte for byte.
    #[must_use]
    pub fn request(&self) -> Vec<u8> {
        let [first_high, first_low] = self.first.to_be_bytes();
        let [count_high, count_low] = self.count.to_be_bytes();
        let mut bytes = vec![self.address, self.registers.function(), first_high, first_low, count_high, count_low];
        let [low, high] = Checksum::MODBUS.of(&bytes).to_le_bytes();
        bytes.extend([low, high]);
        bytes
    }

    /// The answer as a declared frame.
    #[must_use]
    pub fn answer(&self) -> FrameLayout {
        let data = 2 * usize::from(self.count.min(MOST_REGISTERS));
        FrameLayout {
            sync: vec![self.address, self.registers.function(), data as u8],
            length: FRONT + data + 2,
            cobs: false,
            carried: self.carried,
            checksum: Some(FrameChecksum { sum: Checksum::MODBUS, at: FRONT + data, from: 0, big_endian: false }),
        }
    }

    /// The slave's refusal, if it is among these bytes.
    #[must_use]
    pub fn refusal(&self, bytes: &[u8]) -> Option<Refusal> {
        let refusal = bytes.windows(5).find(|window| {
            let [address, function, _, low, high] = *window else { return false };
            let sum = Checksum::MODBUS.of(window.get(..3).unwrap_or_default());
            *address == self.address
                && *function == self.registers.function() | EXCEPTION
                && u16::from_le_bytes([*low, *high]) == sum
        })?;
        Some(Refusal { address: self.address, code: *refusal.get(2)?, first: self.first, count: self.count })
    }
}

/// A slave's exception response (specification, 7).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Refusal {
    /// The slave's address.
    pub address: u8,
    /// Its exception code.
    pub code: u8,
    /// The first register asked for.
    pub first: u16,
    /// How many.
    pub count: u16,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::codec::{ByteOrder, Direction, Field, FrameDecoder, NumberKind};
    use bytes::BytesMut;
    use tokio_util::codec::Decoder;

    fn layout() -> ModbusLayout {
        let word = |at: usize| Field::new(FRONT + 2 * at, NumberKind::Unsigned(2), ByteOrder::Big);
        let direction = Direction::Force([word(0), word(1), word(2)]);
        let carried = Carried { direction, time: None, micros_per_tick: 1, counter: None, temperature: None };
        ModbusLayout { address: 0x11, registers: Registers::Holding, first: 0x6b, count: 3, carried }
    }

    /// Reading 40108 to 40110 of slave 17, the usual example of function 3, with its CRC; found in many descriptions of the
    /// protocol, such as simplymodbus' and the one at bbs.21ic.com/icview-162927-1-1.html.
    #[test]
    fn the_usual_example_of_a_request_and_its_answer() {
        assert_eq!(layout().request(), [0x11, 0x03, 0x00, 0x6b, 0x00, 0x03, 0x76, 0x87]);
        let answer = [0x11, 0x03, 0x06, 0xae, 0x41, 0x56, 0x52, 0x43, 0x40, 0x49, 0xad];
        let mut decoder = FrameDecoder::new(layout().answer());
        let decoded = decoder.decode(&mut BytesMut::from(&answer[..])).unwrap();
        let Some(super::super::Decoded::Frame(received)) = decoded else { panic!("{decoded:?}") };
        assert_eq!(received.counts, [0xae41, 0x5652, 0x4340].map(f64::from));
    }

    /// Exception codes: specification V1.1b3, section 7. The frame 0A 81 02 B0 53 is its usual example on a serial line (slave 10,
    /// function 1) [from memory].
    #[test]
    fn a_refusal_is_found_with_its_code() {
        let [low, high] = Checksum::MODBUS.of(&[0x0a, 0x81, 0x02]).to_le_bytes();
        assert_eq!([low, high], [0xb0, 0x53]);
        let [low, high] = Checksum::MODBUS.of(&[0x11, 0x83, 0x02]).to_le_bytes();
        let refusal = Refusal { address: 0x11, code: 2, first: 107, count: 3 };
        assert_eq!(layout().refusal(&[0, 0x11, 0x83, 0x02, low, high, 9]), Some(refusal));
        assert_eq!(layout().refusal(&[0x11, 0x83, 0x02, low, high ^ 1]), None);
    }
}
