//! One steady reading: its options, and the wait with its progress.

use super::progress::ProgressLine;
use super::shown::Shown;
use super::source::Opened;
use super::{CliError, Output};
use crate::bench::{LiveReading, Session, Taken};
use crate::cli::parsed;
use crate::filter::{Progress, SteadySettings};
use crate::units::{Angle, Seconds};
use crate::words::{self, reading};
use std::time::Duration;

/// Options of a steady reading.
#[derive(Debug, Clone, clap::Args)]
#[command(next_help_heading = "Reading")]
pub(super) struct SteadyArgs {
    /// Wait until the scatter is down to this many degrees
    #[arg(long, value_name = "DEGREES", default_value = "0.05", value_parser = parsed::<Angle>)]
    want: Angle,

    /// Give up after so many seconds
    #[arg(long, value_name = "SECONDS", default_value_t = 30.0)]
    within: f64,

    /// Print the uncertainty budget as a table
    #[arg(long)]
    pub explain: bool,
}

impl SteadyArgs {
    /// The settings.
    ///
    /// # Errors
    /// When an option is not above zero.
    pub(super) fn settings(&self) -> Result<SteadySettings, CliError> {
        if self.want.degrees() <= 0.0 {
            return Err(CliError::Use(reading::above_zero("--want", 0.05)));
        }
        if !(self.within > 0.0 && self.within.is_finite()) {
            return Err(CliError::Use(reading::above_zero("--within", 30.0)));
        }
        Ok(SteadySettings { want: self.want, within: Seconds::new(self.within), ..SteadySettings::default() })
    }
}

/// Opens a session, takes one reading, and closes it again.
pub(super) async fn take(opened: Opened, args: &SteadyArgs, shown: Shown, output: &Output) -> Result<Taken, CliError> {
    let settings = args.settings()?;
    let session = Session::start(opened.stream, opened.instrument);
    let taken = take_in(&session, settings, shown, output).await;
    let ended = session.end().await;
    let taken = taken?;
    ended?;
    Ok(taken)
}

/// Takes one reading in an open session and shows its progress on a terminal.
pub(super) async fn take_in(
    session: &Session,
    settings: SteadySettings,
    shown: Shown,
    output: &Output,
) -> Result<Taken, CliError> {
    let line = ProgressLine::new(output);
    let mut live = session.live();
    let reading = session.read(settings);
    tokio::pin!(reading);
    let taken = loop {
        tokio::select! {
            taken = &mut reading => break taken,
            () = tokio::time::sleep(Duration::from_millis(100)) => {
                if let Some(now) = *live.borrow_and_update() {
                    line.show(&described(&now, shown));
                }
            }
        }
    };
    drop(line);
    Ok(taken?)
}

fn described(now: &LiveReading, shown: Shown) -> String {
    let angle = words::angle(shown.of_sensor(now.apparent_pitch), 2);
    match now.progress {
        Progress::Moving => format!("{angle:>8}  moving"),
        Progress::Settling { since, repeat, .. } => {
            let scatter = words::reading::scatter(2.0 * repeat.degrees());
            format!("{angle:>8}  steady for {:.1}, {scatter}", now.clock - since)
        }
        Progress::Done(_) => format!("{angle:>8}  done"),
    }
}

/// Pitch against the vertical, by the steady force at a place, with the clip's direction taken into account.
pub(super) fn apparent(taken: &Taken, place: crate::rotor::Place) -> Result<Angle, CliError> {
    let up = place.clip.turn(taken.steady.mean);
    match place.spot {
        crate::rotor::Spot::Main(_) => {
            crate::rotor::Visibility::of(up)?;
            Ok(up.apparent_pitch())
        }
        crate::rotor::Spot::Tail(_) => Ok(crate::rotor::tail_pitch(up)?.pitch),
    }
}
