//! One session for everybody who looks on: the page's clients and the terminal.
//!
//! The conductor's task holds the stream, the setup and the guide, and is the only one that keeps captures meanwhile. What
//! it shows is published in channels where the newest counts, so that no onlooker, however slow, holds it back.

mod change;
mod cue;
mod draw;
mod edits;
mod gallery;
pub mod hands;
mod live;
mod outbox_worker;
mod refusal;
mod returned;
mod run;
mod sensors;
mod sheet;

pub use change::Change;
pub use cue::Cue;
pub use live::Live;
pub use refusal::{Refusal, Trouble};
pub use run::SessionOptions;
pub use sensors::Sensor;
pub use sheet::{
    Caution, Cell, CellState, Choice, HistoryLine, Link, LinkState, OrderLine, OrderState, Picture, Plan, Section,
    SectionRotor, SensorLine, SetupLine, Sheet, Side, Step, Target, Turn, Verdict,
};

use super::{Instrument, SetupHandle};
use crate::guide::Act;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use tokio::task::JoinHandle;

/// Cues that an onlooker may lag behind before it loses the oldest.
const CUES: usize = 64;

/// What is asked of the task.
#[derive(Debug, Clone, PartialEq)]
pub enum Request {
    /// A person has done something.
    Act(Act),
    /// The record is to be changed.
    Change(Change),
}

/// A request with the place for its answer.
#[derive(Debug)]
pub struct Asked {
    /// What is asked.
    pub request: Request,
    /// Whether it was taken.
    pub answer: oneshot::Sender<Result<(), Refusal>>,
}

/// The handle that onlookers hold; clones share the session.
#[derive(Debug, Clone)]
pub struct Conductor {
    sheet: watch::Receiver<Arc<Sheet>>,
    live: watch::Receiver<Option<Live>>,
    cues: broadcast::Sender<Cue>,
    trace: Trace,
    gallery: Arc<Mutex<gallery::Gallery>>,
    asked: mpsc::Sender<Asked>,
}

/// The other side of the handle: what the task that runs the session publishes to and listens at.
#[derive(Debug)]
pub struct Publisher {
    /// The whole state.
    pub sheet: watch::Sender<Arc<Sheet>>,
    /// The blade at this moment.
    pub live: watch::Sender<Option<Live>>,
    /// For ear and eye.
    pub cues: broadcast::Sender<Cue>,
    /// The last 20 s.
    pub trace: Trace,
    gallery: Arc<Mutex<gallery::Gallery>>,
    /// What people do.
    pub asked: mpsc::Receiver<Asked>,
}

/// The handle and its publisher, beginning with this sheet.
#[must_use]
pub fn handle_and_publisher(sheet: Sheet) -> (Conductor, Publisher) {
    let (publish_sheet, sheet) = watch::channel(Arc::new(sheet));
    let (publish_live, live) = watch::channel(None);
    let (cues, _) = broadcast::channel(CUES);
    let (asked, inbox) = mpsc::channel(16);
    let (trace, gallery) = (Trace::default(), Arc::<Mutex<gallery::Gallery>>::default());
    let conductor =
        Conductor { sheet, live, cues: cues.clone(), trace: trace.clone(), gallery: Arc::clone(&gallery), asked };
    (conductor, Publisher { sheet: publish_sheet, live: publish_live, cues, trace, gallery, asked: inbox })
}

/// Starts the task that runs the session, with one sensor or several that stay each on a blade of its own. It ends when
/// the last handle is dropped. Needs a tokio runtime.
#[must_use]
pub fn start(
    first: Sensor,
    others: Vec<Sensor>,
    open: SetupHandle,
    options: SessionOptions,
) -> (Conductor, JoinHandle<()>) {
    let (conductor, run) = run::Run::new(first, others, open, options);
    (conductor, tokio::spawn(run.run()))
}

impl Publisher {
    /// Draws the pictures anew, and says which there are.
    fn draw_pictures(&self, open: &SetupHandle, rests: &gallery::Rests, sensor: &Instrument) -> Vec<Picture> {
        let mut gallery = self.gallery.lock().unwrap_or_else(PoisonError::into_inner);
        gallery.draw(open, rests, sensor);
        gallery.list()
    }
}

impl Conductor {
    /// The whole state; a new value at every change.
    #[must_use]
    pub fn sheet(&self) -> watch::Receiver<Arc<Sheet>> {
        self.sheet.clone()
    }

    /// The blade at this moment; none before the first sample and while the link is down.
    #[must_use]
    pub fn live(&self) -> watch::Receiver<Option<Live>> {
        self.live.clone()
    }

    /// What is heard and flashed from here on.
    #[must_use]
    pub fn cues(&self) -> broadcast::Receiver<Cue> {
        self.cues.subscribe()
    }

    /// The last 20 s: clock in seconds and angle in degrees, oldest first.
    #[must_use]
    pub fn trace(&self) -> Vec<[f64; 2]> {
        self.trace.points()
    }

    /// A picture of the setup as SVG, by its name on the sheet.
    #[must_use]
    pub fn picture(&self, name: &str) -> Option<String> {
        self.gallery.lock().unwrap_or_else(PoisonError::into_inner).svg(name)
    }

    /// Does something.
    ///
    /// # Errors
    /// When it is not taken now.
    pub async fn act(&self, act: Act) -> Result<(), Refusal> {
        self.ask(Request::Act(act)).await
    }

    /// Changes the record besides captures.
    ///
    /// # Errors
    /// When it cannot be changed so.
    pub async fn change(&self, change: Change) -> Result<(), Refusal> {
        self.ask(Request::Change(change)).await
    }

    async fn ask(&self, request: Request) -> Result<(), Refusal> {
        let (answer, answered) = oneshot::channel();
        self.asked.send(Asked { request, answer }).await.map_err(|_| Refusal::Ended)?;
        answered.await.unwrap_or(Err(Refusal::Ended))
    }
}

/// The last 20 s of the blade angle, at most 30 points a second.
#[derive(Debug, Clone, Default)]
pub struct Trace(Arc<Mutex<std::collections::VecDeque<[f64; 2]>>>);

impl Trace {
    const LENGTH_S: f64 = 20.0;
    const APART_S: f64 = 1.0 / 30.0;

    /// Adds a point: seconds on the stream's clock, degrees.
    pub fn add(&self, clock_s: f64, angle_deg: f64) {
        let mut points = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        // A clock that has started anew leaves nothing to draw on the old one's axis.
        if points.back().is_some_and(|last| clock_s < last[0]) {
            points.clear();
        }
        if points.back().is_some_and(|last| clock_s - last[0] < Self::APART_S) {
            return;
        }
        points.push_back([clock_s, angle_deg]);
        while points.front().is_some_and(|first| clock_s - first[0] > Self::LENGTH_S) {
            points.pop_front();
        }
    }

    fn points(&self) -> Vec<[f64; 2]> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).iter().copied().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::Trace;

    #[test]
    fn the_trace_keeps_twenty_seconds_at_thirty_points_a_second() {
        let trace = Trace::default();
        for sample in 0..40 * 400 {
            trace.add(f64::from(sample) / 400.0, 1.0);
        }
        let points = trace.points();
        assert!(points.len() <= 601, "{}", points.len());
        let (first, last) = (points[0][0], points[points.len() - 1][0]);
        assert!((19.9..=20.0).contains(&(last - first)), "{first} {last}");
        trace.add(0.0, 2.0);
        assert_eq!(trace.points(), [[0.0, 2.0]]);
    }
}
