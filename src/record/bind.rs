//! A bind as the person met it: how far an axis goes freely, and at which output, where that is known.

use super::travel_survey::TravelPair;
use crate::units::{Angle, Percent};

/// So much more output is beyond a bind, percent.
const BEYOND_PERCENT: f64 = 0.5;
/// So much more movement is beyond a bind whose output nobody knows: more than two readings of one end differ by.
const BEYOND_DEGREES: f64 = 0.3;
/// A movement that is wanted may be so much more than the one at the bind.
const WANTED_BEYOND_DEGREES: f64 = 0.05;

/// Just short of a bind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bind {
    /// The output there; none where the stick was backed off to nobody knows where.
    output: Option<Percent>,
    /// On which side of neutral: the sign of the output.
    side: f64,
    /// The movement there.
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
