//! How much neighbouring readings resemble each other, and how many independent ones they are worth.
//!
//! Plain numbers. The autocorrelation at lag k is Σ(xᵢ − x̄)(xᵢ₊ₖ − x̄) / Σ(xᵢ − x̄)², with the mean of all values
//! (NIST/SEMATECH e-Handbook 1.3.5.12). The variance of a mean of n readings is σ²/n·(1 + 2Σ(1 − k/n)ρₖ)
//! (Priestley 1981, 5.3.2), so that they are worth n_eff = n / (1 + 2Σ(1 − k/n)ρₖ) independent ones. The sum is cut by
//! Geyer's initial positive sequence (Statistical Science 7 (1992) 473–483): at the first pair ρ₂ₘ + ρ₂ₘ₊₁ that is
//! not positive. The result is never above n: fewer than that many readings can hardly prove that noise alternates.

use super::moments::mean;

/// The autocorrelation at `lag`; `None` when there are not more values than the lag or they do not vary.
#[must_use]
pub fn autocorrelation(values: &[f64], lag: usize) -> Option<f64> {
    let centred = centred(values)?;
    let squares: f64 = centred.iter().map(|value| value * value).sum();
    if lag >= values.len() || squares <= 0.0 {
        return None;
    }
    Some(lagged(&centred, lag) / squares)
}

/// The autocorrelations at the lags 1 to `LAGS`, in one pass; zero at lags that the values are too few for, `None` when they do
/// not vary.
#[must_use]
pub fn first_autocorrelations<const LAGS: usize>(values: &[f64]) -> Option<[f64; LAGS]> {
    let centred = centred(values)?;
    let squares: f64 = centred.iter().map(|value| value * value).sum();
    if squares <= 0.0 {
        return None;
    }
    // The lags' sums do not wait for each other.
    let mut sums = [0.0; LAGS];
    for neighbours in centred.windows(LAGS + 1) {
        let (first, later) = neighbours.split_first()?;
        for (sum, value) in sums.iter_mut().zip(later) {
            *sum += first * value;
        }
    }
    // The last few values have not all of those neighbours.
    let last = centred.get(centred.len().saturating_sub(LAGS)..)?;
    for (at, first) in last.iter().enumerate() {
        for (sum, value) in sums.iter_mut().zip(last.iter().skip(at + 1)) {
            *sum += first * value;
        }
    }
    Some(sums.map(|sum| sum / squares))
}

/// The autocorrelation at lag 1 by the definition of NIST.
#[must_use]
pub fn lag_one(values: &[f64]) -> Option<f64> {
    autocorrelation(values, 1)
}

/// The number of independent readings that the values are worth for their mean: between 1 and n.
///
/// A row that does not vary counts as n; an empty one as 0.
#[must_use]
pub fn effective_number(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    (n / inflation(values, values.len())).clamp(values.len().min(1) as f64, n)
}

/// By what factor correlation inflates the variance of a mean of `length` such readings, at least 1.
///
/// The correlation is learned from `values`, which may be a longer row than the one that is averaged.
#[must_use]
pub fn inflation(values: &[f64], length: usize) -> f64 {
    let Some(centred) = centred(values) else { return 1.0 };
    let squares: f64 = centred.iter().map(|value| value * value).sum();
    if squares.is_nan() || squares <= 0.0 {
        return 1.0;
    }
    let rho = |lag: usize| if lag < centred.len() { lagged(&centred, lag) / squares } else { 0.0 };
    let taper = |lag: usize| (1.0 - lag as f64 / length.max(1) as f64).max(0.0);
    let mut sum = -1.0; // the pairs start at lag 0, whose own correlation is 1 and counts once
    let mut lag = 0;
    while lag + 1 < centred.len() {
        let pair = rho(lag) + rho(lag + 1);
        if pair <= 0.0 {
            break;
        }
        sum += 2.0 * (taper(lag) * rho(lag) + taper(lag + 1) * rho(lag + 1));
        lag += 2;
    }
    sum.max(1.0)
}

fn centred(values: &[f64]) -> Option<Vec<f64>> {
    let mean = mean(values)?;
    Some(values.iter().map(|value| value - mean).collect())
}

fn lagged(centred: &[f64], lag: usize) -> f64 {
    centred.iter().zip(centred.iter().skip(lag)).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::univariate_sets;

    #[test]
    fn many_lags_at_once_are_each_of_them() {
        for set in univariate_sets() {
            for values in [&set.values[..], &set.values[..3]] {
                let each = |lag: usize| autocorrelation(values, lag + 1).unwrap_or_default();
                let many = first_autocorrelations::<8>(values).unwrap_or_default();
                assert_eq!(many, std::array::from_fn(each), "{}", set.name);
            }
        }
        assert_eq!(first_autocorrelations::<2>(&[1.0, 1.0, 1.0]), None);
    }

    #[test]
    fn lag_one_agrees_with_the_certified_values_of_nist() {
        for set in univariate_sets() {
            let lag1 = lag_one(&set.values).unwrap();
            let reachable = if set.name == "NumAcc4" { 1e-10 } else { 1e-12 };
            assert!((lag1 - set.lag1).abs() < reachable, "{}: {lag1} against {}", set.name, set.lag1);
        }
    }

    /// A first-order autoregression without noise of its own generator: deterministic, from a congruential generator.
    fn autoregression(n: usize, coefficient: f64) -> Vec<f64> {
        let mut state = 12345_u64;
        let mut uniform = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
        };
        let mut value = 0.0;
        (0..n)
            .map(|_| {
                value = coefficient * value + uniform();
                value
            })
            .collect()
    }

    #[test]
    fn an_autoregression_is_worth_what_theory_says() {
        // n_eff/n of a first-order autoregression tends to (1 − a)/(1 + a) (Priestley 1981, 5.3.2).
        for coefficient in [0.3, 0.7, 0.9] {
            let values = autoregression(40_000, coefficient);
            let share = effective_number(&values) / values.len() as f64;
            let theory = (1.0 - coefficient) / (1.0 + coefficient);
            assert!((share / theory - 1.0).abs() < 0.15, "{coefficient}: {share} against {theory}");
        }
    }

    #[test]
    fn is_never_above_the_number_of_readings() {
        let alternating: Vec<f64> = (0..100).map(|i| f64::from(i % 2)).collect();
        assert_eq!(effective_number(&alternating), 100.0);
        assert_eq!(effective_number(&[1.0; 20]), 20.0);
        assert_eq!(effective_number(&[]), 0.0);
        assert_eq!(effective_number(&[5.0]), 1.0);
    }
}
