//! What to turn, and by how much: half-turns of a link, percent of an end point, the neutral that balances an axis.
//!
//! Every piece of advice comes with what it leaves and how far that can be trusted. Nothing here knows a setup: the room
//! `record` finds the readings, and this one does the arithmetic.

use clinoblade_stats as stats;
use clinoblade_uncertainty as uncertainty;
use clinoblade_units as units;

mod link;
mod swash;
mod symmetry;
mod travel;

pub use link::{LinkAdvice, LinkGeometry, MeasuredHalfTurn, Seating, Turned, turn_links};
pub use swash::{ServoRise, SwashGeometry};
pub use symmetry::Symmetry;
pub use travel::{Output, Pair, TravelCurve, TravelError};
