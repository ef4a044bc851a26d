//! The profiles that need no file.

use super::codec::{
    ByteOrder, Carried, Checksum, ColumnsLayout, Direction, Field, FrameChecksum, FrameLayout, LabelledLayout,
    ModbusLayout, NumberKind, Registers, XdrLayout,
};
use super::ports::Parity;
use super::profile::{Format, Profile};
use crate::units::{AxisMap, Hertz};
use std::num::NonZeroU8;

impl Profile {
    /// A built-in profile.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Self> {
        match name {
            "sentence" => Some(Self::sentence()),
            "columns" => Some(Self::columns()),
            "labelled" => Some(Self::labelled()),
            "xdr" => Some(Self::xdr()),
            "frame" => Some(Self::frame()),
            "modbus" => Some(Self::modbus()),
            _ => None,
        }
    }

    /// The reference firmware: 16384 counts per g in 16 bits, 200 Hz, 115200 baud.
    #[must_use]
    pub fn sentence() -> Self {
        Self {
            name: "sentence".to_owned(),
            format: Format::Sentence,
            counts_per_g: 16_384.0,
            full_scale: Some(32_767.0),
            rate_is_sure: false,
            baud: 115_200,
            parity: Parity::None,
            rate: Some(Hertz::new(200.0)),
            axes: AxisMap::default(),
        }
    }

    /// x, y, z in g in the first three columns, 100 Hz, 115200 baud.
    #[must_use]
    pub fn columns() -> Self {
        let [x, y, z] = [NonZeroU8::MIN, NonZeroU8::MIN.saturating_add(1), NonZeroU8::MIN.saturating_add(2)];
        let layout =
            ColumnsLayout { axes: [x, y, z], time: None, micros_per_tick: 1, counter: None, temperature: None };
        Self { name: "columns".to_owned(), format: Format::Columns(layout), ..Self::in_g() }
    }

    /// `x:`, `y:`, `z:` in g, 100 Hz, 115200 baud.
    #[must_use]
    pub fn labelled() -> Self {
        let layout = LabelledLayout {
            axes: ["x", "y", "z"].map(str::to_owned),
            time: None,
            micros_per_tick: 1,
            counter: None,
            temperature: None,
        };
        Self { name: "labelled".to_owned(), format: Format::Labelled(layout), ..Self::in_g() }
    }

    /// Pitch and roll by the names that marine sensors give them, ten times a second, 4800 baud (NMEA 0183's own).
    #[must_use]
    pub fn xdr() -> Self {
        let names = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect();
        let direction = Direction::Attitude([names(&["PITCH", "PTCH"]), names(&["ROLL"])]);
        let format = Format::Xdr(XdrLayout { direction, temperature: None });
        Self { name: "xdr".to_owned(), format, baud: 4800, rate: Some(Hertz::new(10.0)), ..Self::in_g() }
    }

    /// What the reference firmware's sentence carries, in a binary frame of 18 bytes: sync `A7 5C`, counter, clock in µs, x,
    /// y, z, hundredths of °C, CRC-16/IBM-3740 over all before it; all numbers with the least significant byte first.
    #[must_use]
    pub fn frame() -> Self {
        let field = |at, kind| Field::new(at, kind, ByteOrder::Little);
        let axis = |at| field(at, NumberKind::Signed(2));
        let carried = Carried {
            direction: Direction::Force([axis(8), axis(10), axis(12)]),
            time: Some(field(4, NumberKind::Unsigned(4))),
            micros_per_tick: 1,
            counter: Some(field(2, NumberKind::Unsigned(2))),
            temperature: Some(Field { scale: 0.01, ..axis(14) }),
        };
        let checksum = Some(FrameChecksum { sum: Checksum::IBM_3740, at: 16, from: 0, big_endian: false });
        let layout = FrameLayout { sync: vec![0xa7, 0x5c], length: 18, cobs: false, carried, checksum };
        Self { name: "frame".to_owned(), format: Format::Frame(layout), ..Self::sentence() }
    }

    /// Slave 1, input registers 0 to 2: x, y, z in mg, asked for 20 times a second; 19200 baud with even parity, as the
    /// specification has it for a line of which nothing else is said.
    #[must_use]
    pub fn modbus() -> Self {
        let word = |at: usize| Field::new(super::codec::FRONT + 2 * at, NumberKind::Signed(2), ByteOrder::Big);
        let direction = Direction::Force([word(0), word(1), word(2)]);
        let carried = Carried { direction, time: None, micros_per_tick: 1, counter: None, temperature: None };
        let layout = ModbusLayout { address: 1, registers: Registers::Input, first: 0, count: 3, carried };
        Self {
            name: "modbus".to_owned(),
            format: Format::Modbus(layout),
            counts_per_g: 1000.0,
            full_scale: Some(32_767.0),
            baud: 19_200,
            parity: Parity::Even,
            rate: Some(Hertz::new(20.0)),
            ..Self::sentence()
        }
    }

    pub(super) fn in_g() -> Self {
        Self { counts_per_g: 1.0, full_scale: None, rate: Some(Hertz::new(100.0)), ..Self::sentence() }
    }
}
