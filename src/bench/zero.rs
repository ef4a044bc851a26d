//! From readings end for end to what zero means.

use super::evaluate::seat;
use super::{Instrument, Taken};
use crate::rotor::{Datum, DatumError};
use crate::units::{Angle, BladeVector};

/// How well a sensor lies on a surface it was put on by hand, one standard uncertainty. [common practice, no source]
const ON_A_SURFACE: Angle = Angle::from_radians(0.05 * std::f64::consts::PI / 180.0);

/// How well the sensor sits where it is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seating(Angle);

impl Seating {
    /// Laid on a flat surface by hand.
    #[must_use]
    pub const fn on_a_surface() -> Self {
        Self(ON_A_SURFACE)
    }

    /// Clipped on a blade: as the re-seat study found it, else the stated default of a clip.
    #[must_use]
    pub fn on_a_blade(instrument: &Instrument) -> Self {
        Self(seat(instrument).standard())
    }
}

/// The sensor's own error from two readings at one spot, the sensor turned end for end between them.
///
/// # Errors
/// When the two were not read end for end.
pub fn reversal(first: &Taken, second: &Taken, seating: Seating) -> Result<Datum, DatumError> {
    let u = uncertainty(first, seating).hypot(uncertainty(second, seating)) / std::f64::consts::SQRT_2;
    Datum::reversal(direction(first), direction(second), u)
}

/// The direction of a mean force: a vertical of length 1.
#[must_use]
pub fn direction(taken: &Taken) -> BladeVector {
    let (mean, norm) = (taken.steady.mean, taken.steady.mean.norm());
    BladeVector { span: mean.span / norm, chord: mean.chord / norm, normal: mean.normal / norm }
}

/// How well one reading is known, as the sensor sits there.
#[must_use]
pub fn uncertainty(taken: &Taken, seating: Seating) -> Angle {
    taken.steady.repeat.hypot(seating.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::test_kit::{instrument, taken};
    use crate::rig::noise::Random;
    use crate::rotor::up_from_reading;
    use crate::sensor::reseat::Reseat;
    use crate::stats::moments::standard_deviation;
    use crate::uncertainty::Freedom;

    /// Many reversals of a sensor that is 0.4° off, put down each time with an error of `seat` degrees and read with a
    /// scatter of 0.01°: how the errors found scatter, and what each claims of itself.
    fn reversals(seat: f64, seating: Seating) -> (f64, f64) {
        let mut random = Random::new(11);
        let mut errors = Vec::new();
        let mut claimed = 0.0;
        for _ in 0..4000 {
            let mut read = |slope: f64| {
                let off = seat * random.normal() + 0.01 * random.normal();
                taken(up_from_reading(Angle::from_degrees(0.4 + slope + off), Angle::ZERO))
            };
            let (first, second) = (read(0.7), read(-0.7));
            let Datum::Reversal { instrument, u, .. } = reversal(&first, &second, seating).unwrap() else {
                panic!("a reversal makes a reversal")
            };
            errors.push(instrument.chord.degrees() - 0.4);
            claimed = u.degrees();
        }
        (standard_deviation(&errors).unwrap(), claimed)
    }

    #[test]
    fn a_reversal_scatters_as_it_says_on_a_surface_and_on_a_blade() {
        let mut clip = instrument();
        for (seat, seating) in [
            (0.05, Seating::on_a_surface()),
            // The stated default of a clip.
            (0.1, Seating::on_a_blade(&clip)),
        ] {
            let (scatter, claimed) = reversals(seat, seating);
            assert!((scatter / claimed - 1.0).abs() < 0.05, "{scatter} against {claimed}");
        }
        clip.reseat = Some(Reseat {
            u: Angle::from_degrees(0.3),
            freedom: Freedom::new(9.0),
            scatter_deg: Angle::from_degrees(0.3),
            repeat_deg: Angle::from_degrees(0.01),
            stands_out: true,
            seatings: 10,
            blades: 1,
        });
        let (scatter, claimed) = reversals(0.3, Seating::on_a_blade(&clip));
        assert!((scatter / claimed - 1.0).abs() < 0.05, "{scatter} against {claimed}");
    }
}
