//! `head`: the helicopter's description, written and shown.

use super::{CliError, Outcome, Output};
use crate::record::Head;
use crate::stream::file;
use crate::words::setup as words;
use std::path::{Path, PathBuf};

/// Arguments of `head`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    /// Write a description to fill in, with a comment beside every line
    #[command(after_help = words::HEAD_NEW_HELP)]
    New {
        /// What the helicopter is called
        #[arg(long)]
        name: String,

        /// The file to write; without it the description is printed
        #[arg(long, value_name = "FILE")]
        out: Option<PathBuf>,
    },
    /// Check a description and show what it means
    #[command(after_help = words::HEAD_SHOW_HELP)]
    Show {
        /// The description
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
}

/// Writes or shows.
pub(super) fn run(args: Args, output: &Output) -> Result<Outcome, CliError> {
    match args.command {
        Command::New { name, out } => new(&name, out.as_deref(), output)?,
        Command::Show { file } => {
            let head = Head::from_toml(&read_file(&file)?)?;
            output.answer(&head, &words::head(&head))?;
        }
    }
    Ok(Outcome::Done)
}

fn new(name: &str, out: Option<&Path>, output: &Output) -> Result<(), CliError> {
    let text = Head::template(name);
    let head = Head::from_toml(&text)?;
    let Some(path) = out else {
        return output.answer(&head, &text);
    };
    // A description that somebody has filled in is never overwritten.
    crate::bench::written::new(path, &text).map_err(CliError::file(path))?;
    output.answer(&serde_json::json!({ "file": path, "head": head }), &words::head_written(path))
}

/// Reads a text file that the person named.
pub(super) fn read_file(path: &Path) -> Result<String, CliError> {
    file::read_text(path, file::MOST_OF_A_DESCRIPTION).map_err(CliError::file(path))
}
