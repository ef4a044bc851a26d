//! The running session: one task owns the stream and answers requests; a watch channel carries the live reading.

use clinoblade_filter as filter;
use clinoblade_guide as guide;
use clinoblade_logbook as logbook;
use clinoblade_record as record;
use clinoblade_report as report;
#[cfg(test)]
use clinoblade_rig as rig;
use clinoblade_rotor as rotor;
use clinoblade_sensor as sensor;
use clinoblade_stats as stats;
use clinoblade_stream as stream;
use clinoblade_uncertainty as uncertainty;
use clinoblade_units as units;
use clinoblade_words as words;

pub mod conductor;
mod evaluate;
mod faults;
mod instrument;
mod pose;
mod recompute;
mod rests;
mod say;
mod session;
mod setup_handle;
pub mod sweeping;
mod workshop;
pub mod zero;

pub use evaluate::{Circumstances, EvaluateError, evaluate};
pub use faults::FaultFinder;
pub use instrument::Instrument;
pub use pose::pose;
pub use recompute::{RecomputeError, recompute};
pub use rests::{Rest, RestFinder, Seen, angle_between};
pub use session::{BenchError, Line, LiveReading, Session, Taken};
pub use setup_handle::{Draft, KeepError, Order, SetupHandle};
pub use workshop::*;
