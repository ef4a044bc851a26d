//! The conductor's task: one owner of stream, setup and guide.

use super::draw::{LinkNow, Now, draw};
use super::edits::Lifted;
use super::live::Watcher;
use super::outbox_worker::OutboxWorker;
use super::sensors::{Known, Sensor, Sensors};
use super::{Cue, LinkState, Picture, Publisher, Refusal, Request, Trouble};
use crate::filter::SteadySettings;
use crate::guide::{Act, CaptureRequest, Effect, Guide, Instruction, Kept, Moment, Question, Rest, Spoken};
use crate::logbook::Kept::OnThisBench;
use crate::record::{plan, trade};
use crate::rotor::{Carrier, Clip};
use crate::units::Angle;
use crate::words::{self, Face, Say};
use crate::{BenchError, Draft, Line, Order, Session, SetupHandle, Taken};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// How often the lines of the other sensors are looked at while one is waited for.
const LOOK_AT_OTHERS: Duration = Duration::from_millis(500);

/// What is run, and how.
#[derive(Debug)]
pub struct SessionOptions {
    /// Whether the head is the simulated one.
    pub demo: bool,
    /// Why there is no sensor, where there is none; one that ends at once stands in its place.
    pub absent: Option<String>,
}

/// Everything that the task owns.
pub(super) struct Run {
    pub(super) open: SetupHandle,
    sensors: Sensors,
    outbox: OutboxWorker,
    options: SessionOptions,
    pub(super) guide: Guide,
    pub(super) publisher: Publisher,
    watcher: Watcher,
    link: LinkState,
    said: String,
    version: u64,
    pending: Option<(Draft, Rest)>,
    /// The pictures there are, and of how many entries they were drawn.
    pictures: (usize, Vec<Picture>),
    /// Why the last capture or edit could not be kept.
    trouble: Option<Trouble>,
    /// Whether that came of the act that is being carried out.
    act_failed: bool,
    /// How many lines of sensors that are not read were broken when it was last said.
    broken: usize,
    /// Which sensor is which, as it was last said.
    known: Known,
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
    pub(super) fn new(
        first: Sensor,
        others: Vec<Sensor>,
        open: SetupHandle,
        options: SessionOptions,
    ) -> (super::Conductor, Self) {
        let setup = open.setup();
        let read = setup.cautions_acknowledged_at.is_some();
        let sensors = Sensors::new(first, others);
        let guide = Guide::new(&setup.head, open.entries(), &sensors.carriers(), read);
        let link = LinkState::Waiting;
        let first = draw(&Now {
            guide: &guide,
            open: &open,
            options: &options,
            sensors: &sensors,
            link: LinkNow { state: link, said: "", rate: None },
            trouble: None,
            doubt: None,
            version: 1,
        });
        let (conductor, publisher) = super::handle_and_publisher(first);
        let run = Self {
            outbox: OutboxWorker::of(open.logbook()),
            open,
            sensors,
            options,
            guide,
            publisher,
            watcher: Watcher::default(),
            link,
            said: String::new(),
            version: 1,
            pending: None,
            pictures: (0, Vec::new()),
            trouble: None,
            act_failed: false,
            broken: 0,
            known: Known::Surely,
            lifted: None,
        };
        (conductor, run)
    }

    /// Runs until nobody holds a handle any more.
    pub(super) async fn run(mut self) {
        // What a line that has broken brought before holds no longer, however soon it was up again.
        let mut broke = false;
        loop {
            self.sensors.go_to(self.wanted());
            let reads = self.sensors.now().is_up() && !broke;
            let ended = if reads { self.read().await } else { self.wait().await };
            broke = reads && matches!(ended, Ended::Line);
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
        self.publisher.live.send_replace(None);
    }

    /// Serves one session until it ends.
    async fn serve(&mut self, session: &Session) -> Ended {
        let mut live = session.live();
        // It may break while nothing is being read.
        let mut line = self.sensors.now().watch_line();
        line.mark_unchanged();
        if !self.sensors.now().is_up() {
            return Ended::Line;
        }
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
                    Ok(()) = line.changed() => return Ended::Line,
                    asked = self.publisher.asked.recv() => match asked {
                        Some(asked) => {
                            let answer = self.answer(asked.request).await;
                            // Who asked may have gone away.
                            let _ = asked.answer.send(answer);
                        }
                        None => return Ended::Left,
                    },
                    () = self.outbox.changed() => self.publish(),
                }
            };
            match taken {
                Ok(taken) if taken.steady.steady => self.rest(&taken).await,
                Ok(_) | Err(BenchError::Nothing) => {}
                Err(error @ (BenchError::Sensor(_) | BenchError::Unusable(_))) => {
                    // Each reading is refused anew for as long as the sensor is so: it is said once.
                    let trouble = Trouble::Bench(Arc::new(error));
                    if !self.trouble.as_ref().is_some_and(|before| before.is_like(&trouble)) {
                        self.settle::<()>(Err(trouble));
                        self.publish();
                    }
                }
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
                () = self.outbox.changed() => self.publish(),
                asked = self.publisher.asked.recv() => {
                    let Some(asked) = asked else { return Ended::Left };
                    let answer = self.answer(asked.request).await;
                    // Who asked may have gone away.
                    let _ = asked.answer.send(answer);
                }
            }
        }
    }

    /// Says why the sensor that is wanted is not read.
    fn say_line(&mut self) {
        if let Some(why) = &self.options.absent {
            (self.link, self.said) = (LinkState::Waiting, why.clone());
            return self.publish();
        }
        let ended = || words::bench::STREAM_ENDED.to_owned();
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
        let is_cue = |effect: &Effect| matches!(effect, Effect::Say(_) | Effect::Tone(_) | Effect::Mark { .. });
        let changes = !effects.iter().all(is_cue);
        self.carry_out(effects, None).await;
        let mut live = seen.live(&self.guide, &self.open, before.hold_s);
        if let Some(said) = self.which_is_which() {
            (live.angle_deg, live.travel_deg, live.said) = (None, None, Some(said));
        }
        if let Some(angle) = live.travel_deg.or(live.angle_deg) {
            let angle = live.angle_deg.unwrap_or(angle);
            self.publisher.trace.add(live.clock_s, angle);
        }
        self.publisher.live.send_replace(Some(live));
        let warned = self.warn_of_the_line();
        let shown = {
            let sheet = self.publisher.sheet.borrow();
            (sheet.step.instruction, sheet.step.hint)
        };
        if changes || warned || shown != (before.instruction, before.hint) {
            self.publish();
        }
        self.say_broken();
    }

    /// Says what is wrong with a line that brings samples all the same; whether that has changed. It is spoken once.
    fn warn_of_the_line(&mut self) -> bool {
        let warning = self.watcher.warning().unwrap_or_default();
        if self.said == warning {
            return false;
        }
        self.said = warning.to_owned();
        if !self.said.is_empty() {
            self.cue(Cue::say(words::bench::BAD_LINE.to_owned()));
        }
        true
    }

    /// What to do where it is not sure which sensor is which; it is spoken once.
    fn which_is_which(&mut self) -> Option<String> {
        let (known, carrier) = (self.sensors.known(), self.sensors.now().instrument.carrier);
        let said = match known {
            Known::Surely => None,
            Known::Doubtful => Some(words::bench::which_is_which(carrier)),
            Known::Exchanged => Some(words::bench::exchanged(carrier)),
            Known::Another => Some(words::bench::another_sensor(carrier)),
        };
        if self.known != known {
            self.known = known;
            if let Some(said) = &said {
                self.cue(Cue::say(said.clone()));
            }
        }
        said
    }

    /// The blade came to rest.
    async fn rest(&mut self, taken: &Taken) {
        self.sensors.rested(taken);
        // Nothing is captured of a blade that may be another one.
        if self.which_is_which().is_some() {
            return;
        }
        let steady = &taken.steady;
        let (from, clock) = self.sensors.span(taken);
        let swing = steady.vibration.map_or(Angle::ZERO, |vibration| vibration.amplitude);
        let at = Moment {
            clock,
            apparent: steady.apparent_pitch(),
            span: steady.span_inclination(),
            buzzes: trade::is_buzz(swing, None),
        };
        let rest = Rest { from, at, swing };
        self.watcher.rested(taken);
        let effects = self.guide.rest(&rest);
        self.carry_out(effects, Some((taken, rest))).await;
        self.publish();
    }

    async fn answer(&mut self, request: Request) -> Result<(), Refusal> {
        match request {
            Request::Act(act) => self.act(&act).await,
            Request::Change(change) => self.change(change).await,
        }
    }

    /// A person does something.
    async fn act(&mut self, act: &Act) -> Result<(), Refusal> {
        if matches!(act, Act::Arm) {
            // Another terminal may have recorded something since.
            self.open = self.open.clone().caught_up().await;
        }
        let effects = self.guide.act(act)?;
        self.act_failed = false;
        self.carry_out(effects, None).await;
        self.publish();
        match self.trouble.clone().filter(|_| self.act_failed) {
            Some(trouble) => Err(trouble.into()),
            None => Ok(()),
        }
    }

    pub(super) async fn carry_out(&mut self, effects: Vec<Effect>, at: Option<(&Taken, Rest)>) {
        let mut due: std::collections::VecDeque<Effect> = effects.into();
        while let Some(effect) = due.pop_front() {
            match effect {
                Effect::Say(spoken) => self.cue(self.spoken(spoken)),
                Effect::Tone(tone) => self.cue(Cue::Tone { tone }),
                Effect::Mark { mark, stretch } => self.cue(Cue::mark(mark, stretch)),
                Effect::Capture(request) => {
                    if let Some((taken, rest)) = at {
                        let kept = self.capture(&request, taken, rest).await;
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
                Effect::Review => {
                    self.open = self.open.clone().caught_up().await;
                    let plan = plan::plan(&self.open.setup().head, self.open.entries());
                    due.extend(self.guide.reviewed(&plan));
                }
                Effect::CableLifted => self.cable_lifted(at),
                Effect::Keep(edit) => {
                    let kept = self.keep_edit(&edit, at).await;
                    let kept = self.settle(kept.map_err(Trouble::from)).is_some();
                    due.extend(self.guide.written(&edit, kept));
                }
            }
        }
    }

    /// Nobody has to be listening.
    pub(super) fn cue(&self, cue: Cue) {
        let _ = self.publisher.cues.send(cue);
    }

    /// What is spoken; the record's own question in its own words.
    fn spoken(&self, spoken: Spoken) -> Cue {
        let asked = Spoken::Step(Instruction::Answer { question: Question::OfTheRecord });
        match self.pending.as_ref().and_then(|(draft, _)| draft.doubt()).filter(|_| spoken == asked) {
            Some(doubt) => Cue::say(doubt.say(Face::Voice)),
            None => Cue::spoken(spoken),
        }
    }

    /// What could not be kept is spoken of once, and the job goes on.
    fn settle<T>(&mut self, kept: Result<T, Trouble>) -> Option<T> {
        match kept {
            Ok(kept) => {
                self.trouble = None;
                Some(kept)
            }
            Err(trouble) => {
                tracing::error!("{trouble}");
                if !self.trouble.as_ref().is_some_and(|before| before.is_like(&trouble)) {
                    self.cue(Cue::say(trouble.say(Face::Voice)));
                }
                (self.trouble, self.act_failed) = (Some(trouble), true);
                None
            }
        }
    }

    async fn capture(&mut self, request: &CaptureRequest, taken: &Taken, rest: Rest) -> Kept {
        let order = Order {
            subject: request.subject,
            clip: Clip::Forward,
            stick: request.stick,
            stick_said: false,
            limited_by: request.limited_by,
            approach: None,
            reseated: false,
        };
        let draft = self.open.draft(&order, taken, &self.sensors.now().instrument, &self.sensors.now().name);
        let Some(draft) = self.settle(draft.map_err(Trouble::from)) else { return Kept::Refused };
        let sensor = self.sensors.now_mut();
        sensor.rests.add(taken, &sensor.instrument);
        if draft.doubt().is_some() {
            self.pending = Some((draft, rest));
            return Kept::Asked;
        }
        self.keep(draft).await
    }

    async fn keep(&mut self, draft: Draft) -> Kept {
        let capture = draft.capture.id;
        let value = draft.cell().and_then(|cell| cell.value.as_ref()).map(|value| value.angle);
        let said = value.map(|value| words::bench::captured(draft.capture.subject.deflection(), value));
        let kept = self.open.keep(draft).await;
        let Some(where_to) = self.settle(kept.map_err(Trouble::from)) else { return Kept::Refused };
        if let Some(said) = said {
            self.cue(Cue::say(said));
        }
        if where_to == OnThisBench {
            self.cue(Cue::say(words::bench::KEPT_ON_THIS_BENCH.to_owned()));
        }
        Kept::Recorded { capture }
    }

    pub(super) fn publish(&mut self) {
        let link = LinkNow { state: self.link, said: &self.said, rate: self.watcher.rate() };
        let entries = self.open.entries().len();
        if self.pictures.0 != entries {
            let sensor = self.sensors.now();
            self.pictures = (entries, self.publisher.draw_pictures(&self.open, &sensor.rests, &sensor.instrument));
        }
        let mut drawn = draw(&Now {
            guide: &self.guide,
            open: &self.open,
            options: &self.options,
            sensors: &self.sensors,
            link,
            trouble: self.trouble.as_ref(),
            doubt: self.pending.as_ref().and_then(|(draft, _)| draft.doubt()),
            version: self.version + 1,
        });
        drawn.pictures.clone_from(&self.pictures.1);
        drawn.waits = self.outbox.said(drawn.waiting);
        // What has not changed is not sent again: a blade at rest is read again and again.
        if self.publisher.sheet.borrow().shows_the_same(&drawn) {
            return;
        }
        self.version += 1;
        self.publisher.sheet.send_replace(Arc::new(drawn));
    }
}
