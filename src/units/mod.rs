//! Quantities with their units, one raw sample, and the map from a sensor's axes to a blade's.
//!
//! Every public edge of the crate speaks in these types instead of bare floats. Angles are kept in
//! radians and spoken in degrees; forces are in g (1 g = 9.80665 m/s²); times in seconds.

mod angle;
mod axis_map;
mod quantity;
mod sample;
mod schema;
mod vector;

pub use angle::{Angle, ParseAngleError};
pub use axis_map::{AxisMap, AxisMapError, SensorAxis};
pub use quantity::{Celsius, Gravities, Hertz, Millimetres, Percent, Seconds};
pub use sample::Sample;
pub use schema::{Day, Moment};
pub use vector::{BladeVector, SensorVector};
