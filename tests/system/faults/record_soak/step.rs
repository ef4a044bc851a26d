//! What a person does at the bench, one thing at a time, in plain values and told in plain words.

use std::fmt;

/// Where the clip sits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    /// A main blade at a station.
    Main { blade: char, station: f64 },
    /// A tail blade with its leading edge up, or down.
    Tail { blade: char, up: bool },
}

/// From which side the stick is brought to where it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    Below,
    Above,
}

/// What zero means from here on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Zero {
    Gravity,
    /// A surface on which the sensor is turned end for end.
    Surface,
    /// This blade here at stick centre.
    Neutral(Place, bool),
}

/// A capture that somebody wants to take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wish {
    /// Such as "elevator up".
    pub what: &'static str,
    pub place: Place,
    pub forward: bool,
    pub stick: f64,
    pub bound: bool,
    /// The clip is put on again before it.
    pub again: bool,
    /// Where the person says so.
    pub from: Option<Side>,
}

/// What happened to model, clip and sensor during a pause.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pause {
    pub moved: bool,
    pub clip_off: bool,
    pub other_sensor: bool,
}

/// What a direction does when it is moved once more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Move {
    AsBefore,
    Short,
    Far,
    /// It hardly moves.
    Still,
    /// It comes as far as before, and a servo buzzes there.
    Buzzing,
}

/// An axis, moved to both its ends once more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnceMore {
    pub axis: &'static str,
    pub place: Place,
    pub moves: [Move; 2],
}

/// A spindle turned in its grips.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Turned {
    /// The blade that carries the clip.
    pub blade: char,
    /// From its mark, degrees.
    pub seats: &'static [u16],
    /// By how much it is bent, in hundredths of a degree, and where to from its mark.
    pub bend: u16,
    pub toward: u16,
    /// The seats were counted from a mark. The first versions knew two at no particular one.
    pub marked: bool,
}

impl Turned {
    /// How the span slopes at each seat.
    pub fn slopes(&self) -> impl Iterator<Item = (u16, f64)> {
        let of_seat = |seat: u16| (f64::from(seat) - f64::from(self.toward)).to_radians().cos();
        self.seats.iter().map(move |seat| (*seat, f64::from(self.bend) / 100.0 * of_seat(*seat) - 1.5))
    }
}

/// The setup in which it happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// The one that commands work on.
    Open,
    /// One that is named, by its place in the logbook from 0.
    Named(usize),
}

/// One thing that a person does.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    NewSetup,
    Capture(Which, Wish),
    Turn(Which, &'static str),
    SetZero(Which, Zero),
    /// The capture after which so many were taken that count.
    TakeBack(Which, usize),
    /// What was turned, or left out, before which so many of its kind were recorded that count.
    NeverTurned(Which, usize),
    NotLeftOut(Which, usize),
    LeaveOut(Which, &'static str, u8),
    TakeUp(Which, Pause),
    /// The capture after which so many were taken.
    ReadAnew(Which, usize),
    /// How far it turns the reading, in hundredths of a degree.
    CheckCable(Which, i32),
    Sweep(Which, OnceMore),
    CheckSpindle(Which, Turned),
    /// A corner of the controls on a blade, with its neutral and its parts as far as they do not hold there.
    ReadCorner(Which, Wish),
    /// Everything that does not hold, each at its usual place.
    ReadTheRest(Which),
    /// What the program wants, in a copy of the setup.
    TryTheWanted(Which),
    HandOver(Which),
    Close(Which),
    ComeBack {
        /// The logbook was closed before, and the program not killed.
        tidied: bool,
    },
}

/// Everything a person does, by the names of [`Step::kind`].
pub const KINDS: [&str; 19] = [
    "setup new",
    "capture",
    "adjust",
    "datum",
    "withdraw",
    "skip",
    "resume",
    "recompute",
    "cable",
    "sweep",
    "read the rest",
    "measure what is wanted",
    "export and import",
    "close",
    "logbook closed and opened",
    "withdraw an adjustment",
    "withdraw a skip",
    "spindle",
    "read a corner",
];

impl Step {
    pub const fn kind(&self) -> &'static str {
        KINDS[match self {
            Self::NewSetup => 0,
            Self::Capture(..) => 1,
            Self::Turn(..) => 2,
            Self::SetZero(..) => 3,
            Self::TakeBack(..) => 4,
            Self::LeaveOut(..) => 5,
            Self::TakeUp(..) => 6,
            Self::ReadAnew(..) => 7,
            Self::CheckCable(..) => 8,
            Self::Sweep(..) => 9,
            Self::ReadTheRest(_) => 10,
            Self::TryTheWanted(_) => 11,
            Self::HandOver(_) => 12,
            Self::Close(_) => 13,
            Self::ComeBack { .. } => 14,
            Self::NeverTurned(..) => 15,
            Self::NotLeftOut(..) => 16,
            Self::CheckSpindle(..) => 17,
            Self::ReadCorner(..) => 18,
        }]
    }

    /// The setup in which it happens.
    pub const fn which(&self) -> Option<Which> {
        match self {
            Self::NewSetup | Self::ComeBack { .. } => None,
            Self::Capture(which, _)
            | Self::Turn(which, _)
            | Self::SetZero(which, _)
            | Self::TakeBack(which, _)
            | Self::NeverTurned(which, _)
            | Self::NotLeftOut(which, _)
            | Self::CheckSpindle(which, _)
            | Self::ReadCorner(which, _)
            | Self::LeaveOut(which, ..)
            | Self::TakeUp(which, _)
            | Self::ReadAnew(which, _)
            | Self::CheckCable(which, _)
            | Self::Sweep(which, _)
            | Self::ReadTheRest(which)
            | Self::TryTheWanted(which)
            | Self::HandOver(which)
            | Self::Close(which) => Some(*which),
        }
    }
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.which() {
            Some(Which::Named(at)) => write!(f, "in setup {}: ", at + 1)?,
            Some(Which::Open) | None => {}
        }
        match self {
            Self::NewSetup => f.write_str("begin a setup"),
            Self::Capture(_, wish) => write!(f, "capture {wish}"),
            Self::Turn(_, what) => write!(f, "turn: {what}"),
            Self::SetZero(_, Zero::Gravity) => f.write_str("set zero by gravity"),
            Self::SetZero(_, Zero::Surface) => f.write_str("set zero on a surface, the sensor turned end for end"),
            Self::SetZero(_, Zero::Neutral(place, forward)) => {
                write!(f, "set zero at neutral on {place}{}", if *forward { "" } else { ", clip reversed" })
            }
            Self::TakeBack(_, 0) => f.write_str("take the last capture back"),
            Self::TakeBack(_, later) => write!(f, "take the capture back that has {later} after it that count"),
            Self::NeverTurned(_, later) => write!(f, "it was never turned, what has {later} turns after it"),
            Self::NotLeftOut(_, later) => write!(f, "it is not left out, what has {later} left out after it"),
            Self::CheckSpindle(_, spindle) => write!(f, "check the spindle: {spindle}"),
            Self::ReadCorner(_, wish) => write!(f, "read {wish}, with what it takes"),
            Self::LeaveOut(_, what, day) => write!(f, "leave {what} out on day {day}"),
            Self::TakeUp(_, pause) => write!(f, "take it up again{pause}"),
            Self::ReadAnew(_, 0) => f.write_str("read the last capture anew from its samples"),
            Self::ReadAnew(_, later) => write!(f, "read the capture anew that has {later} after it"),
            Self::CheckCable(_, pull) => write!(f, "check the cable: it pulls by {pull}/100°"),
            Self::Sweep(_, OnceMore { axis, place, moves: [one, other] }) => {
                write!(f, "move {axis} to both ends once more on {place}: {one:?} and {other:?}")
            }
            Self::ReadTheRest(_) => f.write_str("read everything that does not hold"),
            Self::TryTheWanted(_) => f.write_str("measure what the program wants, in a copy"),
            Self::HandOver(_) => f.write_str("export it, and import it elsewhere and here"),
            Self::Close(_) => f.write_str("close it"),
            Self::ComeBack { tidied: true } => f.write_str("close the logbook and open it again"),
            Self::ComeBack { tidied: false } => f.write_str("open the logbook again after a kill"),
        }
    }
}

impl fmt::Display for Wish {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} on {}, stick {} %", self.what, self.place, self.stick)?;
        let from_below = self.from == Some(Side::Below);
        let said = [
            (!self.forward, ", clip reversed"),
            (self.bound, ", just short of a bind"),
            (self.again, ", the clip put on again"),
            (from_below, ", from below"),
            (self.from.is_some() && !from_below, ", from above"),
        ];
        said.iter().filter(|(so, _)| *so).try_for_each(|(_, words)| f.write_str(words))
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Main { blade, station } => write!(f, "blade {blade} at {station}°"),
            Self::Tail { blade, up } => {
                write!(f, "tail blade {blade}, leading edge {}", if *up { "up" } else { "down" })
            }
        }
    }
}

impl fmt::Display for Turned {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { blade, seats, bend, toward, marked } = self;
        let how = if *marked { "" } else { ", at no particular mark" };
        write!(f, "blade {blade}, seats {seats:?}{how}, bent by {bend}/100° toward {toward}°")
    }
}

impl fmt::Display for Pause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let said = [
            (self.moved, ", the model moved"),
            (self.clip_off, ", the clip taken off"),
            (self.other_sensor, ", with another sensor"),
        ];
        said.iter().filter(|(so, _)| *so).try_for_each(|(_, words)| f.write_str(words))
    }
}
