//! `check`: is the limit record complete, and what is inside, outside, undecided.

use super::error::waits;
use super::setting::setup;
use super::{CliError, Common, Outcome, Output};

/// Arguments of `check`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  clinoblade check && echo ready for the hand-over

The exit code is 0 when every cell holds a value that is inside or bound, else 1.")]
pub(super) struct Args {
    /// Check this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    /// Print each cell's uncertainty budget as a table
    #[arg(long)]
    explain: bool,
}

/// Works the record out and prints it.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let open = setup(args.setup, common).await?;
    let record = open.record();
    let waiting = open.logbook().waiting()?;
    let mut text = format!("Setup {}\n{record}", open.setup().number);
    if let Some(line) = waits(waiting) {
        text += &format!("\n{line}\n");
    }
    if args.explain {
        for cell in &record.cells {
            if let Some(value) = &cell.value {
                text += &format!(
                    "\n{}, {value}\n{}\n",
                    cell.name,
                    crate::words::uncertainty::explained(&value.budget, crate::words::Face::Terminal)
                );
            }
        }
    }
    let mut document = serde_json::to_value(&record).map_err(|error| CliError::Print(error.into()))?;
    if let serde_json::Value::Object(fields) = &mut document {
        fields.insert("setup".to_owned(), open.setup().number.into());
        fields.insert("waiting".to_owned(), waiting.into());
    }
    output.answer(&document, &text)?;
    Ok(if record.good { Outcome::Done } else { Outcome::SaysNo })
}
