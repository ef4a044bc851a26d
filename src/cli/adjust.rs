//! `adjust`: what was turned or set between two captures.

use super::progress::while_waiting;
use super::setting::setup_to_write;
use super::{CliError, Common, Outcome, Output};
use crate::bench::{Adjusted, adjust};
use crate::record::Adjustment;
use crate::words::{self, help};

/// Arguments of `adjust`.
#[derive(Debug, clap::Args)]
#[command(after_long_help = help::ADJUST)]
pub(super) struct Args {
    /// What was turned, and by how much
    #[arg(required = true, num_args = 1.., allow_negative_numbers = true, value_name = "WORDS")]
    words: Vec<String>,

    /// A remark to keep with it
    #[arg(long)]
    note: Option<String>,

    /// Record into this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,
}

/// Records, and says what became stale.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let adjustment: Adjustment = args.words.join(" ").parse()?;
    let mut open = setup_to_write(args.setup, common).await?;
    while_waiting(output, adjust(&mut open, adjustment, args.note)).await?;
    let (adjusted, record) = Adjusted::of(&open, adjustment);
    let done = words::record::adjusted(&adjustment, &adjusted.stale, &record);
    let mut text = format!("{}\n{done}", words::setup::line(open.setup()));
    if adjusted.between_seats {
        text += "\n";
        text += words::record::BETWEEN_SEATS;
    }
    open.logbook().clone().close().await;
    output.answer_recorded(&adjusted, &text)?;
    Ok(Outcome::Done)
}
