//! `bench`: the browser page, with whatever is there: a sensor, a setup, a logbook, or none of them yet.

use super::equipment::Own;
use super::serve::{self, ServeArgs};
use super::setting::open_setup;
use super::signals::Signals;
use super::source::{SourceArgs, say_what_waits};
use super::{CliError, Common, Outcome, Output};
use crate::bench::{SetupHandle, Workshop};
use crate::words::{Face, Say, cli, help, setup};
use std::sync::Arc;

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

/// Serves the page over the workshop.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let mut signals = Signals::new()?;
    if args.source.runs_as_asked() {
        return Err(CliError::Use(cli::PAGE_NEEDS_A_SENSOR.into()));
    }
    args.source.carriers()?;
    let own = Arc::new(Own::new(args.source, common.clone(), *output));
    let workshop = Workshop::new(own.clone());
    let open = match (args.setup, own.opened(false).await?) {
        (Some(number), Some(logbook)) => Some(SetupHandle::find_to_write(logbook, Some(number)).await?),
        (Some(_), None) => return Err(CliError::Use(setup::NO_LOGBOOK.to_owned())),
        (None, Some(logbook)) => open_setup(logbook).await?,
        (None, None) => None,
    };
    if let Some(open) = open {
        let put = workshop.put_on_bench(open).await;
        put.map_err(|error| CliError::Use(error.say(Face::Terminal)))?;
    }
    serve::run(&args.serve, &workshop, "", &mut signals, output).await?;
    workshop.end().await;
    if let Some(logbook) = own.opened(false).await? {
        say_what_waits(&logbook, output)?;
    }
    own.close().await;
    Ok(Outcome::Done)
}
