//! The sections `[columns]`, `[labelled]` and `[xdr]`: numbers in lines of text.

use super::direction::{Angles, direction};
use super::place::Fault;
use super::{Holder, Mistake};
use crate::codec::{ColumnsLayout, Direction, LabelledLayout, MOST_COLUMNS, Names, XdrLayout};
use serde::{Deserialize, Serialize};
use std::num::NonZeroU8;

#[derive(Serialize, Deserialize, Clone, Copy)]
pub(super) enum TimeUnit {
    #[serde(rename = "us", alias = "µs")]
    Micros,
    #[serde(rename = "ms")]
    Millis,
    #[serde(rename = "s")]
    Seconds,
}

impl TimeUnit {
    const fn micros(self) -> u32 {
        match self {
            Self::Micros => 1,
            Self::Millis => 1000,
            Self::Seconds => 1_000_000,
        }
    }

    pub(super) const fn of(micros_per_tick: u32) -> Self {
        match micros_per_tick {
            1_000_000 => Self::Seconds,
            1000 => Self::Millis,
            _ => Self::Micros,
        }
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Columns {
    x: NonZeroU8,
    y: NonZeroU8,
    z: NonZeroU8,
    #[serde(skip_serializing_if = "Option::is_none")]
    time: Option<NonZeroU8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    time_unit: Option<TimeUnit>,
    #[serde(skip_serializing_if = "Option::is_none")]
    counter: Option<NonZeroU8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    temperature: Option<NonZeroU8>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Labelled {
    x: String,
    y: String,
    z: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    time: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    time_unit: Option<TimeUnit>,
    #[serde(skip_serializing_if = "Option::is_none")]
    counter: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    temperature: Option<String>,
}

impl Columns {
    pub(super) fn layout(&self) -> Result<ColumnsLayout, Fault> {
        let optional = [("time", self.time), ("counter", self.counter), ("temperature", self.temperature)];
        let needed = [("x", self.x), ("y", self.y), ("z", self.z)];
        let optional = optional.into_iter().filter_map(|(key, column)| Some((key, column?)));
        let named: Vec<(&str, u8)> =
            needed.into_iter().chain(optional).map(|(key, column)| (key, column.get())).collect();
        if let Some((key, high)) = named.iter().find(|(_, column)| *column > MOST_COLUMNS) {
            return Err(Fault::at(&[key], Mistake::ColumnTooHigh(*high)));
        }
        refuse_twice(&named, Holder::Column)?;
        Ok(ColumnsLayout {
            axes: [self.x, self.y, self.z],
            time: self.time,
            micros_per_tick: tick(self.time.is_some(), self.time_unit)?,
            counter: self.counter,
            temperature: self.temperature,
        })
    }

    pub(super) fn of(layout: &ColumnsLayout) -> Self {
        let [x, y, z] = layout.axes;
        let time_unit = layout.time.map(|_| TimeUnit::of(layout.micros_per_tick));
        let (counter, temperature) = (layout.counter, layout.temperature);
        Self { x, y, z, time: layout.time, time_unit, counter, temperature }
    }
}

impl Labelled {
    pub(super) fn layout(&self) -> Result<LabelledLayout, Fault> {
        let optional = [("time", &self.time), ("counter", &self.counter), ("temperature", &self.temperature)];
        let needed = [("x", &self.x), ("y", &self.y), ("z", &self.z)];
        let optional = optional.into_iter().filter_map(|(key, label)| Some((key, label.as_ref()?)));
        let named: Vec<(&str, String)> =
            needed.into_iter().chain(optional).map(|(key, label)| (key, label.to_ascii_lowercase())).collect();
        let breaks = |label: &str| label.is_empty() || label.contains([':', '=', ' ', '\t', ',', ';', '\n', '\r']);
        if let Some((key, label)) = named.iter().find(|(_, label)| breaks(label)) {
            return Err(Fault::at(&[key], Mistake::NoLabel(label.clone())));
        }
        refuse_twice(&named, Holder::Label)?;
        Ok(LabelledLayout {
            axes: [&self.x, &self.y, &self.z].map(Clone::clone),
            time: self.time.clone(),
            micros_per_tick: tick(self.time.is_some(), self.time_unit)?,
            counter: self.counter.clone(),
            temperature: self.temperature.clone(),
        })
    }

    pub(super) fn of(layout: &LabelledLayout) -> Self {
        let [x, y, z] = layout.axes.clone();
        let time_unit = layout.time.as_ref().map(|_| TimeUnit::of(layout.micros_per_tick));
        let (counter, temperature) = (layout.counter.clone(), layout.temperature.clone());
        Self { x, y, z, time: layout.time.clone(), time_unit, counter, temperature }
    }
}

/// A transducer's name, or several that it may have.
#[derive(Serialize, Deserialize, Clone)]
#[serde(untagged)]
enum Transducer {
    One(String),
    OneOf(Names),
}

impl Transducer {
    fn names(&self) -> Names {
        match self {
            Self::One(name) => vec![name.clone()],
            Self::OneOf(names) => names.clone(),
        }
    }

    fn of(names: &Names) -> Self {
        match names.as_slice() {
            [only] => Self::One(only.clone()),
            _ => Self::OneOf(names.clone()),
        }
    }
}

#[derive(Serialize, Deserialize, Default)]
#[serde(deny_unknown_fields)]
pub(super) struct Xdr {
    #[serde(skip_serializing_if = "Option::is_none")]
    pitch: Option<Transducer>,
    #[serde(skip_serializing_if = "Option::is_none")]
    roll: Option<Transducer>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tilt: Option<Transducer>,
    #[serde(skip_serializing_if = "Option::is_none")]
    angles: Option<Angles>,
    #[serde(skip_serializing_if = "Option::is_none")]
    temperature: Option<Transducer>,
}

impl Xdr {
    pub(super) fn layout(&self) -> Result<XdrLayout, Fault> {
        let named =
            [("pitch", &self.pitch), ("roll", &self.roll), ("tilt", &self.tilt), ("temperature", &self.temperature)];
        let mut all: Vec<(&str, String)> = Vec::new();
        for (key, transducer) in named.into_iter().filter_map(|(key, transducer)| Some((key, transducer.as_ref()?))) {
            let names = transducer.names();
            let breaks = |name: &String| {
                name.is_empty()
                    || name.bytes().any(|byte| !(b' '..=b'~').contains(&byte) || b",*$!\\^~".contains(&byte))
            };
            if names.is_empty() || names.iter().any(breaks) {
                return Err(Fault::at(&[key], Mistake::NoTransducer));
            }
            all.extend(names.into_iter().map(|name| (key, name.to_ascii_lowercase())));
        }
        refuse_twice(&all, Holder::Name)?;
        let names = |transducer: &Option<Transducer>| transducer.as_ref().map(Transducer::names);
        let force = [None, None, None];
        let direction = direction(force, [names(&self.pitch), names(&self.roll)], names(&self.tilt), self.angles);
        // An angle is all that these sentences bring.
        let missing = |_| Fault::at(&["pitch"], Mistake::XdrAngles);
        Ok(XdrLayout { direction: direction.map_err(missing)?, temperature: names(&self.temperature) })
    }

    pub(super) fn of(layout: &XdrLayout) -> Self {
        let mut section = Self { temperature: layout.temperature.as_ref().map(Transducer::of), ..Self::default() };
        match &layout.direction {
            Direction::Inclinations([pitch, roll]) | Direction::Attitude([pitch, roll]) => {
                (section.pitch, section.roll) = (Some(Transducer::of(pitch)), Some(Transducer::of(roll)));
                let inclined = matches!(layout.direction, Direction::Inclinations(_));
                section.angles = Some(if inclined { Angles::Inclinations } else { Angles::Attitude });
            }
            Direction::Tilt(tilt) => section.tilt = Some(Transducer::of(tilt)),
            Direction::Force(_) => {}
        }
        section
    }
}

fn refuse_twice<T: PartialEq + ToString>(named: &[(&str, T)], kind: Holder) -> Result<(), Fault> {
    let twice = named.iter().enumerate().find(|(at, (_, name))| named.iter().take(*at).any(|(_, other)| other == name));
    twice.map_or(Ok(()), |(_, (key, name))| Err(Fault::at(&[key], Mistake::Twice { kind, name: name.to_string() })))
}

pub(super) fn tick(has_time: bool, unit: Option<TimeUnit>) -> Result<u32, Fault> {
    match (has_time, unit) {
        (true, Some(unit)) => Ok(unit.micros()),
        (true, None) => Err(Fault::at(&["time"], Mistake::TimeUnitMissing)),
        (false, Some(_)) => Err(Fault::at(&["time_unit"], Mistake::TimeMissing)),
        (false, None) => Ok(1),
    }
}
