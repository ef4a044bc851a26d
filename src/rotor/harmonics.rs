//! Pitch round the turn as a mean and harmonics: θ = a₀ + Σ aₕ·cos(hψ) + bₕ·sin(hψ).
//!
//! Least squares over readings at any azimuths. At equal spacing it is the Fourier sum; at unequal spacing that sum is
//! wrong and this is not. With the present-day form θ = θ0 + θ1c·cosψ + θ1s·sinψ, a₁ is θ1c and b₁ is θ1s; the
//! older A1/B1 have the opposite sign. Amplitude √(a² + b²), phase atan2(b, a): the azimuth of the greatest pitch.

use crate::stats::least_squares::{LeastSquaresError, least_squares};
use crate::units::Angle;
use nalgebra::{DMatrix, DVector};

/// One harmonic of a fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Harmonic {
    /// The part with cos(hψ).
    pub cos: Angle,
    /// The part with sin(hψ).
    pub sin: Angle,
    /// Standard errors of the two; `None` where no reading is left over.
    pub standard_errors: Option<(Angle, Angle)>,
}

impl Harmonic {
    /// Amplitude, never negative.
    #[must_use]
    pub fn amplitude(self) -> Angle {
        self.cos.hypot(self.sin)
    }

    /// Phase within ±180°: for the first harmonic the azimuth of the greatest pitch.
    #[must_use]
    pub fn phase(self) -> Angle {
        Angle::atan2(self.sin.radians(), self.cos.radians())
    }
}

/// A mean and harmonics.
#[derive(Debug, Clone, PartialEq)]
pub struct HarmonicFit {
    /// Mean over the turn.
    pub mean: Angle,
    /// Its standard error; `None` where no reading is left over.
    pub mean_standard_error: Option<Angle>,
    /// The harmonics from the first on.
    pub harmonics: Vec<Harmonic>,
    /// Standard deviation of the residuals; `None` where no reading is left over.
    pub residual_sd: Option<Angle>,
    /// Readings less unknowns.
    pub degrees_of_freedom: usize,
}

/// Fits so many harmonics to pitch read at azimuths.
///
/// # Errors
/// Too few readings (one mean and two unknowns a harmonic), or azimuths that do not tell the harmonics apart.
pub fn fit_harmonics(readings: &[(Angle, Angle)], harmonics: usize) -> Result<HarmonicFit, LeastSquaresError> {
    let unknowns = 1 + 2 * harmonics;
    // Columns: 1, cosψ, sinψ, cos2ψ, sin2ψ …
    let design = DMatrix::from_fn(readings.len(), unknowns, |i, j| {
        let turned = readings[i].0 * j.div_ceil(2) as f64;
        if j > 0 && j % 2 == 0 { turned.sin() } else { turned.cos() }
    });
    let observed = DVector::from_iterator(readings.len(), readings.iter().map(|r| r.1.radians()));
    let fit = least_squares(&design, &observed)?;
    let errors = fit.standard_errors();
    let value = |j: usize| Angle::from_radians(fit.coefficients[j]);
    let error = |j: usize| errors.as_ref().map(|e| Angle::from_radians(e[j]));
    let harmonic = |h: usize| Harmonic {
        cos: value(2 * h - 1),
        sin: value(2 * h),
        standard_errors: error(2 * h - 1).zip(error(2 * h)),
    };
    Ok(HarmonicFit {
        mean: value(0),
        mean_standard_error: error(0),
        harmonics: (1..=harmonics).map(harmonic).collect(),
        residual_sd: fit.residual_sd().map(Angle::from_radians),
        degrees_of_freedom: fit.degrees_of_freedom,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn numbers(value: &Value) -> Vec<f64> {
        let number = |v: &Value| v.as_f64().or_else(|| v.as_str().and_then(|s| s.parse().ok())).unwrap();
        value.as_array().unwrap().iter().map(number).collect()
    }

    /// Made-up readings fitted in 40-digit arithmetic, at equal and at unequal spacing.
    #[test]
    fn agrees_with_a_fit_in_forty_digits() {
        let all: Value = serde_json::from_str(include_str!("../../tests/reference/harmonic_fit.json")).unwrap();
        let cases = all["cases"].as_array().unwrap();
        assert_eq!(cases.len(), 3);
        let mut worst = 0.0f64;
        for case in cases {
            let readings: Vec<(Angle, Angle)> = numbers(&case["psi_deg"])
                .into_iter()
                .zip(numbers(&case["y"]))
                .map(|(psi, y)| (Angle::from_degrees(psi), Angle::from_degrees(y)))
                .collect();
            let fit = fit_harmonics(&readings, case["harmonics"].as_u64().unwrap() as usize).unwrap();
            let mut found = vec![fit.mean.degrees()];
            let mut errors = vec![fit.mean_standard_error.unwrap().degrees()];
            for harmonic in &fit.harmonics {
                found.extend([harmonic.cos.degrees(), harmonic.sin.degrees()]);
                let (cos, sin) = harmonic.standard_errors.unwrap();
                errors.extend([cos.degrees(), sin.degrees()]);
            }
            let single = |key: &str| case[key].as_str().unwrap().parse::<f64>().unwrap();
            found.extend([fit.harmonics[0].amplitude().degrees(), fit.harmonics[0].phase().degrees()]);
            errors.push(fit.residual_sd.unwrap().degrees());
            let mut wanted = numbers(&case["coef"]);
            wanted.extend([single("amp1"), single("phase1_deg")]);
            let mut wanted_errors = numbers(&case["se"]);
            wanted_errors.push(single("residual_sd"));
            assert_eq!((found.len(), errors.len()), (wanted.len(), wanted_errors.len()));
            for (found, wanted) in found.iter().chain(&errors).zip(wanted.iter().chain(&wanted_errors)) {
                worst = worst.max((found / wanted - 1.0).abs());
            }
        }
        println!("harmonics against 40 digits: {worst:.1e} relative at most");
        assert!(worst < 1e-11, "{worst:e}");
    }

    #[test]
    fn two_readings_make_no_harmonic() {
        let readings = [(Angle::ZERO, Angle::ZERO), (Angle::from_degrees(90.0), Angle::ZERO)];
        assert!(matches!(fit_harmonics(&readings, 1), Err(LeastSquaresError::TooFew { .. })));
    }
}
