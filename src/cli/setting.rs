//! What a reading command takes over from a setup: the logbook, the head, the datum, the captures so far.

use super::source::location;
use super::{CliError, Common};
use crate::logbook::Logbook;
use crate::record::{Capture, DatumRef, Entry, Event, Setup};
use crate::rotor::{Datum, Rotation};
use crate::units::Celsius;
use std::path::Path;
use uuid::Uuid;

/// An open logbook with the setup that the command works on.
#[derive(Debug)]
pub(super) struct OpenSetup {
    pub logbook: Logbook,
    pub setup: Setup,
    pub entries: Vec<Entry>,
}

impl OpenSetup {
    /// The setup of this number, else the open one.
    pub(super) async fn of(number: Option<u32>, common: &Common) -> Result<Self, CliError> {
        let logbook = Logbook::open(&location(common)?).await?;
        let number = match number {
            Some(number) => number,
            None => logbook.open_setup().await?.number,
        };
        let kept = logbook.setup_with_entries(number).await?;
        Ok(Self { logbook, setup: kept.setup, entries: kept.entries })
    }

    /// The same, refused when the setup is closed: nothing is added to a closed one.
    pub(super) async fn to_write(number: Option<u32>, common: &Common) -> Result<Self, CliError> {
        let open = Self::of(number, common).await?;
        match open.setup.closed_at {
            Some(_) => Err(CliError::Use(format!(
                "setup {} is closed: begin a new one with `setup new`, or take it up again with `setup resume {}`",
                open.setup.number, open.setup.number
            ))),
            None => Ok(open),
        }
    }

    /// The datum in force: the newest, else gravity since the setup began.
    pub(super) fn datum(&self) -> DatumRef {
        let newest = self.entries.iter().rev().find_map(|entry| match &entry.event {
            Event::Datum { datum } => Some(*datum),
            _ => None,
        });
        newest.unwrap_or(DatumRef {
            id: Uuid::nil(),
            set_at: self.setup.started_at,
            datum: Datum::Gravity,
            temperature: None,
        })
    }

    /// The captures so far, in order.
    pub(super) fn captures(&self) -> impl DoubleEndedIterator<Item = &Capture> {
        self.entries.iter().filter_map(|entry| match &entry.event {
            Event::Capture(capture) => Some(capture.as_ref()),
            _ => None,
        })
    }
}

/// What a reading that records nothing takes over.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Setting {
    pub rotation: Option<Rotation>,
    pub datum: Datum,
    pub temperature: Option<Celsius>,
}

impl Setting {
    /// From a setup, from a datum's file, or, without either, gravity.
    pub(super) async fn of(setup: Option<u32>, datum: Option<&Path>, common: &Common) -> Result<Self, CliError> {
        let mut setting = match setup {
            Some(number) => {
                let open = OpenSetup::of(Some(number), common).await?;
                let datum = open.datum();
                let rotation = Some(open.setup.head.rotation);
                Self { rotation, datum: datum.datum, temperature: datum.temperature }
            }
            None => Self::default(),
        };
        if let Some(path) = datum {
            let text = super::head::read_file(path)?;
            let datum: DatumRef = serde_json::from_str(&text).map_err(|error| {
                CliError::Use(format!(
                    "{} is no datum ({error}): write one with `datum reversal --json > {}`",
                    path.display(),
                    path.display()
                ))
            })?;
            setting.datum = datum.datum;
            setting.temperature = datum.temperature;
        }
        Ok(setting)
    }
}
