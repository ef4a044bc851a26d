//! `spindle`: whether the spindle is bent, from a blade's span slope with the spindle turned in its grips.

use super::setting::setup_to_write;
use super::shown::Shown;
use super::source::{Opened, SourceArgs};
use super::steady::{SteadyArgs, take_in};
use super::{CliError, Common, Outcome, Output};
use crate::bench::{Session, Taken};
use crate::cli::parsed;
use crate::record::{CellName, Event, SpindleCheck, trade};
use crate::rotor::{Axis, BladeName, Clip, Spot, Station, Visibility};
use crate::units::Angle;
use crate::words::{self, Face, cli, help};

/// Arguments of `spindle`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::SPINDLE)]
pub(super) struct Args {
    /// The blade that carries the clip
    #[arg(long, default_value = "A", value_parser = parsed::<BladeName>)]
    blade: BladeName,

    /// Where it is each time, degrees from the boom in the direction of rotation [default: where the elevator is read]
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Station>)]
    station: Option<Station>,

    /// How far the spindle is turned from its mark at each reading, in quarter turns
    #[arg(long, value_name = "DEGREES", value_delimiter = ',', default_values_t = [0, 90, 180, 270])]
    seats: Vec<u16>,

    /// Clip forward or reversed (end for end)
    #[arg(long, value_name = "forward|reversed", default_value = "forward", value_parser = parsed::<Clip>)]
    clip: Clip,

    /// Record into this setup [default: the open one]
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    #[command(flatten)]
    steady: SteadyArgs,

    #[command(flatten)]
    source: SourceArgs,
}

/// Reads at every seat, records the check and prints its cell.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    SpindleCheck::seats(&args.seats)?;
    let mut open = setup_to_write(args.setup, common).await?;
    let own = || trade::own_station(&open.setup().head, trade::neutral(Axis::Elevator));
    let station = args.station.unwrap_or_else(own);
    let source = args.source.at(args.blade, Spot::Main(station))?;
    let saved = source.saved_for(open.logbook(), output).await?;
    let Opened { stream, instrument, .. } = source.open(&saved, open.setup().head.rotation).await?;
    if stream.runs_as_asked() {
        return Err(CliError::Use(cli::SPINDLE_NEEDS_A_SENSOR.into()));
    }
    let session = Session::start(stream, instrument);
    let mut read = Vec::new();
    let mut from = None;
    for &seat in &args.seats {
        let prompt = match from.replace(seat) {
            None if seat == 0 => cli::links_off(args.blade, station),
            None => cli::links_off_and_turned(args.blade, station, seat),
            Some(from) => cli::turn_the_spindle(args.blade, station, from, seat),
        };
        let taken = asked(&session, &args, &prompt, output).await?;
        read.push((seat, span(&taken, args.clip)?, taken.steady.span_repeat));
    }
    session.end().await?;
    let check = SpindleCheck::new(args.blade, station, &read)?;
    open.happened(Event::Spindle { check }).await?;
    let record = open.record();
    let cell = record.cell(CellName::Spindle(args.blade));
    let (mut lines, mut document) = (Vec::new(), serde_json::json!({ "setup": open.setup().number, "check": check }));
    if let Some((cell, value)) = cell.and_then(|cell| Some((cell, cell.value.as_ref()?))) {
        lines.push(cli::span_slopes(&check));
        let (bend, wanted) = (words::record::value(value), words::table::wanted(cell));
        lines.push(cli::bend(&bend, &wanted, cell.verdict.word()));
        lines.extend(words::record::consequence(cell, Face::Terminal));
        lines.extend(words::record::remarks(cell));
        if args.steady.explain {
            lines.push(crate::words::uncertainty::explained(&value.budget, crate::words::Face::Terminal));
        }
    }
    if let serde_json::Value::Object(fields) = &mut document {
        fields.insert("cell".to_owned(), cell.map(words::record::cell_document).unwrap_or_default());
    }
    output.answer(&document, &lines.join("\n"))?;
    open.logbook().clone().close().await;
    Ok(if cell.is_some_and(|cell| cell.verdict.is_good()) { Outcome::Done } else { Outcome::SaysNo })
}

async fn asked(session: &Session, args: &Args, prompt: &str, output: &Output) -> Result<Taken, CliError> {
    output.say(prompt);
    if super::question::line().await.is_none() {
        return Err(CliError::Use(cli::SPINDLE_BROKEN_OFF.into()));
    }
    let taken = take_in(session, args.steady.settings()?, Shown::default(), output).await?;
    if taken.steady.steady { Ok(taken) } else { Err(CliError::Measurement(cli::SPINDLE_RESTLESS.into())) }
}

fn span(taken: &Taken, clip: Clip) -> Result<Angle, CliError> {
    let up = clip.turn(taken.steady.mean);
    Visibility::of(up)?;
    Ok(up.span_inclination())
}
