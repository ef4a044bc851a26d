//! Waits for a sensor that was unplugged, opens it again where it has come back, and goes on.

use super::decoder::Counters;
use super::error::StreamError;
use super::profile::Profile;
use super::replug::Plug;
use super::sample_stream::{Options, SampleStream};
use super::source::Source;
use crate::units::Sample;
use std::time::Duration;
use tokio::time::Instant;

const FIRST_PAUSE: Duration = Duration::from_millis(250);
const LONGEST_PAUSE: Duration = Duration::from_secs(2);

/// What happens on a line that may break.
#[derive(Debug)]
pub enum Event {
    /// The next sample.
    Sample(Sample),
    /// The line broke, and is waited for.
    Lost(StreamError),
    /// It could not be opened yet, for this reason.
    Waiting(StreamError),
    /// It sends again: the next event is its first sample. Filters should begin anew: what happened meanwhile is not known.
    Back,
}

/// A stream that outlives an unplugged cable. Its clock and counters go on across the break.
#[derive(Debug)]
pub struct Reconnecting {
    /// What to open again; none: what breaks is over.
    plug: Option<Plug>,
    stream: SampleStream,
    waiting: Option<Pause>,
    /// Open again, and not a sample has come yet: a port is there although its sensor is not.
    reopened: bool,
    /// The first sample since, which comes after the news.
    first: Option<Sample>,
}

/// When to try again, and how long to wait after that.
#[derive(Debug, Clone, Copy)]
struct Pause {
    until: Instant,
    next: Duration,
}

impl Pause {
    fn new(length: Duration) -> Self {
        Self { until: Instant::now() + length, next: (length * 2).min(LONGEST_PAUSE) }
    }
}

impl Reconnecting {
    /// Opens the source for the first time.
    ///
    /// # Errors
    /// As [`SampleStream::open`]: a source that was never there is not waited for.
    pub async fn open(source: &Source, profile: &Profile, options: &Options) -> Result<Self, StreamError> {
        Self::plugged(Plug::new(source.clone()), profile, options).await
    }

    /// The same with a sensor whose port is looked up as its plug says.
    ///
    /// # Errors
    /// As [`SampleStream::open`].
    pub async fn plugged(plug: Plug, profile: &Profile, options: &Options) -> Result<Self, StreamError> {
        let stream = SampleStream::open(plug.first(), profile, options).await?;
        Ok(Self { plug: Some(plug), stream, waiting: None, reopened: false, first: None })
    }

    /// Around a stream that is open already; without a source to open again, a break is its end.
    #[must_use]
    pub fn around(stream: SampleStream, source: Option<Source>) -> Self {
        Self { plug: source.map(Plug::new), stream, waiting: None, reopened: false, first: None }
    }

    /// Around a stream that is open already, its sensor looked up as its plug says; without one, a break is its end.
    #[must_use]
    pub const fn with_plug(stream: SampleStream, plug: Option<Plug>) -> Self {
        Self { plug, stream, waiting: None, reopened: false, first: None }
    }

    /// Whether it runs only as fast as it is asked; see [`SampleStream::runs_as_asked`].
    #[must_use]
    pub fn runs_as_asked(&self) -> bool {
        self.stream.runs_as_asked()
    }

    /// The next event; `None` at the end of a recording. May stand in a `select!`.
    ///
    /// # Errors
    /// What waiting cannot mend: bytes that never decode, or a raw log that cannot be written.
    pub async fn next(&mut self) -> Result<Option<Event>, StreamError> {
        if let Some(sample) = self.first.take() {
            return Ok(Some(Event::Sample(sample)));
        }
        if let Some(pause) = self.waiting {
            let Some(plug) = &self.plug else { return Ok(None) };
            tokio::time::sleep_until(pause.until).await;
            let reopened = match plug.now() {
                Ok(source) => self.stream.reopen(&source).await,
                Err(error) => Err(error),
            };
            if let Err(error) = reopened {
                return self.wait(error, pause.next).map(Some);
            }
            (self.waiting, self.reopened) = (None, true);
        }
        match self.stream.next().await {
            Ok(Some(sample)) if self.reopened => {
                self.reopened = false;
                self.first = Some(sample);
                Ok(Some(Event::Back))
            }
            Ok(sample) => Ok(sample.map(Event::Sample)),
            Err(error) if self.reopened => self.wait(error, LONGEST_PAUSE).map(Some),
            Err(error) if error.may_come_back() && self.plug.is_some() => {
                self.waiting = Some(Pause::new(FIRST_PAUSE));
                self.stream.let_go();
                Ok(Some(Event::Lost(error)))
            }
            Err(error) => Err(error),
        }
    }

    /// Goes on waiting for so long, if waiting may mend it.
    fn wait(&mut self, error: StreamError, pause: Duration) -> Result<Event, StreamError> {
        if !error.may_come_back() {
            return Err(error);
        }
        self.waiting = Some(Pause::new(pause));
        self.reopened = false;
        self.stream.let_go();
        Ok(Event::Waiting(error))
    }

    /// Brings the raw log to the disk.
    ///
    /// # Errors
    /// When the raw log cannot be written.
    pub fn save(&mut self) -> Result<(), StreamError> {
        self.stream.save()
    }

    /// What came so far, breaks included.
    #[must_use]
    pub const fn counters(&self) -> Counters {
        self.stream.counters()
    }
}
