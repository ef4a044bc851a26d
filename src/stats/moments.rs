//! Mean and standard deviation of a row of readings.
//!
//! Plain numbers, in whatever unit the readings have. Two passes: near 1 g with 1 µg of scatter, Σx² − n·x̄² would
//! keep three or four digits. The standard deviation is the experimental one, with n − 1 below the sum
//! (JCGM 100:2008, 4.2.2).

/// The arithmetic mean; `None` of nothing.
#[must_use]
pub fn mean(values: &[f64]) -> Option<f64> {
    let first = *values.first()?;
    // Sums about the first value keep the digits that a large common offset would cost.
    let rest: f64 = values.iter().map(|value| value - first).sum();
    Some(first + rest / values.len() as f64)
}

/// The experimental standard deviation, with n − 1 below the sum; `None` with fewer than two values.
#[must_use]
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let mean = mean(values)?;
    let (mut squares, mut left) = (0.0, 0.0);
    for value in values {
        squares += (value - mean).powi(2);
        // What rounding of the mean left behind (Chan, Golub and LeVeque 1983, corrected two-pass).
        left += value - mean;
    }
    let n = values.len() as f64;
    Some(((squares - left * left / n) / (n - 1.0)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::univariate_sets;

    #[test]
    fn agrees_with_the_certified_values_of_nist() {
        for set in univariate_sets() {
            let mean = mean(&set.values).unwrap();
            let deviation = standard_deviation(&set.values).unwrap();
            assert!((mean / set.mean - 1.0).abs() < 1e-13, "{} mean {mean}", set.name);
            // What double precision can reach on the sets that were made to be hard.
            let reachable = match set.name.as_str() {
                "NumAcc3" => 1e-9,
                "NumAcc4" => 2e-8,
                _ => 1e-12,
            };
            assert!((deviation / set.deviation - 1.0).abs() < reachable, "{} sd {deviation}", set.name);
        }
    }

    #[test]
    fn too_few_values_have_none() {
        assert_eq!(mean(&[]), None);
        assert_eq!(standard_deviation(&[1.0]), None);
    }
}
