//! The sections `[frame]` and `[modbus]`: numbers at their places among bytes or registers.

use super::place::Fault;
use super::text::TimeUnit;
use crate::stream::codec::{
    ByteOrder, Carried, Checksum, Direction, FRONT, Field, FrameChecksum, FrameLayout, LONGEST_FRAME, MOST_REGISTERS,
    ModbusLayout, NumberKind, Registers,
};
use serde::{Deserialize, Serialize};

#[derive(Serialize, Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
enum NumberType {
    U8,
    I8,
    U16,
    I16,
    U24,
    I24,
    U32,
    I32,
    F32,
    F64,
}

impl NumberType {
    const ALL: [(Self, NumberKind); 10] = [
        (Self::U8, NumberKind::Unsigned(1)),
        (Self::I8, NumberKind::Signed(1)),
        (Self::U16, NumberKind::Unsigned(2)),
        (Self::I16, NumberKind::Signed(2)),
        (Self::U24, NumberKind::Unsigned(3)),
        (Self::I24, NumberKind::Signed(3)),
        (Self::U32, NumberKind::Unsigned(4)),
        (Self::I32, NumberKind::Signed(4)),
        (Self::F32, NumberKind::Single),
        (Self::F64, NumberKind::Double),
    ];

    fn kind(self) -> NumberKind {
        Self::ALL.iter().find(|(name, _)| *name == self).map_or(NumberKind::Signed(2), |(_, kind)| *kind)
    }

    fn of(kind: NumberKind) -> Self {
        Self::ALL.iter().find(|(_, known)| *known == kind).map_or(Self::I16, |(name, _)| *name)
    }
}

/// Which end of a number comes first: its bytes in a frame, its registers with Modbus.
#[derive(Serialize, Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
enum First {
    Little,
    Big,
}

#[derive(Serialize, Deserialize, Clone, Copy)]
#[serde(deny_unknown_fields)]
struct Place {
    at: u16,
    #[serde(rename = "type")]
    kind: NumberType,
    #[serde(skip_serializing_if = "Option::is_none")]
    order: Option<First>,
    #[serde(skip_serializing_if = "Option::is_none")]
    scale: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    offset: Option<f64>,
}

/// What both sections carry.
#[derive(Clone, Copy, Default)]
struct Values {
    x: Option<Place>,
    y: Option<Place>,
    z: Option<Place>,
    pitch: Option<Place>,
    roll: Option<Place>,
    tilt: Option<Place>,
    angles: Option<Angles>,
    counter: Option<Place>,
    time: Option<Place>,
    time_unit: Option<TimeUnit>,
    temperature: Option<Place>,
}

/// A section with keys of its own and those of [`Values`] beside them, so that a key that is neither is refused with its
/// line.
macro_rules! section {
    ($(#[$doc:meta])* $name:ident { $($(#[$meta:meta])* $field:ident: $kind:ty,)* }) => {
        section! { @with $(#[$doc])* $name { $($(#[$meta])* $field: $kind,)* }
            { x: Place, y: Place, z: Place, pitch: Place, roll: Place, tilt: Place, angles: Angles, counter: Place,
              time: Place, time_unit: TimeUnit, temperature: Place } }
    };
    (@with $(#[$doc:meta])* $name:ident { $($(#[$meta:meta])* $field:ident: $kind:ty,)* } { $($value:ident: $of:ty),* }) => {
        $(#[$doc])*
        #[derive(Serialize, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub(super) struct $name {
            $($(#[$meta])* $field: $kind,)*
            $(#[serde(skip_serializing_if = "Option::is_none")] $value: Option<$of>,)*
        }

        impl $name {
            const fn values(&self) -> Values {
                Values { $($value: self.$value),* }
            }

            const fn assembled($($field: $kind,)* values: Values) -> Self {
                Self { $($field,)* $($value: values.$value),* }
            }
        }
    };
}

/// What two angles mean.
#[derive(Serialize, Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub(super) enum Angles {
    Attitude,
    Inclinations,
}

/// Which of the ways to tell a direction a section takes; `Err` names what is missing.
pub(super) fn direction<T>(
    force: [Option<T>; 3],
    angles: [Option<T>; 2],
    tilt: Option<T>,
    meaning: Option<Angles>,
) -> Result<Direction<T>, Fault> {
    let (any_force, any_angle) = (force.iter().any(Option::is_some), angles.iter().any(Option::is_some));
    if usize::from(any_force) + usize::from(any_angle) + usize::from(tilt.is_some()) > 1 {
        return Err(Fault::at(&[], "one direction is told in two ways: keep x, y, z, or pitch and roll, or tilt"));
    }
    if meaning.is_some() && !any_angle {
        return Err(Fault::at(&["angles"], "angles says what pitch and roll mean: without them leave it out"));
    }
    match (force, angles, tilt) {
        ([Some(x), Some(y), Some(z)], _, _) => Ok(Direction::Force([x, y, z])),
        (_, [Some(pitch), Some(roll)], _) => Ok(match meaning {
            Some(Angles::Inclinations) => Direction::Inclinations([pitch, roll]),
            _ => Direction::Attitude([pitch, roll]),
        }),
        (_, _, Some(tilt)) => Ok(Direction::Tilt(tilt)),
        _ if any_force => Err(Fault::at(&["x"], "x, y and z are needed, all three")),
        _ if any_angle => Err(Fault::at(&["pitch"], "pitch and roll are needed, both; a single angle is tilt")),
        _ => Err(Fault::at(&[], "where is the direction? add x, y and z, or pitch and roll, or tilt")),
    }
}

/// How a place is turned into a field.
#[derive(Clone, Copy)]
enum Counted {
    /// In bytes of a frame of this length.
    Bytes { length: usize, order: First },
    /// In registers.
    Registers { order: First },
}

impl Values {
    fn carried(&self, counted: Counted) -> Result<Carried, Fault> {
        let field =
            |name: &str, place: &Option<Place>| place.as_ref().map(|place| place.field(name, counted)).transpose();
        let direction = direction(
            [field("x", &self.x)?, field("y", &self.y)?, field("z", &self.z)?],
            [field("pitch", &self.pitch)?, field("roll", &self.roll)?],
            field("tilt", &self.tilt)?,
            self.angles,
        )?;
        let (time, counter) = (field("time", &self.time)?, field("counter", &self.counter)?);
        for (name, field) in [("time", time), ("counter", counter)] {
            let plain = |field: &Field| {
                matches!(field.kind, NumberKind::Unsigned(_)) && (field.scale, field.offset) == (1.0, 0.0)
            };
            if !field.as_ref().is_none_or(plain) {
                return Err(Fault::at(
                    &[name],
                    format!("the {name} must be a plain unsigned number, such as type = \"u16\""),
                ));
            }
        }
        let micros_per_tick = super::text::tick(time.is_some(), self.time_unit)?;
        Ok(Carried { direction, time, micros_per_tick, counter, temperature: field("temperature", &self.temperature)? })
    }

    fn of(carried: &Carried, place: impl Fn(&Field) -> Place) -> Self {
        let mut values = Self {
            counter: carried.counter.as_ref().map(&place),
            time: carried.time.as_ref().map(&place),
            time_unit: carried.time.map(|_| TimeUnit::of(carried.micros_per_tick)),
            temperature: carried.temperature.as_ref().map(&place),
            ..Self::default()
        };
        match &carried.direction {
            Direction::Force(axes) => {
                let [x, y, z] = axes.each_ref().map(|field| Some(place(field)));
                (values.x, values.y, values.z) = (x, y, z);
            }
            Direction::Inclinations([pitch, roll]) | Direction::Attitude([pitch, roll]) => {
                (values.pitch, values.roll) = (Some(place(pitch)), Some(place(roll)));
                let inclined = matches!(carried.direction, Direction::Inclinations(_));
                values.angles = Some(if inclined { Angles::Inclinations } else { Angles::Attitude });
            }
            Direction::Tilt(tilt) => values.tilt = Some(place(tilt)),
        }
        values
    }
}

impl Place {
    fn field(&self, name: &str, counted: Counted) -> Result<Field, Fault> {
        let kind = self.kind.kind();
        let fault = |key: &str, said: String| Err(Fault::at(&[name, key], said));
        let (scale, offset) = (self.scale.unwrap_or(1.0), self.offset.unwrap_or(0.0));
        if !scale.is_finite() || scale == 0.0 || !offset.is_finite() {
            return fault("scale", "scale must not be 0, and scale and offset must be finite numbers".to_owned());
        }
        let (at, order) = match counted {
            Counted::Bytes { length, order } => {
                let at = usize::from(self.at);
                if at + kind.width() > length {
                    return fault("at", format!("{name} ends behind the frame of {length} bytes; bytes count from 0"));
                }
                let little = self.order.unwrap_or(order) == First::Little;
                (at, if little { ByteOrder::Little } else { ByteOrder::Big })
            }
            Counted::Registers { order } => {
                if kind.width() % 2 == 1 {
                    return fault("type", "a register holds 16 bits: name a type of 16, 32 or 64 bits".to_owned());
                }
                let little = self.order.unwrap_or(order) == First::Little;
                // Still counted in registers: moved to its byte when the first one is known.
                (usize::from(self.at), if little { ByteOrder::LowWordFirst } else { ByteOrder::Big })
            }
        };
        Ok(Field { at, kind, order, scale, offset })
    }

    fn of(field: &Field, at: usize, first: First) -> Self {
        let order = if field.order == ByteOrder::Big { First::Big } else { First::Little };
        Self {
            at: u16::try_from(at).unwrap_or(u16::MAX),
            kind: NumberType::of(field.kind),
            order: (order != first).then_some(order),
            scale: (field.scale != 1.0).then_some(field.scale),
            offset: (field.offset != 0.0).then_some(field.offset),
        }
    }
}

section! {
    /// The section `[frame]`.
    FrameSection {
        #[serde(default, skip_serializing_if = "String::is_empty")]
        sync: String,
        length: u16,
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        cobs: bool,
        order: First,
        #[serde(skip_serializing_if = "Option::is_none")]
        checksum: Option<ChecksumPlace>,
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ChecksumPlace {
    kind: String,
    at: u16,
    #[serde(default, skip_serializing_if = "is_zero")]
    from: u16,
    #[serde(skip_serializing_if = "Option::is_none")]
    order: Option<First>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes a reference")]
const fn is_zero(number: &u16) -> bool {
    *number == 0
}

impl FrameSection {
    pub(super) fn layout(&self) -> Result<FrameLayout, Fault> {
        let length = usize::from(self.length);
        let sync = hexadecimal(&self.sync).ok_or_else(|| {
            Fault::at(&["sync"], format!("'{}' is not hexadecimal: write bytes such as \"A7 5C\"", self.sync))
        })?;
        if length == 0 || length > LONGEST_FRAME {
            return Err(Fault::at(
                &["length"],
                format!("a frame has 1 to {LONGEST_FRAME} bytes, sync and checksum included"),
            ));
        }
        if sync.len() > length {
            return Err(Fault::at(&["sync"], "the sync bytes are longer than the frame"));
        }
        if sync.is_empty() && !self.cobs {
            return Err(Fault::at(
                &["sync"],
                "by what does a frame begin? add sync = \"A7 5C\"; only with cobs = true may it be missing",
            ));
        }
        let checksum = self.checksum.as_ref().map(|place| place.checksum(length, self.order)).transpose()?;
        let carried = self.values().carried(Counted::Bytes { length, order: self.order })?;
        Ok(FrameLayout { sync, length, cobs: self.cobs, carried, checksum: checksum.flatten() })
    }

    pub(super) fn of(layout: &FrameLayout) -> Self {
        let sync: Vec<String> = layout.sync.iter().map(|byte| format!("{byte:02X}")).collect();
        Self::assembled(
            sync.join(" "),
            u16::try_from(layout.length).unwrap_or(u16::MAX),
            layout.cobs,
            First::Little,
            layout.checksum.as_ref().map(ChecksumPlace::of),
            Values::of(&layout.carried, |field| Place::of(field, field.at, First::Little)),
        )
    }
}

impl ChecksumPlace {
    fn checksum(&self, length: usize, order: First) -> Result<Option<FrameChecksum>, Fault> {
        if self.kind.eq_ignore_ascii_case("none") {
            return Ok(None);
        }
        let fault = |key: &str, said: String| Fault::at(&["checksum", key], said);
        let sum: Checksum = self.kind.parse().map_err(|said: String| fault("kind", said))?;
        let (at, from) = (usize::from(self.at), usize::from(self.from));
        if at + sum.width() > length {
            return Err(fault(
                "at",
                format!("the checksum ends behind the frame of {length} bytes; bytes count from 0"),
            ));
        }
        if from >= at {
            return Err(fault("from", "the checksum covers the bytes before it, beginning with from".to_owned()));
        }
        Ok(Some(FrameChecksum { sum, at, from, big_endian: self.order.unwrap_or(order) == First::Big }))
    }

    fn of(checksum: &FrameChecksum) -> Self {
        Self {
            kind: checksum.sum.name().to_owned(),
            at: u16::try_from(checksum.at).unwrap_or(u16::MAX),
            from: u16::try_from(checksum.from).unwrap_or(u16::MAX),
            order: checksum.big_endian.then_some(First::Big),
        }
    }
}

fn hexadecimal(text: &str) -> Option<Vec<u8>> {
    let digits: Vec<u8> = text.bytes().filter(|byte| !byte.is_ascii_whitespace()).collect();
    if digits.len() % 2 == 1 {
        return None;
    }
    let digit = |byte: u8| char::from(byte).to_digit(16).and_then(|digit| u8::try_from(digit).ok());
    digits.chunks(2).map(|pair| Some(digit(*pair.first()?)? << 4 | digit(*pair.get(1)?)?)).collect()
}

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
            return Err(Fault::at(&["address"], "a slave's address is 1 to 247"));
        }
        let mut carried = self.values().carried(Counted::Registers { order: self.order.unwrap_or(First::Big) })?;
        let first = carried.fields().map(|field| field.at).min().unwrap_or(0);
        let end = carried.fields().map(|field| field.at + field.kind.width() / 2).max().unwrap_or(1);
        let count = u16::try_from(end - first).ok().filter(|count| *count <= MOST_REGISTERS && end <= 0x1_0000);
        let Some(count) = count else {
            return Err(Fault::at(
                &[],
                format!("the registers lie too far apart: at most {MOST_REGISTERS} are asked for at once"),
            ));
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
