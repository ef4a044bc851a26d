//! The cable lifted and let go, and every axis to its ends once more.

use super::deed::Deed;
use super::effect::Effect;
use super::flow::Guide;
use super::seen::{Moment, Rest, apart};
use super::stage::{Answer, Cable, Question, Stage};
use super::sweep::Sweeper;
use super::words::upper;
use crate::record::{Seat, Task, trade};
use crate::rotor::Axis;
use crate::units::{Angle, Seconds};

/// A cable that is taken in hand stirs the clip at least so much, or keeps it from resting so long.
const STIRRED_DEGREES: f64 = 0.2;
const STIRRED_FOR: Seconds = Seconds::new(0.8);
/// Nothing seen to stir for so long: it is asked.
const NOTHING_STIRRED: Seconds = Seconds::new(15.0);

impl Guide {
    /// Begins what is no capture of a direction; false where the line at hand is one.
    pub(super) fn begin_besides(&mut self) -> bool {
        let Some((task, seat)) = self.line().map(|line| (line.task, line.seat)) else { return false };
        match task {
            Task::Capture(_) => return false,
            Task::Cable => self.stage = Stage::Cable(Cable::default()),
            Task::OnceMore(axis) => match self.sweeper(axis, seat) {
                Some(sweeper) => self.stage = Stage::Sweep(sweeper),
                // Nobody knows which way the rudder moves this blade: there is nothing to tell its directions apart by.
                None => {
                    self.leave_out();
                    return true;
                }
            },
        }
        let sentence = self.step().sentence;
        self.say(sentence);
        true
    }

    fn sweeper(&self, axis: Axis, seat: Seat) -> Option<Sweeper> {
        let [one, other] = trade::ends(axis)?;
        Some(Sweeper::new(
            seat.blade,
            seat.spot,
            [(one, self.sign_of(one, seat)?), (other, self.sign_of(other, seat)?)],
        ))
    }

    pub(super) fn rest_at_cable(&mut self, rest: &Rest) {
        let by_hand = std::mem::take(&mut self.by_hand);
        let Stage::Cable(cable) = &mut self.stage else { return };
        let began = *cable.began.get_or_insert(rest.at);
        let before = cable.last.replace(rest.at).unwrap_or(began);
        let unrest = rest.from - before.clock > STIRRED_FOR;
        if !(cable.stirred || unrest || by_hand) {
            if rest.at.clock - began.clock > NOTHING_STIRRED {
                self.nothing_stirred();
            }
            return;
        }
        let lifted = !cable.lifted;
        if lifted {
            self.effect(Effect::CableLifted);
            self.stage =
                Stage::Cable(Cable { lifted: true, began: Some(rest.at), last: Some(rest.at), stirred: false });
            let sentence = self.step().sentence;
            self.say(sentence);
        } else {
            self.keep(Deed::Cable);
        }
    }

    pub(super) fn moment_at_cable(&mut self, at: Moment) {
        let Stage::Cable(cable) = &mut self.stage else { return };
        let began = *cable.began.get_or_insert(at);
        cable.stirred |= apart(began, at).degrees() > STIRRED_DEGREES;
    }

    fn nothing_stirred(&mut self) {
        let Stage::Cable(cable) = &self.stage else { return };
        let (text, yes) = if cable.lifted {
            ("I saw nothing stir. Does the cable hang again?", "It hangs")
        } else {
            ("I saw nothing stir. Is the cable lifted?", "It is lifted")
        };
        self.ask(Question {
            text: text.to_owned(),
            why: "Both readings alike would say that the cable does not pull.".to_owned(),
            answers: vec![
                (yes.to_owned(), Answer::CableIsSo(cable.lifted)),
                ("Leave the cable out".to_owned(), Answer::LeaveOut),
            ],
        });
    }

    pub(super) fn moment_swept(&mut self, at: Moment) {
        if let Stage::Sweep(sweeper) = &mut self.stage {
            let before = sweeper.wants();
            sweeper.moment(at);
            if before != sweeper.wants() {
                let sentence = self.step().sentence;
                self.say(sentence);
            }
        }
    }

    pub(super) fn rest_swept(&mut self, rest: &Rest) {
        let Stage::Sweep(sweeper) = &mut self.stage else { return };
        let before = sweeper.wants();
        sweeper.rest(rest);
        if sweeper.is_over() {
            self.sweep_as_it_is();
        } else if sweeper.is_given_up(rest.at.clock) {
            self.does_not_move();
        } else if before != sweeper.wants() {
            let sentence = self.step().sentence;
            self.say(sentence);
        }
    }

    fn does_not_move(&mut self) {
        let Stage::Sweep(sweeper) = &self.stage else { return };
        let Some(way) = sweeper.next() else { return };
        let sweeper = sweeper.clone();
        self.ask(Question {
            text: format!("{} was not reached. Does it not move?", upper(way)),
            why: "A direction whose end was never set does not move.".to_owned(),
            answers: vec![
                ("I will move it now".to_owned(), Answer::SweepOn),
                ("It does not move: record that".to_owned(), Answer::SweepEnds),
            ],
        });
        self.swept = Some(sweeper);
    }

    /// The sweep goes on after a question, or is kept as it is.
    pub(super) fn sweep_again(&mut self, ends: bool) {
        let Some(mut sweeper) = self.swept.take() else { return };
        sweeper.wait_on();
        self.stage = Stage::Sweep(sweeper);
        if ends {
            self.sweep_as_it_is();
        }
    }

    /// The person says that this is all there is.
    pub(super) fn sweep_as_it_is(&mut self) {
        if let Stage::Sweep(sweeper) = &self.stage {
            let sweep = sweeper.sweep();
            self.keep(Deed::Swept(sweep));
        }
    }

    pub(super) fn line_is_done(&mut self) {
        if let Some(id) = self.current {
            self.done(id);
            self.mark(super::Mark::Captured);
        }
        self.next_line();
    }

    /// The travel of the sweep at hand.
    pub(super) fn swept_travel(&self, at: Moment) -> Option<Angle> {
        match &self.stage {
            Stage::Sweep(sweeper) => sweeper.travel(at),
            _ => None,
        }
    }
}
