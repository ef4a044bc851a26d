//! `datum`: what zero means from here on.

use super::setting::setup_to_write;
use super::source::SourceArgs;
use super::steady::{SteadyArgs, take_in};
use super::{CliError, Common, Outcome, Output};
use crate::bench::{Instrument, LiveReading, OpenSetup, Session, Taken, zero};
use crate::cli::parsed;
use crate::filter::SteadySettings;
use crate::record::{DatumRef, RotorSurvey};
use crate::rotor::{BladeName, Carrier, Clip, Datum, Deflection, LeadingEdge, Place, Spot, Station};
use std::time::Duration;

/// A sensor that is being turned round leans by more than this on the way.
const TURNING_DEGREES: f64 = 2.0;

/// How long the person may take to turn the sensor round.
const TURN_WITHIN: Duration = Duration::from_secs(120);

/// Arguments of `datum`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade datum gravity                       level by the calibration alone
  clinoblade datum reversal                      two readings on any flat surface, the sensor turned end for end
  clinoblade datum reversal --on-a-blade         the same on a blade: clip forward, then reversed
  clinoblade datum surface --station 90          the surface it lies on now is zero, along station 90
  clinoblade datum neutral --blade A --station 90   this blade, here, at stick centre is zero
  clinoblade datum shaft                         square to the rotor's own axis, from the captures round the turn")]
pub(super) struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    /// Level by the calibration alone
    Gravity(Gravity),
    /// A surface on which the sensor lies; it holds along the heading in which it was taken
    Surface(Surface),
    /// The sensor's own error, by turning it end for end on any flat surface, or on a blade: clip forward, then reversed
    Reversal(Reversal),
    /// The same blade at the same place at stick centre
    Neutral(Neutral),
    /// The rotor's own axis, from the captures of this setup round the turn (see `rotor`)
    Shaft(Shaft),
}

#[derive(Debug, clap::Args)]
struct Gravity {
    /// Record into this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,
}

#[derive(Debug, clap::Args)]
struct Shaft {
    /// Record into this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    /// Use the captures of this stick position [default: every stick at its centre]
    #[arg(long, value_name = "AXIS DIRECTION", value_parser = parsed::<Deflection>)]
    at: Option<Deflection>,
}

#[derive(Debug, clap::Args)]
struct Reading {
    /// Record into this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    #[command(flatten)]
    steady: SteadyArgs,

    #[command(flatten)]
    source: SourceArgs,
}

#[derive(Debug, clap::Args)]
struct Surface {
    /// Where a blade would stand that carries the clip along this heading, degrees
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Station>)]
    station: Station,

    #[command(flatten)]
    reading: Reading,
}

#[derive(Debug, clap::Args)]
struct Reversal {
    /// It is turned on a blade, clip forward and then reversed: the clip's own seat then makes it less certain
    #[arg(long)]
    on_a_blade: bool,

    #[command(flatten)]
    reading: Reading,
}

#[derive(Debug, clap::Args)]
struct Neutral {
    /// The blade that carries the clip
    #[arg(long, default_value = "A", value_parser = parsed::<BladeName>)]
    blade: BladeName,

    /// Where it stands, degrees from the boom in the direction of rotation
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, required_unless_present = "leading_edge", value_parser = parsed::<Station>)]
    station: Option<Station>,

    /// It is a tail blade, its leading edge up or down
    #[arg(long, value_name = "up|down", conflicts_with = "station", value_parser = parsed::<LeadingEdge>)]
    leading_edge: Option<LeadingEdge>,

    /// Which way the clip sits
    #[arg(long, value_name = "forward|reversed", default_value = "forward", value_parser = parsed::<Clip>)]
    clip: Clip,

    #[command(flatten)]
    reading: Reading,
}

/// Reads what has to be read, and sets the datum.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    match args.command {
        Command::Gravity(gravity) => {
            let open = setup_to_write(gravity.setup, common).await?;
            set_gravity(open, output).await
        }
        Command::Surface(surface) => {
            let open = setup_to_write(surface.reading.setup, common).await?;
            let ([taken], sensor) = readings(&open, &surface.reading, output).await?;
            let datum = Datum::Surface {
                up: zero::direction(&taken),
                heading: surface.station,
                instrument: open.datum(sensor.carrier).datum.instrument(),
                u: zero::uncertainty(&taken, zero::Seating::on_a_surface()),
            };
            set(open, datum, Some(taken), sensor.carrier, output).await
        }
        Command::Reversal(reversal) => {
            let open = setup_to_write(reversal.reading.setup, common).await?;
            let ([first, second], instrument) = readings(&open, &reversal.reading, output).await?;
            let seating = match reversal.on_a_blade {
                true => zero::Seating::on_a_blade(&instrument),
                false => zero::Seating::on_a_surface(),
            };
            let datum = zero::reversal(&first, &second, seating)?;
            set(open, datum, Some(second), instrument.carrier, output).await
        }
        Command::Neutral(neutral) => {
            let open = setup_to_write(neutral.reading.setup, common).await?;
            let spot = neutral.station.map_or(Spot::Tail(neutral.leading_edge.unwrap_or(LeadingEdge::Up)), Spot::Main);
            let place = Place { blade: neutral.blade, spot, clip: neutral.clip };
            let source = neutral.reading.source.at(place.blade, place.spot)?;
            let ([taken], sensor) = readings(&open, &Reading { source, ..neutral.reading }, output).await?;
            let apparent = super::steady::apparent(&taken, place)?;
            let datum = Datum::Neutral { apparent, place, u: taken.steady.repeat };
            set(open, datum, Some(taken), sensor.carrier, output).await
        }
        Command::Shaft(shaft) => {
            let open = setup_to_write(shaft.setup, common).await?;
            set_shaft(open, shaft.at, output).await
        }
    }
}

/// Gravity's level for every sensor that has had another zero, and for the one that has no blade of its own.
async fn set_gravity(mut open: OpenSetup, output: &Output) -> Result<Outcome, CliError> {
    for carrier in open.carriers() {
        open.set_zero(Datum::Gravity, None, Some(carrier)).await?;
    }
    set(open, Datum::Gravity, None, None, output).await
}

/// Sets the shaft as the datum of every sensor that it was read with.
async fn set_shaft(mut open: OpenSetup, at: Option<Deflection>, output: &Output) -> Result<Outcome, CliError> {
    let survey = RotorSurvey::new(&open.setup().head, open.entries(), at)?;
    let told_lean = |sensor| survey.datum(sensor).map(|datum| (datum, sensor.carrier));
    let datums: Option<Vec<(Datum, Option<Carrier>)>> = survey.sensors.iter().map(told_lean).collect();
    let mut datums = datums.unwrap_or_default();
    let Some((last, carrier)) = datums.pop() else {
        return Err(CliError::Measurement(
            "these captures do not tell the lean of the shaft: `rotor` says which readings would. No datum was set"
                .into(),
        ));
    };
    for (datum, carrier) in datums {
        open.set_zero(datum, None, carrier).await?;
    }
    set(open, last, None, carrier, output).await
}

/// So many steady readings in one session, the sensor turned round between them.
async fn readings<const N: usize>(
    open: &OpenSetup,
    args: &Reading,
    output: &Output,
) -> Result<([Taken; N], Instrument), CliError> {
    let settings = args.steady.settings()?;
    let saved = args.source.saved_for(open.logbook(), output).await?;
    let opened = args.source.open(&saved, open.setup().head.rotation).await?;
    if N > 1 && opened.stream.runs_as_asked() {
        return Err(CliError::Use(
            "a reversal needs a sensor that can be turned: name a --port or --tcp, or add --paced".into(),
        ));
    }
    let instrument = opened.instrument;
    let session = Session::start(opened.stream, instrument.clone());
    let mut taken: Vec<Taken> = Vec::with_capacity(N);
    for _ in 0..N {
        if let Some(last) = taken.last() {
            output.say("Now turn the sensor end for end on the same spot, and let go.");
            turned(&session, last).await?;
        }
        let reading = take_in(&session, settings, output).await?;
        if !reading.steady.steady {
            return Err(CliError::Measurement(
                "the sensor was never still for long enough: no datum was set. Let it lie and try again".into(),
            ));
        }
        taken.push(reading);
    }
    session.end().await?;
    let taken = taken.try_into().map_err(|_| CliError::Use("the readings were interrupted: try again".into()))?;
    Ok((taken, instrument))
}

/// Waits until the sensor is being moved.
async fn turned(session: &Session, last: &Taken) -> Result<(), CliError> {
    let moved = |now: &Option<LiveReading>| {
        now.as_ref().is_some_and(|now| {
            let pitch = (now.apparent_pitch - last.steady.apparent_pitch()).wrapped().abs();
            let span = (now.span_inclination - last.steady.span_inclination()).abs();
            pitch.degrees() > TURNING_DEGREES || span.degrees() > TURNING_DEGREES
        })
    };
    let mut live = session.live();
    let waited = tokio::time::timeout(TURN_WITHIN, live.wait_for(moved)).await;
    match waited {
        Ok(Ok(_)) => Ok(()),
        // The stream is over: asking it says why.
        Ok(Err(_)) => match session.read(SteadySettings::default()).await {
            Ok(_) => {
                Err(CliError::Measurement("the stream ended before the sensor was turned: no datum was set".into()))
            }
            Err(error) => Err(error.into()),
        },
        Err(_) => Err(CliError::Measurement("the sensor was not turned within two minutes: no datum was set".into())),
    }
}

async fn set(
    mut open: OpenSetup,
    datum: Datum,
    taken: Option<Taken>,
    carrier: Option<Carrier>,
    output: &Output,
) -> Result<Outcome, CliError> {
    let datum = open.set_zero(datum, taken.and_then(|taken| taken.temperature), carrier).await?;
    open.logbook().clone().close().await;
    output.answer(&datum, &told(&datum))?;
    Ok(Outcome::Done)
}

fn told(datum: &DatumRef) -> String {
    match datum.datum {
        Datum::Gravity => "zero is gravity's level, by the calibration alone".to_owned(),
        Datum::Surface { up, heading, u, .. } => format!(
            "zero is this surface, which reads {} along station {heading} (u {:.3}°)",
            up.apparent_pitch(),
            u.degrees()
        ),
        Datum::Reversal { instrument, slope, u } => format!(
            "the sensor's own error is {} and is taken off from here on (u {:.3}°); the surface slopes by {slope}",
            instrument.chord,
            u.degrees()
        ),
        Datum::Neutral { apparent, place, u } => {
            format!("zero is blade {} as it stands: {apparent} (u {:.3}°)", place.blade, u.degrees())
        }
        Datum::Shaft { tilt, u, .. } => {
            format!(
                "zero is square to the shaft, which leans {} to the nose and {} to the left (u {:.3}°)",
                tilt.nose,
                tilt.left,
                u.degrees()
            )
        }
    }
}
