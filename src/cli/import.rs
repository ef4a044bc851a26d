//! `import`: exported setups taken into the logbook.

use super::source::logbook;
use super::{CliError, Common, Outcome, Output};
use crate::logbook::{DocumentError, SetupDocument};
use crate::stream::file::{self, FileLimit};
use crate::words::setup as words;
use std::path::{Path, PathBuf};

/// Arguments of `import`.
#[derive(Debug, clap::Args)]
#[command(after_help = words::IMPORT_HELP)]
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
    let lines: Vec<String> = args.files.iter().zip(&imported).map(|(file, one)| words::imported(file, one)).collect();
    output.answer_recorded(&serde_json::json!({ "imported": imported }), &lines.join("\n"))?;
    Ok(Outcome::Done)
}

fn read(path: &Path) -> Result<SetupDocument, CliError> {
    // No more is read than a document can have, whatever the file is.
    let bytes = file::read(path, DocumentError::MOST_BYTES).map_err(|error| match FileLimit::of(&error) {
        Some(FileLimit::TooLarge(_)) => CliError::about(path.display(), &DocumentError::TooLarge),
        _ => CliError::file(path)(error),
    })?;
    SetupDocument::read(&bytes).map_err(|error| CliError::about(path.display(), &error))
}
