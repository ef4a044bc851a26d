//! `compare`: two setups, cell by cell.

use super::setting::logbook;
use super::{CliError, Common, Outcome, Output};
use crate::bench::compare;
use crate::words::comparison::{self as words, COMPARE_HELP};

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
    let (compared, comparison) = compare(&logbook, args.first, args.second).await?;
    let [one, two] = &compared.heads;
    output.answer(&compared, &words::comparison((args.first, one), (args.second, two), &comparison))?;
    Ok(if comparison.changed().next().is_some() { Outcome::SaysNo } else { Outcome::Done })
}
