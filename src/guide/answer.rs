//! What a person does.

use super::effect::Effect;
use super::flow::{Guide, MOVED_DEGREES};
use super::order::LineState;
use super::stage::{Answer, Cable, Hold, Place, Return, Stage};
use super::{Act, Deed};

impl Guide {
    /// A person does something.
    ///
    /// # Errors
    /// When it cannot be done now, in words.
    pub fn act(&mut self, act: &Act) -> Result<Vec<Effect>, String> {
        if self.finished {
            return Err("this setup is closed: what was captured is kept".into());
        }
        match act {
            Act::Acknowledge { line } => self.acknowledge(*line)?,
            Act::Arm => self.arm()?,
            Act::Disarm => self.disarm(),
            Act::Skip => self.skip()?,
            Act::Redo { cell } => {
                let id = self.lines.iter().find(|line| line.label() == *cell).map(|line| line.id);
                self.go_to(id.ok_or_else(|| format!("{cell} is not on the list: it follows from others"))?)?;
            }
            Act::GoTo { id } => self.go_to(*id)?,
            Act::MoveOrder { id, before } => self.move_order(*id, *before)?,
            Act::Answer { choice } => self.answer(*choice)?,
            Act::Confirm => self.confirm()?,
            Act::Bound => self.bind()?,
            Act::Undo => self.undo()?,
            Act::Finish => {
                if self.cautions.iter().any(|(_, read)| !read) {
                    return Err("read the cautions first, and acknowledge them line by line".into());
                }
                self.finish();
            }
        }
        Ok(self.take())
    }

    /// The last line counts as read once it is in the record that all are.
    fn acknowledge(&mut self, line: usize) -> Result<(), String> {
        let is_last = self.cautions.iter().enumerate().all(|(at, (_, read))| *read || at == line);
        let (_, read) = self.cautions.get_mut(line).ok_or("there is no such line among the cautions")?;
        match (*read, is_last) {
            (true, _) => {}
            (false, false) => *read = true,
            (false, true) => self.keep(Deed::CautionsRead),
        }
        Ok(())
    }

    fn arm(&mut self) -> Result<(), String> {
        if self.cautions.iter().any(|(_, read)| !read) {
            return Err("read the cautions first, and acknowledge them line by line".into());
        }
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

    fn skip(&mut self) -> Result<(), String> {
        self.current.ok_or("there is nothing left to skip")?;
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

    pub(super) fn go_to(&mut self, id: u32) -> Result<(), String> {
        let line = self.lines.iter_mut().find(|line| line.id == id).ok_or("there is no such line on the list")?;
        let carrier = line.seat.carrier();
        if !self.carriers.is_empty() && !self.carriers.contains(&carrier) {
            return Err(format!(
                "no sensor is on {}: begin again with --port {carrier}=DEVICE beside the others",
                carrier.said()
            ));
        }
        line.state = LineState::Later;
        self.tone(None);
        self.begin(id);
        Ok(())
    }

    fn move_order(&mut self, id: u32, before: Option<u32>) -> Result<(), String> {
        let at = self.lines.iter().position(|line| line.id == id).ok_or("there is no such line on the list")?;
        if before == Some(id) {
            return Ok(());
        }
        if before.is_some_and(|before| self.lines.iter().all(|line| line.id != before)) {
            return Err("there is no such line on the list to stand before".into());
        }
        let line = self.lines.remove(at);
        let place = before.and_then(|before| self.lines.iter().position(|line| line.id == before));
        self.lines.insert(place.unwrap_or(self.lines.len()), line);
        Ok(())
    }

    fn confirm(&mut self) -> Result<(), String> {
        if !self.armed {
            return Err("the sequence is not running: start it first".into());
        }
        match &self.stage {
            Stage::Move | Stage::Hold(_) if !self.is_over() => {
                return Err(
                    "the blade stands at its neutral: move the stick first, and say it while you hold it".into()
                );
            }
            Stage::Place(_) | Stage::Move | Stage::Hold(_) | Stage::Cable(_) => self.by_hand = true,
            Stage::Sweep(_) => self.sweep_as_it_is(),
            Stage::Check(_) => self.begin_at_seat(),
            Stage::Return(_) => self.next_line(),
            Stage::Question(_) => return self.answer(0),
            _ => {}
        }
        Ok(())
    }

    fn bind(&mut self) -> Result<(), String> {
        match self.stage {
            Stage::Move | Stage::Hold(_) if self.armed && self.is_over() => {
                self.bound = true;
                Ok(())
            }
            _ => Err("nothing is being held: move the stick until it binds, back off, and say it then".into()),
        }
    }

    /// Whether the blade has left its neutral.
    fn is_over(&self) -> bool {
        let moved = self.seen.and_then(|seen| self.moved(seen));
        moved.is_some_and(|moved| moved.abs().degrees() > MOVED_DEGREES)
    }

    fn answer(&mut self, choice: usize) -> Result<(), String> {
        let Stage::Question(question) = &self.stage else { return Err("no question stands".into()) };
        let (_, answer) = question.answers.get(choice).ok_or("there is no such answer")?;
        match *answer {
            Answer::TakeAs(id) => {
                self.current = Some(id);
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
            Answer::CableIsSo(lifted) => {
                self.by_hand = true;
                self.stage = Stage::Cable(Cable { lifted, ..Cable::default() });
            }
            Answer::LeaveOut => self.leave_out(),
            Answer::LetGoNow => {
                self.waits_from = None;
                self.stage = Stage::Return(Return { full: self.full, back_at: None });
            }
            Answer::TakeBack { place } => self.take_back(place),
            Answer::SweepOn => self.sweep_again(false),
            Answer::SweepEnds => self.sweep_again(true),
            Answer::PlaceAgain => self.place_again(),
            Answer::CheckAgain => self.check_again(),
            Answer::RightAsRead => {
                self.stage = Stage::Keeping(self.pending);
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
