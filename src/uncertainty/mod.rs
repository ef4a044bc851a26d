//! How far a value can be trusted: a budget of named components beside it, and the decision against a tolerance.
//!
//! Every value is written `value ± U`, where U = k·u covers about 95 % (JCGM 100:2008, *Guide to the expression of
//! uncertainty in measurement*, 6.2 and G.4). A budget also knows which of its errors are *the same error* in
//! another reading (one clip seat, one datum, one calibration), so that a difference of two readings is neither
//! flattered nor punished: what both share drops out, what they share in part shrinks, the rest adds in quadrature.
//!
//! Angles are in degrees at every edge. Left out: errors that are neither independent nor wholly shared; they are
//! to be split into a shared and an independent contribution by whoever states them.

use clinoblade_stats as stats;
use clinoblade_units as units;

mod budget;
mod component;
mod decision;
mod source;
mod target;

pub use budget::{Budget, COVERAGE, Expanded, Share};
pub use component::{Component, Contribution, Freedom, Remedy};
pub use decision::{Decision, Doubt, conformance_probability, decide};
pub use source::Source;
pub use target::{Target, TargetError};
