//! Student's t: by what factor a standard uncertainty from few readings has to be widened.
//!
//! Quantities are plain numbers. The quantile is that of the t distribution with ν degrees of freedom; above
//! ν = 10 000 it comes from the first two terms of its expansion about the normal quantile z,
//! t = z + (z³ + z)/4ν + (5z⁵ + 16z³ + 3z)/96ν² (Abramowitz and Stegun 1964, 26.7.5), which is closer there than
//! a root finder on the distribution function. Fewer than one degree of freedom is an error, not a large number.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};
use std::f64::consts::FRAC_1_SQRT_2;

/// Why there is no such factor.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum StudentError {
    /// Fewer than one degree of freedom, or not a number.
    #[error(
        "{0} degrees of freedom are too few to say how uncertain a mean is: take at least two independent readings"
    )]
    TooFewDegreesOfFreedom(f64),
    /// A probability outside the open interval from 0 to 1.
    #[error("{0} is no probability between 0 and 1")]
    NoProbability(f64),
}

const EXPANSION_FROM: f64 = 1e4;

/// The value that a variable of Student's distribution with `degrees_of_freedom` stays below with `probability`.
///
/// `degrees_of_freedom` may be fractional or infinite (then it is the normal quantile).
///
/// # Errors
/// With fewer than one degree of freedom, NaN, or a probability outside (0, 1).
pub fn quantile(probability: f64, degrees_of_freedom: f64) -> Result<f64, StudentError> {
    if !(probability > 0.0 && probability < 1.0) {
        return Err(StudentError::NoProbability(probability));
    }
    if degrees_of_freedom.is_nan() || degrees_of_freedom < 1.0 {
        return Err(StudentError::TooFewDegreesOfFreedom(degrees_of_freedom));
    }
    if degrees_of_freedom > EXPANSION_FROM {
        return Ok(near_normal(probability, degrees_of_freedom));
    }
    match StudentsT::new(0.0, 1.0, degrees_of_freedom) {
        Ok(distribution) => Ok(distribution.inverse_cdf(probability)),
        Err(_) => Err(StudentError::TooFewDegreesOfFreedom(degrees_of_freedom)),
    }
}

/// The factor k by which a standard uncertainty is multiplied so that value ± k·u covers the share `coverage`
/// (0.95 for the usual 95 %).
///
/// # Errors
/// As [`quantile`].
pub fn coverage_factor(coverage: f64, degrees_of_freedom: f64) -> Result<f64, StudentError> {
    if !(coverage > 0.0 && coverage < 1.0) {
        return Err(StudentError::NoProbability(coverage));
    }
    quantile(0.5 + coverage / 2.0, degrees_of_freedom)
}

/// The share of a normal distribution within ± `deviations` standard deviations.
#[must_use]
pub fn normal_share_within(deviations: f64) -> f64 {
    statrs::function::erf::erf(deviations.abs() * FRAC_1_SQRT_2)
}

fn near_normal(probability: f64, degrees_of_freedom: f64) -> f64 {
    let z = Normal::standard().inverse_cdf(probability);
    let first = (z.powi(3) + z) / 4.0;
    let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
    z + first / degrees_of_freedom + second / (degrees_of_freedom * degrees_of_freedom)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 100:2008, table G.2: t for the share p of the distribution within ± t, printed with two decimals.
    const TABLE_G2: &str = include_str!("../../tests/reference/gum_table_g2.csv");

    #[test]
    fn agrees_with_table_g2_of_the_guide() {
        let mut rows = TABLE_G2.lines();
        let shares: Vec<f64> =
            rows.next().unwrap().split(',').skip(1).map(|name| name[1..].parse::<f64>().unwrap() / 100.0).collect();
        let mut checked = 0;
        for row in rows {
            let mut cells = row.split(',');
            let degrees: f64 = match cells.next().unwrap() {
                "inf" => f64::INFINITY,
                number => number.parse().unwrap(),
            };
            for (share, printed) in shares.iter().zip(cells) {
                // The guide's 68.27, 95.45 and 99.73 stand for 1, 2 and 3 standard deviations.
                let share = match share {
                    s if (s - 0.6827).abs() < 1e-9 => normal_share_within(1.0),
                    s if (s - 0.9545).abs() < 1e-9 => normal_share_within(2.0),
                    s if (s - 0.9973).abs() < 1e-9 => normal_share_within(3.0),
                    s => *s,
                };
                let printed: f64 = printed.parse().unwrap();
                let factor = coverage_factor(share, degrees).unwrap();
                // One cell of the print (35, 90 %) is off by one in its last digit.
                let last_digit = if degrees == 35.0 { 0.0105 } else { 0.0051 };
                assert!((factor - printed).abs() < last_digit, "ν {degrees} p {share}: {factor} against {printed}");
                checked += 1;
            }
        }
        assert_eq!(checked, 168);
    }

    #[test]
    fn goes_over_to_the_normal_distribution_without_a_step() {
        let below = quantile(0.975, 9_999.0).unwrap();
        let above = quantile(0.975, 10_001.0).unwrap();
        assert!((below - above).abs() < 1e-6, "{below} {above}");
        // Normal quantile for 97.5 %: 1.959 963 984 540 054 (standard tables).
        for degrees in [1e9, f64::INFINITY] {
            assert!((quantile(0.975, degrees).unwrap() - 1.959_963_984_540_054).abs() < 1e-8, "{degrees}");
        }
    }

    #[test]
    fn refuses_what_has_no_answer() {
        for degrees in [0.0, 0.99, -3.0, f64::NAN] {
            assert!(matches!(quantile(0.975, degrees), Err(StudentError::TooFewDegreesOfFreedom(_))), "{degrees}");
        }
        for probability in [0.0, 1.0, -0.1, 1.5, f64::NAN] {
            assert!(matches!(quantile(probability, 5.0), Err(StudentError::NoProbability(_))), "{probability}");
        }
    }
}
