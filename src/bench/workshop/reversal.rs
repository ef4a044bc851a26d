//! The last reversal of the default sensor: it belongs to the sensor, and goes along to its next setup while it holds.

use crate::SetupHandle;
use crate::logbook::{Logbook, LogbookError, SavedDefault};
use crate::record::{Calibrated, DatumRef, Finding, Held, Pause, changed_at_least};
use crate::rotor::Datum;
use crate::sensor::Calibration;
use crate::units::{Angle, Celsius, Seconds};
use crate::words::{Face, Say, cli};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// The last reversal of the default sensor.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct KeptReversal {
    /// The zero.
    pub datum: DatumRef,
    /// The setup in which it was set.
    pub setup: u32,
    source: Option<String>,
    calibration: Option<String>,
    /// Whether it was turned on a blade: then the seats of the clip are in it.
    #[serde(default)]
    on_a_blade: bool,
}

/// What became of it in a new setup.
#[derive(Debug, Clone, PartialEq)]
pub enum TakenOver {
    /// It holds there too.
    Holds {
        /// The setup in which it was set.
        setup: u32,
        /// The sensor's error that it found.
        error: Angle,
        /// Its standard uncertainty.
        u: Angle,
    },
    /// It holds no longer.
    Over(Finding),
    /// It was done on a blade, and the clip sits anew in another setup.
    OnABlade,
}

impl Say for TakenOver {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Holds { setup, error, u } => cli::taken_over(*setup, *error, *u),
            Self::Over(finding) => finding.say(face),
            Self::OnABlade => cli::NOT_TAKEN_OVER.to_owned(),
        }
    }
}

/// The sensor's error that a reversal found, and its standard uncertainty.
#[must_use]
pub const fn found_error(zero: Datum) -> Option<(Angle, Angle)> {
    match zero {
        Datum::Reversal { instrument, u, .. } => Some((instrument.chord, u)),
        _ => None,
    }
}

/// The last reversal of the default sensor.
///
/// # Errors
/// When the logbook cannot be read.
pub async fn kept_reversal(logbook: &Logbook) -> Result<Option<KeptReversal>, LogbookError> {
    // One of another version is as good as none.
    Ok(logbook.saved(SavedDefault::Reversal).await?.and_then(|text| serde_json::from_str(&text).ok()))
}

/// Keeps the reversal that was set in this setup for the default sensor's next ones.
///
/// # Errors
/// When the logbook cannot be written.
pub async fn keep_reversal(
    open: &SetupHandle,
    datum: DatumRef,
    calibration: Option<String>,
    on_a_blade: bool,
) -> Result<(), LogbookError> {
    let source = open.logbook().saved(SavedDefault::Source).await?;
    let kept = KeptReversal { datum, setup: open.setup().number, source, calibration, on_a_blade };
    // Numbers and names alone: there is nothing in it that JSON cannot hold.
    let text = serde_json::to_string(&kept).ok();
    open.logbook().save(SavedDefault::Reversal, text.as_deref()).await
}

/// Takes the default sensor's last reversal over into a new setup while it holds; nothing where there is none, or it was
/// another sensor's.
///
/// # Errors
/// When the logbook cannot be read or written.
pub async fn take_over(open: &mut SetupHandle) -> Result<Option<TakenOver>, LogbookError> {
    let logbook = open.logbook().clone();
    let Some(kept) = kept_reversal(&logbook).await? else { return Ok(None) };
    let Some((error, u)) = found_error(kept.datum.datum) else { return Ok(None) };
    let calibration = logbook.saved(SavedDefault::Calibration).await?;
    let read = |path: String| Calibration::from_toml(&std::fs::read_to_string(path).ok()?).ok();
    let calibration = calibration.and_then(read).map(|found| found.name);
    if logbook.saved(SavedDefault::Source).await? != kept.source || calibration != kept.calibration {
        return Ok(None);
    }
    if kept.on_a_blade {
        return Ok(Some(TakenOver::OnABlade));
    }
    let age = Timestamp::now().duration_since(kept.datum.set_at).as_secs_f64().max(0.0);
    let then: Option<Celsius> = logbook.setup(kept.setup).await.ok().and_then(|setup| setup.temperature);
    let now = open.setup().temperature;
    let of_the_room = now.zip(then).map(|(now, then)| now - then);
    // The sensor's own temperature knows more than what was typed of the room.
    let of_the_sensor = kept.datum.temperature.zip(now).map(|(own, now)| changed_at_least(own, now));
    let pause = Pause {
        datum: kept.datum,
        datum_age: Seconds::new(age),
        calibration: Calibrated::Undated,
        temperature_change: of_the_sensor.or(of_the_room),
        model_moved: false,
        clip_taken_off: false,
        sensor_changed: false,
    };
    let about_it = |finding: &Finding| finding.about() == Held::Datum;
    match pause.judge().into_iter().find(about_it) {
        Some(finding) if !finding.holds() => Ok(Some(TakenOver::Over(finding))),
        _ => {
            open.take_over(kept.datum).await?;
            Ok(Some(TakenOver::Holds { setup: kept.setup, error, u }))
        }
    }
}
