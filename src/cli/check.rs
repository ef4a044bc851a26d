//! `check`: is the limit record complete, and what is inside, outside, undecided.

use super::error::waits;
use super::setting::setup;
use super::{CliError, Common, Outcome, Output};
use crate::record::{Advice, CellName, remedy};
use crate::words::{self, Face, Say, help};

/// Arguments of `check`.
#[derive(Debug, clap::Args)]
#[command(after_long_help = help::CHECK)]
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
    let mut text = format!("Setup {}\n{}", open.setup().number, words::table::text(&record, Face::Terminal));
    // What levels the plate comes before every other link.
    let plate = record.cell(CellName::SwashLevel);
    let advice = plate.and_then(|cell| remedy(&open.setup().head, open.entries(), &record, cell));
    if let Some(advice) = &advice {
        text += &words::table::section(words::table::TO_TURN, &[advice.say(Face::Terminal)]);
    }
    if let Some(line) = waits(waiting) {
        text += &format!("\n{line}\n");
    }
    if args.explain {
        for cell in &record.cells {
            // The figure by which it is judged, and what makes that uncertain.
            if let Some(value) = cell.judged_value() {
                let explained = words::uncertainty::explained(&value.budget, Face::Terminal);
                text += &format!("\n{}, {}\n{explained}\n", cell.name, words::record::value(&value));
            }
        }
    }
    let mut document = words::record::document(&record);
    if let serde_json::Value::Object(fields) = &mut document {
        fields.insert("setup".to_owned(), open.setup().number.into());
        fields.insert("waiting".to_owned(), waiting.into());
        if let Some(Advice::LevelPlate(level)) = &advice {
            fields.insert("level_plate".to_owned(), serde_json::json!(level));
        }
    }
    output.answer(&document, &text)?;
    Ok(if record.good { Outcome::Done } else { Outcome::SaysNo })
}
