//! From a force on a blade to a blade angle: who moves, where the blade stands, how the clip sits, what zero means.

use clinoblade_stats as stats;
use clinoblade_uncertainty as uncertainty;
use clinoblade_units as units;

mod axis;
mod carrier;
mod corner;
mod datum;
mod document;
mod expected;
mod frames;
mod harmonics;
mod model;
mod phase;
mod place;
mod readings;
mod solution;
mod solve;
mod tail;
mod track;

pub use axis::{Aileron, Axis, Collective, Deflection, Elevator, ParseDeflectionError, Rudder};
pub use carrier::Carrier;
pub use corner::{Corner, CornerCollective, FullCyclic};
pub use datum::{Datum, DatumError, InstrumentError, Place, Spot, Zero};
pub use expected::{Cause, Contradiction, Expectation, factor};
pub use frames::{Attitude, BodyVector, HubVector, ShaftTilt, SpanTooSteep, Visibility, up_from_reading};
pub use harmonics::{Harmonic, HarmonicFit, fit_harmonics};
pub use model::Unknown;
pub use phase::{AxisPhase, CyclicTravel, PhaseCause, PhaseError, PhaseFinding, PhasePair, arm_phase, axis_phase};
pub use place::{BladeName, Clip, LeadingEdge, PlaceError, Rotation, Station};
pub use readings::{FieldProblem, ReadingUncertainty, Readings, ReadingsError, RotorReading};
pub use solution::{BladeSolution, Estimate, Residual, RotorSolution, Suggestion};
pub use solve::{SharedCause, SolutionError, solve, solve_sharing, with_stations};
pub use tail::{TailError, TailMean, TailReading, tail_mean, tail_pitch};
pub use track::{Moves, Track, TrackError, TrackReading, TrackSplit, moves_to_decide, next_blade, track};
