//! Force to live and steady angle: the gate, the live value, the steady mean.

#[cfg(test)]
use clinoblade_rig as rig;
use clinoblade_sensor as sensor;
use clinoblade_stats as stats;
use clinoblade_units as units;

mod candidate;
mod edges;
mod gate;
mod line;
mod live;
mod proof;
mod reading;
mod steady;
mod stillness;
mod stretch;
mod tail;

pub use gate::{Gate, GateVerdict};
pub use live::{Live, LiveSettings};
pub use reading::{Dropped, EndedBy, Progress, SteadyReading, SteadySettings, Vibration};
pub use steady::{HISTORY, SteadyReader};
