//! What a command takes over from a setup in the logbook.

use super::shown::Shown;
use super::source::{Saved, SourceArgs, existing, existing_to_work};
use super::{CliError, Common, Output};
use crate::bench::{Circumstances, SetupHandle};
use crate::cli::parsed;
use crate::logbook::{Logbook, LogbookError};
use crate::record::DatumRef;
use crate::rotor::{BladeName, Clip, Datum, LeadingEdge, Place, Rotation, Spot, Station};
use crate::words::{reading, setup as words};
use std::path::Path;

/// The logbook that was begun with the first setup.
pub(super) async fn logbook(common: &Common) -> Result<Logbook, CliError> {
    existing(common).await?.ok_or_else(|| CliError::Use(words::NO_LOGBOOK.to_owned()))
}

/// The setup of this number, else the open one, to look at.
pub(super) async fn setup(number: Option<u32>, common: &Common) -> Result<SetupHandle, CliError> {
    let logbook = logbook(common).await?;
    Ok(SetupHandle::find(logbook, number).await?)
}

/// The setup that commands work on, where there is one.
pub(super) async fn open_setup(logbook: Logbook) -> Result<Option<SetupHandle>, CliError> {
    match SetupHandle::find_to_write(logbook, None).await {
        Ok(open) => Ok(Some(open)),
        Err(LogbookError::NoOpenSetup) => Ok(None),
        Err(error) => Err(error.into()),
    }
}

/// The same, to add to it.
pub(super) async fn setup_to_write(number: Option<u32>, common: &Common) -> Result<SetupHandle, CliError> {
    let logbook = existing_to_work(common).await?.ok_or_else(|| CliError::Use(words::NO_LOGBOOK.to_owned()))?;
    Ok(SetupHandle::find_to_write(logbook, number).await?)
}

/// Options of a reading that records nothing: against which zero, and where the blade stands.
#[derive(Debug, Clone, clap::Args)]
pub(super) struct SettingArgs {
    /// Use the zero and head of this setup [default: the open one]
    #[arg(long, value_name = "NUMBER")]
    pub setup: Option<u32>,

    /// The bare sensor: no saved calibration, no zero
    #[arg(long, conflicts_with_all = ["setup", "calibration"])]
    pub raw: bool,

    /// The blade that carries the clip
    #[arg(long, value_parser = parsed::<BladeName>)]
    blade: Option<BladeName>,

    /// Where it is, degrees from the boom in the direction of rotation
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Station>)]
    station: Option<Station>,

    /// Where the tail blade's leading edge points
    #[arg(long, value_name = "up|down", conflicts_with = "station", value_parser = parsed::<LeadingEdge>)]
    leading_edge: Option<LeadingEdge>,

    /// Clip forward or reversed (end for end)
    #[arg(long, value_name = "forward|reversed", default_value = "forward", value_parser = parsed::<Clip>)]
    pub clip: Clip,
}

impl SettingArgs {
    /// Where the blade is said to stand.
    pub(super) fn place(&self) -> Result<Option<Place>, CliError> {
        let spot = match (self.station, self.leading_edge) {
            (Some(station), _) => Spot::Main(station),
            (None, Some(edge)) => Spot::Tail(edge),
            (None, None) if self.blade.is_none() => return Ok(None),
            (None, None) => {
                return Err(CliError::Use(reading::PLACE_WANTED.into()));
            }
        };
        Ok(Some(Place { blade: self.blade.unwrap_or(BladeName::A), spot, clip: self.clip }))
    }
}

/// What a reading that records nothing takes over.
///
/// One rule for every command: on a live source the saved calibration and the zero of the open setup hold; a recording
/// stands alone unless a setup is named; `--raw` is the bare sensor.
#[derive(Debug, Clone)]
pub(super) struct Setting {
    /// What is saved goes with it.
    logbook: Option<Logbook>,
    /// Number and head of the setup whose zero this is.
    pub setup: Option<(u32, String)>,
    /// That of the setup, where there is one.
    pub rotation: Option<Rotation>,
    zero: DatumRef,
    raw: bool,
    place: Option<Place>,
    clip: Clip,
}

impl Setting {
    /// From the setup that is named or open, or from a datum's file.
    ///
    /// Of several sensors it is the datum of the one that is read.
    pub(super) async fn new(
        args: &SettingArgs,
        source: &SourceArgs,
        datum: Option<&Path>,
        common: &Common,
    ) -> Result<Self, CliError> {
        let (logbook, open) = match args.setup {
            Some(number) => {
                let open = setup(Some(number), common).await?;
                (Some(open.logbook().clone()), Some(open))
            }
            None if args.raw => (None, None),
            // A first reading must not begin a logbook.
            None => match existing_to_work(common).await? {
                Some(logbook) if !source.is_recorded(&logbook).await? => {
                    (Some(logbook.clone()), open_setup(logbook).await?)
                }
                _ => (None, None),
            },
        };
        let of_the_setup = open.as_ref().map(|open| open.datum(source.carrier()));
        let zero = match datum {
            Some(path) => {
                let text = super::head::read_file(path)?;
                serde_json::from_str(&text).map_err(|error| CliError::Use(words::not_a_datum(path, error)))?
            }
            None => of_the_setup.unwrap_or_else(DatumRef::level),
        };
        Ok(Self {
            logbook,
            setup: open.as_ref().map(|open| (open.setup().number, open.setup().head.name.clone())),
            rotation: open.as_ref().map(|open| open.setup().head.rotation),
            zero,
            raw: args.raw,
            place: args.place()?,
            clip: args.clip,
        })
    }

    /// What is saved of the sensor that is read.
    pub(super) async fn saved(&self, source: &SourceArgs, common: &Common, output: &Output) -> Result<Saved, CliError> {
        match &self.logbook {
            Some(logbook) => source.saved_for(logbook, output).await,
            None => source.saved(common).await,
        }
    }

    /// The zero's kind.
    pub(super) const fn zero(&self) -> &'static str {
        self.zero.kind()
    }

    /// As a reading is evaluated.
    pub(super) const fn circumstances(&self) -> Circumstances {
        Circumstances {
            place: self.place,
            clip: self.clip,
            datum: self.zero.datum,
            datum_temperature: self.zero.temperature,
            on_the_datums_seat: false,
        }
    }

    /// As a live figure is shown.
    pub(super) fn shown(&self) -> Result<Shown, CliError> {
        Shown::new(self.zero.datum, self.place, self.clip)
    }

    /// Against which calibration and which zero a figure is read; nothing of a recording that stands alone.
    pub(super) fn said(&self, calibration: Option<&str>) -> Option<String> {
        let setup = self.setup.as_ref().map(|(number, head)| (*number, head.as_str()));
        match (self.raw, &self.logbook) {
            (true, _) => Some(reading::BARE.to_owned()),
            (false, None) if self.zero.datum == Datum::Gravity => None,
            (false, _) => Some(reading::against(calibration, self.zero(), setup)),
        }
    }
}
