//! From a force on a blade to a blade angle: who moves, where the blade stands, how the clip sits, what zero means.

mod axis;
mod datum;
mod expected;
mod frames;
mod place;
mod tail;

pub use axis::{Aileron, Axis, Collective, Deflection, Elevator, ParseDeflectionError, Rudder};
pub use datum::{Datum, DatumError, InstrumentError, Place, Spot, Zero};
pub use expected::{Cause, Contradiction, Expectation, factor};
pub use frames::{Attitude, BodyVector, HubVector, ShaftTilt, SpanTooSteep, Visibility, up_from_reading};
pub use place::{BladeName, Clip, LeadingEdge, PlaceError, Rotation, Station};
pub use tail::{TailError, TailMean, TailReading, tail_mean, tail_pitch};
