//! `bench`: the browser page over a real sensor.

use super::serve::{self, ServeArgs};
use super::setting::setup_to_write;
use super::signals::Signals;
use super::source::{Opened, SourceArgs, say_what_waits};
use super::{CliError, Common, Outcome, Output};
use crate::bench::conductor::{SessionOptions, start};

/// Arguments of `bench`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade bench                              the open setup, the saved sensor, the page in your browser
  clinoblade bench --port /dev/ttyUSB0 --no-open
  clinoblade bench --listen 0.0.0.0:8650        for a phone on the bench: a code in the terminal lets it in
  clinoblade bench --port a=/dev/ttyUSB0 --port b=/dev/ttyUSB1 --port tail=/dev/ttyUSB2
                                                a sensor on each blade: no clip is moved

The page leads through the whole job: it says each step, waits until clip and head are where they should be, captures when the \
blade is held still, and asks where a reading contradicts what was asked for. An unplugged sensor is waited for.")]
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
        return Err(CliError::Use(
            "the page needs a sensor that is there: name a --port or --tcp, or add --paced".into(),
        ));
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
