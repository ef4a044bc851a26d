//! Profiles out of TOML. The message of a syntax error, or of a key that is unknown, shows the line and the place.

use super::codec::{ColumnsLayout, LabelledLayout, MOST_COLUMNS};
use super::profile::{Format, Profile, ProfileError};
use crate::units::{AxisMap, Hertz};
use serde::Deserialize;
use std::num::NonZeroU8;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    name: Option<String>,
    format: FormatName,
    counts_per_g: Option<f64>,
    unit: Option<Unit>,
    full_scale: Option<f64>,
    baud: Option<u32>,
    rate_hz: Option<f64>,
    axes: Option<AxisMap>,
    columns: Option<Columns>,
    labelled: Option<Labelled>,
}

#[derive(Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
enum FormatName {
    Sentence,
    Columns,
    Labelled,
}

/// The unit of the numbers on the wire, where they are no bare counts.
#[derive(Deserialize, Clone, Copy)]
enum Unit {
    #[serde(rename = "g")]
    G,
    #[serde(rename = "mg")]
    MilliG,
    #[serde(rename = "m/s²", alias = "m/s2")]
    MetresPerSecondSquared,
}

impl Unit {
    /// Standard gravity, 9.80665 m/s², after the 3rd General Conference on Weights and Measures (1901).
    const fn per_g(self) -> f64 {
        match self {
            Self::G => 1.0,
            Self::MilliG => 1000.0,
            Self::MetresPerSecondSquared => 9.806_65,
        }
    }
}

#[derive(Deserialize, Clone, Copy)]
enum TimeUnit {
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
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Columns {
    x: NonZeroU8,
    y: NonZeroU8,
    z: NonZeroU8,
    time: Option<NonZeroU8>,
    time_unit: Option<TimeUnit>,
    counter: Option<NonZeroU8>,
    temperature: Option<NonZeroU8>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Labelled {
    x: String,
    y: String,
    z: String,
    time: Option<String>,
    time_unit: Option<TimeUnit>,
    counter: Option<String>,
    temperature: Option<String>,
}

pub(super) fn read(text: &str, origin: &str) -> Result<Profile, ProfileError> {
    let file: File = toml::from_str(text).map_err(|error| ProfileError::NotUnderstood {
        name: origin.to_owned(),
        reason: error.to_string().trim_end().to_owned(),
    })?;
    profile(file, origin).map_err(|reason| ProfileError::Impossible { name: origin.to_owned(), reason })?.checked()
}

fn profile(file: File, origin: &str) -> Result<Profile, String> {
    let format = format(&file)?;
    let base = if format == Format::Sentence { Profile::sentence() } else { Profile::columns() };
    let counts_per_g = match (file.counts_per_g, file.unit) {
        (Some(_), Some(_)) => return Err("give either counts_per_g or unit, not both".to_owned()),
        (Some(counts), None) => counts,
        (None, Some(unit)) => unit.per_g(),
        (None, None) if format == Format::Sentence => base.counts_per_g,
        (None, None) => {
            return Err(
                "what are the numbers in? write unit = \"g\", \"mg\" or \"m/s²\", or counts_per_g = 16384".to_owned()
            );
        }
    };
    Ok(Profile {
        name: file.name.unwrap_or_else(|| origin.to_owned()),
        counts_per_g,
        full_scale: file.full_scale.or(base.full_scale),
        baud: file.baud.unwrap_or(base.baud),
        // A file that does not say its rate has none: a guess would bend the time axis.
        rate: file.rate_hz.map(Hertz::new).or(if format == Format::Sentence { base.rate } else { None }),
        rate_is_sure: false,
        axes: file.axes.unwrap_or_default(),
        format,
    })
}

fn format(file: &File) -> Result<Format, String> {
    let misplaced = |section: &str| Err(format!("the section [{section}] does not go with this format: remove it"));
    if file.columns.is_some() && file.format != FormatName::Columns {
        return misplaced("columns");
    }
    if file.labelled.is_some() && file.format != FormatName::Labelled {
        return misplaced("labelled");
    }
    match file.format {
        FormatName::Sentence => Ok(Format::Sentence),
        FormatName::Columns => file.columns.as_ref().map_or_else(
            || Err("which column is what? add a section [columns] with x = 1, y = 2, z = 3".to_owned()),
            |columns| columns_layout(columns).map(Format::Columns),
        ),
        FormatName::Labelled => file.labelled.as_ref().map_or_else(
            || Err("which label is what? add a section [labelled] with x = \"x\", y = \"y\", z = \"z\"".to_owned()),
            |labelled| labelled_layout(labelled).map(Format::Labelled),
        ),
    }
}

fn columns_layout(section: &Columns) -> Result<ColumnsLayout, String> {
    let named = [Some(section.x), Some(section.y), Some(section.z), section.time, section.counter, section.temperature];
    let named: Vec<u8> = named.into_iter().flatten().map(NonZeroU8::get).collect();
    if let Some(high) = named.iter().find(|column| **column > MOST_COLUMNS) {
        return Err(format!("column {high} is beyond the {MOST_COLUMNS} columns that are read"));
    }
    refuse_twice(&named, "column")?;
    Ok(ColumnsLayout {
        axes: [section.x, section.y, section.z],
        time: section.time,
        micros_per_tick: tick(section.time.is_some(), section.time_unit)?,
        counter: section.counter,
        temperature: section.temperature,
    })
}

fn labelled_layout(section: &Labelled) -> Result<LabelledLayout, String> {
    let optional = [&section.time, &section.counter, &section.temperature];
    let named = [&section.x, &section.y, &section.z].into_iter().chain(optional.into_iter().flatten());
    let named: Vec<String> = named.map(|label| label.to_ascii_lowercase()).collect();
    let breaks = |label: &&String| label.is_empty() || label.contains([':', '=', ' ', '\t', ',', ';', '\n', '\r']);
    if let Some(label) = named.iter().find(breaks) {
        return Err(format!("'{label}' cannot be a label: leave out blanks and the signs : = , ;"));
    }
    refuse_twice(&named, "label")?;
    Ok(LabelledLayout {
        axes: [&section.x, &section.y, &section.z].map(Clone::clone),
        time: section.time.clone(),
        micros_per_tick: tick(section.time.is_some(), section.time_unit)?,
        counter: section.counter.clone(),
        temperature: section.temperature.clone(),
    })
}

fn refuse_twice<T: PartialEq + std::fmt::Display>(named: &[T], what: &str) -> Result<(), String> {
    let twice = named.iter().enumerate().find(|(at, name)| named.iter().take(*at).any(|other| other == *name));
    twice.map_or(Ok(()), |(_, name)| Err(format!("the {what} {name} is named twice: each one holds one thing")))
}

fn tick(has_time: bool, unit: Option<TimeUnit>) -> Result<u32, String> {
    match (has_time, unit) {
        (true, Some(unit)) => Ok(unit.micros()),
        (true, None) => Err("in what unit is time? add time_unit = \"us\", \"ms\" or \"s\"".to_owned()),
        (false, Some(_)) => {
            Err("time_unit is given, but not where time stands: add time, or leave time_unit out".to_owned())
        }
        (false, None) => Ok(1),
    }
}
