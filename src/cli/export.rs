//! `export`: one setup as a document of its own.

use super::setting::logbook;
use super::{CliError, Common, Outcome, Output};
use crate::logbook::schema;
use crate::words::setup as words;
use std::path::{Path, PathBuf};

/// Arguments of `export`.
#[derive(Debug, clap::Args)]
#[command(after_help = words::EXPORT_HELP)]
pub(super) struct Args {
    /// Number of the setup [default: the open one]
    setup: Option<u32>,

    /// File to write; without it the document is printed
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// The JSON Schema of such documents instead of a setup
    #[arg(long, conflicts_with = "setup")]
    schema: bool,
}

/// Writes the document or prints it.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let out = args.out.as_deref();
    if args.schema {
        hand_over(&schema(), serde_json::json!({}), out, words::schema_written, output)?;
        return Ok(Outcome::Done);
    }
    let logbook = logbook(common).await?;
    let number = match args.setup {
        Some(number) => number,
        None => logbook.open_setup().await?.number,
    };
    let document = logbook.export(number).await?;
    logbook.close().await;
    let facts = serde_json::json!({
        "setup": number, "id": document.setup.id, "head": document.setup.head.name, "entries": document.entries.len(),
    });
    hand_over(&document, facts, out, |path| words::exported(&document, path), output)?;
    Ok(Outcome::Done)
}

/// To a file that is not there yet, since somebody may have no other copy of one that is; else to standard output.
fn hand_over(
    document: &impl serde::Serialize,
    mut facts: serde_json::Value,
    out: Option<&Path>,
    said: impl FnOnce(&Path) -> String,
    output: &Output,
) -> Result<(), CliError> {
    let text = serde_json::to_string_pretty(document).map_err(|error| CliError::Print(error.into()))?;
    let Some(path) = out else { return output.line(&text) };
    crate::bench::written::new(path, &format!("{text}\n")).map_err(CliError::file(path))?;
    facts["file"] = path.display().to_string().into();
    output.answer(&facts, &said(path))
}
