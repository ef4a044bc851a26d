//! The running session: one task owns the stream and answers requests; a watch channel carries the live reading.

mod buzz;
pub mod conductor;
mod evaluate;
mod instrument;
mod open_setup;
mod pose;
mod recompute;
mod rests;
mod session;
pub mod sweeping;
pub mod zero;

pub use evaluate::{Circumstances, EvaluateError, evaluate};
pub use instrument::Instrument;
pub use open_setup::{Draft, KeepError, OpenSetup, Order};
pub use pose::pose;
pub use recompute::{RecomputeError, recompute};
pub use rests::{Rest, RestFinder, Seen, angle_between};
pub use session::{BenchError, Line, LiveReading, Session, Taken};
