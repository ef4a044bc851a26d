//! `compare`: two setups, cell by cell.

use super::setting::logbook;
use super::{CliError, Common, Outcome, Output};
use crate::bench::OpenSetup;
use crate::record::{Change, Comparison};

/// Arguments of `compare`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  clinoblade compare 3 7         what is otherwise in setup 7 than it was in setup 3

Each difference stands with its own uncertainty, in which what both setups share (a calibration, a datum) counts as one error. \
`changed` is more than its uncertainty; `cannot tell` says that these readings are too coarse to show a change that matters. \
The exit code is 1 where something has changed, else 0.")]
pub(super) struct Args {
    /// The setup before
    first: u32,

    /// The setup after
    second: u32,
}

/// Prints the comparison.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let logbook = logbook(common).await?;
    let first = OpenSetup::find(logbook.clone(), Some(args.first)).await?;
    let second = OpenSetup::find(logbook, Some(args.second)).await?;
    let (one, two) = (&first.setup().head, &second.setup().head);
    let comparison = Comparison::of_setups((first.setup(), &first.record()), (second.setup(), &second.record()));
    let mut text = format!("Setup {} of {} and setup {} of {}\n", args.first, one.name, args.second, two.name);
    if args.first == args.second {
        text += "That is one setup twice: nothing can differ.\n";
    }
    for proviso in &comparison.provisos {
        text += &format!("{proviso}\n");
    }
    text += &format!("\n{comparison}");
    let document = serde_json::json!({
        "first": args.first,
        "second": args.second,
        "same_head": one.name == two.name,
        "description_changed": one != two,
        "same_blades": first.setup().blades == second.setup().blades,
        "cells": comparison.cells,
        "suggests": comparison.suggests,
    });
    output.answer(&document, &text)?;
    let changed = comparison.cells.iter().any(|cell| cell.change == Change::Changed);
    Ok(if changed { Outcome::SaysNo } else { Outcome::Done })
}
