//! What a capture is a capture of: one axis direction, read on a blade that this axis moves.

use crate::rotor::{
    Aileron, Axis, BladeName, Clip, Collective, Corner, Deflection, Elevator, LeadingEdge, ParseDeflectionError, Place,
    Rudder, Spot, Station,
};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
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
    /// Collective and full cyclic at once.
    Corner(Corner),
}

impl From<MainDeflection> for Deflection {
    fn from(deflection: MainDeflection) -> Self {
        match deflection {
            MainDeflection::Elevator(direction) => Self::Elevator(direction),
            MainDeflection::Aileron(direction) => Self::Aileron(direction),
            MainDeflection::Collective(position) => Self::Collective(position),
            MainDeflection::Corner(corner) => Self::Corner(corner),
        }
    }
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
    #[error("rudder on main")]
    RudderOnMain,
    /// Another deflection on a tail blade.
    #[error("main on tail: {0}")]
    MainOnTail(Deflection),
    /// Neither station nor leading edge, or both.
    #[error("no place")]
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
    pub const fn new(deflection: Deflection, blade: BladeName, spot: Spot) -> Result<Self, SubjectError> {
        let main = match deflection {
            Deflection::Elevator(direction) => MainDeflection::Elevator(direction),
            Deflection::Aileron(direction) => MainDeflection::Aileron(direction),
            Deflection::Collective(position) => MainDeflection::Collective(position),
            Deflection::Corner(corner) => MainDeflection::Corner(corner),
            Deflection::Rudder(rudder) => {
                return match spot {
                    Spot::Tail(leading_edge) => Ok(Self::Tail { rudder, blade, leading_edge }),
                    Spot::Main(_) => Err(SubjectError::RudderOnMain),
                };
            }
        };
        match spot {
            Spot::Main(station) => Ok(Self::Main { deflection: main, blade, station }),
            Spot::Tail(_) => Err(SubjectError::MainOnTail(deflection)),
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

    /// Where the blade stands.
    #[must_use]
    pub const fn spot(self) -> Spot {
        match self {
            Self::Main { station, .. } => Spot::Main(station),
            Self::Tail { leading_edge, .. } => Spot::Tail(leading_edge),
        }
    }

    /// The place for a datum, with the clip that sits on the blade.
    #[must_use]
    pub const fn place(self, clip: Clip) -> Place {
        Place { blade: self.blade(), spot: self.spot(), clip }
    }

    /// The blade that is read; main and tail blades share the letters.
    #[must_use]
    pub const fn blade(self) -> BladeName {
        match self {
            Self::Main { blade, .. } | Self::Tail { blade, .. } => blade,
        }
    }

    /// Which way the leading edge of a tail blade points.
    #[must_use]
    pub const fn leading_edge(self) -> Option<LeadingEdge> {
        match self {
            Self::Main { .. } => None,
            Self::Tail { leading_edge, .. } => Some(leading_edge),
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

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (deflection, blade) = (self.deflection(), self.blade());
        f.pad(&match self.spot() {
            Spot::Main(station) => format!("{deflection}, blade {blade} at {station}"),
            Spot::Tail(edge) => format!("{deflection}, tail blade {blade}, leading edge {edge}"),
        })
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

/// Every axis with its own directions, and where the blade stands that it moves.
impl JsonSchema for Subject {
    fn schema_name() -> Cow<'static, str> {
        "Subject".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let blade = generator.subschema_for::<BladeName>();
        let station = generator.subschema_for::<Station>();
        let leading_edge = generator.subschema_for::<LeadingEdge>();
        let of = |axis: Axis| {
            let (place, schema) = match axis {
                Axis::Rudder => ("leading_edge", &leading_edge),
                Axis::Elevator | Axis::Aileron | Axis::Collective | Axis::Corner => ("station_deg", &station),
            };
            let directions = format!("^({})$", axis.directions());
            json_schema!({
                "type": "object",
                "properties": {
                    "axis": { "const": axis }, "direction": { "type": "string", "pattern": directions },
                    "blade": blade, place: schema,
                },
                "required": ["axis", "direction", "blade", place],
            })
        };
        json_schema!({ "oneOf": Axis::ALL.map(of) })
    }
}

impl TryFrom<Fields> for Subject {
    type Error = SubjectError;
    fn try_from(fields: Fields) -> Result<Self, Self::Error> {
        let spot = match (fields.station_deg, fields.leading_edge) {
            (Some(station), None) => Spot::Main(station),
            (None, Some(leading_edge)) => Spot::Tail(leading_edge),
            _ => return Err(SubjectError::Place),
        };
        Self::new(Deflection::new(fields.axis, &fields.direction)?, fields.blade, spot)
    }
}

impl From<Subject> for Fields {
    fn from(subject: Subject) -> Self {
        let (station_deg, leading_edge) = match subject.spot() {
            Spot::Main(station) => (Some(station), None),
            Spot::Tail(leading_edge) => (None, Some(leading_edge)),
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

#[cfg(test)]
mod tests {
    use super::*;

    fn subject(deflection: &str, spot: Spot) -> Result<Subject, SubjectError> {
        Subject::new(deflection.parse().unwrap(), BladeName::A, spot)
    }

    #[test]
    fn the_rudder_moves_tail_blades_and_nothing_else_does() {
        let main = Spot::Main(Station::from_degrees(90.0).unwrap());
        let tail = Spot::Tail(LeadingEdge::Up);
        assert_eq!(subject("rudder left", main), Err(SubjectError::RudderOnMain));
        assert_eq!(subject("elevator up", tail), Err(SubjectError::MainOnTail("elevator up".parse().unwrap())));
        assert_eq!(subject("elevator up", main).unwrap().to_string(), "elevator up, blade A at 90°");
        assert_eq!(subject("rudder left", tail).unwrap().to_string(), "rudder left, tail blade A, leading edge up");
    }

    #[test]
    fn no_document_makes_an_impossible_pair() {
        for text in [
            r#"{"axis":"rudder","direction":"left","blade":"A","station_deg":90}"#,
            r#"{"axis":"elevator","direction":"up","blade":"A","leading_edge":"up"}"#,
            r#"{"axis":"elevator","direction":"left","blade":"A","station_deg":90}"#,
            r#"{"axis":"elevator","direction":"up","blade":"A"}"#,
            r#"{"axis":"corner","direction":"high up","blade":"A","leading_edge":"up"}"#,
            r#"{"axis":"corner","direction":"up","blade":"A","station_deg":90}"#,
            r#"{"axis":"corner","direction":"high up-down","blade":"A","station_deg":90}"#,
        ] {
            assert!(serde_json::from_str::<Subject>(text).is_err(), "{text}");
        }
        let text = r#"{"axis":"elevator","direction":"up","blade":"A","station_deg":90.0}"#;
        assert_eq!(serde_json::to_string(&serde_json::from_str::<Subject>(text).unwrap()).unwrap(), text);
        let text = r#"{"axis":"corner","direction":"low down-left","blade":"B","station_deg":0.0}"#;
        assert_eq!(serde_json::to_string(&serde_json::from_str::<Subject>(text).unwrap()).unwrap(), text);
    }
}
