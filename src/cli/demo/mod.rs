//! `demo`: the whole job with a simulated helicopter, nothing attached.
//!
//! The helicopter's sensor speaks on a pseudo-terminal, or over TCP where the system has none, and everything on this side of it is what a real sensor would meet.
//! The hands on the sticks are simulated too; what they cannot do is look: the record knows only what was read. The truth
//! is asked for after each capture and printed beside it.
//!
//! Its setup is kept in a logbook of its own, which goes when the demo ends: nothing simulated gets among what was measured.

mod page;
mod play;
mod prepare;
mod script;
mod truth;

pub(super) use page::Simulated;

use super::serve::ServeArgs;
use super::signals::Signals;
use super::{CliError, Outcome, Output, Place};
use crate::words::help;
use std::path::PathBuf;

/// Arguments of `demo`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::DEMO)]
pub(super) struct Args {
    /// Run in the terminal
    #[arg(long, conflicts_with_all = ["listen", "no_open"])]
    terminal: bool,

    /// Perform every step by itself
    #[arg(long)]
    autoplay: bool,

    /// Write the setup sheet at the end: .html, .txt or .json; may be said more than once
    #[arg(long, value_name = "FILE", requires = "terminal")]
    sheet: Vec<PathBuf>,

    /// Let the simulated sensor send over TCP, as it does where the system has no pseudo-terminals
    #[arg(long, hide_short_help = true)]
    tcp: bool,

    #[command(flatten)]
    serve: ServeArgs,
}

/// Plays the script, or serves the page.
pub(super) async fn run(args: Args, output: &Output) -> Result<Outcome, CliError> {
    // Listened for before there is anything to clear away.
    let mut signals = Signals::new()?;
    let place = if args.tcp { Place::local() } else { Place::usual() };
    if args.terminal {
        play::play(place, args.autoplay, &args.sheet, &mut signals, output).await
    } else {
        page::page(place, &args.serve, args.autoplay, &mut signals, output).await
    }
}
