//! `sweep`: moves every stick to its ends after the limits are set, and compares with the record.

use super::setting::setup_to_write;
use super::source::{Opened, SourceArgs};
use super::{CliError, Common, Outcome, Output, question};
use crate::bench::{Session, SetupHandle, sweeping};
use crate::cli::parsed;
use crate::guide::Sweeper;
use crate::record::{Event, Head, Sweep, SweptEnd, rudder_sign, trade};
use crate::rotor::{Axis, BladeName, Carrier, LeadingEdge, Spot, Station};
use crate::words::{Face, Say, cli, help};
use serde_json::json;

/// Arguments of `sweep`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::SWEEP)]
pub(super) struct Args {
    /// elevator, aileron or rudder [default: all three]
    #[arg(value_parser = parsed::<Axis>)]
    axis: Vec<Axis>,

    /// The blade that carries the clip
    #[arg(long, default_value = "A", value_parser = parsed::<BladeName>)]
    blade: BladeName,

    /// Where a main blade stands [default: 90 for the elevator, 0 for the aileron, plus the head's control phase]
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Station>)]
    station: Option<Station>,

    /// Where the tail blade's leading edge points
    #[arg(long, value_name = "up|down", default_value = "up", value_parser = parsed::<LeadingEdge>)]
    leading_edge: LeadingEdge,

    /// Record into this setup [default: the open one]
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    #[command(flatten)]
    source: SourceArgs,
}

/// Watches each axis, records what was reached, and prints it.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let mut open = setup_to_write(args.setup, common).await?;
    let axes = if args.axis.is_empty() { trade::SWEPT.to_vec() } else { args.axis.clone() };
    // Every axis is checked before anything moves.
    let sweepers: Vec<Sweeper> = axes.iter().map(|&axis| sweeper(&args, &open, axis)).collect::<Result<_, _>>()?;
    let sources: Vec<SourceArgs> = axes
        .iter()
        .map(|&axis| args.source.at(args.blade, spot(&args, &open.setup().head, axis)))
        .collect::<Result<_, _>>()?;
    let several = axes.len() > 1;
    let mut sweeps = Vec::new();
    let mut reading: Option<(Option<Carrier>, Session)> = None;
    for ((axis, sweeper), source) in axes.iter().zip(sweepers).zip(&sources) {
        // One clip goes from blade to blade; a sensor that stays on its blade is opened for its axis.
        let session = match reading.take() {
            Some((carrier, session)) if carrier == source.carrier() => session,
            other => {
                if let Some((_, session)) = other {
                    session.end().await?;
                }
                begin(source, &open, several, output).await?
            }
        };
        if several {
            output.say(&cli::clip_to(*axis, args.blade, spot(&args, &open.setup().head, *axis)));
            if question::line().await.is_none() {
                return Err(CliError::Use(cli::sweep_broken_off(*axis)));
            }
        }
        let sweep = sweeping::sweep(&session, sweeper, |sweeper| output.say(&cli::sweep_move(sweeper.wants()))).await?;
        reading = Some((source.carrier(), session));
        open.happened(Event::Swept { sweep: sweep.clone() }).await?;
        sweeps.push(sweep);
    }
    if let Some((_, session)) = reading {
        session.end().await?;
    }
    let ended = answer(&open, &sweeps, output);
    open.logbook().clone().close().await;
    ended
}

fn answer(open: &SetupHandle, sweeps: &[Sweep], output: &Output) -> Result<Outcome, CliError> {
    let (head, record) = (&open.setup().head, open.record());
    let judged = |sweep: &Sweep| {
        sweep.ends.iter().map(|end| SweptEnd::judge(head, open.entries(), &record, sweep, end)).collect::<Vec<_>>()
    };
    let ends: Vec<SweptEnd> = sweeps.iter().flat_map(judged).collect();
    let mut lines: Vec<String> = ends.iter().map(|end| end.say(Face::Terminal)).collect();
    for sweep in sweeps {
        if let (Some(lost), Some(end)) = (sweep.lost_motion(), sweep.ends.first()) {
            lines.push(cli::lost_motion(end.deflection.axis(), lost));
        }
    }
    let good = ends.iter().all(SweptEnd::is_good);
    lines.push(cli::swept(good).to_owned());
    output.answer(&json!({ "setup": open.setup().number, "ends": ends, "good": good }), &lines.join("\n"))?;
    Ok(if good { Outcome::Done } else { Outcome::SaysNo })
}

fn spot(args: &Args, head: &Head, axis: Axis) -> Spot {
    match axis {
        Axis::Rudder => Spot::Tail(args.leading_edge),
        _ => Spot::Main(args.station.unwrap_or_else(|| trade::own_station(head, trade::neutral(axis)))),
    }
}

/// Opens the sensor of an axis.
async fn begin(source: &SourceArgs, open: &SetupHandle, several: bool, output: &Output) -> Result<Session, CliError> {
    let saved = source.saved_for(open.logbook(), output).await?;
    let Opened { stream, instrument, .. } = source.open(&saved, open.setup().head.rotation).await?;
    if several && stream.runs_as_asked() {
        return Err(CliError::Use(cli::CLIP_MOVES.to_owned()));
    }
    Ok(Session::start(stream, instrument))
}

/// The sweeper of an axis.
///
/// # Errors
/// When its directions cannot be told apart at this place.
fn sweeper(args: &Args, open: &SetupHandle, axis: Axis) -> Result<Sweeper, CliError> {
    let swept = trade::ends(axis).filter(|_| trade::SWEPT.contains(&axis));
    let [one, other] = swept.ok_or_else(|| CliError::Use(cli::not_swept(axis)))?;
    let head = &open.setup().head;
    let spot = spot(args, head, axis);
    let sign = match spot {
        Spot::Main(station) => trade::sign(head, one, spot)
            .ok_or_else(|| CliError::Use(cli::hardly_shows(axis, station, trade::own_station(head, one)))),
        // Of the tail the sign is that of rudder right.
        Spot::Tail(edge) => rudder_sign(head, open.entries(), edge)
            .map(|right| -right)
            .ok_or_else(|| CliError::Use(cli::TAIL_WAY_UNKNOWN.to_owned())),
    }?;
    Ok(Sweeper::new(args.blade, spot, [(one, sign), (other, -sign)]))
}
