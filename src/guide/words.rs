//! What is said of the step at hand.

use super::flow::Guide;
use super::order::Line;
use super::stage::Stage;
use super::sweep::SweepMove;
use super::{Act, Choice, LineState, Phase, Step};
use crate::record::trade::Caution;
use crate::record::{Seat, trade};
use crate::rotor::{Axis, Collective, Deflection, Spot};
use crate::uncertainty::Target;
use crate::units::Angle;

/// Named where a held blade goes on moving.
pub(super) const CREEPS: &str =
    "It creeps while the stick is held: a stabilising controller must be in its own setup mode.";

impl Guide {
    /// The step at hand.
    #[must_use]
    pub fn step(&self) -> Step {
        let number =
            self.lines.iter().position(|line| Some(line.id) == self.current).map_or(self.lines.len(), |at| at + 1);
        let (phase, sentence, detail) = self.sentence();
        Step {
            phase,
            sentence,
            detail,
            cell: self.cell_at_hand(),
            number,
            of: self.lines.len(),
            choices: self.choices(phase),
            hold_s: if phase == Phase::Place { trade::PLACED } else { trade::HELD }.value(),
            why: match &self.stage {
                Stage::Question(question) if self.armed => Some(question.why.clone()),
                _ => self.refused.clone(),
            },
        }
    }

    /// The cell that the step is about: of an axis that is moved once more, the direction that is still to be reached.
    fn cell_at_hand(&self) -> Option<String> {
        match &self.stage {
            Stage::Sweep(sweeper) if self.armed => match sweeper.wants() {
                SweepMove::To(way) => Some(way.to_string()),
                SweepMove::Centre | SweepMove::Back => None,
            },
            _ => self.line().map(Line::label),
        }
    }

    /// How the list stands when nothing on it is left to do, or nothing more is done.
    pub(super) fn all_done(&self) -> String {
        match self.lines.iter().filter(|line| line.state != LineState::Captured).count() {
            0 => "The sheet is filled.".to_owned(),
            1 => "Everything else is captured; one step was left out.".to_owned(),
            left if left == self.lines.len() => "Every step was left out: nothing is captured.".to_owned(),
            left => format!("Everything else is captured; {left} steps were left out."),
        }
    }

    fn sentence(&self) -> (Phase, String, String) {
        if self.cautions.iter().any(|(_, read)| !read) {
            return (Phase::Cautions, "Read the cautions, and acknowledge each line.".into(), String::new());
        }
        let Some(line) = self.line().filter(|_| !self.finished) else {
            let detail = if self.finished {
                "The setup is closed."
            } else {
                "Take clip and cable off before the motor is connected."
            };
            return (Phase::Done, self.all_done(), detail.into());
        };
        if !self.armed {
            let detail = format!("Next: {}.", line.label());
            return (Phase::Idle, "Start the sequence when your hands are on the sticks.".into(), detail);
        }
        match &self.stage {
            Stage::Place(_) => (Phase::Place, self.place_sentence(line.seat), self.place_detail()),
            Stage::Check(check) => {
                let sentence = check.ways.first().map_or_else(String::new, |way| short(*way));
                (Phase::CheckStick, sentence, "It shows that clip and head are where they should be.".into())
            }
            Stage::Neutral => {
                let what = if matches!(line.deflection(), Deflection::Collective(Collective::Mid)) {
                    "Collective at mid, cyclic at centre"
                } else {
                    "All sticks at centre"
                };
                (Phase::Neutral, format!("{what}; hold still."), seat(line.seat))
            }
            Stage::Move => (Phase::Move, format!("{}, slowly, and hold.", upper(line.deflection())), self.wanted(line)),
            Stage::Hold(hold) => {
                let detail = if hold.creeps { CREEPS.to_owned() } else { self.wanted(line) };
                (Phase::Approaching, format!("{}: hold it there.", upper(line.deflection())), detail)
            }
            Stage::BackOff(_) => (
                Phase::BackOff,
                "Back off until it is quiet, and hold.".into(),
                "The linkage binds: the limit is just short of it.".into(),
            ),
            Stage::Cable(cable) => {
                let detail = "Fastened at the hub, it should change nothing.".to_owned();
                let sentence = if cable.lifted {
                    "Let the cable hang again, and take the hand away."
                } else {
                    "Lift the cable so that it pulls at nothing, and hold still."
                };
                (Phase::Cable, sentence.into(), detail)
            }
            Stage::Sweep(sweeper) => {
                let sentence = match sweeper.wants() {
                    SweepMove::Centre => "All sticks at centre; then to their ends once more.".to_owned(),
                    SweepMove::To(way) => format!("Once more: {way}, all the way, and hold a moment."),
                    SweepMove::Back => "Let the stick go back.".to_owned(),
                };
                (Phase::OnceMore, sentence, "It shows that every direction reaches its end.".into())
            }
            Stage::Keeping(_) => (Phase::Captured, format!("{}: captured.", line.label()), String::new()),
            Stage::TakingBack { .. } => (Phase::Captured, "The last one is being taken back.".into(), String::new()),
            Stage::Return(_) => (Phase::Return, "Let the stick go back.".into(), String::new()),
            Stage::Question(question) => (Phase::Question, question.text.clone(), String::new()),
            Stage::Done => (Phase::Done, self.all_done(), String::new()),
        }
    }

    fn place_sentence(&self, to: Seat) -> String {
        if self.carrier_of(to).is_some() {
            return match to.spot {
                Spot::Main(station) => {
                    format!("Turn blade {} to {station}{}.", to.blade, meaning(station.azimuth()))
                }
                Spot::Tail(edge) => {
                    format!("Turn the tail until the blade with the sensor points its leading edge {edge}.")
                }
            };
        }
        let from = self.here.map(|here| here.seat);
        let carried = from.is_none_or(|from| {
            from.blade != to.blade || matches!(from.spot, Spot::Main(_)) != matches!(to.spot, Spot::Main(_))
        });
        match (to.spot, carried) {
            (Spot::Main(station), true) => {
                format!(
                    "Clip on blade {}, leading edge side forward; turn that blade to {station}{}.",
                    to.blade,
                    meaning(station.azimuth())
                )
            }
            (Spot::Main(station), false) => {
                format!("Turn blade {} to {station}{}.", to.blade, meaning(station.azimuth()))
            }
            (Spot::Tail(edge), true) => {
                format!("Clip on tail blade {}; turn the tail until its leading edge points {edge}.", to.blade)
            }
            (Spot::Tail(edge), false) => format!("Turn the tail half round: leading edge {edge}."),
        }
    }

    fn place_detail(&self) -> String {
        let wound = self.cable_turns();
        let hands = "Then hands off; it goes on by itself.";
        match wound as i64 {
            0 => hands.to_owned(),
            1 => format!("{hands} The cable is wound once round the mast: unwind it first."),
            turns => format!("{hands} The cable is wound {turns} times round the mast: unwind it first."),
        }
    }

    fn wanted(&self, line: &Line) -> String {
        match self.target() {
            Some(Target::AtMost(ceiling)) => {
                format!("At most {:.0}°, or just short of where it binds. {}", ceiling.degrees(), seat(line.seat))
            }
            Some(target) => format!("{target}°. {}", seat(line.seat)),
            None => seat(line.seat),
        }
    }

    fn choices(&self, phase: Phase) -> Vec<Choice> {
        let choice = |act, label: &str, key| Choice { act, label: label.to_owned(), key };
        match (&self.stage, phase) {
            (_, Phase::Cautions) => Vec::new(),
            (_, Phase::Done) if self.finished => Vec::new(),
            (_, Phase::Done) => vec![choice(Act::Finish, "Finish this setup", Some('f'))],
            (_, Phase::Idle) => vec![choice(Act::Arm, "Start the sequence", Some('a'))],
            (Stage::Question(question), _) => question
                .answers
                .iter()
                .enumerate()
                .map(|(choice, (label, _))| Choice { act: Act::Answer { choice }, label: label.clone(), key: None })
                .collect(),
            (Stage::Place(_) | Stage::Check(_), _) => {
                vec![
                    choice(Act::Confirm, "It is in place", Some('c')),
                    choice(Act::Skip, "Leave this out for now", Some('s')),
                ]
            }
            (Stage::Cable(cable), _) => vec![
                choice(Act::Confirm, if cable.lifted { "It hangs" } else { "It is lifted" }, Some('c')),
                choice(Act::Skip, "Leave this out for now", Some('s')),
            ],
            (Stage::Sweep(_), _) => vec![
                choice(Act::Confirm, "That is all", Some('c')),
                choice(Act::Skip, "Leave this out for now", Some('s')),
            ],
            (Stage::Move | Stage::Hold(_), _) => vec![
                choice(Act::Confirm, "Take it now", Some('c')),
                choice(Act::Bound, "It binds here", Some('b')),
                choice(Act::Skip, "Leave this out for now", Some('s')),
            ],
            _ => vec![choice(Act::Skip, "Leave this out for now", Some('s'))],
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

    /// The cautions, each with whether it was acknowledged.
    pub fn cautions(&self) -> impl Iterator<Item = (Caution, bool)> {
        self.cautions.iter().copied()
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

/// The short movement of a check, and what gives it back.
fn short(way: Deflection) -> String {
    match way.axis() {
        Axis::Collective => "Collective up a little, then back to mid.".to_owned(),
        _ => format!("{} for a moment, then let it go.", upper(way)),
    }
}

pub(super) fn upper(deflection: Deflection) -> String {
    let text = deflection.to_string();
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// What a station is in the words of the trade.
fn meaning(azimuth: Angle) -> &'static str {
    match azimuth.degrees().round() as i64 {
        0 => ", over the boom",
        90 | 270 => ", square to the boom",
        180 => ", over the nose",
        _ => "",
    }
}

fn seat(seat: Seat) -> String {
    match seat.spot {
        Spot::Main(station) => format!("Blade {} at {station}.", seat.blade),
        Spot::Tail(edge) => format!("Tail blade {}, leading edge {edge}.", seat.blade),
    }
}
