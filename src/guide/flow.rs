//! The guide itself: what it knows, and how it goes from line to line.

use super::effect::{CaptureRequest, Effect, Kept};
use super::order::{Line, LineState, lines, reopen, turn};
use super::question::Question;
use super::seen::{Moment, Rest, pitch};
use super::stage::{Place, Return, Stage, Then};
use super::{Mark, Spoken, Tone};
use crate::record::trade::Caution;
use crate::record::{CellName, Entry, Head, LimitedBy, Planned, Seat, Subject, plan, trade};
use crate::rotor::{Axis, Carrier, Deflection, Spot};
use crate::uncertainty::Target;
use crate::units::{Angle, Seconds};
use uuid::Uuid;

/// A blade that has moved so far was moved on purpose: what is seen at once, where the record asks about less than two degrees.
pub(super) const MOVED_DEGREES: f64 = 1.5;
/// A stick that was let go leaves the blade so near to its neutral, even of a small travel.
pub(super) const BACK_DEGREES: f64 = 0.7;

/// What is known of the seat at which the person is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Here {
    pub seat: Seat,
    /// The pitch with the sticks centred, once it was captured here.
    pub neutral: Option<Angle>,
    /// The slope of the span then.
    pub span: Option<Angle>,
    /// Which way positive rudder moved the blade, where the head's description does not say.
    pub rudder: Option<f64>,
}

/// Leads through the job.
#[derive(Debug, Clone, PartialEq)]
pub struct Guide {
    pub(super) head: Head,
    /// The blades that carry a sensor of their own; none: one clip goes from blade to blade.
    pub(super) carriers: Vec<Carrier>,
    /// Of those, the ones of which a movement has shown that the sensor sits right.
    pub(super) shown: Vec<Carrier>,
    /// Of each caution, whether it was acknowledged.
    pub(super) cautions: Vec<bool>,
    pub(super) lines: Vec<Line>,
    /// The id of the line at hand.
    pub(super) current: Option<u32>,
    pub(super) stage: Stage,
    pub(super) armed: bool,
    pub(super) here: Option<Here>,
    pub(super) bound: bool,
    /// The person has said that it is to be taken now.
    pub(super) by_hand: bool,
    /// What was captured, the newest last: its line and its capture.
    pub(super) taken: Vec<(u32, Uuid)>,
    /// What is in the record as left out on purpose.
    pub(super) left_out: Vec<CellName>,
    /// Degrees that the head was turned so far, in the direction of rotation.
    pub(super) turned: f64,
    pub(super) finished: bool,
    /// The blade as it was seen last.
    pub(super) seen: Option<Moment>,
    /// From when a movement is waited for that does not come.
    pub(super) waits_from: Option<Seconds>,
    /// Whether the last capture or edit could not be kept.
    pub(super) not_kept: bool,
    /// Lines that only an end point makes right, as the record said when it was looked through.
    pub(super) blocked: usize,
    out: Vec<Effect>,
}

impl Guide {
    /// A guide for this head; what its setup already holds is not asked for again. Where blades carry sensors of their own,
    /// what no sensor can read is left out.
    #[must_use]
    pub fn new(head: &Head, entries: &[Entry], carriers: &[Carrier], cautions_read: bool) -> Self {
        let plan = plan::plan(head, entries);
        let mut guide = Self {
            head: head.clone(),
            carriers: carriers.to_vec(),
            shown: Vec::new(),
            cautions: vec![cautions_read; Caution::ALL.len()],
            lines: lines(&plan, carriers),
            current: None,
            stage: Stage::Done,
            armed: false,
            here: None,
            bound: false,
            by_hand: false,
            taken: Vec::new(),
            left_out: Vec::new(),
            turned: 0.0,
            finished: false,
            seen: None,
            waits_from: None,
            not_kept: false,
            blocked: blocked(&plan),
            out: Vec::new(),
        };
        guide.next_line();
        guide.out.clear();
        guide
    }

    /// The blade came to rest.
    pub fn rest(&mut self, rest: &Rest) -> Vec<Effect> {
        if self.runs() && !self.was_knocked(rest) {
            match &self.stage {
                Stage::Place(_) => self.rest_in_place(rest),
                Stage::Check(_) => self.rest_in_check(rest),
                Stage::Neutral => self.rest_at_neutral(rest),
                Stage::Move | Stage::Hold(_) => self.rest_held(rest),
                Stage::BackOff(_) => self.rest_backed_off(rest),
                Stage::Return(_) => self.rest_returned(rest),
                Stage::Cable(_) => self.rest_at_cable(rest),
                Stage::Sweep(_) => self.rest_swept(rest),
                Stage::Question(..) => self.rest_in_question(rest),
                Stage::Keeping(_) | Stage::TakingBack { .. } | Stage::Done => {}
            }
        }
        self.take()
    }

    /// The blade as it moves.
    pub fn moment(&mut self, at: Moment) -> Vec<Effect> {
        self.seen = Some(at);
        if self.runs() {
            match &self.stage {
                Stage::Place(_) => self.moment_in_place(at),
                Stage::Check(_) | Stage::Question(Question::NoAnswer { .. }, _) => self.moment_in_check(at),
                Stage::Move | Stage::Hold(_) => self.moment_held(at),
                Stage::Return(_) => self.moment_returning(at),
                Stage::Cable(_) => self.moment_at_cable(at),
                Stage::Sweep(_) => self.moment_swept(at),
                _ => {}
            }
        }
        self.take()
    }

    /// The stream was interrupted: nobody knows what was moved meanwhile, so the place is begun again.
    pub fn interrupted(&mut self) -> Vec<Effect> {
        if self.runs() && !matches!(self.stage, Stage::Done) {
            self.effect(Effect::Forget);
            self.tone(None);
            self.place_again();
        }
        self.take()
    }

    /// What became of the capture that was asked for.
    pub fn kept(&mut self, rest: &Rest, kept: Kept) -> Vec<Effect> {
        if let Stage::Keeping(then) = self.stage {
            match kept {
                Kept::Recorded { capture } => self.recorded(rest, then, capture),
                Kept::Asked => self.ask(Question::OfTheRecord),
                Kept::Refused => {
                    self.mark(Mark::Refused);
                    self.not_kept = true;
                    self.stage = if then == Then::Return { Stage::Move } else { Stage::Neutral };
                }
            }
        }
        self.take()
    }

    fn recorded(&mut self, rest: &Rest, then: Then, capture: Uuid) {
        self.not_kept = false;
        let stretch = Some([rest.from, rest.at.clock]);
        self.effect(Effect::Mark { mark: Mark::Captured, stretch });
        let Some(line) = self.line().cloned() else { return };
        if then != Then::Return
            && let Some(here) = &mut self.here
        {
            (here.neutral, here.span) = (Some(pitch(rest.at, line.seat.spot)), Some(rest.at.span));
        }
        // The neutrals before and after an end are no lines of their own.
        if then == Then::Return || (then == Then::Next && line.deflection().is_neutral()) {
            self.taken.push((line.id, capture));
        }
        match then {
            Then::Move => self.begin_move(),
            Then::Return => {
                self.remember_rudder(rest, &line);
                self.done(line.id);
                let full = self.moved(rest.at).unwrap_or(Angle::ZERO);
                self.waits_from = None;
                self.stage = Stage::Return(Return { full, back_at: None });
                self.say_step();
            }
            Then::Next => {
                self.done(line.id);
                self.next_line();
            }
        }
    }

    /// Which way the rudder moves a blade of which nobody has said it.
    fn remember_rudder(&mut self, rest: &Rest, line: &Line) {
        let moved = self.moved(rest.at);
        if let (Deflection::Rudder(rudder), Some(moved), Some(here)) = (line.deflection(), moved, &mut self.here) {
            here.rudder = Some(trade::rudder_way(rudder) * moved.radians().signum());
        }
    }

    pub(super) fn done(&mut self, id: u32) {
        if let Some(line) = self.lines.iter_mut().find(|line| line.id == id) {
            line.state = LineState::Captured;
            let filled = line.cell();
            self.left_out.retain(|cell| Some(*cell) != filled);
        }
        (self.bound, self.by_hand) = (false, false);
    }

    /// Goes on with the next line that is still to come; after the last one the record is looked through once more.
    pub(super) fn next_line(&mut self) {
        if !self.goes_on() {
            self.effect(Effect::Review);
        }
    }

    /// What the record says now that nothing is to come: what it does not hold, though it was captured here, is to come again, such
    /// as an end that a sweep has put in question, and what it wants besides comes too. What was left out stays so.
    pub fn reviewed(&mut self, plan: &[Planned]) -> Vec<Effect> {
        if self.runs() && matches!(self.stage, Stage::Done) {
            reopen(&mut self.lines, plan, &self.carriers);
            self.blocked = blocked(plan);
            if !self.goes_on() {
                self.say_step();
            }
        }
        self.take()
    }

    /// The record was changed besides captures: what it does not hold any more is to come again, what it holds or leaves out now
    /// is behind. With `leads` the first line that came again is next, and where the clip sits is to be shown anew, since a hand
    /// was at the head.
    pub fn changed(&mut self, plan: &[Planned], leads: bool) -> Vec<Effect> {
        let before: Vec<u32> = self.to_come().collect();
        reopen(&mut self.lines, plan, &self.carriers);
        self.blocked = blocked(plan);
        for planned in plan.iter().filter(|planned| planned.held || planned.blocked) {
            let same = |line: &&mut Line| (line.task, line.seat) == (planned.task, planned.seat);
            if let Some(line) = self.lines.iter_mut().find(same).filter(|line| line.state == LineState::Later) {
                line.state = LineState::Captured;
            }
        }
        // What a plan does not name any more is left out on purpose, with a reason that stands in the record already.
        let named = |line: &Line| plan.iter().any(|planned| (planned.task, planned.seat) == (line.task, line.seat));
        for line in self.lines.iter_mut().filter(|line| line.state == LineState::Later) {
            if !named(line) {
                line.state = LineState::Skipped;
                self.left_out.extend(line.cell());
            }
        }
        let busy = matches!(self.stage, Stage::Keeping(_) | Stage::TakingBack { .. }) || self.finished;
        if busy {
            return self.take();
        }
        let came_again = self.to_come().find(|id| !before.contains(id));
        let at_hand = self.line().is_some_and(|line| line.state == LineState::Later);
        if let Some(id) = came_again.filter(|_| leads) {
            self.here = None;
            self.begin(id);
        } else if !at_hand && !self.goes_on() {
            self.say_step();
        }
        self.take()
    }

    fn to_come(&self) -> impl Iterator<Item = u32> {
        self.lines.iter().filter(|line| line.state == LineState::Later).map(|line| line.id)
    }

    /// The first line after this one that is still to come, else the first of all; whether there is one.
    fn goes_on(&mut self) -> bool {
        let at = self.current.and_then(|id| self.lines.iter().position(|line| line.id == id));
        let later = |line: &&Line| line.state == LineState::Later;
        let from = at.map_or(0, |at| at + 1);
        let next = self.lines[from..].iter().find(later).or_else(|| self.lines.iter().find(later));
        let next = next.map(|line| line.id);
        match next {
            Some(id) => self.begin(id),
            None => (self.current, self.stage) = (None, Stage::Done),
        }
        next.is_some()
    }

    /// Begins a line: where the clip sits right already, at once.
    pub(super) fn begin(&mut self, id: u32) {
        (self.bound, self.by_hand) = (false, false);
        // Where something moved on the way to another place, nobody knows where the clip is.
        if matches!(&self.stage, Stage::Place(place) if place.moved) {
            self.here = None;
        }
        self.current = Some(self.begin_pair(id));
        let Some(seat) = self.line().map(|line| line.seat) else { return };
        if self.here.is_some_and(|here| here.seat == seat) {
            self.begin_at_seat();
        } else {
            self.stage = Stage::Place(Place::default());
            self.say_step();
        }
    }

    /// Both readings of a blade's zero go together on one seat of the clip: where the clip has left the blade, both are read again,
    /// the first of them first.
    fn begin_pair(&mut self, id: u32) -> u32 {
        let Some(line) = self.lines.iter().find(|line| line.id == id) else { return id };
        let Some(zero @ CellName::Zero(blade)) = line.cell().filter(|_| self.carriers.is_empty()) else { return id };
        let stays = |here: Here| here.seat.blade == blade && matches!(here.seat.spot, Spot::Main(_));
        if self.here.is_some_and(stays) || self.lines.iter().all(|line| line.state != LineState::Captured) {
            return id;
        }
        for line in self.lines.iter_mut().filter(|line| line.cell() == Some(zero) && line.state == LineState::Captured)
        {
            line.state = LineState::Later;
        }
        let first = self.lines.iter().find(|line| line.cell() == Some(zero) && line.state == LineState::Later);
        first.map_or(id, |line| line.id)
    }

    /// The clip is where the line wants it.
    pub(super) fn begin_at_seat(&mut self) {
        let Some(line) = self.line() else { return };
        let deflection = line.deflection();
        if self.begin_besides() {
            return;
        }
        let has_neutral = self.here.is_some_and(|here| here.neutral.is_some());
        if deflection.is_neutral() || !has_neutral {
            self.stage = Stage::Neutral;
            self.say_step();
        } else {
            self.begin_move();
        }
    }

    pub(super) fn begin_move(&mut self) {
        self.stage = Stage::Move;
        self.waits_from = None;
        self.say_step();
    }

    /// The blade that carries the sensor for this seat, where each has one of its own.
    #[must_use]
    pub fn carrier_of(&self, seat: Seat) -> Option<Carrier> {
        let carrier = seat.carrier();
        self.carriers.contains(&carrier).then_some(carrier)
    }

    /// The line at hand.
    pub(super) fn line(&self) -> Option<&Line> {
        self.lines.iter().find(|line| Some(line.id) == self.current)
    }

    /// What is captured at this rest.
    pub(super) fn capture(&mut self, deflection: Deflection, limited_by: LimitedBy, then: Then) {
        let Some(seat) = self.line().map(|line| line.seat) else { return };
        let Ok(subject) = Subject::new(deflection, seat.blade, seat.spot) else { return };
        self.stage = Stage::Keeping(then);
        self.tone(None);
        self.effect(Effect::Capture(CaptureRequest { subject, stick: deflection.full_stick(), limited_by }));
    }

    /// The neutral that belongs to the line at hand.
    pub(super) fn neutral(&self) -> Option<Deflection> {
        let line = self.line()?;
        let deflection = line.deflection();
        Some(if deflection.is_neutral() { deflection } else { trade::neutral(deflection.axis()) })
    }

    /// +1 where the line's stick makes the pitch larger, −1 where smaller; none where nobody knows.
    pub(super) fn sign(&self) -> Option<f64> {
        let line = self.line()?;
        self.sign_of(line.deflection(), line.seat)
    }

    pub(super) fn sign_of(&self, deflection: Deflection, seat: Seat) -> Option<f64> {
        trade::sign(&self.head, deflection, seat.spot).or_else(|| match deflection {
            Deflection::Rudder(rudder) => Some(self.here?.rudder? * trade::rudder_way(rudder)),
            _ => None,
        })
    }

    /// How far the blade stands from its neutral.
    pub(super) fn moved(&self, at: Moment) -> Option<Angle> {
        let here = self.here?;
        Some((pitch(at, here.seat.spot) - here.neutral?).wrapped())
    }

    /// The travel in the commanded direction, where that is known.
    pub(super) fn travel(&self, at: Moment) -> Option<Angle> {
        Some(self.moved(at)? * self.sign().unwrap_or_else(|| self.moved(at).map_or(1.0, |m| m.radians().signum())))
    }

    /// What is wanted of the line at hand.
    pub(super) fn target(&self) -> Option<Target> {
        let line = self.line()?;
        match line.deflection() {
            deflection if deflection.is_neutral() => match line.seat.spot {
                Spot::Main(_) => Some(self.head.targets.blade_zero),
                Spot::Tail(_) => None,
            },
            deflection => self.head.target(deflection),
        }
    }

    /// What the travel of the line at hand is held against. An end of the collective is judged by its pitch, which the record knows
    /// with the zero in it.
    pub(super) fn target_of_travel(&self) -> Option<Target> {
        let is_collective = self.line()?.deflection().axis() == Axis::Collective;
        self.target().filter(|_| !is_collective)
    }

    /// How far the head is to be turned for the line at hand, the shorter way; half round, the way that unwinds the cable.
    pub(super) fn turn(&self) -> Option<Angle> {
        let (from, to) = (self.here?.seat, self.line()?.seat);
        let by = turn(from, to, self.head.blades.get())?;
        let is_half = (by.degrees() - 180.0).abs() < 0.5;
        Some(if is_half && self.turned > 0.0 { -by } else { by })
    }

    /// Asks; the answer goes on from the stage at hand.
    pub(super) fn ask(&mut self, question: Question) {
        self.tone(None);
        self.mark(Mark::Question);
        let asked_in = std::mem::replace(&mut self.stage, Stage::Done);
        self.stage = Stage::Question(question, Box::new(asked_in));
        self.say(Spoken::Step(super::Instruction::Answer { question }));
    }

    pub(super) fn say(&mut self, what: Spoken) {
        if self.armed {
            self.effect(Effect::Say(what));
        }
    }

    /// Says what is to be done now.
    pub(super) fn say_step(&mut self) {
        let instruction = self.step().instruction;
        self.say(Spoken::Step(instruction));
    }

    pub(super) fn mark(&mut self, mark: Mark) {
        self.effect(Effect::Mark { mark, stretch: None });
    }

    pub(super) fn tone(&mut self, tone: Option<Tone>) {
        self.effect(Effect::Tone(tone));
    }

    pub(super) fn effect(&mut self, effect: Effect) {
        self.out.push(effect);
    }

    const fn runs(&self) -> bool {
        self.armed && !self.finished
    }

    pub(super) fn take(&mut self) -> Vec<Effect> {
        std::mem::take(&mut self.out)
    }
}

/// How many lines only an end point makes right.
fn blocked(plan: &[Planned]) -> usize {
    plan.iter().filter(|planned| planned.blocked).count()
}
