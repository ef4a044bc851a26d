//! One calibrated sample, turned into the blade's axes: what the filter room takes in.

use crate::units::{BladeVector, Celsius, Seconds};

/// The force at one moment, in the axes of the clip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Force {
    /// Time on the stream's own clock.
    pub clock: Seconds,
    /// The force in g; at rest it points up with a length of about 1.
    pub up: BladeVector,
    /// Whether a raw axis stood at the end of the sensor's range.
    pub saturated: bool,
    /// How many samples the stream's counter says were lost just before this one.
    pub lost_before: u32,
    /// The sensor's temperature, where the stream carries one.
    pub temperature: Option<Celsius>,
}
