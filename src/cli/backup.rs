//! `backup`: the logbook copied to a file, while it is in use.

use super::setting::logbook;
use super::{CliError, Common, Outcome, Output};
use crate::words::{help, kept as words};
use jiff::Timestamp;
use std::path::PathBuf;

/// Arguments of `backup`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::BACKUP)]
pub(super) struct Args {
    /// File to write; an earlier backup of this logbook is replaced
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

/// Copies the logbook, and says how it is restored.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let logbook = logbook(common).await?;
    let backup = logbook.back_up(&args.out, Timestamp::now()).await?;
    let place = logbook.place();
    logbook.close().await;
    let mut document = serde_json::to_value(&backup).map_err(|error| CliError::Print(error.into()))?;
    let altered: Vec<String> = backup.altered.iter().map(|part| words::part(*part)).collect();
    document["logbook"] = place.as_str().into();
    document["altered"] = altered.into();
    output.answer(&document, &words::backed_up(&backup, &place))?;
    Ok(if backup.altered.is_empty() { Outcome::Done } else { Outcome::SaysNo })
}
