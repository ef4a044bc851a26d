//! What a command takes over from a setup in the logbook.

use super::source::existing;
use super::{CliError, Common};
use crate::bench::OpenSetup;
use crate::logbook::Logbook;
use crate::record::DatumRef;
use crate::rotor::{Carrier, Datum, Rotation};
use crate::units::Celsius;
use crate::words::setup as words;
use std::path::Path;

/// The logbook that was begun with the first setup.
pub(super) async fn logbook(common: &Common) -> Result<Logbook, CliError> {
    existing(common).await?.ok_or_else(|| CliError::Use(words::NO_LOGBOOK.to_owned()))
}

/// The setup of this number, else the open one, to look at.
pub(super) async fn setup(number: Option<u32>, common: &Common) -> Result<OpenSetup, CliError> {
    let logbook = logbook(common).await?;
    Ok(OpenSetup::find(logbook, number).await?)
}

/// The same, to add to it.
pub(super) async fn setup_to_write(number: Option<u32>, common: &Common) -> Result<OpenSetup, CliError> {
    let logbook = logbook(common).await?;
    Ok(OpenSetup::find_to_write(logbook, number).await?)
}

/// What a reading that records nothing takes over.
#[derive(Debug, Clone, Default)]
pub(super) struct Setting {
    /// That of the setup, where there is one.
    pub logbook: Option<Logbook>,
    pub rotation: Option<Rotation>,
    pub datum: Datum,
    pub temperature: Option<Celsius>,
}

impl Setting {
    /// From a setup, from a datum's file, or, without either, gravity.
    ///
    /// Of several sensors it is the datum of the one on `carrier`.
    pub(super) async fn of(
        setup: Option<u32>,
        datum: Option<&Path>,
        carrier: Option<Carrier>,
        common: &Common,
    ) -> Result<Self, CliError> {
        let mut setting = match setup {
            Some(number) => {
                let open = self::setup(Some(number), common).await?;
                let datum = open.datum(carrier);
                let rotation = Some(open.setup().head.rotation);
                let logbook = Some(open.logbook().clone());
                Self { logbook, rotation, datum: datum.datum, temperature: datum.temperature }
            }
            None => Self::default(),
        };
        if let Some(path) = datum {
            let text = super::head::read_file(path)?;
            let datum: DatumRef =
                serde_json::from_str(&text).map_err(|error| CliError::Use(words::not_a_datum(path, error)))?;
            setting.datum = datum.datum;
            setting.temperature = datum.temperature;
        }
        Ok(setting)
    }
}
