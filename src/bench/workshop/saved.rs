//! What is saved of the default sensor.

use crate::logbook::{Logbook, LogbookError, SavedDefault};
use crate::sensor::reseat::Reseat;
use crate::stream::Source;
use crate::units::Angle;
use std::path::PathBuf;

/// What is used where nothing else is named: the default sensor with what is known of it.
#[derive(Debug, Clone, Default)]
pub struct SavedSensor {
    /// Where its samples come from.
    pub source: Option<Source>,
    /// The name or file of its profile.
    pub profile: Option<String>,
    /// The file of its calibration.
    pub calibration: Option<PathBuf>,
    /// What the last re-seat study found of its clip.
    pub reseat: Option<Reseat>,
    /// What its last health check found of its floor.
    pub floor: Option<Angle>,
}

impl SavedSensor {
    /// The defaults saved in a logbook.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub async fn of(logbook: &Logbook) -> Result<Self, LogbookError> {
        let source = logbook.saved(SavedDefault::Source).await?;
        Ok(Self {
            // A default of another version is as good as none.
            source: source.and_then(|text| serde_json::from_str(&text).ok()),
            profile: logbook.saved(SavedDefault::Profile).await?,
            calibration: logbook.saved(SavedDefault::Calibration).await?.map(PathBuf::from),
            reseat: saved_reseat(logbook).await?,
            floor: logbook.saved(SavedDefault::Floor).await?.and_then(|text| serde_json::from_str(&text).ok()),
        })
    }
}

/// What the last re-seat study found of the clip.
///
/// # Errors
/// When the logbook cannot be read.
pub async fn saved_reseat(logbook: &Logbook) -> Result<Option<Reseat>, LogbookError> {
    Ok(logbook.saved(SavedDefault::Reseat).await?.and_then(|text| serde_json::from_str(&text).ok()))
}
