//! The step at which the person stands, as a value: what to do, what helps with it, and the ways out.

use super::order::Item;
use super::question::{Answer, Question};
use super::sweep::SweepMove;
use super::{Act, Phase};
use crate::record::Seat;
use crate::rotor::Deflection;
use crate::uncertainty::Target;
use serde::{Deserialize, Serialize};

/// What is to be done now.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Where in the sequence.
    pub phase: Phase,
    /// What to do.
    pub instruction: Instruction,
    /// What helps with it.
    pub hint: Option<Hint>,
    /// The line of the order it belongs to.
    pub item: Option<Item>,
    /// Which line of the order, from 1.
    pub number: usize,
    /// How many lines the order has.
    pub of: usize,
    /// The ways out by key or tap, and the answers of a question.
    pub choices: Vec<Choice>,
    /// How long the blade must hold still, seconds.
    pub hold_s: f64,
    /// Whether the last capture or edit of the record could not be kept.
    pub not_kept: bool,
}

/// What a person is to do.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Instruction {
    /// Read the cautions and acknowledge each line.
    ReadCautions,
    /// Start the sequence.
    Start,
    /// Put the clip on this blade and bring the blade to its place.
    Clip {
        /// Blade and place.
        to: Seat,
    },
    /// Bring this blade to its place; the clip is on it.
    Turn {
        /// Blade and place.
        to: Seat,
        /// Whether the blade carries a sensor of its own.
        own_sensor: bool,
    },
    /// Move this stick a little and let it go back.
    Check {
        /// Which way.
        way: Deflection,
    },
    /// Leave every stick at neutral and hold still.
    Neutral {
        /// Whether the collective is what is captured.
        collective: bool,
    },
    /// Move the stick all the way and hold it.
    Move {
        /// Which way.
        way: Deflection,
    },
    /// The stick is over: hold it there.
    Hold {
        /// Which way.
        way: Deflection,
    },
    /// Back off until the servo is quiet, and hold.
    BackOff {
        /// From the end of this direction.
        way: Deflection,
    },
    /// Lift the cable so that it pulls at nothing.
    LiftCable,
    /// Let the cable hang again.
    ReleaseCable,
    /// Move an axis to both its ends once more.
    Sweep {
        /// The next movement.
        to: SweepMove,
    },
    /// This line was captured.
    Captured {
        /// The line.
        item: Item,
    },
    /// The last capture is being taken back.
    TakingBack,
    /// Let the stick go back.
    LetGo,
    /// Answer the question.
    Answer {
        /// The question.
        question: Question,
    },
    /// Nothing is left to do.
    Done {
        /// Lines that were left out.
        left_out: usize,
        /// Lines at which the stick goes past a bind: their end points must come down before they are captured again.
        blocked: usize,
        /// All lines.
        of: usize,
    },
}

/// What helps with an instruction.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hint {
    /// The setup is closed.
    Closed,
    /// Clip and cable come off before the motor is connected.
    TakeClipOff,
    /// This line comes next.
    Next(Item),
    /// Then hands off; it goes on by itself. The cable is wound so many times round the mast.
    HandsOff {
        /// Whole turns.
        wound: u32,
    },
    /// The short movement shows whether clip and head are in place.
    ShowsThePlace,
    /// Where the blade stands, and what is wanted of it.
    Wanted {
        /// What is wanted.
        target: Option<Target>,
        /// The blade and its place.
        at: Seat,
    },
    /// The held blade goes on moving.
    Creeps,
    /// The limit is just short of where it binds.
    ShortOfTheBind,
    /// A cable that is fastened at the hub changes nothing.
    CableAtTheHub,
    /// The sweep shows that every direction reaches its end.
    ShowsTheEnds,
}

/// A way out of a step, by key or tap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Choice {
    /// Close the setup.
    Finish,
    /// Start the sequence.
    Start,
    /// Clip and head are in place.
    InPlace,
    /// The cable is lifted.
    CableIsLifted,
    /// The cable hangs again.
    CableHangs,
    /// The sweep is complete.
    ThatIsAll,
    /// Capture the blade as it is held.
    TakeNow,
    /// The linkage binds here.
    BindsHere,
    /// Leave this line out for now.
    LeaveOut,
    /// Answer the question.
    Answer {
        /// Which answer, counted from 0.
        number: usize,
        /// To this question.
        question: Question,
        /// What it says.
        answer: Answer,
    },
}

impl Choice {
    /// What it does.
    #[must_use]
    pub const fn act(self) -> Act {
        match self {
            Self::Finish => Act::Finish,
            Self::Start => Act::Arm,
            Self::InPlace | Self::CableIsLifted | Self::CableHangs | Self::ThatIsAll | Self::TakeNow => Act::Confirm,
            Self::BindsHere => Act::Bound,
            Self::LeaveOut => Act::Skip,
            Self::Answer { number, .. } => Act::Answer { choice: number },
        }
    }

    /// The key that does it; the answers of a question go by their numbers.
    #[must_use]
    pub const fn key(self) -> Option<char> {
        match self {
            Self::Finish => Some('f'),
            Self::Start => Some('a'),
            Self::InPlace | Self::CableIsLifted | Self::CableHangs | Self::ThatIsAll | Self::TakeNow => Some('c'),
            Self::BindsHere => Some('b'),
            Self::LeaveOut => Some('s'),
            Self::Answer { .. } => None,
        }
    }
}

/// What is spoken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spoken {
    /// What to do now.
    Step(Instruction),
    /// The held blade goes on moving.
    Creeps,
    /// A servo buzzes with every stick at neutral.
    BuzzesAtNeutral,
    /// A servo buzzes at its end: back off.
    Buzzes,
    /// The stick went all the way back instead of only until it was quiet.
    WentAllTheWayBack,
    /// The stick goes on where its end was captured already.
    GoesFurther,
    /// The last capture counts no longer.
    TakenBack,
}
