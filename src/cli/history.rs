//! `history`: the cells of one head over its setups.

use super::source::existing;
use super::{CliError, Common, Outcome, Output};
use crate::logbook::KeptSetup;
use crate::record::{CellHistory, LimitRecord};
use crate::report::pictures;
use serde_json::{Value, json};
use std::path::PathBuf;

/// Arguments of `history`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade history \"Workshop trainer\"
  clinoblade history \"Workshop trainer\" --cell \"elevator up\" --plot elevator-up.svg

A chart of individuals and moving ranges for each cell: its mean, the limits within which it has varied, and what stands out: a \
value outside of them, a jump from one setup to the next, eight in a row on one side. Under eight setups the limits are \
provisional. The exit code is 1 where the newest setup stands out, else 0.")]
pub(super) struct Args {
    /// What the head is called
    head: String,

    /// This cell alone, as `check` names it
    #[arg(long, value_name = "CELL")]
    cell: Option<String>,

    /// Draw the cell over time
    #[arg(long, value_name = "FILE.svg", requires = "cell")]
    plot: Option<PathBuf>,

    /// The newest so many setups
    #[arg(long, value_name = "N", default_value_t = 50, value_parser = clap::value_parser!(u32).range(1..))]
    most: u32,
}

/// Prints the history.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let none = || CliError::Use(format!("no setup of '{}' is kept: `setup list` shows which heads are", args.head));
    let logbook = existing(common).await?.ok_or_else(none)?;
    // One more than asked for, to know whether there are older ones.
    let kept =
        |kept: KeptSetup| (kept.setup.number, kept.setup.started_at, LimitRecord::new(&kept.setup.head, &kept.entries));
    let mut setups = logbook.setups_of_head(&args.head, args.most.saturating_add(1), kept).await?;
    let has_older = setups.len() > args.most as usize;
    setups.truncate(args.most as usize);
    // Oldest first.
    setups.reverse();
    let newest = setups.last().map(|(number, ..)| *number).ok_or_else(none)?;
    let mut cells = CellHistory::of(&setups);
    if let Some(wanted) = &args.cell {
        cells.retain(|cell| cell.cell.to_string() == *wanted);
        if cells.is_empty() {
            return Err(CliError::Use(format!("no setup of '{}' holds a value of '{wanted}'", args.head)));
        }
    }
    if let (Some(path), [cell]) = (&args.plot, cells.as_slice()) {
        let file = CliError::file(path);
        super::written::over(path, &pictures::history(cell).svg()).map_err(file)?;
    }
    let text: Vec<String> = cells.iter().map(told).collect();
    let how_many = match (setups.len(), has_older) {
        (count, true) => format!("the newest {count} setups; --most shows older ones"),
        (1, false) => "1 setup".to_owned(),
        (count, false) => format!("{count} setups"),
    };
    let text = format!("{}, {how_many}\n\n{}", args.head, text.join("\n"));
    output.answer(
        &json!({ "head": args.head, "has_older": has_older, "cells": cells.iter().map(document).collect::<Vec<_>>() }),
        &text,
    )?;
    let stands_out = cells.iter().any(|cell| {
        let chart = cell.chart.as_ref();
        let of_newest = |place: usize| cell.values.get(place).is_some_and(|value| value.setup == newest);
        chart.is_some_and(|chart| chart.signals.iter().any(|(place, _)| of_newest(*place)))
    });
    Ok(if stands_out { Outcome::SaysNo } else { Outcome::Done })
}

fn told(cell: &CellHistory) -> String {
    let values: Vec<String> = cell.values.iter().map(|v| format!("{} {}", v.setup, v.angle)).collect();
    let mut lines = vec![format!("{:<16}  {}", cell.cell, values.join(" · "))];
    if let Some(chart) = &cell.chart {
        let provisional = if chart.provisional { ", provisional" } else { "" };
        lines.push(format!(
            "{:<16}  mean {:+.2}°, within {:+.2} to {:+.2}°{provisional}",
            "", chart.centre, chart.limits.0, chart.limits.1
        ));
    }
    lines.extend(cell.signals().into_iter().map(|signal| format!("{:<16}  ! {signal}", "")));
    lines.join("\n")
}

fn document(cell: &CellHistory) -> Value {
    let value = |v: &crate::record::Past| json!({ "setup": v.setup, "started_at": v.at, "value_deg": v.angle, "expanded_uncertainty_deg": v.expanded });
    json!({
        "cell": cell.cell,
        "values": cell.values.iter().map(value).collect::<Vec<_>>(),
        "chart": cell.chart.as_ref().map(|chart| json!({
            "centre_deg": chart.centre,
            "lower_limit_deg": chart.limits.0,
            "upper_limit_deg": chart.limits.1,
            "mean_range_deg": chart.mean_range,
            "range_limit_deg": chart.range_limit,
            "provisional": chart.provisional,
            "signals": chart.signals.iter().map(|(place, signal)| json!({
                "setup": cell.values.get(*place).map(|v| v.setup),
                "signal": signal,
            })).collect::<Vec<_>>(),
        })),
    })
}
