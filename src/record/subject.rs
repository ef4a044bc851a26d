//! What a capture is a capture of: one axis direction, read on a blade that this axis moves.

use crate::rotor::{
    Aileron, Axis, BladeName, Collective, Deflection, Elevator, LeadingEdge, ParseDeflectionError, Rudder, Station,
};
use serde::{Deserialize, Serialize};
use std::fmt;

/// A deflection of the main rotor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MainDeflection {
    /// Longitudinal cyclic.
    Elevator(Elevator),
    /// Lateral cyclic.
    Aileron(Aileron),
    /// Collective pitch.
    Collective(Collective),
}

impl From<MainDeflection> for Deflection {
    fn from(deflection: MainDeflection) -> Self {
        match deflection {
            MainDeflection::Elevator(direction) => Self::Elevator(direction),
            MainDeflection::Aileron(direction) => Self::Aileron(direction),
            MainDeflection::Collective(position) => Self::Collective(position),
        }
    }
}

/// Where a blade stands while it is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    /// A main blade at a station.
    Main {
        /// The blade.
        blade: BladeName,
        /// Its azimuth from the boom.
        station: Station,
    },
    /// A tail blade with its span level.
    Tail {
        /// The blade.
        blade: BladeName,
        /// Which way its leading edge points.
        leading_edge: LeadingEdge,
    },
}

/// A deflection together with a place where it shows: a rudder deflection on a tail blade, any other on a main blade.
///
/// Serialised flat: `axis`, `direction`, `blade`, and `station_deg` or `leading_edge`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Fields", into = "Fields")]
pub enum Subject {
    /// On the main rotor.
    Main {
        /// What is deflected.
        deflection: MainDeflection,
        /// The blade that is read.
        blade: BladeName,
        /// Where it stands.
        station: Station,
    },
    /// On the tail rotor.
    Tail {
        /// The direction of the rudder.
        rudder: Rudder,
        /// The blade that is read.
        blade: BladeName,
        /// Which way its leading edge points.
        leading_edge: LeadingEdge,
    },
}

/// Why a deflection and a place do not go together.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SubjectError {
    /// A rudder deflection on a main blade.
    #[error(
        "the rudder moves the tail rotor only: read it on a tail blade, with the leading edge up or down instead of a station"
    )]
    RudderOnMain,
    /// Another deflection on a tail blade.
    #[error("{0} moves the main rotor only: read it on a main blade at a station instead of a leading edge")]
    MainOnTail(Deflection),
    /// Neither station nor leading edge, or both.
    #[error(
        "a place is a blade with either a station (main rotor) or a leading edge (tail rotor), not both and not neither"
    )]
    Place,
    /// No such axis or direction.
    #[error(transparent)]
    Deflection(#[from] ParseDeflectionError),
}

impl Subject {
    /// Puts a deflection and a place together.
    ///
    /// # Errors
    /// When the axis does not move the blade at that place.
    pub const fn new(deflection: Deflection, place: Place) -> Result<Self, SubjectError> {
        let main = match deflection {
            Deflection::Elevator(direction) => MainDeflection::Elevator(direction),
            Deflection::Aileron(direction) => MainDeflection::Aileron(direction),
            Deflection::Collective(position) => MainDeflection::Collective(position),
            Deflection::Rudder(rudder) => {
                return match place {
                    Place::Tail { blade, leading_edge } => Ok(Self::Tail { rudder, blade, leading_edge }),
                    Place::Main { .. } => Err(SubjectError::RudderOnMain),
                };
            }
        };
        match place {
            Place::Main { blade, station } => Ok(Self::Main { deflection: main, blade, station }),
            Place::Tail { .. } => Err(SubjectError::MainOnTail(deflection)),
        }
    }

    /// The deflection alone.
    #[must_use]
    pub fn deflection(self) -> Deflection {
        match self {
            Self::Main { deflection, .. } => deflection.into(),
            Self::Tail { rudder, .. } => Deflection::Rudder(rudder),
        }
    }

    /// The place alone.
    #[must_use]
    pub const fn place(self) -> Place {
        match self {
            Self::Main { blade, station, .. } => Place::Main { blade, station },
            Self::Tail { blade, leading_edge, .. } => Place::Tail { blade, leading_edge },
        }
    }

    /// The blade that is read; main and tail blades share the letters.
    #[must_use]
    pub const fn blade(self) -> BladeName {
        match self {
            Self::Main { blade, .. } | Self::Tail { blade, .. } => blade,
        }
    }

    /// The station of a main blade.
    #[must_use]
    pub const fn station(self) -> Option<Station> {
        match self {
            Self::Main { station, .. } => Some(station),
            Self::Tail { .. } => None,
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&match self {
            Self::Main { blade, station } => format!("blade {blade} at {station}"),
            Self::Tail { blade, leading_edge } => format!("tail blade {blade}, leading edge {leading_edge}"),
        })
    }
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{}, {}", self.deflection(), self.place()))
    }
}

#[derive(Serialize, Deserialize)]
struct Fields {
    axis: Axis,
    direction: String,
    blade: BladeName,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    station_deg: Option<Station>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    leading_edge: Option<LeadingEdge>,
}

impl TryFrom<Fields> for Subject {
    type Error = SubjectError;
    fn try_from(fields: Fields) -> Result<Self, Self::Error> {
        let blade = fields.blade;
        let place = match (fields.station_deg, fields.leading_edge) {
            (Some(station), None) => Place::Main { blade, station },
            (None, Some(leading_edge)) => Place::Tail { blade, leading_edge },
            _ => return Err(SubjectError::Place),
        };
        Self::new(Deflection::new(fields.axis, &fields.direction)?, place)
    }
}

impl From<Subject> for Fields {
    fn from(subject: Subject) -> Self {
        let (station_deg, leading_edge) = match subject.place() {
            Place::Main { station, .. } => (Some(station), None),
            Place::Tail { leading_edge, .. } => (None, Some(leading_edge)),
        };
        let deflection = subject.deflection();
        Self {
            axis: deflection.axis(),
            direction: deflection.direction(),
            blade: subject.blade(),
            station_deg,
            leading_edge,
        }
    }
}
