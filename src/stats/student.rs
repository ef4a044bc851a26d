//! Student's t: by what factor a standard uncertainty from few readings has to be widened.
//!
//! Quantities are plain numbers. The quantile is that of the t distribution with ν degrees of freedom; from ν = 30 on it
//! comes from the expansion about the normal quantile z (Abramowitz and Stegun 1964, 26.7.5; the fifth
//! term is that of Fisher and Cornish 1960, Technometrics 2, 209–225, from memory),
//!
//!   t = z + (z³ + z)/4ν + (5z⁵ + 16z³ + 3z)/96ν² + (3z⁷ + 19z⁵ + 17z³ − 15z)/384ν³
//!         + (79z⁹ + 776z⁷ + 1482z⁵ − 1920z³ − 945z)/92160ν⁴
//!         + (27z¹¹ + 339z⁹ + 930z⁷ − 1782z⁵ − 765z³ + 17955z)/368640ν⁵,
//!
//! which is as close there as a root finder on the distribution function, and a hundred times as quick: every look at a
//! still blade asks for one. Fewer than one degree of freedom is an error, not a large number.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};
use std::f64::consts::FRAC_1_SQRT_2;

/// Why there is no such factor.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum StudentError {
    /// Fewer than one degree of freedom, or not a number.
    #[error("too little freedom: {0}")]
    TooFewDegreesOfFreedom(f64),
    /// A probability outside the open interval from 0 to 1.
    #[error("no probability: {0}")]
    NoProbability(f64),
}

/// From so many degrees of freedom on the expansion is good to 10⁻⁷, up to this normal quantile.
const EXPANSION_FROM: f64 = 30.0;
const EXPANSION_UP_TO: f64 = 3.1;
/// From so many on it is for any.
const NEARLY_NORMAL: f64 = 1e4;

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
    if degrees_of_freedom >= EXPANSION_FROM {
        let z = Normal::standard().inverse_cdf(probability);
        if z.abs() <= EXPANSION_UP_TO || degrees_of_freedom > NEARLY_NORMAL {
            return Ok(near_normal(z, degrees_of_freedom));
        }
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

fn near_normal(z: f64, degrees_of_freedom: f64) -> f64 {
    let square = z * z;
    let odd = |coefficients: &[f64]| z * coefficients.iter().fold(0.0, |sum, next| sum * square + next);
    let each = [
        odd(&[1.0, 1.0]) / 4.0,
        odd(&[5.0, 16.0, 3.0]) / 96.0,
        odd(&[3.0, 19.0, 17.0, -15.0]) / 384.0,
        odd(&[79.0, 776.0, 1482.0, -1920.0, -945.0]) / 92_160.0,
        odd(&[27.0, 339.0, 930.0, -1782.0, -765.0, 17_955.0]) / 368_640.0,
    ];
    z + each.iter().rev().fold(0.0, |sum, next| (sum + next) / degrees_of_freedom)
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
        for degrees in [30.0, 31.5, 47.0, 120.0, 3000.0] {
            for probability in [0.6, 0.9, 0.975, 0.977_249_868, 0.998_650_102] {
                let exact = StudentsT::new(0.0, 1.0, degrees).unwrap().inverse_cdf(probability);
                let ours = quantile(probability, degrees).unwrap();
                assert!((exact - ours).abs() < 1e-7, "ν {degrees} p {probability}: {exact} {ours}");
                assert!((quantile(1.0 - probability, degrees).unwrap() + ours).abs() < 1e-9, "it is even");
            }
        }
        // Beyond what the expansion is good for.
        let exact = StudentsT::new(0.0, 1.0, 40.0).unwrap().inverse_cdf(0.999_99);
        assert!((quantile(0.999_99, 40.0).unwrap() - exact).abs() < 1e-9);
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
