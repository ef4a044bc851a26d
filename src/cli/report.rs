//! `report`: the setup sheet, to print, to mail, or as a document.

use super::setting::setup;
use super::{CliError, Common, Outcome, Output};
use crate::bench::sheet;
use crate::report::setup_sheet::SetupSheet;
use crate::words::{help, sheet as said};
use std::path::{Path, PathBuf};

/// Arguments of `report`.
#[derive(Debug, clap::Args)]
#[command(after_long_help = help::REPORT)]
pub(super) struct Args {
    /// The setup's number, else the open one
    number: Option<u32>,

    /// File to write
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// Compare with this setup [default: the one before of the same head]
    #[arg(long, value_name = "NUMBER")]
    against: Option<u32>,
}

/// Writes the sheet.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let open = setup(args.number, common).await?;
    let sheet = sheet(&open, args.against).await?;
    let Some(path) = args.out else {
        output.answer(&sheet, &sheet.to_string())?;
        return Ok(Outcome::Done);
    };
    write(&sheet, &path)?;
    let done = serde_json::json!({ "setup": sheet.number, "written": path });
    output.answer(&done, &said::written(sheet.number, &path.display().to_string()))?;
    Ok(Outcome::Done)
}

/// Writes the sheet into a file, as the ending of its name says.
pub(super) fn write(sheet: &SetupSheet, path: &Path) -> Result<(), CliError> {
    let ending = path.extension().and_then(|ending| ending.to_str()).map(str::to_lowercase);
    let text = match ending.as_deref() {
        Some("html" | "htm") => sheet.html().map_err(|error| CliError::Print(std::io::Error::other(error)))?,
        Some("txt") => sheet.to_string(),
        Some("json") => serde_json::to_string_pretty(sheet).map_err(|error| CliError::Print(error.into()))?,
        _ => {
            return Err(CliError::Use(said::unknown_ending(&path.display().to_string())));
        }
    };
    crate::bench::written::over(path, &text).map_err(CliError::file(path))
}
