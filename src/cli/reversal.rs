//! `datum reversal`: the sensor's own error, from three rests end for end; it belongs to the sensor, and goes along to its
//! next setup while it holds.

use super::datum::{Reversal, steady};
use super::{CliError, Outcome, Output, question};
use crate::bench::{LiveReading, Session, SetupHandle, Taken, found_error, keep_reversal, kept_reversal, zero};
use crate::filter::SteadySettings;
use crate::record::DatumRef;
use crate::rotor::Datum;
use crate::units::Angle;
use crate::words::{Face, Say, cli};
use serde::Serialize;
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
        zero @ Datum::Reversal { .. } => found_error(zero),
        _ if source.is_the_default(&saved) => {
            kept_reversal(open.logbook()).await?.and_then(|kept| found_error(kept.datum.datum))
        }
        _ => None,
    };
    let temperature = rests.third.as_ref().unwrap_or(&rests.second).temperature;
    let datum = open.set_zero(datum, temperature, instrument.carrier).await?;
    if source.is_the_default(&saved) {
        keep_reversal(&open, datum, instrument.calibration_name(), args.on_a_blade).await?;
    }
    open.logbook().clone().close().await;
    let mut text = vec![cli::zero_set(datum.datum)];
    text.push(off.map_or_else(|| cli::NOT_CLOSED.to_owned(), cli::closed));
    if let Some((before, now)) = before.zip(found_error(datum.datum)) {
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
