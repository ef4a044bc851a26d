//! The chart of individuals and moving ranges: whether a row of single values varies as it always did.
//!
//! With R̄ the mean of the ranges of two neighbours, the limits of the values are x̄ ± 3·R̄/d₂ and the upper limit of the
//! ranges is D₄·R̄, with d₂ = 1.128 and D₄ = 3.267 for ranges of two. [NIST/SEMATECH e-Handbook of Statistical Methods,
//! 6.3.2.2]
//!
//! It takes the values as independent and their scatter as of one kind. Of few values the limits are themselves in doubt:
//! under eight they are provisional. [common practice, no source]

use super::moments::mean;

/// d₂ of ranges of two normal values: 2/√π.
const D2: f64 = 1.128;
/// D₄ of ranges of two.
const D4: f64 = 3.267;
/// So many values in a row on one side of the centre line are no chance.
const RUN: usize = 8;
/// With fewer values the limits are provisional.
const FEW: usize = 8;

/// A point that does not fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Signal {
    /// The value lies outside the limits.
    Outside,
    /// It differs from the one before by more than neighbours do.
    Jump,
    /// It is the eighth or a later one in a row on one side of the centre line.
    Run,
}

/// The chart of a row of values.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlChart {
    /// Mean of the values.
    pub centre: f64,
    /// Lower and upper limit of the values.
    pub limits: (f64, f64),
    /// Mean range of two neighbours.
    pub mean_range: f64,
    /// Upper limit of the ranges.
    pub range_limit: f64,
    /// Which values signal something, by their place, and what.
    pub signals: Vec<(usize, Signal)>,
    /// Whether there are too few values for limits to rely on.
    pub provisional: bool,
}

impl ControlChart {
    /// The chart of these values in order of time; `None` under two, or where one is no number.
    #[must_use]
    pub fn of(values: &[f64]) -> Option<Self> {
        if values.len() < 2 || !values.iter().all(|value| value.is_finite()) {
            return None;
        }
        let ranges: Vec<f64> = values.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
        let (centre, mean_range) = (mean(values)?, mean(&ranges)?);
        let reach = 3.0 * mean_range / D2;
        let (low, high) = (centre - reach, centre + reach);
        let range_limit = D4 * mean_range;
        let outside =
            values.iter().enumerate().filter(|(_, v)| !(low..=high).contains(*v)).map(|(k, _)| (k, Signal::Outside));
        let jumps = ranges.iter().enumerate().filter(|(_, r)| **r > range_limit).map(|(k, _)| (k + 1, Signal::Jump));
        let mut signals: Vec<(usize, Signal)> = outside.chain(jumps).chain(runs(values, centre)).collect();
        signals.sort_by_key(|(place, _)| *place);
        Some(Self { centre, limits: (low, high), mean_range, range_limit, signals, provisional: values.len() < FEW })
    }
}

/// The places at which the values have been on one side of the centre line for eight or more in a row.
fn runs(values: &[f64], centre: f64) -> Vec<(usize, Signal)> {
    let mut found = Vec::new();
    let (mut side, mut length) = (0.0, 0);
    for (place, value) in values.iter().enumerate() {
        let now = if *value == centre { 0.0 } else { (value - centre).signum() };
        length = if now != 0.0 && now == side { length + 1 } else { usize::from(now != 0.0) };
        side = now;
        if length >= RUN {
            found.push((place, Signal::Run));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64, digits: f64) {
        assert!((got - want).abs() <= digits, "{got} instead of {want}");
    }

    /// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, flow rates of ten batches and their printed limits.
    #[test]
    fn agrees_with_the_worked_example_of_the_handbook() {
        let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
        let chart = ControlChart::of(&flow).unwrap();
        near(chart.mean_range, 1.8778, 5e-5);
        near(chart.centre, 50.81, 1e-9);
        near(chart.limits.1, 55.8041, 1e-4);
        near(chart.limits.0, 45.8159, 1e-4);
        // The ranges' own limit, D₄·R̄ with D₄ = 3.267 (ibid., 6.3.2.2, from memory).
        near(chart.range_limit, 6.135, 5e-4);
        assert!(chart.signals.is_empty() && !chart.provisional, "{chart:?}");
    }

    /// T. Pyzdek and P. Keller, The Handbook for Quality Management (2013), table 9.4: samples with their printed ranges,
    /// and E₂ = 2.66 in x̄ ± E₂·R̄.
    #[test]
    fn agrees_with_the_ranges_and_the_factor_of_another_handbook() {
        let samples = [
            110.0, 103.0, 97.0, 96.0, 105.0, 110.0, 100.0, 93.0, 90.0, 103.0, 97.0, 103.0, 90.0, 97.0, 99.0, 106.0,
            90.0, 96.0, 109.0, 90.0, 91.0, 108.0, 96.0, 101.0, 96.0,
        ];
        let printed = [
            7.0, 6.0, 1.0, 9.0, 5.0, 10.0, 7.0, 3.0, 13.0, 6.0, 6.0, 13.0, 7.0, 2.0, 7.0, 16.0, 6.0, 13.0, 19.0, 1.0,
            17.0, 12.0, 5.0, 5.0,
        ];
        let chart = ControlChart::of(&samples).unwrap();
        near(chart.mean_range, printed.iter().sum::<f64>() / 24.0, 1e-12);
        near((chart.limits.1 - chart.centre) / chart.mean_range, 2.66, 0.001);
    }

    #[test]
    fn a_value_outside_a_jump_and_a_run_signal() {
        let mut values = vec![0.0, 0.1, -0.1, 0.05, -0.05, 0.1, 0.0, -0.1, 0.1, 0.0];
        values.push(2.0);
        let chart = ControlChart::of(&values).unwrap();
        assert!(
            chart.signals.contains(&(10, Signal::Outside)) && chart.signals.contains(&(10, Signal::Jump)),
            "{chart:?}"
        );
        // Half a degree lower for good: the last of eight on one side.
        let settled: Vec<f64> =
            (0..16).map(|k| if k < 8 { 0.5 } else { 0.0 } + if k % 2 == 0 { 0.2 } else { -0.2 }).collect();
        let chart = ControlChart::of(&settled).unwrap();
        assert_eq!(chart.signals, [(7, Signal::Run), (15, Signal::Run)]);
    }

    #[test]
    fn too_little_is_no_chart_and_little_is_a_provisional_one() {
        assert_eq!(ControlChart::of(&[1.0]), None);
        assert_eq!(ControlChart::of(&[1.0, f64::NAN]), None);
        assert!(ControlChart::of(&[1.0, 1.2, 1.1]).unwrap().provisional);
    }
}
