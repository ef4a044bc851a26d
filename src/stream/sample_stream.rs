//! One type for every source: open it, ask it for the next sample.

use super::decoder::{Counters, SampleDecoder};
use super::error::StreamError;
use super::profile::Profile;
use super::raw_log::RawLog;
use super::recognise::Undecoded;
use super::source::{Reader, Source};
use crate::units::{Sample, Seconds};
use bytes::BytesMut;
use std::fmt;
use std::path::PathBuf;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncReadExt};
use tokio::time::Instant;

const LIVE_BUFFER: usize = 4096;
const LOG_BUFFER: usize = 65_536;
/// So many samples without any time between them are no old lines that came again.
const FEWEST_REPEATED: u32 = 20;
const GRACE: Duration = Duration::from_millis(100);

/// How fast a log is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Pace {
    /// As fast as it is asked for.
    #[default]
    AsAsked,
    /// As fast as it was recorded, by the stream's own clock.
    AsRecorded,
}

/// What goes with any source.
#[derive(Debug, Clone)]
pub struct Options {
    /// Keep the exact bytes received in this file.
    pub save_raw: Option<PathBuf>,
    /// How fast a log is played; without effect on live sources.
    pub pace: Pace,
    /// How long a live source may be silent.
    pub silence: Duration,
}

impl Default for Options {
    fn default() -> Self {
        Self { save_raw: None, pace: Pace::default(), silence: Duration::from_secs(3) }
    }
}

/// What the end of the bytes means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// A serial port: the end is an unplugged cable.
    Port(String),
    /// Any other live source: the end is a lost connection.
    Live(String),
    /// A recording: the end is its end.
    Log(String),
}

impl Origin {
    pub(super) fn name(&self) -> &str {
        match self {
            Self::Port(name) | Self::Live(name) | Self::Log(name) => name,
        }
    }

    pub(super) const fn is_log(&self) -> bool {
        matches!(self, Self::Log(_))
    }
}

impl From<&Source> for Origin {
    fn from(source: &Source) -> Self {
        match source {
            Source::Port(path) => Self::Port(path.clone()),
            Source::Tcp(address) => Self::Live(address.clone()),
            Source::Replay(path) => Self::Log(path.display().to_string()),
        }
    }
}

/// Samples out of any source.
pub struct SampleStream {
    origin: Origin,
    reader: Reader,
    profile: Profile,
    options: Options,
    buffer: BytesMut,
    decoder: SampleDecoder,
    undecoded: Undecoded,
    raw_log: Option<RawLog>,
    opened: Instant,
    last_bytes: Instant,
    /// The deadline of a caller that came too late for the true one.
    grace: Option<Instant>,
    /// How far the samples' own clock has come, and when it did.
    latest: (Seconds, Instant),
    /// Samples since then.
    repeated: u32,
    /// A sample that waits for its time in a paced replay.
    held: Option<Sample>,
    ended: bool,
}

impl SampleStream {
    /// Opens a source.
    ///
    /// # Errors
    /// When it cannot be opened, or the raw log cannot be begun.
    pub async fn open(source: &Source, profile: &Profile, options: &Options) -> Result<Self, StreamError> {
        let reader = source.reader(profile).await?;
        Self::from_reader(Origin::from(source), reader, profile, options)
    }

    /// Reads from bytes that are open already.
    ///
    /// # Errors
    /// When the raw log cannot be begun, or a recording has no time in it.
    pub fn from_reader(
        origin: Origin,
        reader: impl AsyncRead + Send + Unpin + 'static,
        profile: &Profile,
        options: &Options,
    ) -> Result<Self, StreamError> {
        if origin.is_log() && !profile.tells_time() {
            return Err(StreamError::NoTime { profile: profile.name().to_owned() });
        }
        let decoder = if origin.is_log() { SampleDecoder::new(profile) } else { SampleDecoder::live(profile) };
        let raw_log = options.save_raw.as_deref().map(RawLog::create).transpose()?;
        let now = Instant::now();
        Ok(Self {
            origin,
            reader: Box::new(reader),
            profile: profile.clone(),
            options: options.clone(),
            buffer: BytesMut::new(),
            decoder,
            undecoded: Undecoded::default(),
            raw_log,
            opened: now,
            last_bytes: now,
            grace: None,
            latest: (Seconds::new(-1.0), now),
            repeated: 0,
            held: None,
            ended: false,
        })
    }

    /// The next sample; `None` at the end of a recording. A live source has no end, only errors.
    ///
    /// Dropping the future before it is done loses nothing, so that it may stand in a `select!`.
    ///
    /// # Errors
    /// When the source is unplugged or silent, its bytes make no samples, or the raw log cannot be written.
    pub async fn next(&mut self) -> Result<Option<Sample>, StreamError> {
        if self.held.is_none() {
            self.held = match self.undelayed().await {
                Ok(sample) => sample,
                Err(error) => return Err(self.closing(error)),
            };
        }
        if let (Some(sample), Pace::AsRecorded, true) = (self.held, self.options.pace, self.origin.is_log()) {
            tokio::time::sleep_until(self.opened + Duration::from_secs_f64(sample.clock.value().max(0.0))).await;
        }
        Ok(self.held.take())
    }

    async fn undelayed(&mut self) -> Result<Option<Sample>, StreamError> {
        loop {
            let arrival = Seconds::new((self.last_bytes - self.opened).as_secs_f64());
            if let Some(sample) = self.decoder.next(&mut self.buffer, arrival) {
                self.undecoded.sample();
                return if self.stands_still(&sample) { Err(self.no_time_passes()) } else { Ok(Some(sample)) };
            }
            if self.decoder.fault().is_some() {
                self.undecoded.frame();
            }
            if self.ended {
                return self.rest(arrival);
            }
            // Judged here as well as while waiting: bytes that never pause leave no time to wait.
            if self.is_hopeless() {
                return Err(self.nothing_decodes());
            }
            self.fill().await?;
        }
    }

    /// Whether a live sensor sends on and on, and no time passes in what it sends: whoever waits for its clock would wait
    /// for ever.
    fn stands_still(&mut self, sample: &Sample) -> bool {
        if self.origin.is_log() || sample.clock > self.latest.0 {
            (self.latest, self.repeated) = ((sample.clock, self.last_bytes), 0);
            return false;
        }
        self.repeated += 1;
        self.repeated >= FEWEST_REPEATED && self.last_bytes - self.latest.1 > self.options.silence
    }

    fn no_time_passes(&mut self) -> StreamError {
        self.latest.1 = self.last_bytes;
        StreamError::StandsStill { from: self.origin.name().to_owned(), seconds: self.options.silence.as_secs() }
    }

    /// What is left when no more bytes come.
    fn rest(&mut self, arrival: Seconds) -> Result<Option<Sample>, StreamError> {
        if !self.origin.is_log() {
            return Err(StreamError::gone(&self.origin));
        }
        if let Some(sample) = self.decoder.last(&mut self.buffer, arrival) {
            self.undecoded.sample();
            return Ok(Some(sample));
        }
        if self.decoder.counters().bytes == 0 {
            return Err(StreamError::EmptyLog { from: self.origin.name().to_owned() });
        }
        if !self.undecoded.any_sample() {
            return Err(self.nothing_decodes());
        }
        self.save()?;
        Ok(None)
    }

    /// Waits for bytes.
    async fn fill(&mut self) -> Result<(), StreamError> {
        self.buffer.reserve(if self.origin.is_log() { LOG_BUFFER } else { LIVE_BUFFER });
        let read = if self.origin.is_log() {
            self.reader.read_buf(&mut self.buffer).await
        } else {
            match self.read_in_time().await {
                Some(read) => read,
                None => return Err(self.overdue()),
            }
        };
        let count = read.map_err(|source| StreamError::reading(&self.origin, source))?;
        if count == 0 {
            self.ended = true;
            return Ok(());
        }
        self.take_in(count)
    }

    /// Bytes, unless silence or nonsense has lasted too long.
    async fn read_in_time(&mut self) -> Option<std::io::Result<usize>> {
        let deadline = self.deadline();
        tokio::time::timeout_at(deadline, self.reader.read_buf(&mut self.buffer)).await.ok()
    }

    /// Until when bytes are waited for. Who asks too late was busy elsewhere: bytes that came meanwhile get their chance to be seen.
    fn deadline(&mut self) -> Instant {
        let silent = self.last_bytes + self.options.silence;
        let due = self.undecoded.deadline().map_or(silent, |hopeless| hopeless.min(silent));
        let now = Instant::now();
        if due > now {
            return due;
        }
        let grace = self.grace.filter(|grace| now < *grace + GRACE).unwrap_or(now + GRACE);
        self.grace = Some(grace);
        grace
    }

    fn overdue(&mut self) -> StreamError {
        let now = Instant::now();
        if self.undecoded.deadline().is_some_and(|deadline| deadline <= now) {
            return self.nothing_decodes();
        }
        self.last_bytes = now;
        let (from, seconds) = (self.origin.name().to_owned(), self.options.silence.as_secs());
        match self.profile.asked() {
            Some(asked) => StreamError::NoAnswer { from, asked, seconds },
            None => StreamError::Silent { from, seconds },
        }
    }

    /// Counts and keeps the bytes that were just appended to the buffer.
    fn take_in(&mut self, count: usize) -> Result<(), StreamError> {
        self.last_bytes = Instant::now();
        self.grace = None;
        let new = self.buffer.get(self.buffer.len().saturating_sub(count)..).unwrap_or_default();
        self.decoder.received(count);
        self.undecoded.received(new, self.last_bytes);
        if let Some(raw_log) = &mut self.raw_log {
            raw_log.write(new)?;
        }
        Ok(())
    }

    /// Whether enough bytes came, for long enough, without a sample.
    fn is_hopeless(&self) -> bool {
        if self.origin.is_log() {
            self.undecoded.log_is_hopeless(self.decoder.counters().bytes)
        } else {
            self.undecoded.deadline().is_some_and(|deadline| deadline <= self.last_bytes)
        }
    }

    fn nothing_decodes(&self) -> StreamError {
        if let Some(fault) = self.decoder.fault() {
            return StreamError::SensorFault { from: self.origin.name().to_owned(), fault };
        }
        self.undecoded.error(self.origin.name(), &self.profile, matches!(self.origin, Origin::Port(_)))
    }

    /// Closes the source, so that a port which comes back finds its name free.
    pub(super) fn let_go(&mut self) {
        self.reader = Box::new(tokio::io::empty());
        self.ended = true;
    }

    /// Opens the source again and goes on, with clock, counters and raw log as they were.
    pub(super) async fn reopen(&mut self, source: &Source) -> Result<(), StreamError> {
        self.reader = source.reader(&self.profile).await?;
        self.origin = Origin::from(source);
        self.buffer.clear();
        self.decoder.rejoin();
        self.undecoded.reopened();
        self.last_bytes = Instant::now();
        self.latest.1 = self.last_bytes;
        self.ended = false;
        Ok(())
    }

    /// Whether it runs only as fast as it is asked: a recording that is not paced. A live source runs by itself.
    #[must_use]
    pub fn runs_as_asked(&self) -> bool {
        self.origin.is_log() && self.options.pace == Pace::AsAsked
    }

    /// What came so far.
    #[must_use]
    pub const fn counters(&self) -> Counters {
        self.decoder.counters()
    }

    /// The profile by which the bytes are read.
    #[must_use]
    pub const fn profile(&self) -> &Profile {
        &self.profile
    }

    /// Brings the raw log to the disk; done by itself at the end and on every error.
    ///
    /// # Errors
    /// When the raw log cannot be written.
    pub fn save(&mut self) -> Result<(), StreamError> {
        self.raw_log.as_mut().map_or(Ok(()), RawLog::flush)
    }

    /// The first error wins, but none leaves the raw log behind.
    fn closing(&mut self, error: StreamError) -> StreamError {
        // A raw log that fails while something else has failed already: the first failure is the one to mend.
        let _ = self.save();
        error
    }
}

impl fmt::Debug for SampleStream {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("SampleStream").field("origin", &self.origin).field("counters", &self.counters()).finish()
    }
}
