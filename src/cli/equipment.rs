//! What the command line names, as a workshop works with it.

use super::demo::Simulated;
use super::source::{SourceArgs, existing_to_work, logbook};
use super::{CliError, Common, Output, Place};
use crate::bench::{Answer, Bare, Equipment, EquipmentError, SavedSensor, Sensors};
use crate::logbook::{Location, Logbook, LogbookError, SavedDefault};
use crate::record::Head;
use crate::rotor::Rotation;
use crate::stream::{Source, StreamError};
use crate::words::{Face, Say, cli, workshop};
use std::path::PathBuf;
use std::sync::Arc;
use tokio::sync::Mutex;

/// The workshop's own sensors and its logbook.
#[derive(Debug)]
pub(super) struct Own {
    source: SourceArgs,
    common: Common,
    output: Output,
    /// Opened once.
    logbook: Mutex<Option<Logbook>>,
}

impl Own {
    /// As the command line has it.
    pub fn new(source: SourceArgs, common: Common, output: Output) -> Self {
        Self { source, common, output, logbook: Mutex::default() }
    }

    /// The logbook, opened once; with `begin` it is begun.
    pub async fn opened(&self, begin: bool) -> Result<Option<Logbook>, CliError> {
        let mut opened = self.logbook.lock().await;
        if opened.is_none() {
            *opened = match existing_to_work(&self.common).await? {
                None if begin => Some(logbook(&self.common).await?),
                found => found,
            };
        }
        Ok(opened.clone())
    }

    /// The logbook, to be closed at the end.
    pub async fn close(&self) {
        if let Some(logbook) = self.logbook.lock().await.take() {
            logbook.close().await;
        }
    }
}

/// On the page, by what is in the way.
fn refused(error: &CliError) -> EquipmentError {
    EquipmentError::Refused(error.on_page())
}

fn of_stream(error: &StreamError) -> EquipmentError {
    let said = error.say(Face::Page);
    match error {
        StreamError::NoPort => EquipmentError::None(said),
        StreamError::SilentPort { .. } | StreamError::Silent { .. } => EquipmentError::Silent(said),
        StreamError::SeveralPorts { .. } => EquipmentError::Several(said),
        _ => EquipmentError::Refused(said),
    }
}

impl Equipment for Own {
    fn logbook(&self, begin: bool) -> Answer<'_, Result<Option<Logbook>, EquipmentError>> {
        Box::pin(async move { self.opened(begin).await.map_err(|error| refused(&error)) })
    }

    fn sensors<'a>(&'a self, logbook: &'a Logbook, head: &'a Head) -> Answer<'a, Result<Sensors, EquipmentError>> {
        Box::pin(async move {
            let opened = self.source.open_each(logbook, head, &self.output).await;
            let (first, others) = opened.map_err(|error| refused(&error))?;
            if first.stream.runs_as_asked() {
                return Err(EquipmentError::Refused(cli::PAGE_NEEDS_A_SENSOR.to_owned()));
            }
            Ok((first.sensor(), others.into_iter().map(super::source::Opened::sensor).collect()))
        })
    }

    fn bare<'a>(&'a self, logbook: &'a Logbook) -> Answer<'a, Result<Bare, EquipmentError>> {
        Box::pin(async move {
            let saved = SavedSensor::of(logbook).await.unwrap_or_default();
            let saved = SavedSensor { calibration: None, floor: None, ..saved };
            let opened = self.source.bare().open(&saved, Rotation::Clockwise).await.map_err(|error| refused(&error))?;
            if opened.instrument.profile.is_angle_only() {
                return Err(EquipmentError::Refused(workshop::ANGLES_ONLY.to_owned()));
            }
            Ok(Bare { stream: opened.stream, source: opened.source, instrument: opened.instrument })
        })
    }

    fn source<'a>(&'a self, logbook: Option<&'a Logbook>) -> Answer<'a, Result<String, EquipmentError>> {
        Box::pin(async move {
            let saved = match logbook {
                Some(logbook) => SavedSensor::of(logbook).await.unwrap_or_default(),
                None => SavedSensor::default(),
            };
            let source = self.source.source_without_opening(&saved).await.map_err(|error| match error {
                Ok(error) => of_stream(&error),
                Err(error) => refused(&error),
            })?;
            if let Source::Port(path) = &source
                && let Some(obstacle) = crate::stream::ports::obstacle(path)
            {
                return Err(of_stream(&StreamError::Port { path: path.clone(), obstacle }));
            }
            Ok(source.to_string())
        })
    }

    fn use_port<'a>(&'a self, port: &'a str) -> Answer<'a, Result<(), EquipmentError>> {
        Box::pin(async move {
            let source = serde_json::to_string(&Source::Port(port.to_owned())).ok();
            let logbook = self.opened(true).await.map_err(|error| refused(&error))?;
            let failed = |error: LogbookError| EquipmentError::Refused(error.say(Face::Page));
            let Some(logbook) = logbook else { return Ok(()) };
            // Another sensor has another floor.
            logbook.save(SavedDefault::Floor, None).await.map_err(failed)?;
            logbook.save(SavedDefault::Source, source.as_deref()).await.map_err(failed)
        })
    }

    fn heads(&self) -> Option<PathBuf> {
        let location = super::source::location(&self.common).ok()?;
        let path = location.path().ok()?.or_else(|| Location::Own.path().ok().flatten())?;
        Some(path.parent()?.join("heads"))
    }

    fn simulate(&self) -> Answer<'_, Result<Arc<dyn Equipment>, EquipmentError>> {
        Box::pin(async move {
            let simulated = Simulated::new(Place::usual()).await.map_err(|error| refused(&error))?;
            Ok(Arc::new(simulated) as Arc<dyn Equipment>)
        })
    }
}
