//! `import`: exported setups taken into the logbook.

use super::source::logbook;
use super::{CliError, Common, Outcome, Output};
use crate::logbook::{Imported, SetupDocument};
use std::path::{Path, PathBuf};

/// Arguments of `import`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Each setup gets the next number of this logbook and keeps everything else. Nothing is ever overwritten: a setup that is
here already stays as it is, and a document that differs from it is refused. Of several files all are imported, or none.

Example:
  clinoblade import trainer-spring.json trainer-autumn.json")]
pub(super) struct Args {
    /// Files that `clinoblade export` has written
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
}

/// Reads every document before anything is written, and takes them in together.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let documents: Vec<SetupDocument> = args.files.iter().map(|file| read(file)).collect::<Result<_, _>>()?;
    let logbook = logbook(common).await?;
    let imported = logbook.import(&documents).await?;
    logbook.close().await;
    let lines: Vec<String> = args.files.iter().zip(&imported).map(|(file, one)| said(file, one)).collect();
    output.answer(&serde_json::json!({ "imported": imported }), &lines.join("\n"))?;
    Ok(Outcome::Done)
}

fn read(file: &Path) -> Result<SetupDocument, CliError> {
    let bytes = std::fs::read(file).map_err(CliError::file(file))?;
    SetupDocument::read(&bytes).map_err(|error| CliError::Use(format!("{}: {error}", file.display())))
}

fn said(file: &Path, Imported { setup, head, entries, was_here, .. }: &Imported) -> String {
    let file = file.display();
    if *was_here {
        format!(
            "{file}: setup {setup} of {head} is in this logbook already, the same in everything; nothing was changed"
        )
    } else {
        format!(
            "{file}: setup {setup} of {head} now, {entries} entries. Name it with its number; `setup resume {setup}` to measure on"
        )
    }
}
