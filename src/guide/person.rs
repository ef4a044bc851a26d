//! Somebody at the model for the tests of the guide, who has all the time in the world.

use super::stage::Stage;
use super::*;
use crate::record::{Head, Planned};
use crate::rotor::{Deflection, Elevator, LeadingEdge, Spot};
use crate::units::{Angle, Seconds};
use uuid::Uuid;

/// A blade at rest is seen again after so many seconds.
pub(super) const REST: f64 = 1.5;
/// So far the stick moves the blade.
pub(super) const THROW: f64 = 8.0;

pub(super) fn head(blades: u8) -> Head {
    let text = Head::template("Workshop trainer").replace("# positive = \"right\"", "positive = \"right\"");
    Head::from_toml(&text.replace("blades = 2\n\n# Phase", &format!("blades = {blades}\n\n# Phase"))).unwrap()
}

/// Somebody at the model, who hears all that is said.
pub(super) struct Person {
    pub(super) guide: Guide,
    pub(super) clock: f64,
    /// How far the sticks have moved the blade from its zero, degrees.
    pub(super) pitch: f64,
    pub(super) span: f64,
    pub(super) heard: Vec<Spoken>,
    /// Whether the logbook keeps what is to be kept besides captures.
    pub(super) logbook: bool,
    /// What it has kept.
    pub(super) edits: Vec<RecordEdit>,
    /// What the record says each time that it is looked through; then that it holds everything.
    pub(super) reviews: std::collections::VecDeque<Vec<Planned>>,
}

impl Person {
    pub(super) fn new(blades: u8) -> Self {
        Self::at_head(&head(blades))
    }

    pub(super) fn at_head(head: &Head) -> Self {
        let guide = Guide::new(head, &[], &[], true);
        let mut person = Self {
            guide,
            clock: 0.0,
            pitch: 0.0,
            span: 0.0,
            heard: Vec::new(),
            logbook: true,
            edits: Vec::new(),
            reviews: std::collections::VecDeque::new(),
        };
        person.act(&Act::Arm);
        person
    }

    pub(super) fn at(&self) -> Moment {
        let stands = match self.guide.at_hand().map(|line| line.seat.spot) {
            Some(Spot::Tail(LeadingEdge::Up)) => 90.0,
            Some(Spot::Tail(LeadingEdge::Down)) => -90.0,
            _ => 0.0,
        };
        Moment {
            clock: Seconds::new(self.clock),
            apparent: Angle::from_degrees(stands + self.pitch),
            span: Angle::from_degrees(self.span),
            buzzes: false,
        }
    }

    /// Goes to this line.
    pub(super) fn go_to(&mut self, label: &str) {
        let id = self.guide.order().find(|(line, _)| line.item().to_string() == label).unwrap().0.id;
        self.act(&Act::GoTo { id });
    }

    pub(super) fn act(&mut self, act: &Act) {
        let effects = self.guide.act(act).unwrap();
        self.carry_out(effects, None);
    }

    /// Moves the blade to this pitch within half a second.
    pub(super) fn go(&mut self, to: f64) {
        let from = self.pitch;
        for look in 1..=15 {
            self.pitch = from + (to - from) * f64::from(look) / 15.0;
            self.clock += 1.0 / 30.0;
            let effects = self.guide.moment(self.at());
            self.carry_out(effects, None);
        }
    }

    /// Holds still for so long, in one rest after the other.
    pub(super) fn hold(&mut self, seconds: f64) {
        let until = self.clock + seconds;
        while self.clock < until - 1e-9 && !self.is_asked() {
            self.rest();
        }
    }

    pub(super) fn carry_out(&mut self, effects: Vec<Effect>, rest: Option<Rest>) {
        let mut due = std::collections::VecDeque::from(effects);
        while let Some(effect) = due.pop_front() {
            match (effect, rest) {
                (Effect::Say(spoken), _) => self.heard.push(spoken),
                (Effect::Capture(_), Some(rest)) => {
                    let kept = Kept::Recorded { capture: Uuid::now_v7() };
                    due.extend(self.guide.kept(&rest, kept));
                }
                (Effect::Keep(edit), _) => {
                    due.extend(self.guide.written(&edit, self.logbook));
                    if self.logbook {
                        self.edits.push(edit);
                    }
                }
                (Effect::Review, _) => {
                    let plan = self.reviews.pop_front().unwrap_or_default();
                    due.extend(self.guide.reviewed(&plan));
                }
                _ => {}
            }
        }
    }

    pub(super) fn is_asked(&self) -> bool {
        self.guide.step().phase == Phase::Question
    }

    /// Comes to rest once, whatever is asked.
    pub(super) fn rest(&mut self) {
        let from = Seconds::new(self.clock);
        self.clock += REST;
        let rest = Rest { from, at: self.at(), swing: Angle::ZERO };
        let effects = self.guide.rest(&rest);
        self.carry_out(effects, Some(rest));
    }

    /// Which way this stick moves the blade here; 0 where it hardly does.
    pub(super) fn sign(&self, way: Deflection) -> f64 {
        self.guide.at_hand().and_then(|line| self.guide.sign_of(way, line.seat)).unwrap_or(0.0)
    }

    /// Does what is asked for, until this holds.
    pub(super) fn play(&mut self, until: impl Fn(&Guide) -> bool) {
        for _ in 0..500 {
            if until(&self.guide) {
                return;
            }
            self.follow();
        }
        panic!("no end: {:#?}", self.guide.step());
    }

    /// Does what is asked for at this step.
    pub(super) fn follow(&mut self) {
        let step = self.guide.step();
        match step.phase {
            Phase::Place => {
                self.go(self.pitch + 10.0);
                self.go(0.0);
                self.hold(2.0 * REST);
            }
            Phase::CheckStick => {
                self.hold(REST);
                let Stage::Check(check) = &self.guide.stage else { return };
                let to = 0.5 * THROW * self.sign(check.ways[0]);
                self.go(to);
                self.go(0.0);
                self.hold(REST);
            }
            Phase::Move => {
                let way = self.guide.at_hand().unwrap().deflection();
                self.go(THROW * self.sign(way));
                self.hold(REST);
            }
            Phase::Cable => {
                self.go(0.5);
                self.go(0.0);
                self.hold(REST);
            }
            Phase::OnceMore => {
                let Stage::Sweep(sweeper) = &self.guide.stage else { return };
                let to = match sweeper.wants() {
                    SweepMove::To(way) => THROW * self.sign(way),
                    SweepMove::Centre | SweepMove::Back => 0.0,
                };
                self.go(to);
                self.hold(REST);
            }
            Phase::Neutral | Phase::Return => {
                self.go(0.0);
                self.hold(REST);
            }
            Phase::Approaching => self.hold(REST),
            _ => panic!("stuck: {step:#?}"),
        }
    }

    /// Plays to this phase of this line.
    pub(super) fn play_to(&mut self, phase: Phase, line: &str) {
        self.play(|guide| guide.step().phase == phase && is_at(guide, line));
    }

    /// Holds still until it is asked something, at most so long; in which time it was, and what.
    pub(super) fn asked_within(&mut self, seconds: f64) -> (f64, Question) {
        let from = self.clock;
        self.hold(seconds);
        assert!(self.is_asked(), "unasked after {seconds} s: {:#?}", self.guide.step());
        (self.clock - from, self.guide.question().unwrap())
    }
}

pub(super) fn is_at(guide: &Guide, line: &str) -> bool {
    guide.at_hand().is_some_and(|at| at.item().to_string() == line)
}

pub(super) const UP: Deflection = Deflection::Elevator(Elevator::Up);
pub(super) const DOWN: Deflection = Deflection::Elevator(Elevator::Down);
