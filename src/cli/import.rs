//! `import`: exported setups taken into the logbook.

use super::source::logbook;
use super::{CliError, Common, Outcome, Output};
use crate::logbook::{DocumentError, SetupDocument};
use crate::words::setup as words;
use std::io::Read;
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

fn read(file: &Path) -> Result<SetupDocument, CliError> {
    let (mut bytes, most) = (Vec::new(), DocumentError::MOST_BYTES + 1);
    // No more is read than a document can have, whatever the file is.
    let opened = std::fs::File::open(file).map_err(CliError::file(file))?;
    opened.take(most).read_to_end(&mut bytes).map_err(CliError::file(file))?;
    SetupDocument::read(&bytes).map_err(|error| CliError::about(file.display(), &error))
}
