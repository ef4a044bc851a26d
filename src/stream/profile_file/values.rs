//! Numbers at their places among bytes or registers: what the sections `[frame]` and `[modbus]` have in common.

use super::Mistake;
use super::direction::{Angles, direction};
use super::place::Fault;
use super::text::TimeUnit;
use crate::codec::{ByteOrder, Carried, Direction, Field, NumberKind};
use serde::{Deserialize, Serialize};

#[derive(Serialize, Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub(super) enum NumberType {
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
pub(super) enum First {
    Little,
    Big,
}

#[derive(Serialize, Deserialize, Clone, Copy)]
#[serde(deny_unknown_fields)]
pub(super) struct Place {
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
pub(super) struct Values {
    pub x: Option<Place>,
    pub y: Option<Place>,
    pub z: Option<Place>,
    pub pitch: Option<Place>,
    pub roll: Option<Place>,
    pub tilt: Option<Place>,
    pub angles: Option<Angles>,
    pub counter: Option<Place>,
    pub time: Option<Place>,
    pub time_unit: Option<TimeUnit>,
    pub temperature: Option<Place>,
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

/// How a place is turned into a field.
#[derive(Clone, Copy)]
pub(super) enum Counted {
    /// In bytes of a frame of this length.
    Bytes { length: usize, order: First },
    /// In registers.
    Registers { order: First },
}

impl Values {
    pub(super) fn carried(&self, counted: Counted) -> Result<Carried, Fault> {
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
                return Err(Fault::at(&[name], Mistake::NotUnsigned(name)));
            }
        }
        let micros_per_tick = super::text::tick(time.is_some(), self.time_unit)?;
        Ok(Carried { direction, time, micros_per_tick, counter, temperature: field("temperature", &self.temperature)? })
    }

    pub(super) fn of(carried: &Carried, place: impl Fn(&Field) -> Place) -> Self {
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
        let fault = |key: &str, mistake: Mistake| Err(Fault::at(&[name, key], mistake));
        let (scale, offset) = (self.scale.unwrap_or(1.0), self.offset.unwrap_or(0.0));
        if !scale.is_finite() || scale == 0.0 || !offset.is_finite() {
            return fault("scale", Mistake::Scale);
        }
        let (at, order) = match counted {
            Counted::Bytes { length, order } => {
                let at = usize::from(self.at);
                if at + kind.width() > length {
                    return fault("at", Mistake::Outside { key: name.to_owned(), length });
                }
                let little = self.order.unwrap_or(order) == First::Little;
                (at, if little { ByteOrder::Little } else { ByteOrder::Big })
            }
            Counted::Registers { order } => {
                if kind.width() % 2 == 1 {
                    return fault("type", Mistake::HalfRegister);
                }
                let little = self.order.unwrap_or(order) == First::Little;
                // Still counted in registers: moved to its byte when the first one is known.
                (usize::from(self.at), if little { ByteOrder::LowWordFirst } else { ByteOrder::Big })
            }
        };
        Ok(Field { at, kind, order, scale, offset })
    }

    pub(super) fn of(field: &Field, at: usize, first: First) -> Self {
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

pub(super) use section;
