//! A source whose sensor is turned by hand, rest after rest; a cable that is pulled meanwhile costs nothing.

use crate::bench::{BenchError, Rest, RestFinder, Seen};
use crate::cli::source::Opened;
use crate::cli::{CliError, Output};
use crate::filter::SteadySettings;
use crate::stream::{Event, Reconnecting};
use crate::units::{Angle, Seconds};
use crate::words::sensor_commands::rests as words;
use std::time::{Duration, Instant};

/// A live sensor that finds no rest for so long is not being turned and let go.
const PATIENCE: Seconds = Seconds::new(300.0);
/// A cable that is out for so long is not being put back.
const AWAY: Duration = Duration::from_secs(120);

/// Yields one rest after the other.
pub(super) struct Rests {
    stream: Reconnecting,
    finder: RestFinder,
    patience: Option<Seconds>,
    away_since: Option<Instant>,
    ended: bool,
}

impl Rests {
    /// Rests that are known to `want` (twice their standard uncertainty); one that does not come to that within 15 s is
    /// taken as it then is, if it is steady.
    pub(super) fn of(opened: Opened, want: Angle) -> Self {
        let settings = SteadySettings { want, within: Seconds::new(15.0), ..SteadySettings::default() };
        Self {
            patience: (!opened.stream.runs_as_asked()).then_some(PATIENCE),
            stream: Reconnecting::around(opened.stream, opened.source),
            finder: RestFinder::new(opened.instrument, settings),
            away_since: None,
            ended: false,
        }
    }

    /// The next rest; `None` when the stream is over.
    pub(super) async fn next(&mut self, output: &Output) -> Result<Option<Rest>, CliError> {
        let mut begun = None;
        while !self.ended {
            match self.stream.next().await? {
                Some(Event::Sample(sample)) => {
                    match self.finder.push(&sample, self.stream.counters()) {
                        Seen::Rest(rest) => return Ok(Some(*rest)),
                        Seen::Fault(fault) => return Err(BenchError::Sensor(fault).into()),
                        Seen::Waiting | Seen::Moving => {}
                    }
                    let waited = sample.clock - *begun.get_or_insert(sample.clock);
                    if self.patience.is_some_and(|patience| waited > patience) {
                        return Err(CliError::Measurement(words::nobody_there()));
                    }
                }
                Some(Event::Lost(error)) => {
                    output.say(&words::lost(&error));
                    self.away_since = Some(Instant::now());
                }
                Some(Event::Waiting(error)) => {
                    if self.away_since.is_some_and(|since| since.elapsed() > AWAY) {
                        return Err(error.into());
                    }
                }
                Some(Event::Back) => {
                    output.say(&words::back());
                    self.away_since = None;
                    self.finder.interrupted();
                    begun = None;
                }
                None => {
                    self.ended = true;
                    return Ok(self.finder.end());
                }
            }
        }
        Ok(None)
    }

    /// Forgets what it has seen: the next rest counts wherever it is.
    pub(super) fn afresh(&mut self) {
        self.finder.afresh();
    }

    /// Brings the raw log to the disk.
    pub(super) fn save(&mut self) -> Result<(), CliError> {
        Ok(self.stream.save()?)
    }
}
