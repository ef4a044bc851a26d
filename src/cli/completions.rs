//! `completions`: a completion script for the shell.

use super::{CliError, Outcome, Output};
use crate::words::help;

/// Arguments of `completions`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::COMPLETIONS)]
pub(super) struct Args {
    /// The shell to complete for
    shell: clap_complete::Shell,
}

/// Prints the script.
pub(super) fn run(arguments: &Args, output: &Output) -> Result<Outcome, CliError> {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut super::command(), "clinoblade", &mut script);
    output.answer(
        &serde_json::json!({ "script": String::from_utf8_lossy(&script) }),
        &String::from_utf8_lossy(&script),
    )?;
    Ok(Outcome::Done)
}
