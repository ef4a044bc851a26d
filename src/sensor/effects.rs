//! What a calibration's doubt does to one reading, cause by cause, so that readings with one calibration can be
//! compared exactly.
//!
//! Σ = L·Lᵀ splits the covariance of the parameters into independent causes. The reading's *effects* are the columns of
//! J·L: by how much it changes when each cause is off by one standard uncertainty. The effects of a difference are the
//! differences of the effects, and the root of their squares is √((J₁−J₂)Σ(J₁−J₂)ᵀ). [JCGM 100:2008, 5.2.2]
//!
//! L comes from the eigenvectors of Σ, which exist even where Σ is singular (a fit that leaves parameters at zero).

use super::calibration::{Calibration, Covariance, Mounting, PARAMETERS, pitch_sensitivity};
use crate::units::{Angle, BladeVector};
use nalgebra::SymmetricEigen;

/// How often the eigenvalue iteration may turn before the covariance is taken as it stands, without correlations.
const ITERATIONS: usize = 500;

impl Calibration {
    /// The effects on an apparent pitch read while the vertical stood along `up` (axes of the clip, as the sensor gives
    /// it). The last one is how the sensor's axes sit in their case, which turns every pitch alike.
    #[must_use]
    pub fn pitch_effects(&self, up: BladeVector, mounting: Mounting) -> Vec<Angle> {
        let sensitivity = pitch_sensitivity(up, mounting);
        let causes = square_root(&self.covariance);
        (0..PARAMETERS)
            .map(|cause| Angle::from_radians(sensitivity.dot(&causes.column(cause))))
            .chain([self.case_rotation])
            .collect()
    }
}

fn square_root(covariance: &Covariance) -> Covariance {
    let scale = |value: f64| value.max(0.0).sqrt();
    match covariance.iter().all(|value| value.is_finite()).then_some(*covariance) {
        Some(finite) => match SymmetricEigen::try_new(finite, f64::EPSILON, ITERATIONS) {
            Some(eigen) => eigen.eigenvectors * Covariance::from_diagonal(&eigen.eigenvalues.map(scale)),
            None => Covariance::from_diagonal(&finite.diagonal().map(scale)),
        },
        // A covariance that is no number is as good as none known: the prior of a new sensor.
        None => Covariance::from_diagonal(&super::calibration::prior().diagonal().map(scale)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotor::up_from_reading;
    use approx::assert_relative_eq;

    fn root_of_squares(effects: impl Iterator<Item = f64>) -> f64 {
        effects.map(|effect| effect * effect).sum::<f64>().sqrt()
    }

    #[test]
    fn the_effects_of_a_difference_give_its_uncertainty() {
        let mut calibration = Calibration::nominal(16384.0);
        // Correlated and singular: two parameters that are always wrong together.
        calibration.covariance[(0, 4)] = 0.9 * (calibration.covariance[(0, 0)] * calibration.covariance[(4, 4)]).sqrt();
        calibration.covariance[(4, 0)] = calibration.covariance[(0, 4)];
        calibration.covariance[(8, 8)] = 0.0;
        let mounting = Mounting::default();
        let level = up_from_reading(Angle::from_degrees(1.0), Angle::from_degrees(2.0));
        let raised = up_from_reading(Angle::from_degrees(12.0), Angle::from_degrees(2.5));
        let (one, other) = (calibration.pitch_effects(raised, mounting), calibration.pitch_effects(level, mounting));
        let alone = root_of_squares(one.iter().map(|effect| effect.radians()));
        assert_relative_eq!(alone, calibration.u_angle(raised, mounting).radians(), max_relative = 1e-9);
        let difference = root_of_squares(one.iter().zip(&other).map(|(a, b)| (*a - *b).radians()));
        let closed_form = calibration.u_difference(raised, level, mounting).radians();
        assert_relative_eq!(difference, closed_form, max_relative = 1e-9);
        assert!(difference < alone);
    }
}
