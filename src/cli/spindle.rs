//! `spindle`: whether the spindle is bent, from a blade's span slope with the spindle turned half round.

use super::setting::setup_to_write;
use super::source::{Opened, SourceArgs};
use super::steady::{SteadyArgs, take_in};
use super::{CliError, Common, Outcome, Output};
use crate::bench::{Session, Taken};
use crate::cli::parsed;
use crate::record::{CellName, Event, SpindleCheck};
use crate::rotor::{BladeName, Clip, Spot, Station, Visibility};
use crate::units::Angle;
use crate::words::{self, Face, cli, help};

/// Arguments of `spindle`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::SPINDLE)]
pub(super) struct Args {
    /// The blade that carries the clip
    #[arg(long, default_value = "A", value_parser = parsed::<BladeName>)]
    blade: BladeName,

    /// Where it is both times, degrees from the boom in the direction of rotation
    #[arg(long, value_name = "DEGREES", default_value = "90", allow_negative_numbers = true, value_parser = parsed::<Station>)]
    station: Station,

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

/// Reads twice, records the check and prints its cell.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let mut open = setup_to_write(args.setup, common).await?;
    let source = args.source.at(args.blade, Spot::Main(args.station))?;
    let saved = source.saved_for(open.logbook(), output).await?;
    let Opened { stream, instrument, .. } = source.open(&saved, open.setup().head.rotation).await?;
    if stream.runs_as_asked() {
        return Err(CliError::Use(cli::SPINDLE_NEEDS_A_SENSOR.into()));
    }
    let session = Session::start(stream, instrument);
    let before = asked(&session, &args, &cli::links_off(args.blade, args.station), output).await?;
    let after = asked(&session, &args, &cli::turn_the_spindle(args.blade, args.station), output).await?;
    session.end().await?;
    let check = SpindleCheck {
        blade: args.blade,
        station: args.station,
        before: span(&before, args.clip)?,
        after: span(&after, args.clip)?,
        u_repeat: before.steady.span_repeat.hypot(after.steady.span_repeat),
    };
    open.happened(Event::Spindle { check }).await?;
    let record = open.record();
    let cell = record.cell(CellName::Spindle(args.blade));
    let (mut lines, mut document) = (Vec::new(), serde_json::json!({ "setup": open.setup().number, "check": check }));
    if let Some((cell, value)) = cell.and_then(|cell| Some((cell, cell.value.as_ref()?))) {
        lines.push(cli::span_slopes(check.before, check.after));
        let (bend, wanted) = (words::record::value(value), words::table::wanted(cell));
        lines.push(cli::bend(&bend, &wanted, cell.verdict.word()));
        lines.extend(words::record::consequence(cell, Face::Terminal));
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
    let taken = take_in(session, args.steady.settings()?, output).await?;
    if taken.steady.steady { Ok(taken) } else { Err(CliError::Measurement(cli::SPINDLE_RESTLESS.into())) }
}

fn span(taken: &Taken, clip: Clip) -> Result<Angle, CliError> {
    let up = clip.turn(taken.steady.mean);
    Visibility::of(up)?;
    Ok(up.span_inclination())
}
