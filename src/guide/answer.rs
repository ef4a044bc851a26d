//! What a person does.

use super::effect::Effect;
use super::flow::{Guide, MOVED_DEGREES};
use super::order::{Line, LineState};
use super::question::Answer;
use super::refusal::Refusal;
use super::stage::{Cable, Hold, Place, Return, Stage};
use super::{Act, RecordEdit};
use crate::units::Angle;

impl Guide {
    /// A person does something.
    ///
    /// # Errors
    /// When it cannot be done now.
    pub fn act(&mut self, act: &Act) -> Result<Vec<Effect>, Refusal> {
        if self.finished {
            return Err(Refusal::Closed);
        }
        match act {
            Act::Acknowledge { line } => self.acknowledge(*line)?,
            Act::Arm => self.arm()?,
            Act::Disarm => self.disarm(),
            Act::Skip => self.skip()?,
            Act::Redo { cell } => {
                let of_cell = || self.lines.iter().filter(|line| line.cell() == Some(*cell));
                let here = |line: &&Line| self.here.is_some_and(|here| here.seat == line.seat);
                // Where the clip is already, before anywhere else.
                let line = of_cell().find(here).or_else(|| of_cell().next());
                self.go_to(line.map(|line| line.id).ok_or(Refusal::Follows { cell: *cell })?)?;
            }
            Act::GoTo { id } => self.go_to(*id)?,
            Act::MoveOrder { id, before } => self.move_order(*id, *before)?,
            Act::Answer { choice } => self.answer(*choice)?,
            Act::Confirm => self.confirm()?,
            Act::Bound => self.bind()?,
            Act::Undo => self.undo()?,
            Act::Finish => {
                self.cautioned()?;
                self.finish();
            }
        }
        Ok(self.take())
    }

    fn cautioned(&self) -> Result<(), Refusal> {
        if self.is_cautioned() { Ok(()) } else { Err(Refusal::CautionsFirst) }
    }

    /// The last line counts as read once it is in the record that all are.
    fn acknowledge(&mut self, line: usize) -> Result<(), Refusal> {
        let is_last = self.cautions.iter().enumerate().all(|(at, read)| *read || at == line);
        let read = self.cautions.get_mut(line).ok_or(Refusal::NoSuchCaution)?;
        match (*read, is_last) {
            (true, _) => {}
            (false, false) => *read = true,
            (false, true) => self.keep(RecordEdit::CautionsRead),
        }
        Ok(())
    }

    fn arm(&mut self) -> Result<(), Refusal> {
        self.cautioned()?;
        if std::mem::replace(&mut self.armed, true) {
            return Ok(());
        }
        // Nobody knows what was moved meanwhile.
        self.here = None;
        self.shown.clear();
        match self.current {
            Some(id) => self.begin(id),
            None => self.next_line(),
        }
        Ok(())
    }

    fn disarm(&mut self) {
        self.tone(None);
        self.armed = false;
        if let (Some(_), true) = (self.current, !matches!(self.stage, Stage::Done)) {
            self.stage = Stage::Place(Place::default());
        }
    }

    fn skip(&mut self) -> Result<(), Refusal> {
        self.current.ok_or(Refusal::NothingToSkip)?;
        self.leave_out();
        Ok(())
    }

    /// Leaves the line at hand out for now.
    pub(super) fn leave_out(&mut self) {
        let Some(id) = self.current else { return };
        if let Some(line) = self.lines.iter_mut().find(|line| line.id == id && line.state == LineState::Later) {
            line.state = LineState::Skipped;
        }
        self.next_line();
    }

    pub(super) fn go_to(&mut self, id: u32) -> Result<(), Refusal> {
        let line = self.lines.iter_mut().find(|line| line.id == id).ok_or(Refusal::NoSuchLine)?;
        let carrier = line.seat.carrier();
        if !self.carriers.is_empty() && !self.carriers.contains(&carrier) {
            return Err(Refusal::NoSensor { carrier });
        }
        line.state = LineState::Later;
        self.tone(None);
        self.begin(id);
        Ok(())
    }

    fn move_order(&mut self, id: u32, before: Option<u32>) -> Result<(), Refusal> {
        let at = self.lines.iter().position(|line| line.id == id).ok_or(Refusal::NoSuchLine)?;
        if before == Some(id) {
            return Ok(());
        }
        if before.is_some_and(|before| self.lines.iter().all(|line| line.id != before)) {
            return Err(Refusal::NoSuchLine);
        }
        let line = self.lines.remove(at);
        let place = before.and_then(|before| self.lines.iter().position(|line| line.id == before));
        self.lines.insert(place.unwrap_or(self.lines.len()), line);
        Ok(())
    }

    fn confirm(&mut self) -> Result<(), Refusal> {
        if !self.armed {
            return Err(Refusal::NotRunning);
        }
        match &self.stage {
            Stage::Move | Stage::Hold(_) if !self.is_over() => {
                return Err(Refusal::MoveFirst);
            }
            Stage::Place(_) | Stage::Move | Stage::Hold(_) | Stage::Cable(_) => self.by_hand = true,
            Stage::Sweep(_) => self.sweep_as_it_is(),
            Stage::Check(_) => self.begin_at_seat(),
            Stage::Return(_) => self.next_line(),
            Stage::Question(..) => return self.answer(0),
            _ => {}
        }
        Ok(())
    }

    fn bind(&mut self) -> Result<(), Refusal> {
        match self.stage {
            Stage::Move | Stage::Hold(_) if self.armed && self.is_over() => {
                self.bound = true;
                Ok(())
            }
            _ => Err(Refusal::NothingHeld),
        }
    }

    /// Whether the blade has left its neutral.
    fn is_over(&self) -> bool {
        let moved = self.seen.and_then(|seen| self.moved(seen));
        moved.is_some_and(|moved| moved.abs().degrees() > MOVED_DEGREES)
    }

    fn answer(&mut self, choice: usize) -> Result<(), Refusal> {
        let Stage::Question(question, asked_in) = &self.stage else { return Err(Refusal::NoQuestion) };
        let answer = question.answers().get(choice).copied().ok_or(Refusal::NoSuchAnswer)?;
        let asked_in = Stage::clone(asked_in);
        match answer {
            Answer::TakeAs { line, .. } => {
                self.current = Some(line);
                self.stage = Stage::Hold(Hold::default());
            }
            Answer::MoveAgain => self.begin_move(),
            Answer::GoOn => self.stage = Stage::Hold(Hold::default()),
            Answer::Binds => {
                self.bound = true;
                self.stage = Stage::Hold(Hold::default());
            }
            Answer::TakeAsItStands => {
                self.by_hand = true;
                self.stage = Stage::Hold(Hold::default());
            }
            Answer::IsInPlace => self.is_in_place(),
            Answer::CableIsSo => {
                self.by_hand = true;
                let lifted = matches!(asked_in, Stage::Cable(Cable { lifted: true, .. }));
                self.stage = Stage::Cable(Cable { lifted, ..Cable::default() });
            }
            Answer::LeaveOut => self.leave_out(),
            Answer::LetGoNow => {
                self.waits_from = None;
                self.stage = Stage::Return(Return { full: full(&asked_in), back_at: None });
            }
            Answer::TakeBack { place } => self.take_back(place, full(&asked_in)),
            Answer::SweepOn | Answer::SweepEnds => {
                if let Stage::Sweep(sweeper) = asked_in {
                    self.sweep_again(sweeper, answer == Answer::SweepEnds);
                }
            }
            Answer::PlaceAgain => self.place_again(),
            Answer::CheckAgain => self.check_again(),
            Answer::RightAsRead => {
                self.stage = asked_in;
                self.effect(Effect::Accept);
            }
            Answer::ReadAgain => {
                self.effect(Effect::Forget);
                self.begin_at_seat();
            }
        }
        Ok(())
    }

    /// Where the question was about a knock, the neutral holds; else the place is taken as it is and checked.
    fn is_in_place(&mut self) {
        let seat = self.line().map(|line| line.seat);
        match &mut self.here {
            Some(here) if Some(here.seat) == seat && here.span.is_some() => {
                here.span = None;
                self.begin_at_seat();
            }
            _ => self.in_place(None),
        }
    }

    fn check_again(&mut self) {
        let Some(seat) = self.here.map(|here| here.seat) else { return self.place_again() };
        self.here = Some(super::flow::Here { seat, neutral: None, span: None, rudder: None });
        let ways = self.check_ways(seat, true);
        self.begin_check(ways, None, None);
    }
}

/// How far the blade stood from its neutral when its end was captured, before the question was asked.
const fn full(asked_in: &Stage) -> Angle {
    match asked_in {
        Stage::Return(Return { full, .. }) | Stage::TakingBack { full, .. } => *full,
        _ => Angle::ZERO,
    }
}
