//! A setup taken up again after a pause: what of zero and calibration still holds.

use crate::SetupHandle;
use crate::logbook::{LogbookError, SavedDefault};
use crate::record::{Calibrated, Event, Finding, Interruption, Pause};
use crate::sensor::Calibration;
use crate::units::{Celsius, Seconds};
use crate::words::{Face, Say};
use jiff::Timestamp;

/// What was found.
#[derive(Debug)]
pub struct Resumed {
    /// One by one.
    pub findings: Vec<Finding>,
    /// Whether the job can go on without anything being done first.
    pub go_on: bool,
}

/// Takes a setup up again, and records what happened in the pause. Without a calibration the saved one is meant.
///
/// # Errors
/// When the logbook cannot be read or written.
pub async fn resume(
    open: &mut SetupHandle,
    interruption: Interruption,
    temperature: Option<Celsius>,
    calibration: Option<Calibration>,
) -> Result<Resumed, LogbookError> {
    let calibration = match calibration {
        Some(calibration) => Some(calibration),
        None => {
            let read = |path: String| Calibration::from_toml(&std::fs::read_to_string(path).ok()?).ok();
            open.logbook().saved(SavedDefault::Calibration).await?.and_then(read)
        }
    };
    let now = Timestamp::now();
    let datum = open.newest_datum();
    let before = open.captures().next_back().and_then(|capture| capture.reading.temperature);
    let Interruption { model_moved, clip_taken_off, sensor_changed } = interruption;
    let pause = Pause {
        datum,
        datum_age: seconds(now, datum.set_at),
        calibration: calibration.as_ref().map_or(Calibrated::Never, |calibration| calibrated(calibration, now)),
        temperature_change: temperature.zip(before).map(|(now, then)| now - then),
        model_moved,
        clip_taken_off,
        sensor_changed,
    };
    let findings = pause.judge();
    let note: Vec<String> = findings.iter().map(|finding| finding.say(Face::Paper)).collect();
    let worked_on = open.logbook().open_setup().await.ok().map(|setup| setup.number);
    if open.setup().closed_at.is_some() || worked_on != Some(open.setup().number) {
        open.logbook().reopen_setup(open.setup().number).await?;
    }
    open.happened(Event::Resumed { pause: interruption, note: note.join(" ") }).await?;
    Ok(Resumed { go_on: pause.can_go_on(), findings })
}

/// How long ago a calibration was made, where it says so.
fn calibrated(calibration: &Calibration, now: Timestamp) -> Calibrated {
    let midnight = |date: jiff::civil::Date| jiff::tz::TimeZone::UTC.to_timestamp(date.at(0, 0, 0, 0)).ok();
    let made_at = calibration.made_on.and_then(midnight);
    made_at.map_or(Calibrated::Undated, |made| Calibrated::Ago(seconds(now, made)))
}

/// From `then` to `now`; a clock that was set back makes no negative age.
fn seconds(now: Timestamp, then: Timestamp) -> Seconds {
    Seconds::new(now.duration_since(then).as_secs_f64().max(0.0))
}
