//! What is to be kept in the record besides captures. What follows from it, follows once it is kept and not before.

use super::Mark;
use super::effect::Effect;
use super::flow::Guide;
use super::order::LineState;
use super::stage::{Answer, Question, Stage};
use crate::record::{Sweep, Task};
use crate::rotor::Deflection;
use uuid::Uuid;

/// Something that was done, to be kept in the record.
#[derive(Debug, Clone, PartialEq)]
pub enum Deed {
    /// All cautions are acknowledged.
    CautionsRead,
    /// The rest that was just seen is the blade with the cable hanging again.
    Cable,
    /// An axis was moved to its ends once more.
    Swept(Sweep),
    /// This capture was wrong: it is to count no longer.
    Withdraw(Uuid),
    /// This direction was left out on purpose.
    LeftOut(Deflection),
    /// The setup is to be closed.
    Finish,
}

impl Guide {
    /// What became of a deed. Where it could not be kept, everything stands as it stood, and it can be done again.
    pub fn written(&mut self, deed: &Deed, done: Result<(), String>) -> Vec<Effect> {
        let before = std::mem::replace(&mut self.refused, done.err());
        match self.refused.clone() {
            None => self.follow(deed),
            Some(why) => self.not_written(why, before),
        }
        self.take()
    }

    fn follow(&mut self, deed: &Deed) {
        match deed {
            Deed::CautionsRead => self.cautions.iter_mut().for_each(|(_, read)| *read = true),
            Deed::Cable | Deed::Swept(_) => self.line_is_done(),
            Deed::Withdraw(capture) => self.taken_back(*capture),
            Deed::LeftOut(end) => {
                self.left_out.push(*end);
                self.finish();
            }
            Deed::Finish => (self.finished, self.armed) = (true, false),
        }
    }

    fn not_written(&mut self, why: String, before: Option<String>) {
        let Stage::TakingBack { place } = self.stage else {
            // A deed that is seen at every rest is tried at every rest: it is marked once.
            if before.as_ref() != Some(&why) {
                self.mark(Mark::Refused);
            }
            return;
        };
        self.ask(Question {
            text: "The last one could not be taken back: it still counts. Take it back now?".to_owned(),
            why,
            answers: vec![
                ("Take it back".to_owned(), Answer::TakeBack { place }),
                ("Leave it as it is: I will let the stick go now".to_owned(), Answer::LetGoNow),
            ],
        });
    }

    pub(super) fn keep(&mut self, deed: Deed) {
        self.effect(Effect::Keep(deed));
    }

    /// What is still left out when the setup is closed was left out on purpose: each is kept before the setup is closed.
    pub(super) fn finish(&mut self) {
        let skipped = self.lines.iter().filter(|line| line.state == LineState::Skipped);
        let mut ends = skipped.filter_map(|line| match line.task {
            Task::Capture(end) if !end.is_neutral() => Some(end),
            _ => None,
        });
        let next = ends.find(|end| !self.left_out.contains(end));
        self.keep(next.map_or(Deed::Finish, Deed::LeftOut));
    }

    /// The last one was wrong: it is to count no longer.
    pub(super) fn undo(&mut self) -> Result<(), String> {
        let (_, capture) = self.taken.last().copied().ok_or("nothing has been captured here yet")?;
        self.keep(Deed::Withdraw(capture));
        Ok(())
    }

    /// The same where nobody has said so by key; with `place`, the place is begun again besides.
    pub(super) fn take_back(&mut self, place: bool) {
        if self.undo().is_ok() {
            self.stage = Stage::TakingBack { place };
        } else if place {
            // Where nothing was captured there is nothing to take back.
            self.place_again();
        }
    }

    /// A capture counts no longer, and is made again.
    fn taken_back(&mut self, capture: Uuid) {
        let Some(at) = self.taken.iter().rposition(|(_, taken)| *taken == capture) else { return };
        let (line, _) = self.taken.remove(at);
        let place = matches!(self.stage, Stage::TakingBack { place: true });
        self.mark(Mark::Redo);
        self.say("The last one is taken back. Once more.".to_owned());
        // Whatever was captured is on the list, where its sensor is.
        let _ = self.go_to(line);
        if place {
            self.place_again();
        }
    }
}
