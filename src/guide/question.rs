//! What is asked where a reading contradicts what was expected, and the answers.

use crate::record::Seat;
use crate::rotor::{Deflection, Spot};
use crate::uncertainty::Target;
use crate::units::Angle;
use serde::{Deserialize, Serialize};

/// A question: what was seen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Question {
    /// The clip was not seen to go anywhere.
    NothingMoved {
        /// Where it was to go.
        to: Seat,
    },
    /// The span left its place.
    Knocked {
        /// By how much.
        off_deg: Angle,
    },
    /// A short movement moved the blade, or moved it the wrong way.
    Contradicted {
        /// The stick.
        way: Deflection,
        /// Whether it raised the leading edge.
        raised: bool,
        /// Where the blade was thought to stand.
        at: Seat,
        /// Whether each blade carries a sensor of its own.
        own_sensors: bool,
    },
    /// A short movement did not move the blade.
    NoAnswer {
        /// The stick.
        way: Deflection,
        /// Where the blade was thought to stand.
        spot: Spot,
    },
    /// The blade is held outside what is wanted.
    Outside {
        /// The stick.
        way: Deflection,
        /// How far it is over.
        travel_deg: Angle,
        /// What is wanted.
        target: Target,
        /// Whether it is short of it.
        short: bool,
    },
    /// The blade moved the other way.
    OtherWay {
        /// What was expected.
        way: Deflection,
        /// The direction that it may have been, while that is still to be captured, with its line.
        instead: Option<(u32, Deflection)>,
    },
    /// The stick was asked for, and nothing moves.
    StandsStill {
        /// The stick.
        way: Deflection,
    },
    /// The stick should be back, and the blade is not.
    NotBack {
        /// How far the blade stands from its neutral.
        off_deg: Angle,
    },
    /// The cable was not seen to move.
    CableNotMoved {
        /// Whether it was lifted and is to hang again.
        lifted: bool,
    },
    /// A direction was not reached in a sweep.
    NotReached {
        /// Which.
        way: Deflection,
    },
    /// The last capture could not be taken back: it still counts.
    NotTakenBack {
        /// Whether the place was to be begun again.
        place: bool,
    },
    /// The record contradicts what was read: nothing is kept until this is answered.
    OfTheRecord,
}

/// An answer: what follows from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Answer {
    /// The movement was the other direction: that line is taken up instead.
    TakeAs {
        /// The line.
        line: u32,
        /// Its direction.
        way: Deflection,
    },
    /// The stick is moved again.
    MoveAgain,
    /// The linkage binds here.
    Binds,
    /// It is captured as it stands.
    TakeAsItStands,
    /// It is waited on.
    GoOn,
    /// Clip and head are as asked for.
    IsInPlace,
    /// The cable is as asked for.
    CableIsSo,
    /// This line is left out.
    LeaveOut,
    /// The stick goes back now.
    LetGoNow,
    /// The last capture was wrong: it is taken back.
    TakeBack {
        /// Whether the place is begun again then.
        place: bool,
    },
    /// The sweep goes on.
    SweepOn,
    /// The sweep is kept as it is.
    SweepEnds,
    /// Clip or head are not in place: the place is begun again.
    PlaceAgain,
    /// The short movements are made again.
    CheckAgain,
    /// It is right as it was read.
    RightAsRead,
    /// It is to be read again.
    ReadAgain,
}

impl Question {
    /// The answers, the likeliest first.
    #[must_use]
    pub fn answers(self) -> Vec<Answer> {
        use Answer::{
            Binds, CableIsSo, CheckAgain, GoOn, IsInPlace, LeaveOut, LetGoNow, MoveAgain, PlaceAgain, ReadAgain,
            RightAsRead, SweepEnds, SweepOn, TakeAs, TakeAsItStands, TakeBack,
        };
        match self {
            Self::NothingMoved { .. } => vec![IsInPlace, PlaceAgain],
            Self::Knocked { .. } => vec![PlaceAgain, IsInPlace],
            Self::Contradicted { .. } | Self::NoAnswer { .. } => vec![PlaceAgain, CheckAgain],
            Self::Outside { short: true, .. } => vec![Binds, TakeAsItStands, GoOn],
            Self::Outside { short: false, .. } => vec![TakeAsItStands, GoOn],
            Self::OtherWay { instead: Some((line, way)), .. } => vec![TakeAs { line, way }, MoveAgain, PlaceAgain],
            Self::OtherWay { instead: None, .. } => vec![MoveAgain, PlaceAgain],
            Self::StandsStill { .. } => vec![MoveAgain, LeaveOut, PlaceAgain],
            Self::NotBack { .. } => vec![TakeBack { place: true }, LetGoNow],
            Self::CableNotMoved { .. } => vec![CableIsSo, LeaveOut],
            Self::NotReached { .. } => vec![SweepOn, SweepEnds],
            Self::NotTakenBack { place } => vec![TakeBack { place }, LetGoNow],
            Self::OfTheRecord => vec![RightAsRead, ReadAgain],
        }
    }
}
