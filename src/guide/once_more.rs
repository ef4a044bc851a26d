//! The cable lifted and let go, and every axis to its ends once more.

use super::edit::RecordEdit;
use super::effect::Effect;
use super::flow::Guide;
use super::question::Question;
use super::seen::{Moment, Rest, apart};
use super::stage::{Cable, Stage};
use super::sweep::Sweeper;
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
        self.say_step();
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
                let lifted = cable.lifted;
                self.ask(Question::CableNotMoved { lifted });
            }
            return;
        }
        let lifted = !cable.lifted;
        if lifted {
            self.effect(Effect::CableLifted);
            self.stage =
                Stage::Cable(Cable { lifted: true, began: Some(rest.at), last: Some(rest.at), stirred: false });
            self.say_step();
        } else {
            self.keep(RecordEdit::Cable);
        }
    }

    pub(super) fn moment_at_cable(&mut self, at: Moment) {
        let Stage::Cable(cable) = &mut self.stage else { return };
        let began = *cable.began.get_or_insert(at);
        cable.stirred |= apart(began, at).degrees() > STIRRED_DEGREES;
    }

    pub(super) fn moment_swept(&mut self, at: Moment) {
        if let Stage::Sweep(sweeper) = &mut self.stage {
            let before = sweeper.wants();
            sweeper.moment(at);
            if before != sweeper.wants() {
                self.say_step();
            }
        }
    }

    pub(super) fn rest_swept(&mut self, rest: &Rest) {
        let Stage::Sweep(sweeper) = &mut self.stage else { return };
        let before = sweeper.wants();
        sweeper.rest(rest);
        if sweeper.is_over() {
            self.sweep_as_it_is();
        } else if let Some(way) = sweeper.next().filter(|_| sweeper.is_given_up(rest.at.clock)) {
            self.ask(Question::NotReached { way });
        } else if before != sweeper.wants() {
            self.say_step();
        }
    }

    /// The sweep goes on after a question, or is kept as it is.
    pub(super) fn sweep_again(&mut self, mut sweeper: Sweeper, ends: bool) {
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
            self.keep(RecordEdit::Swept(sweep));
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
