//! One sample as it came over the wire.

use super::{Celsius, Seconds};
use serde::{Deserialize, Serialize};

/// One reading of the sensor's three axes, before calibration.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Sample {
    /// Time of the sample on the stream's own clock, unwrapped, zero at the stream's first good sample.
    pub clock: Seconds,
    /// The three axes in counts, in the order and sense of the sensor's own x, y, z.
    pub counts: [f64; 3],
    /// How many samples the counter of the stream says were lost just before this one.
    pub lost_before: u32,
    /// The sensor's temperature, where the stream carries one.
    pub temperature: Option<Celsius>,
}
