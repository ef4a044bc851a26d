//! What is to be kept in the record besides captures. What follows from it, follows once it is kept and not before.

use super::effect::Effect;
use super::flow::Guide;
use super::order::{Line, LineState};
use super::question::Question;
use super::refusal::Refusal;
use super::stage::Stage;
use super::{Mark, Spoken};
use crate::record::{CellName, Sweep};
use crate::units::Angle;
use uuid::Uuid;

/// Something that was done, to be kept in the record.
#[derive(Debug, Clone, PartialEq)]
pub enum RecordEdit {
    /// All cautions are acknowledged.
    CautionsRead,
    /// The rest that was just seen is the blade with the cable hanging again.
    Cable,
    /// An axis was moved to its ends once more.
    Swept(Sweep),
    /// This capture was wrong: it is to count no longer.
    Withdraw(Uuid),
    /// This cell was left out on purpose.
    LeftOut(CellName),
    /// The setup is to be closed.
    Finish,
}

impl Guide {
    /// What became of an edit. Where it could not be kept, everything stands as it stood, and it can be made again.
    pub fn written(&mut self, edit: &RecordEdit, kept: bool) -> Vec<Effect> {
        let failed_before = std::mem::replace(&mut self.not_kept, !kept);
        if kept {
            self.follow(edit);
        } else {
            self.not_written(failed_before);
        }
        self.take()
    }

    fn follow(&mut self, edit: &RecordEdit) {
        match edit {
            RecordEdit::CautionsRead => self.cautions.fill(true),
            RecordEdit::Cable | RecordEdit::Swept(_) => self.line_is_done(),
            RecordEdit::Withdraw(capture) => self.taken_back(*capture),
            RecordEdit::LeftOut(cell) => {
                self.left_out.push(*cell);
                self.finish();
            }
            RecordEdit::Finish => (self.finished, self.armed) = (true, false),
        }
    }

    fn not_written(&mut self, failed_before: bool) {
        match self.stage {
            Stage::TakingBack { place, .. } => self.ask(Question::NotTakenBack { place }),
            // An edit that is seen at every rest is tried at every rest: it is marked once.
            _ if !failed_before => self.mark(Mark::Refused),
            _ => {}
        }
    }

    pub(super) fn keep(&mut self, edit: RecordEdit) {
        self.effect(Effect::Keep(edit));
    }

    /// What is still left out when the setup is closed was left out on purpose: each is kept before the setup is closed.
    pub(super) fn finish(&mut self) {
        let in_state = |state| self.lines.iter().filter(move |line| line.state == state).filter_map(Line::cell);
        // Half of a cell was captured where one of its two lines was.
        let is_begun = |cell: &CellName| in_state(LineState::Captured).any(|begun| begun == *cell);
        let next = in_state(LineState::Skipped).find(|cell| !is_begun(cell) && !self.left_out.contains(cell));
        self.keep(next.map_or(RecordEdit::Finish, RecordEdit::LeftOut));
    }

    /// The last one was wrong: it is to count no longer.
    pub(super) fn undo(&mut self) -> Result<(), Refusal> {
        let (_, capture) = self.taken.last().copied().ok_or(Refusal::NothingCaptured)?;
        self.keep(RecordEdit::Withdraw(capture));
        Ok(())
    }

    /// The same where nobody has said so by key, the blade having stood so far from its neutral; with `place`, the place is
    /// begun again besides.
    pub(super) fn take_back(&mut self, place: bool, full: Angle) {
        if self.undo().is_ok() {
            self.stage = Stage::TakingBack { place, full };
        } else if place {
            // Where nothing was captured there is nothing to take back.
            self.place_again();
        }
    }

    /// A capture counts no longer, and is made again.
    fn taken_back(&mut self, capture: Uuid) {
        let Some(at) = self.taken.iter().rposition(|(_, taken)| *taken == capture) else { return };
        let (line, _) = self.taken.remove(at);
        let place = matches!(self.stage, Stage::TakingBack { place: true, .. });
        self.mark(Mark::Redo);
        self.say(Spoken::TakenBack);
        // Whatever was captured is on the list, where its sensor is.
        let _ = self.go_to(line);
        if place {
            self.place_again();
        }
    }
}
