//! The other end of Modbus RTU, as far as a simulated sensor needs it: which requests are for it, and what it answers.

use super::{Checksum, FRONT, ModbusLayout};

/// A request for registers: address, function, first register, how many, CRC.
const REQUEST: usize = 8;
const EXCEPTION: u8 = 0x80;
const ILLEGAL_FUNCTION: u8 = 1;
const ILLEGAL_ADDRESS: u8 = 2;

/// A slave that holds the registers of its layout and no others.
#[derive(Debug, Clone)]
pub struct ModbusSlave {
    layout: ModbusLayout,
    /// What may yet become a request.
    heard: Vec<u8>,
}

/// What a slave owes its master.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owed {
    /// These registers, counted from the layout's first one.
    Registers {
        /// The first one.
        first: usize,
        /// How many.
        count: usize,
    },
    /// A refusal, byte for byte.
    Refusal([u8; 5]),
}

impl ModbusSlave {
    /// A slave with these registers.
    #[must_use]
    pub const fn new(layout: ModbusLayout) -> Self {
        Self { layout, heard: Vec::new() }
    }

    /// What the bytes ask of this slave, one after the other. Requests for others, and damaged ones, go unanswered.
    pub fn hear(&mut self, bytes: &[u8]) -> Vec<Owed> {
        self.heard.extend_from_slice(bytes);
        let mut owed = Vec::new();
        while let Some(request) = self.heard.first_chunk::<REQUEST>().copied() {
            let [body @ .., low, high] = request;
            let whole = Checksum::MODBUS.of(&body) == u16::from_le_bytes([low, high]);
            self.heard.drain(..if whole { REQUEST } else { 1 });
            if whole && request[0] == self.layout.address {
                owed.push(self.owes(request));
            }
        }
        owed
    }

    fn owes(&self, request: [u8; REQUEST]) -> Owed {
        let [_, function, first_high, first_low, count_high, count_low, ..] = request;
        if function != self.layout.registers.function() {
            return self.refusal(function, ILLEGAL_FUNCTION);
        }
        let first = u16::from_be_bytes([first_high, first_low]).checked_sub(self.layout.first);
        let count = u16::from_be_bytes([count_high, count_low]);
        match first {
            Some(first) if count > 0 && u32::from(first) + u32::from(count) <= u32::from(self.layout.count) => {
                Owed::Registers { first: first.into(), count: count.into() }
            }
            _ => self.refusal(function, ILLEGAL_ADDRESS),
        }
    }

    fn refusal(&self, function: u8, code: u8) -> Owed {
        let body = [self.layout.address, function | EXCEPTION, code];
        let [low, high] = Checksum::MODBUS.of(&body).to_le_bytes();
        let [address, function, code] = body;
        Owed::Refusal([address, function, code, low, high])
    }

    /// The bytes that pay what is owed, out of the answer with all registers.
    #[must_use]
    pub fn answer(&self, owed: Owed, all: &[u8]) -> Vec<u8> {
        match owed {
            Owed::Refusal(bytes) => bytes.to_vec(),
            Owed::Registers { first, count } => {
                let data = all.get(FRONT + 2 * first..FRONT + 2 * (first + count)).unwrap_or_default();
                let mut bytes = vec![self.layout.address, self.layout.registers.function(), data.len() as u8];
                bytes.extend_from_slice(data);
                let [low, high] = Checksum::MODBUS.of(&bytes).to_le_bytes();
                bytes.extend([low, high]);
                bytes
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::codec::{ByteOrder, Carried, Direction, Field, NumberKind, Registers};

    /// The usual example of function 3, registers 107 to 109 of slave 17; see the master's tests for its source.
    const REQUEST_107: [u8; 8] = [0x11, 0x03, 0x00, 0x6b, 0x00, 0x03, 0x76, 0x87];
    const ANSWER_107: [u8; 11] = [0x11, 0x03, 0x06, 0xae, 0x41, 0x56, 0x52, 0x43, 0x40, 0x49, 0xad];

    fn slave() -> ModbusSlave {
        let word = |at: usize| Field::new(FRONT + 2 * at, NumberKind::Unsigned(2), ByteOrder::Big);
        let direction = Direction::Force([word(0), word(1), word(2)]);
        let carried = Carried { direction, time: None, micros_per_tick: 1, counter: None, temperature: None };
        ModbusSlave::new(ModbusLayout { address: 17, registers: Registers::Holding, first: 107, count: 3, carried })
    }

    fn asked(function: u8, first: u8, count: u8) -> Vec<u8> {
        let mut bytes = vec![17, function, 0, first, 0, count];
        bytes.extend(Checksum::MODBUS.of(&bytes).to_le_bytes());
        bytes
    }

    #[test]
    fn the_usual_request_is_answered_as_in_the_usual_example() {
        let mut slave = slave();
        let (front, rest) = REQUEST_107.split_at(5);
        assert_eq!(slave.hear(&[&[0xff, 0x11], front].concat()), []);
        let owed = slave.hear(rest);
        assert_eq!(owed, [Owed::Registers { first: 0, count: 3 }]);
        assert_eq!(slave.answer(owed[0], &ANSWER_107), ANSWER_107);
    }

    #[test]
    fn a_part_of_the_registers_is_given_and_others_are_refused_as_a_master_understands() {
        let mut slave = slave();
        let owed = slave.hear(&asked(3, 108, 1));
        let answer = slave.answer(owed[0], &ANSWER_107);
        assert_eq!(answer[..5], [17, 3, 2, 0x56, 0x52]);
        for (request, code) in [
            (asked(3, 106, 3), ILLEGAL_ADDRESS),
            (asked(3, 109, 2), ILLEGAL_ADDRESS),
            (asked(4, 107, 3), ILLEGAL_FUNCTION),
        ] {
            let owed = slave.hear(&request);
            let mut layout = slave.layout.clone();
            if request[1] == 4 {
                layout.registers = Registers::Input;
            }
            let refusal = layout.refusal(&slave.answer(owed[0], &ANSWER_107)).unwrap();
            assert_eq!((refusal.address, refusal.code), (layout.address, code));
        }
    }

    #[test]
    fn a_request_for_another_slave_or_a_damaged_one_is_not_answered() {
        let mut slave = slave();
        let mut other = vec![18, 3, 0, 107, 0, 3];
        other.extend(Checksum::MODBUS.of(&other).to_le_bytes());
        let mut damaged = REQUEST_107;
        damaged[4] ^= 1;
        assert_eq!(slave.hear(&[&other[..], &damaged].concat()), []);
        assert_eq!(slave.hear(&REQUEST_107).len(), 1, "and the next one is heard");
    }
}
