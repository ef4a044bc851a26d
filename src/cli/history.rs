//! `history`: the cells of one head over its setups.

use super::parsed;
use super::source::existing;
use super::{CliError, Common, Outcome, Output};
use crate::bench::HeadHistory;
use crate::record::CellName;
use crate::report::pictures;
use crate::words::comparison::{self as words, HISTORY_HELP};
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

/// Prints the history.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let none = || CliError::Use(words::no_setup_of(&args.head));
    let logbook = existing(common).await?.ok_or_else(none)?;
    let mut history = HeadHistory::of(&logbook, &args.head, args.most).await?.ok_or_else(none)?;
    if let Some(wanted) = args.cell {
        history.cells.retain(|cell| cell.cell == wanted);
        if history.cells.is_empty() {
            return Err(CliError::Use(words::no_such_cell(&args.head, wanted)));
        }
    }
    if let (Some(path), [cell]) = (&args.plot, history.cells.as_slice()) {
        let file = CliError::file(path);
        crate::bench::written::over(path, &pictures::history(cell).svg()).map_err(file)?;
    }
    let text = words::history(&args.head, history.shown.len(), history.has_older, &history.cells);
    output.answer(&history.document(&args.head), &text)?;
    Ok(if history.stands_out() { Outcome::SaysNo } else { Outcome::Done })
}
