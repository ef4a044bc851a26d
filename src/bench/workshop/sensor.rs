//! The sensor as the start shows it: found, silent, refused and why.

use super::{Equipment, EquipmentError, SavedSensor, kept_reversal};
use crate::conductor::{Link, LinkState};
use crate::logbook::Logbook;
use crate::sensor::Calibration;
use crate::stream::ports::{Obstacle, PortReport};
use crate::words::{Face, Say, workshop as words};
use jiff::Timestamp;
use serde::Serialize;

/// How the sensor stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SensorKind {
    /// It is read.
    Reading,
    /// It is there, and not read now.
    Found,
    /// Nothing comes from its port.
    Silent,
    /// It cannot be opened.
    Refused,
    /// It cannot be told which one is meant.
    Several,
    /// There is none.
    None,
    /// Its line has broken, and it is waited for.
    Waiting,
}

/// A port.
#[derive(Debug, Clone, Serialize)]
pub struct PortLine {
    /// Its path.
    pub path: String,
    /// What stands in the way of opening it.
    pub obstacle: Option<Obstacle>,
    /// What it is, in words.
    pub said: String,
}

impl From<PortReport> for PortLine {
    fn from(port: PortReport) -> Self {
        Self { said: port.say(Face::Page), path: port.path, obstacle: port.obstacle }
    }
}

/// The sensor.
#[derive(Debug, Clone, Serialize)]
pub struct SensorLine {
    /// How it stands.
    pub kind: SensorKind,
    /// Its port or address.
    pub source: Option<String>,
    /// How it stands, in words.
    pub said: String,
    /// Samples a second, while it is read.
    pub rate_hz: Option<f64>,
    /// Whether it is calibrated.
    pub calibrated: bool,
    /// When it was calibrated, its zero set and its clip studied, in words.
    pub known: Vec<String>,
    /// The ports that are there.
    pub ports: Vec<PortLine>,
}

impl SensorLine {
    /// Of a session that runs.
    pub async fn of_link(link: &Link, equipment: &dyn Equipment, logbook: Option<&Logbook>) -> Self {
        let kind = if link.state == LinkState::Reading { SensorKind::Reading } else { SensorKind::Waiting };
        let said = match kind {
            SensorKind::Reading => words::reads(link.rate_hz),
            _ => link.said.clone(),
        };
        let line = Self::new(kind, Some(link.source.clone()), said, equipment, logbook).await;
        Self { rate_hz: link.rate_hz, ..line }
    }

    /// What is there, while no session runs.
    pub async fn found(equipment: &dyn Equipment, logbook: Option<&Logbook>) -> Self {
        let (kind, source, said) = match equipment.source(logbook).await {
            Ok(source) => (SensorKind::Found, Some(source), words::FOUND.to_owned()),
            Err(error) => {
                let kind = match error {
                    EquipmentError::Silent(_) => SensorKind::Silent,
                    EquipmentError::None(_) => SensorKind::None,
                    EquipmentError::Several(_) => SensorKind::Several,
                    EquipmentError::Refused(_) => SensorKind::Refused,
                };
                (kind, None, error.say(Face::Page))
            }
        };
        Self::new(kind, source, said, equipment, logbook).await
    }

    async fn new(
        kind: SensorKind,
        source: Option<String>,
        said: String,
        equipment: &dyn Equipment,
        logbook: Option<&Logbook>,
    ) -> Self {
        let (calibrated, known) = if equipment.is_simulated() {
            (true, vec![words::SIMULATED_SENSOR.to_owned()])
        } else {
            known(logbook).await
        };
        let ports = if equipment.is_simulated() { Vec::new() } else { equipment.ports() };
        let ports = ports.into_iter().map(PortLine::from).collect();
        Self { kind, source, said, rate_hz: None, calibrated, known, ports }
    }
}

/// Whether the default sensor is calibrated, and what else is known of it, in words.
async fn known(logbook: Option<&Logbook>) -> (bool, Vec<String>) {
    let Some(logbook) = logbook else { return (false, vec![words::calibrated(None, Timestamp::now())]) };
    let saved = SavedSensor::of(logbook).await.unwrap_or_default();
    let read = |path: &std::path::PathBuf| Calibration::from_toml(&std::fs::read_to_string(path).ok()?).ok();
    let calibration = saved.calibration.as_ref().and_then(read);
    let now = Timestamp::now();
    let mut known =
        vec![words::calibrated(calibration.as_ref().map(|found| (found.name.as_str(), found.made_on)), now)];
    if let Ok(Some(kept)) = kept_reversal(logbook).await {
        known.push(words::zero_set(kept.datum.set_at, now));
    }
    if saved.reseat.is_some() {
        known.push(words::SEAT_STUDIED.to_owned());
    }
    (calibration.is_some(), known)
}
