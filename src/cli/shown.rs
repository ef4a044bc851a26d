//! The angle that a live figure shows: against the zero in force, as the clip sits.

use super::CliError;
use crate::guide::{Moment, pitch};
use crate::rotor::{Clip, Datum, Place, Spot, Zero};
use crate::units::{Angle, Seconds};
use crate::words::{Face, Say};

/// Turns what a sensor gives into the angle that a person is shown. By default that of the bare sensor.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Shown {
    clip: Clip,
    spot: Option<Spot>,
    zero: Zero,
}

impl Shown {
    /// Against this zero, at the place where the blade is said to stand.
    ///
    /// # Errors
    /// When the zero does not hold there, or asks for a place and none is said.
    pub(super) fn new(datum: Datum, place: Option<Place>, clip: Clip) -> Result<Self, CliError> {
        let zero = match place {
            Some(place) => datum.zero(place).map_err(|error| CliError::Measurement(error.say(Face::Terminal)))?,
            None => datum.zero_at_any_place(clip).ok_or(crate::bench::EvaluateError::NoPlace)?,
        };
        Ok(Self { clip, spot: place.map(|place| place.spot), zero })
    }

    /// The angle of a sensor that reads this pitch in its own axes.
    pub(super) fn of_sensor(&self, apparent: Angle) -> Angle {
        self.of_blade(apparent * self.clip.sign())
    }

    /// The same where the clip's direction is taken into account already.
    pub(super) fn of_blade(&self, apparent: Angle) -> Angle {
        let at = Moment { clock: Seconds::new(0.0), apparent, span: Angle::ZERO, buzzes: false };
        self.zero.apply(self.spot.map_or(apparent, |spot| pitch(at, spot)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotor::{BladeName, InstrumentError, LeadingEdge};

    fn deg(degrees: f64) -> Angle {
        Angle::from_degrees(degrees)
    }

    fn reversal() -> Datum {
        let instrument = InstrumentError { chord: deg(0.4), span: Angle::ZERO };
        Datum::Reversal { instrument, slope: Angle::ZERO, u: Angle::ZERO }
    }

    #[test]
    fn the_sensors_own_error_is_taken_off_as_the_clip_sits() {
        for (clip, shown) in [(Clip::Forward, 2.6), (Clip::Reversed, -2.6)] {
            let view = Shown::new(reversal(), None, clip).unwrap();
            assert!((view.of_sensor(deg(3.0)) - deg(shown)).abs() < deg(1e-9), "{clip}");
        }
        assert_eq!(Shown::default().of_sensor(deg(3.0)), deg(3.0));
    }

    #[test]
    fn a_tail_blade_is_shown_as_its_pitch() {
        let place = Place { blade: BladeName::A, spot: Spot::Tail(LeadingEdge::Up), clip: Clip::Forward };
        let view = Shown::new(reversal(), Some(place), Clip::Forward).unwrap();
        assert!((view.of_sensor(deg(96.4)) - deg(6.0)).abs() < deg(1e-9));
    }

    #[test]
    fn a_zero_of_one_place_asks_for_it() {
        let place = Place { blade: BladeName::A, spot: Spot::Main("90".parse().unwrap()), clip: Clip::Forward };
        let neutral = Datum::Neutral { apparent: deg(1.0), place, u: Angle::ZERO };
        assert!(Shown::new(neutral, None, Clip::Forward).is_err());
        let view = Shown::new(neutral, Some(place), Clip::Forward).unwrap();
        assert!((view.of_sensor(deg(3.0)) - deg(2.0)).abs() < deg(1e-9));
        assert!(Shown::new(neutral, Some(Place { clip: Clip::Reversed, ..place }), Clip::Reversed).is_err());
    }
}
