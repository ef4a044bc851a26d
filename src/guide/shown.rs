//! What is shown of the guide: the step at hand and the order.

use super::flow::Guide;
use super::order::Line;
use super::question::Question;
use super::stage::{Check, Stage};
use super::{Choice, Hint, Instruction, LineState, Phase, Step};
use crate::record::{Seat, trade};
use crate::rotor::{Collective, Deflection, Spot};
use crate::uncertainty::Target;
use crate::units::Angle;

impl Guide {
    /// The step at hand.
    #[must_use]
    pub fn step(&self) -> Step {
        let number =
            self.lines.iter().position(|line| Some(line.id) == self.current).map_or(self.lines.len(), |at| at + 1);
        let (phase, instruction, hint) = self.at_this_step();
        Step {
            phase,
            instruction,
            hint,
            item: self.line().map(Line::item),
            number,
            of: self.lines.len(),
            choices: self.choices(phase),
            hold_s: if phase == Phase::Place { trade::PLACED } else { trade::HELD }.value(),
            not_kept: self.not_kept,
        }
    }

    /// The question that stands.
    #[must_use]
    pub fn question(&self) -> Option<Question> {
        match self.stage {
            Stage::Question(question, _) if self.armed => Some(question),
            _ => None,
        }
    }

    pub(super) fn is_cautioned(&self) -> bool {
        self.cautions.iter().all(|read| *read)
    }

    fn done_instruction(&self) -> Instruction {
        let left_out = self.lines.iter().filter(|line| line.state != LineState::Captured).count();
        Instruction::Done { left_out, blocked: self.blocked, of: self.lines.len() }
    }

    fn at_this_step(&self) -> (Phase, Instruction, Option<Hint>) {
        if !self.is_cautioned() {
            return (Phase::Cautions, Instruction::ReadCautions, None);
        }
        let Some(line) = self.line().filter(|_| !self.finished) else {
            let hint = if self.finished { Hint::Closed } else { Hint::TakeClipOff };
            return (Phase::Done, self.done_instruction(), Some(hint));
        };
        if !self.armed {
            return (Phase::Idle, Instruction::Start, Some(Hint::Next(line.item())));
        }
        let (way, at) = (line.deflection(), line.seat);
        let wanted = || Hint::Wanted { target: self.target(), at };
        let (phase, instruction, hint) = match &self.stage {
            Stage::Place(_) => {
                (Phase::Place, self.placing(line), Some(Hint::HandsOff { wound: self.cable_turns() as u32 }))
            }
            Stage::Check(Check { ways, .. }) => {
                let way = ways.first().copied().unwrap_or(way);
                (Phase::CheckStick, Instruction::Check { way }, Some(Hint::ShowsThePlace))
            }
            Stage::Neutral => {
                let collective = matches!(way, Deflection::Collective(Collective::Mid));
                (Phase::Neutral, Instruction::Neutral { collective }, Some(Hint::Wanted { target: None, at }))
            }
            Stage::Move => (Phase::Move, Instruction::Move { way }, Some(wanted())),
            Stage::Hold(hold) => {
                let hint = if hold.creeps { Hint::Creeps } else { wanted() };
                (Phase::Approaching, Instruction::Hold { way }, Some(hint))
            }
            Stage::BackOff(_) => (Phase::BackOff, Instruction::BackOff { way }, Some(Hint::ShortOfTheBind)),
            Stage::Cable(cable) => {
                let instruction = if cable.lifted { Instruction::ReleaseCable } else { Instruction::LiftCable };
                (Phase::Cable, instruction, Some(Hint::CableAtTheHub))
            }
            Stage::Sweep(sweeper) => {
                (Phase::OnceMore, Instruction::Sweep { to: sweeper.wants() }, Some(Hint::ShowsTheEnds))
            }
            Stage::Keeping(_) => (Phase::Captured, Instruction::Captured { item: line.item() }, None),
            Stage::TakingBack { .. } => (Phase::Captured, Instruction::TakingBack, None),
            Stage::Return(_) => (Phase::Return, Instruction::LetGo, None),
            Stage::Question(question, _) => (Phase::Question, Instruction::Answer { question: *question }, None),
            Stage::Done => (Phase::Done, self.done_instruction(), None),
        };
        (phase, instruction, hint)
    }

    /// The clip goes to another blade, or only the rotor is turned.
    fn placing(&self, line: &Line) -> Instruction {
        let to = line.seat;
        let own_sensor = self.carrier_of(to).is_some();
        let is_main = |spot: Spot| matches!(spot, Spot::Main(_));
        let stays = |from: Seat| from.blade == to.blade && is_main(from.spot) == is_main(to.spot);
        if own_sensor || self.seat().is_some_and(stays) {
            Instruction::Turn { to, own_sensor }
        } else {
            Instruction::Clip { to }
        }
    }

    fn choices(&self, phase: Phase) -> Vec<Choice> {
        match (&self.stage, phase) {
            (_, Phase::Cautions) => Vec::new(),
            (_, Phase::Done) if self.finished => Vec::new(),
            (_, Phase::Done) => vec![Choice::Finish],
            (_, Phase::Idle) => vec![Choice::Start],
            (Stage::Question(question, _), _) => {
                let answers = question.answers().into_iter().enumerate();
                answers.map(|(number, answer)| Choice::Answer { number, question: *question, answer }).collect()
            }
            (Stage::Place(_) | Stage::Check(_), _) => vec![Choice::InPlace, Choice::LeaveOut],
            (Stage::Cable(cable), _) if cable.lifted => vec![Choice::CableHangs, Choice::LeaveOut],
            (Stage::Cable(_), _) => vec![Choice::CableIsLifted, Choice::LeaveOut],
            (Stage::Sweep(_), _) => vec![Choice::ThatIsAll, Choice::LeaveOut],
            (Stage::Move | Stage::Hold(_), _) => vec![Choice::TakeNow, Choice::BindsHere, Choice::LeaveOut],
            _ => vec![Choice::LeaveOut],
        }
    }

    /// The lines of the order with how each stands; the one at hand is marked.
    pub fn order(&self) -> impl Iterator<Item = (&Line, bool)> {
        self.lines.iter().map(|line| (line, Some(line.id) == self.current && line.state == LineState::Later))
    }

    /// Whether the sequence runs.
    #[must_use]
    pub const fn is_armed(&self) -> bool {
        self.armed
    }

    /// Of each caution, whether it was acknowledged.
    #[must_use]
    pub fn cautions(&self) -> &[bool] {
        &self.cautions
    }

    /// What is wanted where, for the section: target, neutral and the sign of the commanded direction.
    #[must_use]
    pub fn wanted_here(&self) -> (Option<Target>, Option<Angle>, Option<f64>) {
        let is_end = self.line().is_some_and(|line| !line.deflection().is_neutral());
        let sign = self.sign().filter(|_| is_end);
        (self.target(), self.here.and_then(|here| here.neutral).filter(|_| is_end), sign)
    }

    /// The line at hand.
    #[must_use]
    pub fn at_hand(&self) -> Option<&Line> {
        self.line()
    }

    /// The travel that a moment shows, in the commanded direction.
    #[must_use]
    pub fn travel_at(&self, at: super::Moment) -> Option<Angle> {
        if let Some(travel) = self.swept_travel(at) {
            return Some(travel);
        }
        self.line().filter(|line| !line.deflection().is_neutral())?;
        self.travel(at)
    }

    /// Whole turns that the cable was wound round the mast.
    #[must_use]
    pub fn cable_turns(&self) -> f64 {
        (self.turned.abs() / 360.0).floor()
    }
}
