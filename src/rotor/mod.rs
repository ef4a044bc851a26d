//! From a force on a blade to a blade angle: who moves, where the blade stands, how the clip sits.

mod axis;
mod place;

pub use axis::{Aileron, Axis, Collective, Deflection, Elevator, ParseDeflectionError, Rudder};
pub use place::{BladeName, Clip, LeadingEdge, PlaceError, Rotation, Station};
