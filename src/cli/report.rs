//! `report`: the setup sheet, to print, to mail, or as a document.

use super::setting::setup;
use super::{CliError, Common, Outcome, Output};
use crate::bench::OpenSetup;
use crate::record::{LimitRecord, Setup};
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
    let before = before(&open, args.against).await?;
    let sheet = SetupSheet::new(open.setup(), open.entries(), before.as_ref().map(|(setup, record)| (setup, record)));
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
    super::written::over(path, &text).map_err(CliError::file(path))
}

/// The setup with which it is compared, where there is one.
async fn before(open: &OpenSetup, against: Option<u32>) -> Result<Option<(Setup, LimitRecord)>, CliError> {
    let logbook = open.logbook();
    let number = match against {
        Some(number) => Some(number),
        None => {
            // Newest first.
            let setups = logbook.setups(Some(&open.setup().head.name), u32::MAX).await?;
            let this = setups.iter().position(|kept| kept.number == open.setup().number);
            this.and_then(|this| setups.get(this + 1)).map(|kept| kept.number)
        }
    };
    let Some(number) = number else { return Ok(None) };
    let before = OpenSetup::find(logbook.clone(), Some(number)).await?;
    Ok(Some((before.setup().clone(), before.record())))
}
