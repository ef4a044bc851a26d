//! `bench`: the browser page over a real sensor.

use super::serve::{self, ServeArgs};
use super::setting::setup_to_write;
use super::signals::Signals;
use super::source::{Opened, SourceArgs, say_what_waits};
use super::{CliError, Common, Outcome, Output};
use crate::bench::conductor::{SessionOptions, start};
use crate::words::{cli, help};

/// Arguments of `bench`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::BENCH)]
pub(super) struct Args {
    /// Work on this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    #[command(flatten)]
    serve: ServeArgs,

    #[command(flatten)]
    source: SourceArgs,
}

/// Serves the page over the running session.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let mut signals = Signals::new()?;
    let open = setup_to_write(args.setup, common).await?;
    let logbook = open.logbook().clone();
    let (first, others) = args.source.open_each(&logbook, &open.setup().head, output).await?;
    if first.stream.runs_as_asked() {
        return Err(CliError::Use(cli::PAGE_NEEDS_A_SENSOR.into()));
    }
    let options = SessionOptions { demo: false };
    let others = others.into_iter().map(Opened::sensor).collect();
    let (conductor, session) = start(first.sensor(), others, open, options);
    serve::run(&args.serve, conductor, None, &mut signals, output).await?;
    // The last handle is gone: the session ends, its raw log complete.
    let _ = session.await;
    say_what_waits(&logbook, output)?;
    logbook.close().await;
    Ok(Outcome::Done)
}
