//! `export`: one setup as a document of its own.

use super::setting::logbook;
use super::{CliError, Common, Outcome, Output};
use crate::logbook::{SetupDocument, schema};
use std::path::{Path, PathBuf};

/// Arguments of `export`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade export 4 --out trainer-spring.json
  clinoblade export --schema --out setup.schema.json")]
pub(super) struct Args {
    /// Its number, else the open one
    setup: Option<u32>,

    /// The file to write; without it the document is printed
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
        let said = |path: &Path| format!("the JSON Schema of exported setups is in {}", path.display());
        hand_over(&schema(), serde_json::json!({}), out, said, output)?;
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
    hand_over(&document, facts, out, |path| said(&document, path), output)?;
    Ok(Outcome::Done)
}

fn said(document: &SetupDocument, path: &Path) -> String {
    let SetupDocument { setup, entries, .. } = document;
    let measured = entries.iter().filter(|one| one.raw_samples.is_some()).count();
    format!(
        "setup {} of {} is in {}: {} entries, {measured} of them with their raw samples. `clinoblade import {}` takes it into another \
         logbook",
        setup.number,
        setup.head.name,
        path.display(),
        entries.len(),
        path.display()
    )
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
    super::written::new(path, &format!("{text}\n")).map_err(CliError::file(path))?;
    facts["file"] = path.display().to_string().into();
    output.answer(&facts, &said(path))
}
