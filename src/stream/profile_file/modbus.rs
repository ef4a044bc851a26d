//! The section `[modbus]`: numbers in the registers of a slave.

use super::Mistake;
use super::direction::Angles;
use super::place::Fault;
use super::text::TimeUnit;
use super::values::{Counted, First, Place, Values, section};
use crate::codec::{Carried, Direction, FRONT, Field, MOST_REGISTERS, ModbusLayout, Registers};
use serde::{Deserialize, Serialize};

section! {
    /// The section `[modbus]`.
    ModbusSection {
        address: u8,
        registers: Kind,
        #[serde(skip_serializing_if = "Option::is_none")]
        order: Option<First>,
    }
}

#[derive(Serialize, Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
enum Kind {
    Input,
    Holding,
}

impl ModbusSection {
    pub(super) fn layout(&self) -> Result<ModbusLayout, Fault> {
        if !(1..=247).contains(&self.address) {
            return Err(Fault::at(&["address"], Mistake::SlaveAddress));
        }
        let mut carried = self.values().carried(Counted::Registers { order: self.order.unwrap_or(First::Big) })?;
        let first = carried.fields().map(|field| field.at).min().unwrap_or(0);
        let end = carried.fields().map(|field| field.at + field.kind.width() / 2).max().unwrap_or(1);
        let count = u16::try_from(end - first).ok().filter(|count| *count <= MOST_REGISTERS && end <= 0x1_0000);
        let Some(count) = count else {
            return Err(Fault::at(&[], Mistake::RegistersApart));
        };
        carried = to_bytes(carried, first);
        let registers = if self.registers == Kind::Input { Registers::Input } else { Registers::Holding };
        Ok(ModbusLayout {
            address: self.address,
            registers,
            first: u16::try_from(first).unwrap_or(u16::MAX),
            count,
            carried,
        })
    }

    pub(super) fn of(layout: &ModbusLayout) -> Self {
        let first = usize::from(layout.first);
        let place = |field: &Field| Place::of(field, first + field.at.saturating_sub(FRONT) / 2, First::Big);
        let registers = if layout.registers == Registers::Input { Kind::Input } else { Kind::Holding };
        Self::assembled(layout.address, registers, None, Values::of(&layout.carried, place))
    }
}

/// From registers to bytes of the answer.
fn to_bytes(carried: Carried, first: usize) -> Carried {
    let moved = |field: Field| Field { at: FRONT + 2 * (field.at - first), ..field };
    let direction = match carried.direction {
        Direction::Force(axes) => Direction::Force(axes.map(moved)),
        Direction::Inclinations(angles) => Direction::Inclinations(angles.map(moved)),
        Direction::Attitude(angles) => Direction::Attitude(angles.map(moved)),
        Direction::Tilt(angle) => Direction::Tilt(moved(angle)),
    };
    Carried {
        direction,
        time: carried.time.map(moved),
        counter: carried.counter.map(moved),
        temperature: carried.temperature.map(moved),
        ..carried
    }
}
