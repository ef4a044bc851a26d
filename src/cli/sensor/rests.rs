//! A source whose sensor is turned by hand, rest after rest.

use crate::bench::{Rest, RestFinder, Seen};
use crate::cli::CliError;
use crate::cli::source::Opened;
use crate::filter::SteadySettings;
use crate::stream::SampleStream;
use crate::units::{Angle, Seconds};

/// Yields one rest after the other.
pub(super) struct Rests {
    stream: SampleStream,
    finder: RestFinder,
    ended: bool,
}

impl Rests {
    /// Rests that are known to `want` (twice their standard uncertainty); one that does not come to that within 15 s is
    /// taken as it then is, if it is steady.
    pub(super) fn of(opened: Opened, want: Angle) -> Self {
        let settings = SteadySettings { want, within: Seconds::new(15.0), ..SteadySettings::default() };
        Self { stream: opened.stream, finder: RestFinder::new(opened.instrument, settings), ended: false }
    }

    /// The next rest; `None` when the stream is over.
    pub(super) async fn next(&mut self) -> Result<Option<Rest>, CliError> {
        while !self.ended {
            match self.stream.next().await? {
                Some(sample) => {
                    if let Seen::Rest(rest) = self.finder.push(&sample, self.stream.counters()) {
                        return Ok(Some(*rest));
                    }
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
