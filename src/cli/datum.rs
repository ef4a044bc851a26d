//! `datum`: sets the zero.

use super::setting::setup_to_write;
use super::shown::Shown;
use super::source::SourceArgs;
use super::steady::{SteadyArgs, take_in};
use super::{CliError, Common, Outcome, Output};
use crate::bench::{Instrument, Session, SetupHandle, Taken, zero};
use crate::cli::parsed;
use crate::filter::SteadySettings;
use crate::record::RotorSurvey;
use crate::rotor::{BladeName, Carrier, Clip, Datum, Deflection, LeadingEdge, Place, Spot, Station};
use crate::words::{cli, help};

/// Arguments of `datum`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::DATUM)]
pub(super) struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    /// Gravity's level, by the calibration alone
    Gravity(Gravity),
    /// A surface the sensor lies on; it holds along that heading
    Surface(Surface),
    /// Remove the sensor's own error: turn it end for end on a flat surface or a blade
    Reversal(Reversal),
    /// A blade as it is at neutral, at this place
    Neutral(Neutral),
    /// The rotor's axis, from this setup's captures round the turn (see `rotor`)
    Shaft(Shaft),
}

#[derive(Debug, clap::Args)]
struct Gravity {
    /// Also where a reversal was set
    #[arg(long)]
    replace: bool,

    /// Record into this setup [default: the open one]
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,
}

#[derive(Debug, clap::Args)]
struct Shaft {
    /// Record into this setup [default: the open one]
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    /// Use the captures of this stick position [default: all sticks neutral]
    #[arg(long, value_name = "AXIS DIRECTION", value_parser = parsed::<Deflection>)]
    at: Option<Deflection>,
}

#[derive(Debug, clap::Args)]
pub(super) struct Reading {
    /// Record into this setup [default: the open one]
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    #[command(flatten)]
    pub steady: SteadyArgs,

    #[command(flatten)]
    pub source: SourceArgs,
}

#[derive(Debug, clap::Args)]
struct Surface {
    /// Station of a blade that would carry the clip along this heading, degrees
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Station>)]
    station: Station,

    #[command(flatten)]
    reading: Reading,
}

#[derive(Debug, clap::Args)]
pub(super) struct Reversal {
    /// Turn it on a blade, clip forward and then reversed; less certain, by the clip's seat
    #[arg(long)]
    pub on_a_blade: bool,

    /// It was turned, although it reads the same both ways: the surface is level
    #[arg(long)]
    pub turned: bool,

    #[command(flatten)]
    pub reading: Reading,
}

#[derive(Debug, clap::Args)]
struct Neutral {
    /// The blade that carries the clip
    #[arg(long, default_value = "A", value_parser = parsed::<BladeName>)]
    blade: BladeName,

    /// Where it is, degrees from the boom in the direction of rotation
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, required_unless_present = "leading_edge", value_parser = parsed::<Station>)]
    station: Option<Station>,

    /// Where the tail blade's leading edge points
    #[arg(long, value_name = "up|down", conflicts_with = "station", value_parser = parsed::<LeadingEdge>)]
    leading_edge: Option<LeadingEdge>,

    /// Clip forward or reversed (end for end)
    #[arg(long, value_name = "forward|reversed", default_value = "forward", value_parser = parsed::<Clip>)]
    clip: Clip,

    #[command(flatten)]
    reading: Reading,
}

/// Takes the readings and sets the zero.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    match args.command {
        Command::Gravity(gravity) => {
            let open = setup_to_write(gravity.setup, common).await?;
            set_gravity(open, gravity.replace, output).await
        }
        Command::Surface(surface) => {
            let open = setup_to_write(surface.reading.setup, common).await?;
            let (taken, sensor) = reading(&open, &surface.reading, output).await?;
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
            super::reversal::run(open, &reversal, output).await
        }
        Command::Neutral(neutral) => {
            let open = setup_to_write(neutral.reading.setup, common).await?;
            let spot = neutral.station.map_or(Spot::Tail(neutral.leading_edge.unwrap_or(LeadingEdge::Up)), Spot::Main);
            let place = Place { blade: neutral.blade, spot, clip: neutral.clip };
            let source = neutral.reading.source.at(place.blade, place.spot)?;
            let (taken, sensor) = reading(&open, &Reading { source, ..neutral.reading }, output).await?;
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
async fn set_gravity(mut open: SetupHandle, replace: bool, output: &Output) -> Result<Outcome, CliError> {
    let zeros = open.carriers().into_iter().map(Some).chain([None]).map(|carrier| open.datum(carrier).datum);
    let reversal = zeros.into_iter().find_map(|zero| match zero {
        Datum::Reversal { instrument, u, .. } => Some(cli::displaces(instrument.chord, u)),
        _ => None,
    });
    if let Some(matter) = reversal
        && !replace
        && !super::question::yes(&matter, cli::USE_GRAVITY, output).await
    {
        return Err(CliError::Use(cli::displace_first(&matter)));
    }
    for carrier in open.carriers() {
        open.set_zero(Datum::Gravity, None, Some(carrier)).await?;
    }
    set(open, Datum::Gravity, None, None, output).await
}

/// Sets the shaft as the datum of every sensor that it was read with.
async fn set_shaft(mut open: SetupHandle, at: Option<Deflection>, output: &Output) -> Result<Outcome, CliError> {
    let survey = RotorSurvey::new(&open.setup().head, open.entries(), at)?;
    if survey.moved_since {
        return Err(CliError::Measurement(cli::SHAFT_MOVED.into()));
    }
    let told_lean = |sensor| survey.datum(sensor).map(|datum| (datum, sensor.carrier));
    let datums: Option<Vec<(Datum, Option<Carrier>)>> = survey.sensors.iter().map(told_lean).collect();
    let mut datums = datums.unwrap_or_default();
    let Some((last, carrier)) = datums.pop() else {
        return Err(CliError::Measurement(cli::LEAN_UNKNOWN.into()));
    };
    for (datum, carrier) in datums {
        open.set_zero(datum, None, carrier).await?;
    }
    set(open, last, None, carrier, output).await
}

/// One steady reading.
async fn reading(open: &SetupHandle, args: &Reading, output: &Output) -> Result<(Taken, Instrument), CliError> {
    let settings = args.steady.settings()?;
    let saved = args.source.saved_for(open.logbook(), output).await?;
    let opened = args.source.open(&saved, open.setup().head.rotation).await?;
    let instrument = opened.instrument;
    let session = Session::start(opened.stream, instrument.clone());
    let taken = steady(&session, settings, output).await?;
    session.end().await?;
    Ok((taken, instrument))
}

/// A reading of a session that a zero may be made of.
pub(super) async fn steady(session: &Session, settings: SteadySettings, output: &Output) -> Result<Taken, CliError> {
    let taken = take_in(session, settings, Shown::default(), output).await?;
    if taken.steady.steady { Ok(taken) } else { Err(CliError::Measurement(cli::NO_ZERO_RESTLESS.into())) }
}

async fn set(
    mut open: SetupHandle,
    datum: Datum,
    taken: Option<Taken>,
    carrier: Option<Carrier>,
    output: &Output,
) -> Result<Outcome, CliError> {
    let datum = open.set_zero(datum, taken.and_then(|taken| taken.temperature), carrier).await?;
    open.logbook().clone().close().await;
    output.answer(&datum, &cli::zero_set(datum.datum))?;
    Ok(Outcome::Done)
}
