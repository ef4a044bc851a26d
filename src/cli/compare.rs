//! `compare`: two setups, cell by cell.

use super::setting::logbook;
use super::{CliError, Common, Outcome, Output};
use crate::bench::SetupHandle;
use crate::record::{CellChange, Comparison, Pattern, Proviso};
use crate::words::comparison::{self as words, COMPARE_HELP};
use crate::words::{Face, Say};
use serde::Serialize;

/// Arguments of `compare`.
#[derive(Debug, clap::Args)]
#[command(after_help = COMPARE_HELP)]
pub(super) struct Args {
    /// The setup before
    first: u32,

    /// The setup after
    second: u32,
}

/// Prints the comparison.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let logbook = logbook(common).await?;
    let first = SetupHandle::find(logbook.clone(), Some(args.first)).await?;
    let second = SetupHandle::find(logbook, Some(args.second)).await?;
    let (one, two) = (&first.setup().head, &second.setup().head);
    let comparison = Comparison::of_setups((first.setup(), &first.record()), (second.setup(), &second.record()));
    let text = words::comparison((args.first, &one.name), (args.second, &two.name), &comparison);
    let answer = Answer {
        first: args.first,
        second: args.second,
        same_head: one.name == two.name,
        description_changed: one != two,
        same_blades: first.setup().blades == second.setup().blades,
        cells: &comparison.cells,
        suggests: comparison.patterns.iter().map(|pattern| pattern.say(Face::Terminal)).collect(),
        patterns: &comparison.patterns,
        provisos: &comparison.provisos,
    };
    output.answer(&answer, &text)?;
    Ok(if comparison.changed().next().is_some() { Outcome::SaysNo } else { Outcome::Done })
}

#[derive(Serialize)]
struct Answer<'a> {
    first: u32,
    second: u32,
    same_head: bool,
    description_changed: bool,
    same_blades: bool,
    cells: &'a [CellChange],
    suggests: Vec<String>,
    patterns: &'a [Pattern],
    provisos: &'a [Proviso],
}
