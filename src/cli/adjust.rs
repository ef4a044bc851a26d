//! `adjust`: what was turned or set between two captures.

use super::setting::setup_to_write;
use super::{CliError, Common, Outcome, Output};
use crate::record::{Adjustment, Verdict};

/// Arguments of `adjust`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade adjust link B -2                   half-turns of blade B's pitch link, positive longer
  clinoblade adjust elevator end point 95       both ends of the elevator
  clinoblade adjust elevator up end point 95
  clinoblade adjust swash link 1 +1             link between servo 1 and the swashplate
  clinoblade adjust servo arm 2
  clinoblade adjust sub-trim 3 -4
  clinoblade adjust phase 5
  clinoblade adjust collective range 80
  clinoblade adjust tail rod +1

Every cell that it can have moved becomes stale until it is measured again.")]
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
    open.adjust(adjustment, args.note).await?;
    let record = open.record();
    let stale = |cell: &&crate::record::Cell| matches!(cell.verdict, Verdict::Stale { .. });
    let names: Vec<String> = record.cells.iter().filter(stale).map(|cell| cell.name.to_string()).collect();
    let text = match names.as_slice() {
        [] => format!("recorded {adjustment}: no captured cell is touched by it"),
        names => {
            let wanted: Vec<String> = record.shortest_remeasure().iter().map(|w| format!("  {w}")).collect();
            format!(
                "recorded {adjustment}. Stale now: {}.\nTo measure, in this order:\n{}",
                names.join(", "),
                wanted.join("\n")
            )
        }
    };
    let document = serde_json::json!({
        "setup": open.setup().number,
        "adjustment": adjustment,
        "stale": names,
        "to_measure": record.shortest_remeasure(),
    });
    open.logbook().clone().close().await;
    output.answer(&document, &text)?;
    Ok(Outcome::Done)
}
