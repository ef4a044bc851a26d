//! From readings end for end to what zero means.

use super::evaluate::seat;
use super::{Instrument, Taken};
use crate::rotor::{Datum, DatumError};
use crate::units::{Angle, BladeVector};

/// How well a sensor lies on a surface it was put on by hand, one standard uncertainty. [common practice, no source]
const ON_A_SURFACE: Angle = Angle::from_radians(0.05 * std::f64::consts::PI / 180.0);

/// More than so many standard uncertainties are no chance: once in 400.
const SURELY: f64 = 3.0;

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

/// Why three rests are no reversal.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ReversalError {
    /// The first two were not read end for end.
    #[error(transparent)]
    Datum(#[from] DatumError),
    /// The third does not agree with the first: it lies otherwise, or the sensor has drifted.
    #[error("off by {off}")]
    NotBack {
        /// By how much it reads otherwise.
        off: Angle,
    },
}

/// The same with a third rest as the first lay, which closes the loop: a drift that goes on steadily drops out, and shows in
/// what the third reads otherwise than the first. That is given too.
///
/// # Errors
/// When the first two were not read end for end, or the third does not agree with the first within what seats and scatter
/// leave open.
pub fn closed_reversal(
    first: &Taken,
    second: &Taken,
    third: &Taken,
    seating: Seating,
) -> Result<(Datum, Angle), ReversalError> {
    let [u_first, u_second, u_third] = [first, second, third].map(|taken| uncertainty(taken, seating));
    let (one, three) = (direction(first), direction(third));
    let off = (three.apparent_pitch() - one.apparent_pitch()).wrapped();
    if off.abs() > u_first.hypot(u_third) * SURELY {
        return Err(ReversalError::NotBack { off });
    }
    let ends = BladeVector {
        span: (one.span + three.span) / 2.0,
        chord: (one.chord + three.chord) / 2.0,
        normal: (one.normal + three.normal) / 2.0,
    };
    let u_ends = u_first.hypot(u_third) / 2.0;
    let u = u_ends.hypot(u_second) / std::f64::consts::SQRT_2;
    Ok((Datum::reversal(ends, direction(second), u)?, off))
}

/// Whether two rests end for end read the same within what seats and scatter leave open: then the surface is as level as
/// that, or nobody has turned the sensor.
#[must_use]
pub fn reads_the_same(first: &Taken, second: &Taken, seating: Seating) -> bool {
    let (one, two) = (direction(first), direction(second));
    let reach = uncertainty(first, seating).hypot(uncertainty(second, seating)) * SURELY;
    (two.apparent_pitch() - one.apparent_pitch()).wrapped().abs() < reach
        && (two.span_inclination() - one.span_inclination()).abs() < reach
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

    fn lying(chord: f64, span: f64) -> Taken {
        taken(up_from_reading(Angle::from_degrees(chord), Angle::from_degrees(span)))
    }

    #[test]
    fn a_third_rest_closes_the_loop_and_takes_a_steady_drift_out() {
        let on_a_table = Seating::on_a_surface();
        // 0.4° off on a surface of 0.7°; 0.06° of drift from rest to rest.
        let drifting = [1.1, -0.24, 1.22].map(|read| lying(read, 0.0));
        let [first, second, third] = &drifting;
        let (datum, off) = closed_reversal(first, second, third, on_a_table).unwrap();
        let Datum::Reversal { instrument, slope, u } = datum else { panic!("a reversal makes a reversal") };
        assert!((off.degrees() - 0.12).abs() < 1e-6, "{off}");
        // At the time of the second rest.
        assert!((instrument.chord.degrees() - 0.46).abs() < 1e-3 && (slope.degrees() - 0.7).abs() < 1e-3, "{datum:?}");
        assert!(u < uncertainty(first, on_a_table), "three rests are better than one");
        // Put back the wrong way round, or gone far.
        let refused = closed_reversal(first, second, second, on_a_table).unwrap_err();
        assert!(matches!(refused, ReversalError::NotBack { off } if (off.degrees() + 1.34).abs() < 1e-6), "{refused}");
    }

    #[test]
    fn a_sensor_that_was_not_turned_reads_the_same_and_one_that_was_does_not() {
        let on_a_table = Seating::on_a_surface();
        let first = lying(1.1, 0.3);
        assert!(reads_the_same(&first, &lying(1.15, 0.28), on_a_table));
        // The surface slopes along the chord, or along the span.
        assert!(!reads_the_same(&first, &lying(-0.3, 0.3), on_a_table));
        assert!(!reads_the_same(&first, &lying(1.1, -0.5), on_a_table));
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
