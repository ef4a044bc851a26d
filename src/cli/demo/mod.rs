//! `demo`: the whole job with a simulated helicopter, nothing attached.
//!
//! The helicopter's sensor speaks on a pseudo-terminal, and everything on this side of it is what a real sensor would meet.
//! The hands on the sticks are simulated too; what they cannot do is look: the record knows only what was read. The truth
//! is asked for after each capture and printed beside it.
//!
//! Its setup is kept in a logbook of its own, which goes when the demo ends: nothing simulated gets among what was measured.

mod play;
mod script;
mod truth;

use super::{CliError, Outcome, Output};

/// Arguments of `demo`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade demo --terminal --autoplay          the whole job by itself, about a minute
  clinoblade demo --terminal                     step by step: Enter moves on
  clinoblade demo --terminal --autoplay --json   the record with the truth beside it

The demo has a logbook of its own, which goes when it ends: yours is left alone.")]
pub(super) struct Args {
    /// Run in the terminal
    #[arg(long)]
    terminal: bool,

    /// Perform every step by itself
    #[arg(long)]
    autoplay: bool,
}

/// Plays the script.
pub(super) async fn run(args: Args, output: &Output) -> Result<Outcome, CliError> {
    if !args.terminal {
        return Err(CliError::Use(
            "this version runs the demo in the terminal: add --terminal, and --autoplay to watch".into(),
        ));
    }
    play::play(args.autoplay, output).await
}
