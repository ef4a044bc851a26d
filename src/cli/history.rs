//! `history`: the cells of one head over its setups.

use super::parsed;
use super::source::existing;
use super::{CliError, Common, Outcome, Output};
use crate::logbook::KeptSetup;
use crate::record::{CellHistory, CellName, LimitRecord};
use crate::report::pictures;
use crate::stats::control_chart::{Flag, Signal};
use crate::units::Angle;
use crate::words::comparison::{self as words, HISTORY_HELP};
use jiff::Timestamp;
use serde::Serialize;
use std::path::PathBuf;

/// Arguments of `history`.
#[derive(Debug, clap::Args)]
#[command(after_help = HISTORY_HELP)]
pub(super) struct Args {
    /// What the head is called
    head: String,

    /// This cell alone, named as `check` prints it
    #[arg(long, value_name = "CELL", value_parser = parsed::<CellName>)]
    cell: Option<CellName>,

    /// Draw the cell over time
    #[arg(long, value_name = "FILE.svg", requires = "cell")]
    plot: Option<PathBuf>,

    /// Show at most N setups (newest first)
    #[arg(long, value_name = "N", default_value_t = 50, value_parser = clap::value_parser!(u32).range(1..))]
    most: u32,
}

/// So many setups before those shown make their limits too. [common practice, no source: 20 to 25 make a chart]
const LEARNT_FROM: u32 = 25;

/// Prints the history.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let none = || CliError::Use(words::no_setup_of(&args.head));
    let logbook = existing(common).await?.ok_or_else(none)?;
    // More than asked for: whether there are older ones, and limits that do not depend on how many are shown.
    let kept =
        |kept: KeptSetup| (kept.setup.number, kept.setup.started_at, LimitRecord::new(&kept.setup.head, &kept.entries));
    let mut setups = logbook.setups_of_head(&args.head, args.most.saturating_add(LEARNT_FROM), kept).await?;
    let has_older = setups.len() > args.most as usize;
    // Oldest first.
    setups.reverse();
    let shown: Vec<u32> = setups.iter().rev().take(args.most as usize).map(|(number, ..)| *number).collect();
    let newest = setups.last().map(|(number, ..)| *number).ok_or_else(none)?;
    let mut cells = CellHistory::newest(CellHistory::of(&setups), &shown);
    if let Some(wanted) = args.cell {
        cells.retain(|cell| cell.cell == wanted);
        if cells.is_empty() {
            return Err(CliError::Use(words::no_such_cell(&args.head, wanted)));
        }
    }
    if let (Some(path), [cell]) = (&args.plot, cells.as_slice()) {
        let file = CliError::file(path);
        super::written::over(path, &pictures::history(cell).svg()).map_err(file)?;
    }
    let answer = Answer { head: &args.head, has_older, cells: cells.iter().map(CellAnswer::new).collect() };
    output.answer(&answer, &words::history(&args.head, shown.len(), has_older, &cells))?;
    let stands_out = cells.iter().any(|cell| {
        let chart = cell.chart.as_ref();
        let of_newest = |place: usize| cell.values.get(place).is_some_and(|value| value.setup == newest);
        chart.is_some_and(|chart| chart.flags.iter().any(|flag| of_newest(flag.place)))
    });
    Ok(if stands_out { Outcome::SaysNo } else { Outcome::Done })
}

#[derive(Serialize)]
struct Answer<'a> {
    head: &'a str,
    has_older: bool,
    cells: Vec<CellAnswer>,
}

#[derive(Serialize)]
struct CellAnswer {
    cell: CellName,
    values: Vec<ValueAnswer>,
    /// Setups whose value was read in another way than the newest.
    otherwise_in_setups: Vec<u32>,
    chart: Option<ChartAnswer>,
}

#[derive(Serialize)]
struct ValueAnswer {
    setup: u32,
    started_at: Timestamp,
    value_deg: Angle,
    expanded_uncertainty_deg: Angle,
}

#[derive(Serialize)]
struct ChartAnswer {
    centre_deg: f64,
    lower_limit_deg: f64,
    upper_limit_deg: f64,
    mean_range_deg: Option<f64>,
    range_limit_deg: f64,
    provisional: bool,
    earlier_setups: usize,
    signals: Vec<SignalAnswer>,
}

#[derive(Serialize)]
struct SignalAnswer {
    setup: Option<u32>,
    signal: Signal,
    lower_limit_deg: f64,
    upper_limit_deg: f64,
}

impl CellAnswer {
    fn new(cell: &CellHistory) -> Self {
        let values = cell.values.iter().map(|value| ValueAnswer {
            setup: value.setup,
            started_at: value.at,
            value_deg: value.angle,
            expanded_uncertainty_deg: value.expanded,
        });
        let signal = |flag: &Flag| SignalAnswer {
            setup: cell.values.get(flag.place).map(|value| value.setup),
            signal: flag.signal,
            lower_limit_deg: flag.limits.low,
            upper_limit_deg: flag.limits.high,
        };
        let chart = cell.chart.as_ref().map(|chart| ChartAnswer {
            centre_deg: chart.limits.centre,
            lower_limit_deg: chart.limits.low,
            upper_limit_deg: chart.limits.high,
            mean_range_deg: chart.limits.mean_range,
            range_limit_deg: chart.limits.range_limit,
            provisional: chart.limits.is_provisional(),
            earlier_setups: chart.limits.earlier,
            signals: chart.flags.iter().map(signal).collect(),
        });
        Self { cell: cell.cell, values: values.collect(), otherwise_in_setups: cell.otherwise.clone(), chart }
    }
}
