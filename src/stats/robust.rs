//! Median and median absolute deviation: location and scatter that a stray reading cannot pull.
//!
//! Plain numbers. The factor 1.4826 makes the median absolute deviation of normal readings their standard deviation
//! (Hampel 1974; Rousseeuw and Croux 1993). Values that are no numbers sort to the end.

/// Scale of the median absolute deviation that gives the standard deviation of normal readings: 1/Φ⁻¹(3/4).
pub const NORMAL_CONSISTENCY: f64 = 1.482_602_218_505_602;

/// The median, with the values rearranged on the way; `None` of nothing.
#[must_use]
pub fn median(values: &mut [f64]) -> Option<f64> {
    let n = values.len();
    if n == 0 {
        return None;
    }
    let (below, middle, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    let upper = *middle;
    if n % 2 == 1 {
        return Some(upper);
    }
    let lower = below.iter().copied().max_by(f64::total_cmp)?;
    Some(lower + (upper - lower) / 2.0)
}

/// The median of values that come one by one.
#[must_use]
pub fn median_of(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    median(&mut values.into_iter().collect::<Vec<f64>>())
}

/// The median absolute deviation from the median, not scaled; the values are overwritten by their deviations.
#[must_use]
pub fn median_absolute_deviation(values: &mut [f64]) -> Option<f64> {
    let middle = median(values)?;
    for value in values.iter_mut() {
        *value = (*value - middle).abs();
    }
    median(values)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_odd_and_even_rows() {
        assert_eq!(median(&mut [3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&mut [4.0, 1.0, 3.0, 2.0]), Some(2.5));
        assert_eq!(median(&mut []), None);
    }

    #[test]
    fn one_stray_reading_moves_neither() {
        let mut calm = [1.0, 1.1, 0.9, 1.05, 0.95];
        let mut stray = [1.0, 1.1, 0.9, 1.05, 1e9];
        assert!((median(&mut stray.clone()).unwrap() - 1.05).abs() < 1e-12);
        assert!(median_absolute_deviation(&mut stray).unwrap() < 0.11);
        assert!((median_absolute_deviation(&mut calm).unwrap() - 0.05).abs() < 1e-12);
    }

    #[test]
    fn the_scale_is_that_of_the_normal_distribution() {
        // Three quarters of a standard normal variable lie below 0.674 489 750 196 (standard tables).
        assert!((NORMAL_CONSISTENCY * 0.674_489_750_196_082 - 1.0).abs() < 1e-12);
    }
}
