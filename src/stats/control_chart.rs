//! The chart of individuals and moving ranges: whether a value differs from those before it.
//!
//! Each value is held against limits from the earlier ones alone (ISO 7870-2, individuals), so that it does not widen the
//! limits that it is held against, and a later value does not move its signal. With R̄ the mean range of two neighbours, the
//! limits of a value are x̄ ± 3·R̄/d₂ and that of its range is D₄·R̄, with d₂ = 1.128 and D₄ = 3.267 for ranges of two.
//! [NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2]
//!
//! Neither is ever tighter than the uncertainty of a difference, √(U² + U²): earlier values that agree by chance prove
//! nothing. Before the fifth value there is no scatter to speak of, and a value is held against the one before it by that
//! uncertainty alone.
//!
//! The value after one that does not fit decides what that was. Where it agrees with it, the level has changed for good, and the
//! chart begins anew there; where it is back with the earlier ones, the one between was a stray and is left out of later limits;
//! otherwise that is how the row scatters. [common practice, no source]
//!
//! It takes the values as independent and their scatter as of one kind. Of few values the limits are themselves in doubt:
//! from fewer than eight they are provisional. [common practice, no source]

use super::moments::mean;

/// d₂ of ranges of two normal values: 2/√π.
const D2: f64 = 1.128;
/// D₄ of ranges of two.
const D4: f64 = 3.267;
/// So many values in a row on one side of the centre line are no chance.
const RUN: usize = 8;
/// From fewer earlier values limits are provisional, and a centre line is too uncertain for runs.
const FEW: usize = 8;
/// From fewer earlier values there are no limits: a value is held against the one before.
const FEWEST: usize = 4;

/// A value and its expanded uncertainty U for 95 %, both in one unit.
pub type Measured = (f64, f64);

/// How a value does not fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Signal {
    /// The value lies outside the limits.
    Outside,
    /// It differs from the one before by more than neighbours do, or by more than the uncertainty of their difference.
    Jump,
    /// It is the eighth or a later one in a row on one side of the centre line.
    Run,
}

/// A value that does not fit, and what it was held against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flag {
    /// Its place in the row.
    pub place: usize,
    /// How it does not fit.
    pub signal: Signal,
    /// What it was held against.
    pub limits: Limits,
}

/// What a value is held against: made of earlier ones alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Mean of the earlier values; with fewer than four of them the value before.
    pub centre: f64,
    /// Lower limit of the value.
    pub low: f64,
    /// Upper limit of the value.
    pub high: f64,
    /// Mean range of two neighbours among the earlier values; `None` of a single one.
    pub mean_range: Option<f64>,
    /// Upper limit of the range from the value before.
    pub range_limit: f64,
    /// How many earlier values they are made of.
    pub earlier: usize,
}

impl Limits {
    /// The limits from these earlier values, at most tightened to `least` on either side of the centre.
    fn of(earlier: &[f64], least: f64) -> Option<Self> {
        let ranges: Vec<f64> = earlier.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
        let mean_range = mean(&ranges);
        let scattered = mean_range.filter(|_| earlier.len() >= FEWEST);
        let centre = if scattered.is_some() { mean(earlier)? } else { *earlier.last()? };
        let reach = scattered.map_or(least, |range| (3.0 * range / D2).max(least));
        let range_limit = scattered.map_or(least, |range| (D4 * range).max(least));
        let (low, high) = (centre - reach, centre + reach);
        Some(Self { centre, low, high, mean_range, range_limit, earlier: earlier.len() })
    }

    /// Whether they come from the uncertainties of two values rather than from the scatter of several.
    #[must_use]
    pub const fn is_of_one_before(&self) -> bool {
        self.earlier < FEWEST
    }

    /// Whether they are of too few values to rely on.
    #[must_use]
    pub const fn is_provisional(&self) -> bool {
        self.earlier < FEW
    }

    fn hold(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}

/// The chart of a row of values.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlChart {
    /// What the newest value was held against.
    pub limits: Limits,
    /// Which values do not fit, in order.
    pub flags: Vec<Flag>,
}

impl ControlChart {
    /// The chart of these values in order of time; `None` under two, or where one is no number.
    #[must_use]
    pub fn of(values: &[Measured]) -> Option<Self> {
        if !values.iter().all(|(value, expanded)| value.is_finite() && expanded.is_finite()) {
            return None;
        }
        let mut row = Row { base: vec![*values.first()?], stray: None, flags: Vec::new() };
        let mut limits = None;
        for (place, pair) in values.windows(2).enumerate() {
            limits = Some(row.take(place + 1, pair[0], pair[1])?);
        }
        Some(Self { limits: limits?, flags: row.flags })
    }

    /// The chart without its first `many` values: a flag keeps its value.
    #[must_use]
    pub fn without_first(mut self, many: usize) -> Self {
        self.flags.retain(|flag| flag.place >= many);
        self.flags.iter_mut().for_each(|flag| flag.place -= many);
        self
    }
}

/// A row as far as it has been seen.
struct Row {
    /// The values that make the limits.
    base: Vec<Measured>,
    /// The value before, where it did not fit: the next one decides what it was.
    stray: Option<Measured>,
    flags: Vec<Flag>,
}

impl Row {
    /// Holds the next value against the earlier ones, and says what it was held against.
    fn take(&mut self, place: usize, before: Measured, next: Measured) -> Option<Limits> {
        let apart = (next.0 - before.0).abs();
        let least = next.1.hypot(before.1);
        if self.stray.is_some() && apart <= least {
            // The level has changed for good.
            self.base = vec![before, next];
            self.stray = None;
            return Limits::of(&[before.0], least);
        }
        let usual = self.base.iter().map(|(_, u)| u * u).sum::<f64>() / self.base.len() as f64;
        let earlier: Vec<f64> = self.base.iter().map(|(value, _)| *value).collect();
        let of_base = Limits::of(&earlier, (next.1 * next.1 + usual).sqrt())?;
        let few = of_base.is_of_one_before();
        let limits = if few { Limits { earlier: earlier.len(), ..Limits::of(&[before.0], least)? } } else { of_base };
        let mut flag = |signal| self.flags.push(Flag { place, signal, limits });
        let outside = !few && !limits.hold(next.0);
        let jump = apart > limits.range_limit.max(least);
        if outside {
            flag(Signal::Outside);
        }
        if jump {
            flag(Signal::Jump);
        }
        // Back from a stray value to where the others are is a jump too, and fits the others.
        if of_base.hold(next.0) {
            self.stray = None;
        } else {
            // A stray value that nothing follows or returns from is how this row scatters.
            self.base.extend(self.stray.replace(next));
            return Some(limits);
        }
        self.base.push(next);
        if self.is_eighth_on_one_side() {
            self.flags.push(Flag { place, signal: Signal::Run, limits });
        }
        Some(limits)
    }

    /// Whether the newest of the base is the eighth or a later one in a row on one side of the mean of those before them.
    fn is_eighth_on_one_side(&self) -> bool {
        let values: Vec<f64> = self.base.iter().map(|(value, _)| *value).collect();
        let Some(before) = values.len().checked_sub(RUN).filter(|before| *before >= FEW) else { return false };
        let (earlier, newest) = values.split_at(before);
        let Some(centre) = mean(earlier) else { return false };
        newest.iter().all(|value| *value > centre) || newest.iter().all(|value| *value < centre)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64, digits: f64) {
        assert!((got - want).abs() <= digits, "{got} instead of {want}");
    }

    fn chart(values: &[f64], expanded: f64) -> ControlChart {
        let values: Vec<Measured> = values.iter().map(|value| (*value, expanded)).collect();
        ControlChart::of(&values).unwrap()
    }

    fn flags(values: &[f64], expanded: f64) -> Vec<(usize, Signal)> {
        chart(values, expanded).flags.iter().map(|flag| (flag.place, flag.signal)).collect()
    }

    /// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, flow rates of ten batches and their printed limits.
    #[test]
    fn agrees_with_the_worked_example_of_the_handbook() {
        let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
        let limits = Limits::of(&flow, 0.0).unwrap();
        near(limits.mean_range.unwrap(), 1.8778, 5e-5);
        near(limits.centre, 50.81, 1e-9);
        near(limits.high, 55.8041, 1e-4);
        near(limits.low, 45.8159, 1e-4);
        // The ranges' own limit, D₄·R̄ with D₄ = 3.267 (ibid., 6.3.2.2, from memory).
        near(limits.range_limit, 6.135, 5e-4);
        assert!(!limits.is_provisional());
        // The same limits hold the eleventh batch.
        let eleventh = |value: f64| flags(&[&flow[..], &[value]].concat(), 3.0);
        assert_eq!(eleventh(55.80), []);
        assert_eq!(eleventh(55.81), [(10, Signal::Outside)]);
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
        let limits = Limits::of(&samples, 0.0).unwrap();
        let mean_range = limits.mean_range.unwrap();
        near(mean_range, printed.iter().sum::<f64>() / 24.0, 1e-12);
        near((limits.high - limits.centre) / mean_range, 2.66, 0.001);
    }

    #[test]
    fn a_value_outside_a_jump_and_a_run_signal() {
        let mut values = vec![0.0, 0.1, -0.1, 0.05, -0.05, 0.1, 0.0, -0.1, 0.1, 0.0];
        assert_eq!(flags(&values, 0.15), []);
        values.push(2.0);
        assert_eq!(flags(&values, 0.15), [(10, Signal::Outside), (10, Signal::Jump)]);
        // Half a degree lower for good: the last of eight on one side.
        let settled: Vec<f64> =
            (0..16).map(|k| if k < 8 { 0.5 } else { 0.0 } + if k % 2 == 0 { 0.2 } else { -0.2 }).collect();
        assert_eq!(flags(&settled, 0.3), [(15, Signal::Run)]);
    }

    #[test]
    fn a_jump_in_the_fourth_value_is_seen_and_a_difference_within_the_uncertainty_is_none() {
        assert_eq!(flags(&[0.1, 0.2, 0.1, 3.28], 0.3), [(3, Signal::Jump)]);
        assert_eq!(flags(&[0.0, 3.0], 0.3), [(1, Signal::Jump)]);
        // √(0.3² + 0.3²) = 0.424.
        assert_eq!(flags(&[0.0, 0.42, 0.0, 0.42, 0.0], 0.3), []);
        assert_eq!(flags(&[0.0, 0.43], 0.3), [(1, Signal::Jump)]);
    }

    #[test]
    fn limits_are_never_tighter_than_the_uncertainty_of_a_difference() {
        let alike = [1.0, 1.001, 1.0, 1.001, 1.0, 1.001];
        assert_eq!(flags(&[&alike[..], &[1.4]].concat(), 0.3), []);
        assert_eq!(flags(&[&alike[..], &[1.5]].concat(), 0.3), [(6, Signal::Outside), (6, Signal::Jump)]);
    }

    #[test]
    fn a_flag_stays_where_it_was_whatever_comes_after() {
        let row = [0.0, 0.1, 0.0, 3.0, 3.1, 3.0, 3.1, 3.0, 6.0, 3.1, 3.0, 3.0, 3.1, 3.0, 3.1, 3.1, 3.0, 0.0];
        let all = flags(&row, 0.3);
        assert_eq!(
            all,
            [
                (3, Signal::Jump),
                (8, Signal::Outside),
                (8, Signal::Jump),
                (9, Signal::Jump),
                (17, Signal::Outside),
                (17, Signal::Jump)
            ]
        );
        for many in 2..row.len() {
            let then: Vec<_> = all.iter().copied().filter(|(place, _)| *place < many).collect();
            assert_eq!(flags(&row[..many], 0.3), then, "of {many}");
        }
        let cut = chart(&row, 0.3).without_first(9);
        assert_eq!(cut.flags.iter().map(|flag| flag.place).collect::<Vec<_>>(), [0, 8, 8]);
    }

    #[test]
    fn too_little_is_no_chart_and_little_is_a_provisional_one() {
        assert_eq!(ControlChart::of(&[(1.0, 0.1)]), None);
        assert_eq!(ControlChart::of(&[(1.0, 0.1), (f64::NAN, 0.1)]), None);
        let limits = chart(&[1.0, 1.2, 1.1], 0.3).limits;
        assert!(limits.is_provisional() && limits.is_of_one_before());
        near(limits.centre, 1.2, 1e-12);
        near(limits.high - limits.centre, 0.3 * 2f64.sqrt(), 1e-12);
    }
}
