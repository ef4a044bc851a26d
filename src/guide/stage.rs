//! Where in a line the person stands.

use super::creep::Creep;
use super::question::Question;
use super::seen::{Moment, Rest};
use super::sweep::Sweeper;
use crate::rotor::Deflection;
use crate::units::{Angle, Seconds};

/// Where in a line the person stands.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Stage {
    /// Clip and head are being brought where the line wants them.
    Place(Place),
    /// Short movements show whether they are.
    Check(Check),
    /// Sticks at neutral, to be captured.
    Neutral,
    /// The stick is to be moved.
    Move,
    /// It has moved the expected way.
    Hold(Hold),
    /// It buzzed at this travel: back off.
    BackOff(Angle),
    /// The cable is lifted, and let go.
    Cable(Cable),
    /// An axis is moved to both its ends once more.
    Sweep(Sweeper),
    /// The capture is being kept.
    Keeping(Then),
    /// The last capture is being taken back.
    TakingBack {
        /// Whether the place is begun again then.
        place: bool,
        /// How far the blade stood from its neutral when it was captured.
        full: Angle,
    },
    /// The stick is to go back.
    Return(Return),
    /// A question stands, asked in this stage.
    Question(Question, Box<Stage>),
    /// Everything is captured or left out.
    Done,
}

impl Stage {
    /// The short movements that are waited for, also where it is asked why none was seen.
    pub(super) fn check_mut(&mut self) -> Option<&mut Check> {
        match self {
            Self::Check(check) => Some(check),
            Self::Question(Question::NoAnswer { .. }, asked_in) => asked_in.check_mut(),
            _ => None,
        }
    }
}

/// What follows when a capture is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Then {
    /// A neutral that an end needs.
    Move,
    /// An end: the stick goes back.
    Return,
    /// The line is done.
    Next,
}

/// Clip and head on their way.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Place {
    /// How the clip was when it was asked for.
    pub began: Option<Moment>,
    /// Whether enough was seen to move.
    pub moved: bool,
    /// From when it has been still.
    pub still_from: Option<Seconds>,
    /// The rest before.
    pub last: Option<Moment>,
}

/// Short movements, one after the other.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Check {
    /// Still to be made.
    pub ways: Vec<Deflection>,
    /// The pitch with the sticks centred.
    pub baseline: Option<Angle>,
    /// The furthest the blade went from it.
    pub swung: Angle,
    /// From when it is waited for.
    pub since: Option<Seconds>,
    /// From when the blade has come to rest away from that pitch.
    pub away_from: Option<Seconds>,
    /// How far the blade swung with the cyclic that shows most there, once that was seen.
    pub most: Option<Angle>,
}

/// The cable in hand.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Cable {
    /// Whether it was read lifted, and is to hang again.
    pub lifted: bool,
    /// How the clip was when it was asked for.
    pub began: Option<Moment>,
    /// The rest before.
    pub last: Option<Moment>,
    /// Whether it was seen to stir.
    pub stirred: bool,
}

/// A stick that is held over.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Hold {
    /// From when the blade has been still there.
    pub still_from: Option<Seconds>,
    /// The rest before.
    pub last: Option<Moment>,
    /// From when a servo has been seen to buzz.
    pub buzzes_from: Option<Seconds>,
    /// Whether it goes on moving by itself.
    pub creep: Creep,
    /// Whether that was said.
    pub creeps: bool,
}

/// A stick on its way back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Return {
    /// How far the blade stood from its neutral when it was captured.
    pub full: Angle,
    /// When it was back there, before it came to rest.
    pub back_at: Option<Seconds>,
}

/// How long a blade has been still over several rests.
pub(super) fn still(from: &mut Option<Seconds>, last: &mut Option<Moment>, rest: &Rest, apart: Angle) -> Seconds {
    let goes_on = last.is_some_and(|last| super::seen::apart(last, rest.at) < apart);
    if !goes_on {
        *from = None;
    }
    *last = Some(rest.at);
    rest.at.clock - *from.get_or_insert(rest.from)
}
