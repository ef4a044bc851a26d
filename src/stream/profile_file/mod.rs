//! Profiles out of TOML, and into it. Every mistake is shown with its line and its place.

mod direction;
mod frame;
mod mistake;
mod modbus;
mod place;
mod text;
mod values;

use super::ports::Parity;
use super::profile::{Format, Profile, ProfileError};
use crate::units::{AxisMap, Hertz};
use frame::FrameSection;
pub use mistake::{Holder, Mistake};
use modbus::ModbusSection;
use place::Fault;
pub use place::Mark;
use serde::{Deserialize, Serialize};
use text::{Columns, Labelled, Xdr};

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(skip_serializing_if = "Option::is_none")]
    name: Option<String>,
    format: FormatName,
    #[serde(skip_serializing_if = "Option::is_none")]
    counts_per_g: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    unit: Option<Unit>,
    #[serde(skip_serializing_if = "Option::is_none")]
    full_scale: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    baud: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    parity: Option<Parity>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rate_hz: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    axes: Option<AxisMap>,
    #[serde(skip_serializing_if = "Option::is_none")]
    columns: Option<Columns>,
    #[serde(skip_serializing_if = "Option::is_none")]
    labelled: Option<Labelled>,
    #[serde(skip_serializing_if = "Option::is_none")]
    xdr: Option<Xdr>,
    #[serde(skip_serializing_if = "Option::is_none")]
    frame: Option<FrameSection>,
    #[serde(skip_serializing_if = "Option::is_none")]
    modbus: Option<ModbusSection>,
}

#[derive(Serialize, Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
enum FormatName {
    Sentence,
    Columns,
    Labelled,
    Xdr,
    Frame,
    Modbus,
}

/// The unit of the numbers on the wire, where they are no bare counts.
#[derive(Serialize, Deserialize, Clone, Copy)]
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

pub(super) fn read(text: &str, origin: &str) -> Result<Profile, ProfileError> {
    let name = || origin.to_owned();
    let no_toml = |error: toml::de::Error| ProfileError::NotToml { name: name(), reason: error.to_string() };
    let wrong = |fault: Fault| ProfileError::Wrong { name: name(), mark: fault.mark(text), mistake: fault.mistake };
    let profile = profile(toml::from_str(text).map_err(no_toml)?, origin).map_err(wrong)?;
    match profile.fault() {
        Some((key, mistake)) => Err(wrong(Fault::at(&[key], mistake))),
        None => Ok(profile),
    }
}

pub(super) fn write(profile: &Profile) -> Result<String, ProfileError> {
    let refused =
        |error: toml::ser::Error| ProfileError::NotToml { name: profile.name.clone(), reason: error.to_string() };
    toml::to_string(&File::of(profile)).map_err(refused)
}

fn profile(file: File, origin: &str) -> Result<Profile, Fault> {
    let format = format(&file)?;
    let base = match file.format {
        FormatName::Sentence => Profile::sentence(),
        FormatName::Modbus => Profile { full_scale: None, ..Profile::modbus() },
        FormatName::Xdr => Profile::xdr(),
        FormatName::Columns | FormatName::Labelled | FormatName::Frame => Profile::columns(),
    };
    // A file that does not say its rate has none: a guess would bend the time axis. A slave is asked at some rate.
    let has_rate = matches!(file.format, FormatName::Sentence | FormatName::Modbus);
    let profile = Profile {
        name: file.name.clone().unwrap_or_else(|| origin.to_owned()),
        counts_per_g: base.counts_per_g,
        full_scale: file.full_scale.or(base.full_scale),
        baud: file.baud.unwrap_or(base.baud),
        parity: file.parity.unwrap_or(base.parity),
        rate: file.rate_hz.map(Hertz::new).or(if has_rate { base.rate } else { None }),
        rate_is_sure: false,
        axes: file.axes.unwrap_or_default(),
        format,
    };
    let counts_per_g = counts_per_g(&file, &profile)?;
    Ok(Profile { counts_per_g, ..profile })
}

fn counts_per_g(file: &File, profile: &Profile) -> Result<f64, Fault> {
    if profile.is_angle_only() {
        let key = if file.unit.is_some() { "unit" } else { "counts_per_g" };
        return match (file.counts_per_g, file.unit) {
            (None, None) => Ok(1.0),
            _ => Err(Fault::at(&[key], Mistake::CountsOfAngles)),
        };
    }
    match (file.counts_per_g, file.unit) {
        (Some(_), Some(_)) => Err(Fault::at(&["unit"], Mistake::CountsAndUnit)),
        (Some(counts), None) => Ok(counts),
        (None, Some(unit)) => Ok(unit.per_g()),
        (None, None) if file.format == FormatName::Sentence => Ok(profile.counts_per_g),
        (None, None) => Err(Fault::at(&["format"], Mistake::UnitMissing)),
    }
}

fn format(file: &File) -> Result<Format, Fault> {
    let sections = [
        ("columns", file.columns.is_some(), FormatName::Columns),
        ("labelled", file.labelled.is_some(), FormatName::Labelled),
        ("xdr", file.xdr.is_some(), FormatName::Xdr),
        ("frame", file.frame.is_some(), FormatName::Frame),
        ("modbus", file.modbus.is_some(), FormatName::Modbus),
    ];
    if let Some((section, ..)) = sections.iter().find(|(_, is_there, format)| *is_there && *format != file.format) {
        return Err(Fault::at(&[section], Mistake::OtherSection(section)));
    }
    let own = sections.iter().find(|(.., format)| *format == file.format).map_or("", |(section, ..)| *section);
    let format = match file.format {
        FormatName::Sentence => Some(Ok(Format::Sentence)),
        FormatName::Columns => file.columns.as_ref().map(|section| section.layout().map(Format::Columns)),
        FormatName::Labelled => file.labelled.as_ref().map(|section| section.layout().map(Format::Labelled)),
        FormatName::Xdr => file.xdr.as_ref().map(|section| section.layout().map(Format::Xdr)),
        FormatName::Frame => file.frame.as_ref().map(|section| section.layout().map(Format::Frame)),
        FormatName::Modbus => file.modbus.as_ref().map(|section| section.layout().map(Format::Modbus)),
    };
    let format = format.ok_or_else(|| Fault::at(&["format"], Mistake::SectionMissing(own)))?;
    format.map_err(|fault| fault.under(own))
}

impl File {
    fn of(profile: &Profile) -> Self {
        let mut file = Self {
            name: Some(profile.name.clone()),
            format: FormatName::Sentence,
            counts_per_g: (!profile.is_angle_only()).then_some(profile.counts_per_g),
            unit: None,
            full_scale: profile.full_scale,
            baud: Some(profile.baud),
            parity: Some(profile.parity),
            rate_hz: profile.rate.map(Hertz::value),
            axes: Some(profile.axes),
            columns: None,
            labelled: None,
            xdr: None,
            frame: None,
            modbus: None,
        };
        match &profile.format {
            Format::Sentence => {}
            Format::Columns(layout) => (file.format, file.columns) = (FormatName::Columns, Some(Columns::of(layout))),
            Format::Labelled(layout) => {
                (file.format, file.labelled) = (FormatName::Labelled, Some(Labelled::of(layout)));
            }
            Format::Xdr(layout) => (file.format, file.xdr) = (FormatName::Xdr, Some(Xdr::of(layout))),
            Format::Frame(layout) => (file.format, file.frame) = (FormatName::Frame, Some(FrameSection::of(layout))),
            Format::Modbus(layout) => {
                (file.format, file.modbus) = (FormatName::Modbus, Some(ModbusSection::of(layout)));
            }
        }
        file
    }
}
