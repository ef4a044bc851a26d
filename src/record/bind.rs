//! A bind as the person met it: how far an axis goes freely, and at which output, where that is known.

use super::travel_survey::TravelPair;
use crate::units::{Angle, Percent};

/// How much more output than at the bind counts as beyond it, percent; less than a whole percent,
/// so that an output that was rounded is not beyond it.
pub(super) const BEYOND_PERCENT: f64 = 0.5;
/// How much more movement than at the bind counts as beyond it where the output there is not known, degrees: more than two
/// readings of one end differ by.
pub(super) const BEYOND_DEGREES: f64 = 0.3;
/// How much more than at the bind a wanted movement may be before it is refused, degrees.
const WANTED_BEYOND_DEGREES: f64 = 0.05;

/// The place just short of a bind, as a capture with the stick backed off gives it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bind {
    /// The output there, percent; none if nobody said how far the stick was backed off.
    output: Option<Percent>,
    /// The side of neutral, +1 or -1: the sign of the output.
    side: f64,
    /// The movement from neutral to there.
    at: Angle,
}

impl Bind {
    /// The bind that a capture stands just short of; `known` says whether the place of its stick is.
    pub(super) fn of(told: &TravelPair, known: bool) -> Self {
        Self { output: known.then_some(told.output), side: told.output.value().signum(), at: told.moved }
    }

    /// Whether an output and its movement lie beyond it.
    pub(super) fn is_short_of(&self, told: &TravelPair) -> bool {
        self.side * told.output.value() > 0.0
            && match self.output {
                Some(bind) => self.is_below(bind, told.output),
                None => told.moved.abs().degrees() > self.at.abs().degrees() + BEYOND_DEGREES,
            }
    }

    /// Whether an output lies beyond the one at the bind, where that is known.
    pub(super) fn is_before(&self, output: Percent) -> bool {
        self.output.is_some_and(|bind| self.is_below(bind, output))
    }

    fn is_below(&self, bind: Percent, output: Percent) -> bool {
        self.side * output.value() > 0.0 && output.value().abs() > bind.value().abs() + BEYOND_PERCENT
    }

    /// Whether a movement lies beyond the one at the bind.
    pub(super) fn is_before_movement(&self, wanted: Angle) -> bool {
        let (at, wanted) = (self.at.degrees(), wanted.degrees());
        at * wanted > 0.0 && wanted.abs() > at.abs() + WANTED_BEYOND_DEGREES
    }

    /// The output there, where it is known.
    #[must_use]
    pub const fn output(&self) -> Option<Percent> {
        self.output
    }

    /// The movement there.
    #[must_use]
    pub const fn at(&self) -> Angle {
        self.at
    }

    /// Whether the output at the bind is known.
    pub(super) const fn has_output(&self) -> bool {
        self.output.is_some()
    }

    /// The same with the other sign of the movement.
    pub(super) fn turned(self) -> Self {
        Self { at: -self.at, ..self }
    }
}
