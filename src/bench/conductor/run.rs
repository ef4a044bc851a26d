//! The conductor's task: one owner of stream, setup and guide.

use super::besides::Lifted;
use super::courier::Courier;
use super::draw::{LinkNow, draw};
use super::live::Watcher;
use super::sensors::{Sensor, Sensors};
use super::{Desk, LinkState, Picture, Refusal};
use crate::filter::SteadySettings;
use crate::guide::{Act, Cue, Effect, Guide, Kept, Moment, Rest, Shot};
use crate::logbook::Kept::{InLogbook, OnThisBench};
use crate::logbook::LogbookError;
use crate::record::trade;
use crate::rotor::{Carrier, Clip};
use crate::words::{Face, Say};
use crate::{BenchError, Draft, Line, OpenSetup, Order, Session, Taken};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// How often the lines of the other sensors are looked at while one is waited for.
const LOOK_AT_OTHERS: Duration = Duration::from_millis(500);

/// What is run, and how.
#[derive(Debug)]
pub struct Wishes {
    /// Whether the head is the simulated one.
    pub demo: bool,
}

/// Everything that the task owns.
pub(super) struct Run {
    pub(super) open: OpenSetup,
    sensors: Sensors,
    courier: Courier,
    wishes: Wishes,
    pub(super) guide: Guide,
    pub(super) desk: Desk,
    watcher: Watcher,
    link: LinkState,
    said: String,
    version: u64,
    pending: Option<(Draft, Rest)>,
    /// The pictures there are, and of how many entries they were drawn.
    pictures: (usize, Vec<Picture>),
    /// What went wrong in the logbook while an act was carried out.
    failed: Option<String>,
    /// What of it was spoken last: what is tried again at every rest is not spoken at every rest.
    spoken: Option<String>,
    /// How many lines of sensors that are not read were broken when it was last said.
    broken: usize,
    /// The blade with the cable lifted, until it hangs again.
    pub(super) lifted: Option<Lifted>,
}

/// Why a sensor is read no longer, or waited for no longer.
enum Ended {
    /// Nobody looks on any more.
    Left,
    /// Its line has changed: it broke, or is up again.
    Line,
    /// Another sensor is wanted.
    Elsewhere,
}

impl Run {
    pub(super) fn new(first: Sensor, others: Vec<Sensor>, open: OpenSetup, wishes: Wishes) -> (super::Conductor, Self) {
        let setup = open.setup();
        let read = setup.cautions_acknowledged_at.is_some();
        let sensors = Sensors::new(first, others);
        let guide = Guide::new(&setup.head, open.entries(), &sensors.carriers(), read);
        let link = LinkState::Waiting;
        let first = draw(&guide, &open, &wishes, &sensors, LinkNow { state: link, said: "", rate: None }, 1);
        let (conductor, desk) = super::handle_and_desk(first);
        let run = Self {
            courier: Courier::of(open.logbook()),
            open,
            sensors,
            wishes,
            guide,
            desk,
            watcher: Watcher::default(),
            link,
            said: String::new(),
            version: 1,
            pending: None,
            pictures: (0, Vec::new()),
            failed: None,
            spoken: None,
            broken: 0,
            lifted: None,
        };
        (conductor, run)
    }

    /// Runs until nobody holds a handle any more.
    pub(super) async fn run(mut self) {
        loop {
            self.sensors.go_to(self.wanted());
            let ended = if self.sensors.now().is_up() { self.read().await } else { self.wait().await };
            match ended {
                Ended::Left => break,
                Ended::Line => {}
                Ended::Elsewhere => self.begin_elsewhere(),
            }
        }
        self.sensors.end().await;
    }

    /// Reads the sensor that is wanted.
    async fn read(&mut self) -> Ended {
        let Some(session) = self.sensors.now_mut().session.take() else { return Ended::Left };
        (self.link, self.said) = (LinkState::Reading, String::new());
        self.publish();
        let ended = self.serve(&session).await;
        self.sensors.now_mut().session = Some(session);
        ended
    }

    /// The blade whose sensor the guide needs now.
    fn wanted(&self) -> Option<Carrier> {
        let seat = self.guide.at_hand().map(|line| line.seat).or_else(|| self.guide.seat())?;
        self.guide.carrier_of(seat)
    }

    /// Nothing of what was seen of one blade holds for another.
    fn begin_elsewhere(&mut self) {
        self.watcher = Watcher::default();
        self.desk.live.send_replace(None);
    }

    /// Serves one session until it ends.
    async fn serve(&mut self, session: &Session) -> Ended {
        let mut live = session.live();
        loop {
            let settings = SteadySettings { at_least: trade::HELD, ..SteadySettings::default() };
            let reading = session.read(settings);
            tokio::pin!(reading);
            let mut watching = true;
            let taken = loop {
                if self.sensors.is_elsewhere(self.wanted()) {
                    return Ended::Elsewhere;
                }
                tokio::select! {
                    taken = &mut reading => break taken,
                    changed = live.changed(), if watching => match changed {
                        Ok(()) => self.look(&live).await,
                        // The stream is over: the reading will say why.
                        Err(_) => watching = false,
                    },
                    asked = self.desk.asked.recv() => match asked {
                        Some(asked) => {
                            let answer = self.act(&asked.act).await;
                            // Who asked may have gone away.
                            let _ = asked.answer.send(answer);
                        }
                        None => return Ended::Left,
                    },
                    () = self.courier.changed() => self.publish(),
                }
            };
            match taken {
                Ok(taken) if taken.steady.steady => self.rest(&taken).await,
                Ok(_) | Err(BenchError::Nothing) => {}
                Err(BenchError::Stream(_) | BenchError::Ended) => return Ended::Line,
            }
        }
    }

    /// Waits for the sensor's line to be up; people are answered meanwhile.
    async fn wait(&mut self) -> Ended {
        let effects = self.guide.interrupted();
        self.carry_out(effects, None).await;
        self.begin_elsewhere();
        let mut line = self.sensors.now().watch_line();
        let mut others = tokio::time::interval(LOOK_AT_OTHERS);
        self.say_line();
        loop {
            if self.sensors.now().is_up() {
                return Ended::Line;
            }
            if self.sensors.is_elsewhere(self.wanted()) {
                return Ended::Elsewhere;
            }
            let over = matches!(self.sensors.now().line(), Line::Over(_));
            tokio::select! {
                Ok(()) = line.changed(), if !over => self.say_line(),
                _ = others.tick() => self.say_broken(),
                () = self.courier.changed() => self.publish(),
                asked = self.desk.asked.recv() => {
                    let Some(asked) = asked else { return Ended::Left };
                    let answer = self.act(&asked.act).await;
                    // Who asked may have gone away.
                    let _ = asked.answer.send(answer);
                }
            }
        }
    }

    /// Says why the sensor that is wanted is not read.
    fn say_line(&mut self) {
        let ended = || "The stream has ended.".to_owned();
        (self.link, self.said) = match self.sensors.now().line() {
            Line::Up => return,
            Line::Down(error) => (LinkState::Waiting, error.say(Face::Page)),
            Line::Over(error) => (LinkState::Ended, error.map_or_else(ended, |error| error.say(Face::Page))),
        };
        self.publish();
    }

    /// Says it when the line of a sensor that is not read has broken, or is up again.
    fn say_broken(&mut self) {
        let broken = self.sensors.broken();
        if self.broken != broken {
            self.broken = broken;
            self.publish();
        }
    }

    /// The blade as it moves.
    async fn look(&mut self, live: &watch::Receiver<Option<crate::LiveReading>>) {
        let Some(reading) = *live.borrow() else { return };
        let reading = self.sensors.timed(reading);
        let Some(seen) = self.watcher.see(&reading) else { return };
        let moment = seen.moment;
        let effects = self.guide.moment(moment);
        let before = self.guide.step();
        let changes = effects.iter().any(|effect| !matches!(effect, Effect::Cue(_)));
        self.carry_out(effects, None).await;
        let live = seen.live(&self.guide, &self.open, &before);
        if let Some(angle) = live.travel_deg.or(live.angle_deg) {
            let angle = live.angle_deg.unwrap_or(angle);
            self.desk.trace.add(live.clock_s, angle);
        }
        self.desk.live.send_replace(Some(live));
        if changes || self.desk.sheet.borrow().step != before {
            self.publish();
        }
        self.say_broken();
    }

    /// The blade came to rest.
    async fn rest(&mut self, taken: &Taken) {
        let steady = &taken.steady;
        let (from, clock) = self.sensors.span(taken);
        let at = Moment {
            clock,
            apparent: steady.apparent_pitch(),
            span: steady.span_inclination(),
            buzzes: steady.vibration.is_some_and(|vibration| trade::is_buzz(vibration, None)),
        };
        let rest = Rest { from, at };
        self.watcher.rested(taken);
        let effects = self.guide.rest(&rest);
        self.carry_out(effects, Some((taken, rest))).await;
        self.publish();
    }

    /// A person does something.
    async fn act(&mut self, act: &Act) -> Result<(), Refusal> {
        let effects = self.guide.act(act).map_err(Refusal::new)?;
        self.failed = None;
        self.carry_out(effects, None).await;
        self.publish();
        self.failed.take().map_or(Ok(()), |said| Err(Refusal::new(said)))
    }

    async fn carry_out(&mut self, effects: Vec<Effect>, at: Option<(&Taken, Rest)>) {
        let mut due: std::collections::VecDeque<Effect> = effects.into();
        while let Some(effect) = due.pop_front() {
            match effect {
                Effect::Cue(cue) => {
                    // Nobody has to be listening.
                    let _ = self.desk.cues.send(cue);
                }
                Effect::Capture(shot) => {
                    if let Some((taken, rest)) = at {
                        let kept = self.capture(&shot, taken, rest).await;
                        due.extend(self.guide.kept(&rest, kept));
                    }
                }
                Effect::Accept => {
                    if let Some((draft, rest)) = self.pending.take() {
                        let kept = self.keep(self.open.accepted(draft)).await;
                        due.extend(self.guide.kept(&rest, kept));
                    }
                }
                Effect::Forget => self.pending = None,
                Effect::CableLifted => self.cable_lifted(at),
                Effect::Keep(deed) => {
                    let done = self.keep_deed(&deed, at).await;
                    let done = self.report(done);
                    due.extend(self.guide.written(&deed, done));
                }
            }
        }
    }

    /// What fails in the logbook is said, and the job goes on.
    fn report(&mut self, done: Result<(), LogbookError>) -> Result<(), String> {
        let Err(error) = done else {
            self.spoken = None;
            return Ok(());
        };
        tracing::error!("{error}");
        let said = error.say(Face::Page);
        if self.spoken.as_ref() != Some(&said) {
            let _ = self.desk.cues.send(Cue::say(said.clone()));
            self.spoken = Some(said.clone());
        }
        self.failed = Some(said.clone());
        Err(said)
    }

    async fn capture(&mut self, shot: &Shot, taken: &Taken, rest: Rest) -> Kept {
        let order = Order {
            subject: shot.subject,
            clip: Clip::Forward,
            stick: shot.stick,
            stick_said: false,
            limited_by: shot.limited_by,
            approach: None,
            reseated: false,
        };
        let draft = match self.open.draft(&order, taken, &self.sensors.now().instrument, &self.sensors.now().name) {
            Ok(draft) => draft,
            Err(error) => return Kept::Refused(error.say(Face::Page)),
        };
        let sensor = self.sensors.now_mut();
        sensor.rests.add(taken, &sensor.instrument);
        match draft.question() {
            Some(question) => {
                self.pending = Some((draft, rest));
                Kept::Asked(question.say(Face::Page))
            }
            None => self.keep(draft).await,
        }
    }

    async fn keep(&mut self, draft: Draft) -> Kept {
        let (said, capture) = (told(&draft), draft.capture.id);
        match self.open.keep(draft).await {
            Ok(InLogbook(_)) => Kept::Recorded { capture, said },
            Ok(OnThisBench) => {
                let said = format!("{said} The shared logbook cannot be reached: it is kept on this bench until then.");
                Kept::Recorded { capture, said: said.trim_start().to_owned() }
            }
            Err(error) => {
                let said = error.say(Face::Page);
                self.failed = Some(said.clone());
                Kept::Refused(said)
            }
        }
    }

    fn publish(&mut self) {
        self.version += 1;
        let link = LinkNow { state: self.link, said: &self.said, rate: self.watcher.rate() };
        let entries = self.open.entries().len();
        if self.pictures.0 != entries {
            let sensor = self.sensors.now();
            self.pictures = (entries, self.desk.draw_pictures(&self.open, &sensor.rests, &sensor.instrument));
        }
        let mut drawn = draw(&self.guide, &self.open, &self.wishes, &self.sensors, link, self.version);
        drawn.pictures.clone_from(&self.pictures.1);
        drawn.refused = self.courier.refused();
        self.desk.sheet.send_replace(Arc::new(drawn));
    }
}

/// What is said of a capture: its value, where it fills a cell.
fn told(draft: &Draft) -> String {
    let subject = draft.capture.subject.deflection();
    match draft.cell().and_then(|cell| cell.value.as_ref()) {
        Some(value) => format!("{subject}: {:.1} degrees.", value.angle.degrees()),
        None => String::new(),
    }
}
