//! One task owns the stream. It publishes the live reading and answers requests for a steady one.
//!
//! Nobody else touches the stream, so a slow listener cannot hold it back: the live reading is a watch channel, where only
//! the newest counts. A recording or a simulated stream that is not paced runs as fast as it is taken; its task therefore
//! rests until somebody asks for something, so that no sample passes unseen.

use super::{FaultFinder, Instrument};
use crate::filter::{
    Dropped, EndedBy, HISTORY, Live, LiveSettings, Progress, SteadyReader, SteadyReading, SteadySettings,
};
use crate::sensor::SensorFault;
use crate::stream::{Counters, Event, Plug, Reconnecting, SampleStream, StreamError};
use crate::units::{Angle, Celsius, Sample, Seconds};
use crate::words::{Face, Say};
use std::collections::VecDeque;
use std::sync::Arc;
use tokio::sync::{mpsc, oneshot, watch};
use tokio::task::JoinHandle;

/// A reading of up to this length is kept from its first sample on: what decides when it ends goes back as far.
const KEPT_WHOLE: Seconds = Seconds::new(40.0);

/// How much of the stream before the still stretch is kept of a longer one: as far as the reader looks back.
const LEAD_IN: Seconds = Seconds::new(HISTORY + 1.0);

/// How much of a longer one is kept while the blade moves: stillness is proven within a second, its lead-in comes before.
const MOVING_TAIL: Seconds = Seconds::new(HISTORY + 2.0);

/// The blade as it is at this moment, for the eye.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiveReading {
    /// Time on the stream's own clock.
    pub clock: Seconds,
    /// Apparent pitch in the axes of the clip as the sensor gives it, smoothed.
    pub apparent_pitch: Angle,
    /// Inclination of the span, not smoothed.
    pub span_inclination: Angle,
    /// Whether the blade is still, and since when.
    pub progress: Progress,
    /// The sensor's temperature, where the stream carries one.
    pub temperature: Option<Celsius>,
    /// What the stream has brought so far.
    pub counters: Counters,
    /// What is wrong with the sensor at this moment: the angle is none then.
    pub fault: Option<SensorFault>,
}

/// One steady reading with everything that a capture keeps of it.
#[derive(Debug, Clone)]
pub struct Taken {
    /// The reading.
    pub steady: SteadyReading,
    /// What the stream brought while it was read; for the first reading of a session, since the stream was opened.
    pub counters: Counters,
    /// The sensor's temperature at the end, where the stream carries one.
    pub temperature: Option<Celsius>,
    /// The raw samples, from the beginning or from as far before the still stretch as the reader looks back, to the end.
    pub samples: Vec<Sample>,
}

impl Taken {
    /// The same, if gravity is 1 g: what was read of a sensor at rest that shows another is no angle.
    fn of_a_sound_sensor(self, instrument: &Instrument) -> Result<Self, BenchError> {
        match instrument.gravity_fault(&self.steady, self.temperature) {
            Some(fault) => Err(BenchError::Sensor(fault)),
            None => Ok(self),
        }
    }
}

/// Why the bench could not answer.
#[derive(Debug, thiserror::Error)]
pub enum BenchError {
    /// The sensor or its link failed; everybody who waits is told the same.
    #[error("{}", .0.say(Face::Terminal))]
    Stream(Arc<StreamError>),
    /// Not one sample was fit to be used until the recording ended.
    #[error("no usable sample")]
    Nothing,
    /// Not one sample was fit to be used for as long as was to be waited.
    #[error("unusable: {0:?}")]
    Unusable(Dropped),
    /// What the sensor sends cannot be true.
    #[error("{}", .0.say(Face::Terminal))]
    Sensor(SensorFault),
    /// The recording was already over, or the session's task is gone.
    #[error("stream ended")]
    Ended,
}

/// How the sensor's line stands.
#[derive(Debug, Clone)]
pub enum Line {
    /// Samples arrive, or are waited for.
    Up,
    /// It is broken, for this reason, and its sensor is waited for.
    Down(Arc<StreamError>),
    /// It is over for good: a recording's end, or an error that waiting cannot mend.
    Over(Option<Arc<StreamError>>),
}

enum Request {
    Read { settings: SteadySettings, reply: oneshot::Sender<Result<Taken, BenchError>> },
    Use(Box<Instrument>),
}

/// A running session.
#[derive(Debug)]
pub struct Session {
    requests: mpsc::Sender<Request>,
    live: watch::Receiver<Option<LiveReading>>,
    line: watch::Receiver<Line>,
    task: JoinHandle<Reconnecting>,
}

impl Session {
    /// Starts the task that owns the stream; a break of its line is its end.
    #[must_use]
    pub fn start(stream: SampleStream, instrument: Instrument) -> Self {
        Self::lasting(stream, None, instrument)
    }

    /// Starts the task that owns the stream; a sensor with a plug is waited for when its line breaks, and taken up again.
    #[must_use]
    pub fn lasting(stream: SampleStream, plug: Option<Plug>, instrument: Instrument) -> Self {
        // One request at a time is the rule at a bench; a second one waits in the channel.
        let (requests, inbox) = mpsc::channel(4);
        let (publish, live) = watch::channel(None);
        let (tell, line) = watch::channel(Line::Up);
        let bench = Bench {
            stream: Reconnecting::with_plug(stream, plug),
            faults: FaultFinder::new(&instrument),
            early: Some(Vec::new()),
            instrument,
            publish: Some(publish),
            line: tell,
            live: Live::new(LiveSettings::default()),
        };
        Self { requests, live, line, task: tokio::spawn(bench.run(inbox)) }
    }

    /// How the line stands.
    #[must_use]
    pub fn line(&self) -> watch::Receiver<Line> {
        self.line.clone()
    }

    /// The live reading; `None` until the first sample.
    #[must_use]
    pub fn live(&self) -> watch::Receiver<Option<LiveReading>> {
        self.live.clone()
    }

    /// Waits for one steady reading.
    ///
    /// # Errors
    /// When the sensor or its link fails, or the session ends, before the reading is complete. A session that lasts can be
    /// asked again once its line is up.
    pub async fn read(&self, settings: SteadySettings) -> Result<Taken, BenchError> {
        let (reply, answer) = oneshot::channel();
        self.requests.send(Request::Read { settings, reply }).await.map_err(|_| BenchError::Ended)?;
        answer.await.unwrap_or(Err(BenchError::Ended))
    }

    /// Goes on with another calibration or mounting of the same sensor, from the next reading on.
    ///
    /// # Errors
    /// When the session's task is gone.
    pub async fn use_instrument(&self, instrument: Instrument) -> Result<(), BenchError> {
        self.requests.send(Request::Use(Box::new(instrument))).await.map_err(|_| BenchError::Ended)
    }

    /// Ends the session: the stream is closed, its raw log complete on disk.
    ///
    /// # Errors
    /// When the raw log could not be completed.
    pub async fn end(self) -> Result<(), BenchError> {
        drop(self.requests);
        let mut stream = self.task.await.map_err(|_| BenchError::Ended)?;
        stream.save().map_err(|error| BenchError::Stream(Arc::new(error)))?;
        Ok(())
    }
}

/// A first reading that is asked for within so many samples begins with the first of them.
const EARLY: usize = 32;

struct Bench {
    stream: Reconnecting,
    instrument: Instrument,
    /// Gone once the stream is over, so that whoever watches is told.
    publish: Option<watch::Sender<Option<LiveReading>>>,
    line: watch::Sender<Line>,
    live: Live,
    faults: FaultFinder,
    /// What came before the first reading was asked for: part of it, where it was asked for at once; else none.
    early: Option<Vec<Sample>>,
}

impl Bench {
    async fn run(mut self, mut inbox: mpsc::Receiver<Request>) -> Reconnecting {
        let end = self.serve(&mut inbox).await;
        self.line.send_replace(Line::Over(end.clone()));
        self.publish = None;
        // The stream is over, but somebody may still ask: the answer is why.
        while let Some(request) = inbox.recv().await {
            if let Request::Read { reply, .. } = request {
                let why = end.clone().map_or(BenchError::Ended, BenchError::Stream);
                let _ = reply.send(Err(why));
            }
        }
        self.stream
    }

    /// Runs until nobody asks any more or the stream is over; the error that ended it, if one did.
    async fn serve(&mut self, inbox: &mut mpsc::Receiver<Request>) -> Option<Arc<StreamError>> {
        let mut reading: Option<Reading> = None;
        // The first reading is told all that its stream has brought: what came while it was being asked for is part of it.
        let mut before = Some(Counters::default());
        loop {
            let rests = reading.is_none() && self.stream.runs_as_asked();
            tokio::select! {
                biased;
                request = inbox.recv(), if reading.is_none() => match request? {
                    Request::Read { settings, reply } => {
                        if let Line::Down(error) = &*self.line.borrow() {
                            // Whoever asked may have gone away.
                            let _ = reply.send(Err(BenchError::Stream(Arc::clone(error))));
                            continue;
                        }
                        let settings = self.instrument.settings(settings);
                        let before = before.take().unwrap_or_else(|| self.stream.counters());
                        let mut first = Reading::new(settings, reply, before);
                        for sample in std::mem::take(&mut self.early).unwrap_or_default() {
                            first.push(&sample, &self.instrument.force(&sample));
                        }
                        reading = Some(first);
                    }
                    Request::Use(instrument) => {
                        self.faults = FaultFinder::new(&instrument);
                        self.instrument = *instrument;
                    }
                },
                // Who asked has gone: the next one begins afresh.
                () = gone(&mut reading), if reading.is_some() => reading = None,
                next = self.stream.next(), if !rests => match next {
                    Ok(Some(Event::Sample(sample))) => self.sample(&sample, &mut reading),
                    Ok(Some(Event::Lost(error))) => {
                        let error = Arc::new(error);
                        self.line.send_replace(Line::Down(Arc::clone(&error)));
                        refuse(&mut reading, error);
                    }
                    Ok(Some(Event::Waiting(error))) => {
                        self.line.send_replace(Line::Down(Arc::new(error)));
                    }
                    Ok(Some(Event::Back)) => {
                        // What happened meanwhile is not known.
                        self.live = Live::new(LiveSettings::default());
                        self.faults = FaultFinder::new(&self.instrument);
                        self.line.send_replace(Line::Up);
                    }
                    Ok(None) => {
                        self.line.send_replace(Line::Over(None));
                        if let Some(reading) = reading.take() {
                            reading.finish(EndedBy::End, self.stream.counters(), &self.instrument, None);
                        }
                        return None;
                    }
                    Err(error) => {
                        let error = Arc::new(error);
                        self.line.send_replace(Line::Over(Some(Arc::clone(&error))));
                        refuse(&mut reading, Arc::clone(&error));
                        return Some(error);
                    }
                },
            }
        }
    }

    fn sample(&mut self, sample: &Sample, reading: &mut Option<Reading>) {
        let force = self.instrument.force(sample);
        let progress = match reading {
            Some(active) => active.push(sample, &force),
            None => {
                let kept = self.early.take().filter(|early| early.len() < EARLY);
                self.early = kept.map(|mut early| {
                    early.push(*sample);
                    early
                });
                Progress::Moving
            }
        };
        let fault = self.faults.push(sample, &force, progress, &self.instrument);
        let apparent_pitch = self.live.push(sample.clock, force.up.apparent_pitch());
        let Some(publish) = &self.publish else { return };
        // Nobody has to be listening.
        publish.send_replace(Some(LiveReading {
            clock: sample.clock,
            apparent_pitch,
            span_inclination: force.up.span_inclination(),
            progress,
            temperature: sample.temperature,
            counters: self.stream.counters(),
            fault,
        }));
        // One that does not follow any more is not waited for; what is at its end may come back from there.
        let hopeless = fault.filter(|fault| fault.is_for_good());
        if let Some(fault) = hopeless
            && let Some(refused) = reading.take()
        {
            let _ = refused.reply.send(Err(BenchError::Sensor(fault)));
        }
        if let Progress::Done(ended_by) = progress
            && let Some(done) = reading.take()
        {
            done.finish(ended_by, self.stream.counters(), &self.instrument, fault);
        }
    }
}

/// Who waits for this reading is told why there will be none.
fn refuse(reading: &mut Option<Reading>, error: Arc<StreamError>) {
    if let Some(reading) = reading.take() {
        // Whoever asked may have gone away.
        let _ = reading.reply.send(Err(BenchError::Stream(error)));
    }
}

/// Until nobody waits for this reading any more.
async fn gone(reading: &mut Option<Reading>) {
    match reading {
        Some(reading) => reading.reply.closed().await,
        None => std::future::pending().await,
    }
}

/// A request that is being answered.
struct Reading {
    reader: SteadyReader,
    reply: oneshot::Sender<Result<Taken, BenchError>>,
    before: Counters,
    kept: VecDeque<Sample>,
    temperature: Option<Celsius>,
}

impl Reading {
    fn new(settings: SteadySettings, reply: oneshot::Sender<Result<Taken, BenchError>>, before: Counters) -> Self {
        Self { reader: SteadyReader::new(settings), reply, before, kept: VecDeque::new(), temperature: None }
    }

    fn push(&mut self, sample: &Sample, force: &crate::sensor::Force) -> Progress {
        self.kept.push_back(*sample);
        self.temperature = sample.temperature.or(self.temperature);
        let progress = self.reader.push(force);
        // While it moves, as much is kept as may later turn out to be the beginning of the still stretch.
        let needed = match progress {
            Progress::Settling { since, .. } => since - LEAD_IN,
            Progress::Moving => sample.clock - MOVING_TAIL,
            Progress::Done(_) => return progress,
        };
        let whole = sample.clock - KEPT_WHOLE;
        let from = if needed < whole { needed } else { whole };
        while self.kept.front().is_some_and(|oldest| oldest.clock < from) {
            self.kept.pop_front();
        }
        progress
    }

    fn finish(self, ended_by: EndedBy, counters: Counters, instrument: &Instrument, fault: Option<SensorFault>) {
        let dropped = self.reader.dropped();
        let answer = match self.reader.finish(ended_by) {
            Some(steady) => Taken {
                steady,
                counters: counters.since(&self.before),
                temperature: self.temperature,
                samples: self.kept.into(),
            }
            .of_a_sound_sensor(instrument),
            None => Err(match fault {
                Some(fault) => BenchError::Sensor(fault),
                None if ended_by == EndedBy::End => BenchError::Nothing,
                None => BenchError::Unusable(dropped),
            }),
        };
        // Whoever asked may have gone away; then nobody is to be told.
        let _ = self.reply.send(answer);
    }
}
