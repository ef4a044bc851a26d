//! Force to live and steady angle: the gate, the live value, the steady mean.

mod gate;
mod live;
mod reading;

pub use gate::{Gate, Passage};
pub use live::{Live, LiveSettings};
pub use reading::{Dropped, EndedBy, Progress, SteadyReading, SteadySettings, Vibration};
