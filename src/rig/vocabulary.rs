//! The vocabulary in which the rig is spoken to: sticks, ends, blades, seats. It is its own, so that no slip in the
//! rooms that measure can hide behind a shared one.

use super::RigError;
use crate::units::{BLADE_LETTERS, MOST_BLADES, SensorAxis, as_text, blade_index, blade_letter};
use serde::{Deserialize, Serialize};
use std::fmt::{self, Write as _};
use std::str::FromStr;

/// Gives an enum its lower-case words for reading, printing and serde.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident, $what:literal, { $($(#[$vdoc:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
        pub enum $name { $($(#[$vdoc])* #[serde(rename = $word)] $variant),+ }

        impl $name {
            /// Every value, in order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The word for it.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }

        impl FromStr for $name {
            type Err = RigError;
            fn from_str(text: &str) -> Result<Self, RigError> {
                match text.to_lowercase().as_str() {
                    $($word => Ok(Self::$variant),)+
                    _ => Err(RigError::Word { given: text.to_owned(), what: $what, known: &[$($word),+] }),
                }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(self.word())
            }
        }
    };
}

pub(crate) use words;

words! {
    /// The main rotor's direction of rotation, seen from above.
    Rotation, "direction of rotation", {
        /// Clockwise from above.
        Clockwise = "clockwise",
        /// Anticlockwise from above.
        Anticlockwise = "anticlockwise",
    }
}

words! {
    /// What a longer pitch link does to its blade.
    Lengthening, "effect of lengthening", {
        /// More pitch: the arm is pushed up at its leading side.
        Raises = "raises",
        /// Less pitch: the arm lies at the trailing side, and the mixer moves the plate the other way.
        Lowers = "lowers",
    }
}

words! {
    /// One of the four sticks.
    Stick, "stick", {
        /// Fore and aft cyclic: −100 % full down, +100 % full up (nose up).
        Elevator = "elevator",
        /// Sideways cyclic: −100 % full left, +100 % full right.
        Aileron = "aileron",
        /// Tail: −100 % full left, +100 % full right.
        Rudder = "rudder",
        /// Collective: 0 % low, 50 % mid, 100 % high.
        Collective = "collective",
    }
}

words! {
    /// One end of one stick's travel.
    End, "end of travel", {
        /// Elevator, nose up.
        ElevatorUp = "elevator up",
        /// Elevator, nose down.
        ElevatorDown = "elevator down",
        /// Aileron, right side down.
        AileronRight = "aileron right",
        /// Aileron, left side down.
        AileronLeft = "aileron left",
        /// Rudder, nose right.
        RudderRight = "rudder right",
        /// Rudder, nose left.
        RudderLeft = "rudder left",
        /// Collective, high end.
        CollectiveHigh = "collective high",
        /// Collective, low end.
        CollectiveLow = "collective low",
    }
}

words! {
    /// Which way the clip sits on what it holds.
    Mount, "mount", {
        /// The sensor's chord axis points to the leading edge.
        Forward = "forward",
        /// Turned end for end: chord and span axes both point the other way.
        Reversed = "reversed",
    }
}

words! {
    /// Where a tail blade's leading edge points.
    Edge, "leading edge", {
        /// Leading edge up.
        Up = "up",
        /// Leading edge down.
        Down = "down",
    }
}

impl Stick {
    /// Index among the four sticks.
    pub(crate) const fn index(self) -> usize {
        self as usize
    }

    /// The lowest and highest position in percent.
    #[must_use]
    pub const fn range(self) -> (f64, f64) {
        match self {
            Self::Collective => (0.0, 100.0),
            Self::Elevator | Self::Aileron | Self::Rudder => (-100.0, 100.0),
        }
    }

    /// Where the stick rests, in percent.
    #[must_use]
    pub const fn centre(self) -> f64 {
        match self {
            Self::Collective => 50.0,
            Self::Elevator | Self::Aileron | Self::Rudder => 0.0,
        }
    }

    /// The ends toward the positive and the negative side.
    pub(crate) const fn ends(self) -> (End, End) {
        match self {
            Self::Elevator => (End::ElevatorUp, End::ElevatorDown),
            Self::Aileron => (End::AileronRight, End::AileronLeft),
            Self::Rudder => (End::RudderRight, End::RudderLeft),
            Self::Collective => (End::CollectiveHigh, End::CollectiveLow),
        }
    }
}

impl End {
    /// Index among the eight ends.
    pub(crate) const fn index(self) -> usize {
        self as usize
    }

    /// The stick it belongs to.
    #[must_use]
    pub const fn stick(self) -> Stick {
        match self {
            Self::ElevatorUp | Self::ElevatorDown => Stick::Elevator,
            Self::AileronRight | Self::AileronLeft => Stick::Aileron,
            Self::RudderRight | Self::RudderLeft => Stick::Rudder,
            Self::CollectiveHigh | Self::CollectiveLow => Stick::Collective,
        }
    }

    /// +1 at the stick's positive end, −1 at the other.
    pub(crate) const fn sign(self) -> f64 {
        match self {
            Self::ElevatorUp | Self::AileronRight | Self::RudderRight | Self::CollectiveHigh => 1.0,
            Self::ElevatorDown | Self::AileronLeft | Self::RudderLeft | Self::CollectiveLow => -1.0,
        }
    }
}

impl Lengthening {
    /// +1 where longer is more pitch.
    pub(crate) const fn sign(self) -> f64 {
        match self {
            Self::Raises => 1.0,
            Self::Lowers => -1.0,
        }
    }
}

impl Rotation {
    /// +1 anticlockwise from above (right-handed about the shaft), −1 clockwise.
    pub(crate) const fn sign(self) -> f64 {
        match self {
            Self::Anticlockwise => 1.0,
            Self::Clockwise => -1.0,
        }
    }
}

/// A blade, counted from A in the direction of rotation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Blade(u8);

impl Blade {
    /// Blade A, the reference.
    pub const A: Self = Self(0);

    /// The blade that comes so many places after A, as far as there are letters.
    #[must_use]
    pub const fn nth(index: usize) -> Option<Self> {
        if index < MOST_BLADES { Some(Self(index as u8)) } else { None }
    }

    /// How many places after A.
    #[must_use]
    pub const fn index(self) -> usize {
        self.0 as usize
    }
}

impl fmt::Display for Blade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_char(blade_letter(self.index()).unwrap_or('A'))
    }
}

impl FromStr for Blade {
    type Err = RigError;
    fn from_str(text: &str) -> Result<Self, RigError> {
        let wrong = || RigError::Word { given: text.to_owned(), what: "blade", known: &[BLADE_LETTERS] };
        blade_index(text).and_then(Self::nth).ok_or_else(wrong)
    }
}

as_text!(Blade);

/// What the clip holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seat {
    /// A main blade.
    Main(Blade),
    /// A tail blade, A or B.
    Tail(Blade),
    /// The bench's reference surface, whose slope the scenario states.
    Table,
    /// No blade: the sensor's case held with this axis straight up, as in a six-face calibration.
    Face(SensorAxis),
    /// No blade: the case held in any attitude, degrees of roll about its x axis and then pitch about its y axis.
    Pose {
        /// Roll about the case's x axis, degrees.
        roll_deg: f64,
        /// Pitch about the case's y axis, degrees.
        pitch_deg: f64,
    },
}

impl fmt::Display for Seat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Main(blade) => write!(f, "{blade}"),
            Self::Tail(blade) => write!(f, "tail {blade}"),
            Self::Table => f.write_str("table"),
            Self::Face(axis) => write!(f, "face {axis}"),
            Self::Pose { roll_deg, pitch_deg } => write!(f, "pose {roll_deg} {pitch_deg}"),
        }
    }
}
