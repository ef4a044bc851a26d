//! `datum reversal`: the sensor's own error, from three rests end for end; it belongs to the sensor, and goes along to its
//! next setup while it holds.

use super::datum::{Reversal, steady};
use super::source::read_calibration;
use super::{CliError, Outcome, Output, question};
use crate::bench::{LiveReading, Session, SetupHandle, Taken, zero};
use crate::filter::SteadySettings;
use crate::logbook::{Logbook, SavedDefault};
use crate::record::{Calibrated, DatumRef, Finding, Held, Pause, changed_at_least};
use crate::rotor::Datum;
use crate::units::{Angle, Celsius, Seconds};
use crate::words::{Face, Say, cli};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::path::Path;
use std::time::Duration;

/// A sensor that is turned round leans by more than this on the way, degrees.
const TURNING_DEGREES: f64 = 2.0;
/// Time to turn the sensor round.
const TURN_WITHIN: Duration = Duration::from_secs(120);
/// Time to begin to turn it back: a reversal that is not closed stands as it is.
const BACK_WITHIN: Duration = Duration::from_secs(30);

/// The rests of one reversal.
struct Rests {
    first: Taken,
    second: Taken,
    /// None where nobody turned it back.
    third: Option<Taken>,
}

/// The last reversal of the default sensor.
#[derive(Debug, Serialize, Deserialize)]
struct Kept {
    datum: DatumRef,
    setup: u32,
    source: Option<String>,
    calibration: Option<String>,
    /// Whether it was turned on a blade: then the seats of the clip are in it.
    #[serde(default)]
    on_a_blade: bool,
}

/// A zero with how it came about.
#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    datum: &'a DatumRef,
    /// What the third rest reads otherwise than the first.
    closure_deg: Option<Angle>,
    /// What the last reversal of this sensor found.
    before_deg: Option<Angle>,
}

/// Guides, evaluates, sets the zero.
pub(super) async fn run(mut open: SetupHandle, args: &Reversal, output: &Output) -> Result<Outcome, CliError> {
    let settings = args.reading.steady.settings()?;
    let source = &args.reading.source;
    let saved = source.saved_for(open.logbook(), output).await?;
    let opened = source.open(&saved, open.setup().head.rotation).await?;
    if opened.stream.runs_as_asked() {
        return Err(CliError::Use(cli::TURNING_NEEDS_A_SENSOR.into()));
    }
    let instrument = opened.instrument;
    let seating = match args.on_a_blade {
        true => zero::Seating::on_a_blade(&instrument),
        false => zero::Seating::on_a_surface(),
    };
    let session = Session::start(opened.stream, instrument.clone());
    let rests = rests(&session, settings, seating, args, output).await?;
    session.end().await?;
    let (datum, off) = match &rests.third {
        Some(third) => {
            let (datum, off) = zero::closed_reversal(&rests.first, &rests.second, third, seating)
                .map_err(|error| CliError::Measurement(error.say(Face::Terminal)))?;
            (datum, Some(off))
        }
        None => (zero::reversal(&rests.first, &rests.second, seating)?, None),
    };
    let before = match open.datum(instrument.carrier).datum {
        zero @ Datum::Reversal { .. } => found(zero),
        _ if source.is_the_default(&saved) => kept(open.logbook()).await?.and_then(|kept| found(kept.datum.datum)),
        _ => None,
    };
    let temperature = rests.third.as_ref().unwrap_or(&rests.second).temperature;
    let datum = open.set_zero(datum, temperature, instrument.carrier).await?;
    if source.is_the_default(&saved) {
        keep(&open, datum, instrument.calibration_name(), args.on_a_blade).await?;
    }
    open.logbook().clone().close().await;
    let mut text = vec![cli::zero_set(datum.datum)];
    text.push(off.map_or_else(|| cli::NOT_CLOSED.to_owned(), cli::closed));
    if let Some((before, now)) = before.zip(found(datum.datum)) {
        text.push(cli::reversal_before(before, now));
    }
    let document = Document { datum: &datum, closure_deg: off, before_deg: before.map(|(error, _)| error) };
    output.answer(&document, &text.join("\n"))?;
    Ok(Outcome::Done)
}

/// The rests, each after the sensor was handled.
async fn rests(
    session: &Session,
    settings: SteadySettings,
    seating: zero::Seating,
    args: &Reversal,
    output: &Output,
) -> Result<Rests, CliError> {
    output.say(if args.on_a_blade { cli::CLIP_THE_SENSOR } else { cli::LAY_THE_SENSOR });
    let first = steady(session, settings, output).await?;
    output.say(cli::TURN_THE_SENSOR);
    if !moved(session, &first, TURN_WITHIN).await? {
        return Err(CliError::Measurement(cli::NO_ZERO_NOT_TURNED.into()));
    }
    let second = steady(session, settings, output).await?;
    if zero::reads_the_same(&first, &second, seating)
        && !args.turned
        && !question::yes(cli::READS_THE_SAME, cli::WAS_TURNED, output).await
    {
        return Err(CliError::Measurement(cli::not_turned()));
    }
    output.say(cli::TURN_IT_BACK);
    let third = match moved(session, &second, BACK_WITHIN).await? {
        true => Some(steady(session, settings, output).await?),
        false => None,
    };
    Ok(Rests { first, second, third })
}

/// Waits until the sensor is being moved; false where nobody moves it within that time.
async fn moved(session: &Session, last: &Taken, within: Duration) -> Result<bool, CliError> {
    let moved = |now: &Option<LiveReading>| {
        now.as_ref().is_some_and(|now| {
            let pitch = (now.apparent_pitch - last.steady.apparent_pitch()).wrapped().abs();
            let span = (now.span_inclination - last.steady.span_inclination()).abs();
            pitch.degrees() > TURNING_DEGREES || span.degrees() > TURNING_DEGREES
        })
    };
    let mut live = session.live();
    match tokio::time::timeout(within, live.wait_for(moved)).await {
        Ok(Ok(_)) => Ok(true),
        // The stream is over: a reading says why.
        Ok(Err(_)) => match session.read(SteadySettings::default()).await {
            Ok(_) => Err(CliError::Measurement(cli::NO_ZERO_ENDED.into())),
            Err(error) => Err(error.into()),
        },
        Err(_) => Ok(false),
    }
}

/// The sensor's error that a reversal found, and its standard uncertainty.
const fn found(zero: Datum) -> Option<(Angle, Angle)> {
    match zero {
        Datum::Reversal { instrument, u, .. } => Some((instrument.chord, u)),
        _ => None,
    }
}

/// The last reversal of the default sensor.
async fn kept(logbook: &Logbook) -> Result<Option<Kept>, CliError> {
    // One of another version is as good as none.
    Ok(logbook.saved(SavedDefault::Reversal).await?.and_then(|text| serde_json::from_str(&text).ok()))
}

async fn keep(
    open: &SetupHandle,
    datum: DatumRef,
    calibration: Option<String>,
    on_a_blade: bool,
) -> Result<(), CliError> {
    let source = open.logbook().saved(SavedDefault::Source).await?;
    let kept = Kept { datum, setup: open.setup().number, source, calibration, on_a_blade };
    let text = serde_json::to_string(&kept).map_err(|error| CliError::Use(error.to_string()))?;
    Ok(open.logbook().save(SavedDefault::Reversal, Some(&text)).await?)
}

/// Takes the default sensor's last reversal over into a new setup while it holds, and says what became of it; nothing where
/// there is none, or it was another sensor's.
pub(super) async fn take_over(open: &mut SetupHandle) -> Result<Option<String>, CliError> {
    let logbook = open.logbook().clone();
    let Some(kept) = kept(&logbook).await? else { return Ok(None) };
    let Some((error, u)) = found(kept.datum.datum) else { return Ok(None) };
    let calibration = logbook.saved(SavedDefault::Calibration).await?;
    let calibration = calibration.and_then(|path| read_calibration(Path::new(&path)).ok()).map(|found| found.name);
    if logbook.saved(SavedDefault::Source).await? != kept.source || calibration != kept.calibration {
        return Ok(None);
    }
    if kept.on_a_blade {
        // The clip sits anew in another setup.
        return Ok(Some(cli::NOT_TAKEN_OVER.to_owned()));
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
        Some(finding) if !finding.holds() => Ok(Some(finding.say(Face::Terminal))),
        _ => {
            open.take_over(kept.datum).await?;
            Ok(Some(cli::taken_over(kept.setup, error, u)))
        }
    }
}
