//! `adjust`: what was turned or set between two captures.

use super::progress::while_waiting;
use super::setting::setup_to_write;
use super::{CliError, Common, Outcome, Output};
use crate::record::{Adjustment, Verdict};
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
    adjustment.possible_on(&open.setup().head)?;
    while_waiting(output, open.adjust(adjustment, args.note)).await?;
    let record = open.record();
    let stale = |cell: &&crate::record::Cell| matches!(cell.verdict, Verdict::Stale { .. });
    let names: Vec<String> = record.cells.iter().filter(stale).map(|cell| cell.name.to_string()).collect();
    let between_seats = adjustment.is_between_seats(&open.setup().head);
    let adjusted = words::record::adjusted(&adjustment, &names, &record);
    let mut text = format!("{}\n{adjusted}", words::setup::line(open.setup()));
    if between_seats {
        text += "\n";
        text += words::record::BETWEEN_SEATS;
    }
    let document = serde_json::json!({
        "setup": open.setup().number,
        "adjustment": adjustment,
        "between_seats": between_seats,
        "stale": names,
        "to_measure": record.shortest_remeasure(),
        "to_check": record.to_check,
    });
    open.logbook().clone().close().await;
    output.answer_recorded(&document, &text)?;
    Ok(Outcome::Done)
}
