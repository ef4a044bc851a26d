//! Drives a simulated head in real time: its bytes to a port, commands from a channel, answers back.
//!
//! The rig itself knows no clock. Here it is told the time every 5 ms, that of life or several times as fast; its bytes leave on
//! a pseudo-terminal or TCP.

use super::rig_port::{Place, Port, Usable, settled};
use crate::rig::{Answer, Rig, RigError, Truth};
use crate::stream::Source;
use crate::units::Seconds;
use crate::words::{Face, Say, rig as words};
use std::io;
use std::time::Duration;
use tokio::sync::{mpsc, oneshot, watch};
use tokio::task::JoinHandle;
use tokio::time::{Instant, MissedTickBehavior, interval};

const TICK: Duration = Duration::from_millis(5);

/// Why a running rig does not answer.
#[derive(Debug, thiserror::Error)]
pub enum RigDriverError {
    /// The command cannot be carried out.
    #[error(transparent)]
    Command(#[from] RigError),
    /// It has ended.
    #[error("rig ended")]
    Ended,
    /// The port cannot be opened.
    #[error("no port: {0}")]
    Port(#[from] io::Error),
}

impl Say for RigDriverError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Command(error) => error.say(face),
            Self::Ended => words::ended(),
            Self::Port(error) => words::no_port(error),
        }
    }
}

enum Request {
    Command(String, oneshot::Sender<Result<String, RigError>>),
    Truth(oneshot::Sender<Truth>),
}

/// A rig that runs in a task of its own until the handle is stopped or dropped.
#[derive(Debug)]
pub struct RigHandle {
    requests: mpsc::Sender<Request>,
    port: watch::Receiver<Option<Source>>,
    task: JoinHandle<Result<Rig, io::Error>>,
}

/// Starts a rig at a place, its time `speed` times as fast as life. Above 1, its time stands still while the reader of a
/// pseudo-terminal has not taken what was sent; in life the rest is lost, as on a serial line. Needs a tokio runtime.
///
/// # Errors
/// When the port cannot be opened.
pub fn spawn(mut rig: Rig, place: Place, speed: u8) -> Result<RigHandle, RigDriverError> {
    rig.wait_to_be_asked();
    let port = Port::open(&place)?;
    let place = settled(&place, &port);
    let (requests, received) = mpsc::channel(8);
    let (names, port_name) = watch::channel(Some(port.source()));
    let driver = Driver {
        rig,
        port: Some(port),
        place,
        names,
        speed,
        seen: Instant::now(),
        now: 0.0,
        bytes: Vec::new(),
        heard: Vec::new(),
    };
    Ok(RigHandle { requests, port: port_name, task: tokio::spawn(driver.run(received)) })
}

impl RigHandle {
    /// What to open to read it: a device or host and port; nothing while it is unplugged.
    #[must_use]
    pub fn port(&self) -> Option<String> {
        self.source().map(|source| source.to_string())
    }

    /// The same as the program opens it.
    #[must_use]
    pub fn source(&self) -> Option<Source> {
        self.port.borrow().clone()
    }

    /// Carries out one command line and gives its answer; `wait` answers when the time is over.
    ///
    /// # Errors
    /// When the line is no command, this head cannot do it, or the rig has ended.
    pub async fn command(&self, line: &str) -> Result<String, RigDriverError> {
        let (reply, answer) = oneshot::channel();
        self.ask(Request::Command(line.to_owned(), reply)).await?;
        Ok(answer.await.map_err(|_| RigDriverError::Ended)??)
    }

    /// How everything really stands now.
    ///
    /// # Errors
    /// When the rig has ended.
    pub async fn truth(&self) -> Result<Truth, RigDriverError> {
        let (reply, answer) = oneshot::channel();
        self.ask(Request::Truth(reply)).await?;
        answer.await.map_err(|_| RigDriverError::Ended)
    }

    /// Waits until the rig has ended by itself: by `quit`, or because a port could not be opened again.
    pub async fn ended(&mut self) {
        // A watch channel closes when the driver that feeds it ends.
        while self.port.changed().await.is_ok() {}
    }

    /// Ends the rig and gives it back, to be asked for its truth.
    ///
    /// # Errors
    /// When it had ended because a port could not be opened again.
    pub async fn stop(self) -> Result<Rig, RigDriverError> {
        drop(self.requests);
        Ok(self.task.await.map_err(|_| RigDriverError::Ended)??)
    }

    async fn ask(&self, request: Request) -> Result<(), RigDriverError> {
        self.requests.send(request).await.map_err(|_| RigDriverError::Ended)
    }
}

/// A `wait` whose answer is still owed.
struct Waiting {
    until: f64,
    line: String,
    reply: oneshot::Sender<Result<String, RigError>>,
}

struct Driver {
    rig: Rig,
    /// The other side of the unplugged cable is nothing.
    port: Option<Port>,
    /// Where to open the port again.
    place: Place,
    names: watch::Sender<Option<Source>>,
    /// So many times as fast as life.
    speed: u8,
    /// When it was last told the time.
    seen: Instant,
    /// What it was told, seconds since its start.
    now: f64,
    /// What was not sent yet.
    bytes: Vec<u8>,
    /// What the sensor was asked.
    heard: Vec<u8>,
}

impl Driver {
    async fn run(mut self, mut requests: mpsc::Receiver<Request>) -> Result<Rig, io::Error> {
        let mut tick = interval(TICK);
        tick.set_missed_tick_behavior(MissedTickBehavior::Skip);
        let mut waiting: Option<Waiting> = None;
        while !self.rig.has_quit() {
            tokio::select! {
                _ = tick.tick() => self.catch_up()?,
                request = requests.recv(), if waiting.is_none() => {
                    let Some(request) = request else { break };
                    self.catch_up()?;
                    waiting = self.answer(request)?;
                }
            }
            if let Some(due) = waiting.take_if(|waiting| waiting.until <= self.rig.now().value()) {
                // Who asked may have gone; the rig goes on.
                let _ = due.reply.send(Ok(due.line));
            }
        }
        Ok(self.rig)
    }

    /// Lets the rig's time come up to what it should be.
    fn catch_up(&mut self) -> io::Result<()> {
        let passed = self.seen.elapsed().as_secs_f64() * f64::from(self.speed);
        self.seen = Instant::now();
        if self.speed == 1 {
            self.bytes.clear();
        }
        if self.bytes.is_empty() {
            self.now += passed;
        }
        self.heard.clear();
        if let Some(port) = &mut self.port {
            port.receive(&mut self.heard);
        }
        self.rig.advance(Seconds::new(self.now), &mut self.bytes);
        self.rig.hear(&self.heard, &mut self.bytes);
        if let Some(Usable::No) = self.port.as_mut().map(|port| port.send(&mut self.bytes)) {
            // Closed first, so that the new one is given the same name where the system has it to give.
            self.port = None;
        }
        if self.port.is_none() {
            self.bytes.clear();
        }
        self.plug()
    }

    /// Closes the port of an unplugged sensor, and opens one for a plugged one.
    fn plug(&mut self) -> io::Result<()> {
        match (self.rig.is_plugged(), &self.port) {
            (false, Some(_)) => self.port = None,
            (true, None) => self.port = Some(Port::open(&self.place)?),
            _ => return Ok(()),
        }
        self.names.send_replace(self.port.as_ref().map(Port::source));
        Ok(())
    }

    /// Answers at once, or gives back the wait that is owed an answer.
    fn answer(&mut self, request: Request) -> io::Result<Option<Waiting>> {
        match request {
            Request::Truth(reply) => {
                // Who asked may have gone; the rig goes on.
                let _ = reply.send(self.rig.truth());
            }
            Request::Command(line, reply) => {
                let answer = self.rig.command(&line);
                // The port is gone or back before the answer says so.
                self.plug()?;
                if let Ok(Answer { line, wait: Some(wait) }) = answer {
                    return Ok(Some(Waiting { until: self.rig.now().value() + wait.value(), line, reply }));
                }
                let _ = reply.send(answer.map(|answer| answer.line));
            }
        }
        Ok(None)
    }
}
