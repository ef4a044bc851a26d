//! The budget: all contributions to one value, and what follows from them.

use super::component::{Component, Contribution, Freedom, Remedy};
use super::source::Source;
use crate::stats::student;
use crate::units::Angle;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The share of cases that value ± U is to cover.
pub const COVERAGE: f64 = 0.95;

/// Everything that makes one value uncertain.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Budget {
    contributions: Vec<Contribution>,
}

/// Standard uncertainty, degrees of freedom, coverage factor and expanded uncertainty of one value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Expanded {
    /// Combined standard uncertainty u, degrees.
    #[serde(rename = "standard_uncertainty_deg")]
    pub standard: Angle,
    /// Effective degrees of freedom.
    #[serde(rename = "degrees_of_freedom")]
    pub freedom: Freedom,
    /// Coverage factor k for 95 %.
    pub coverage_factor: f64,
    /// Expanded uncertainty U = k·u, degrees.
    #[serde(rename = "expanded_uncertainty_deg")]
    pub expanded: Angle,
}

/// One line of the explained budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Share {
    /// What it comes from.
    pub component: Component,
    /// Standard uncertainty of all contributions of this component together, degrees.
    #[serde(rename = "standard_uncertainty_deg")]
    pub standard: Angle,
    /// Its degrees of freedom.
    #[serde(rename = "degrees_of_freedom")]
    pub freedom: Freedom,
    /// Its part of the combined variance, percent. All shares of a budget sum to 100.
    #[serde(rename = "share_percent")]
    pub percent: f64,
    /// Whether any part of it is a stated default.
    pub assumed: bool,
    /// What would make it smaller.
    pub shrink: Remedy,
}

impl Budget {
    /// A budget of these contributions.
    #[must_use]
    pub fn new(contributions: impl IntoIterator<Item = Contribution>) -> Self {
        Self { contributions: contributions.into_iter().collect() }
    }

    /// The same with one contribution more.
    #[must_use]
    pub fn with(mut self, contribution: Contribution) -> Self {
        self.contributions.push(contribution);
        self
    }

    /// All contributions, in the order in which they were stated.
    #[must_use]
    pub fn contributions(&self) -> &[Contribution] {
        &self.contributions
    }

    /// Whether the budget says anything about this component.
    #[must_use]
    pub fn has(&self, component: Component) -> bool {
        self.contributions.iter().any(|c| c.component == component)
    }

    /// Combined standard uncertainty: the root of the sum of squares (JCGM 100:2008, 5.1.2).
    #[must_use]
    pub fn standard(&self) -> Angle {
        root_of_squares(&self.contributions)
    }

    /// Effective degrees of freedom by Welch and Satterthwaite, u⁴ / Σ(uᵢ⁴/νᵢ) (JCGM 100:2008, G.4.1, formula G.2b).
    #[must_use]
    pub fn freedom(&self) -> Freedom {
        welch_satterthwaite(&self.contributions)
    }

    /// U for 95 % coverage, with the factor from Student's t at the effective degrees of freedom (not rounded down).
    #[must_use]
    pub fn expanded(&self) -> Expanded {
        let (standard, freedom) = (self.standard(), self.freedom());
        let coverage_factor = coverage_factor(freedom);
        Expanded { standard, freedom, coverage_factor, expanded: standard * coverage_factor }
    }

    /// The standard uncertainty of each component.
    #[must_use]
    pub fn components(&self) -> BTreeMap<Component, Angle> {
        let mut sums = BTreeMap::new();
        for contribution in &self.contributions {
            let sum = sums.entry(contribution.component).or_insert(Angle::ZERO);
            *sum = sum.hypot(contribution.standard());
        }
        sums
    }

    /// The budget explained: one line a component, the largest first; the shares sum to 100 %.
    #[must_use]
    pub fn shares(&self) -> Vec<Share> {
        let whole = self.standard().radians().powi(2);
        let mut shares: Vec<Share> = self
            .components()
            .into_keys()
            .map(|component| {
                let parts: Vec<_> = self.contributions.iter().filter(|c| c.component == component).cloned().collect();
                let standard = root_of_squares(&parts);
                let largest = parts.iter().max_by(|a, b| a.standard().radians().total_cmp(&b.standard().radians()));
                Share {
                    component,
                    standard,
                    freedom: welch_satterthwaite(&parts),
                    percent: if whole > 0.0 { 100.0 * standard.radians().powi(2) / whole } else { 0.0 },
                    assumed: parts.iter().any(|c| c.assumed && c.standard() > Angle::ZERO),
                    shrink: largest.map_or_else(|| component.remedy(), |c| c.shrink.clone()),
                }
            })
            .collect();
        shares.sort_by(|a, b| b.percent.total_cmp(&a.percent));
        shares
    }

    /// The component with the largest share, if there is any uncertainty at all.
    #[must_use]
    pub fn largest(&self) -> Option<Share> {
        self.shares().into_iter().next().filter(|share| share.standard > Angle::ZERO)
    }

    /// The budget of Σ wᵢ·xᵢ, where each xᵢ has its own budget.
    ///
    /// Contributions of one component with one source are the same error, so their effects add with the weights
    /// and their sign (in a difference a shared constant drops out). All others are independent and add in
    /// quadrature. Degrees of freedom follow Welch and Satterthwaite within each component.
    #[must_use]
    pub fn combination(terms: &[(f64, &Self)]) -> Self {
        let mut shared: BTreeMap<(Component, Source), Contribution> = BTreeMap::new();
        let mut own: BTreeMap<Component, Vec<Contribution>> = BTreeMap::new();
        for (weight, budget) in terms {
            for contribution in &budget.contributions {
                let weighted = scaled(contribution, *weight);
                match &contribution.source {
                    Some(source) => {
                        let key = (contribution.component, source.clone());
                        match shared.remove(&key) {
                            Some(sum) => shared.insert(key, added(sum, &weighted)),
                            None => shared.insert(key, weighted),
                        };
                    }
                    None => own.entry(contribution.component).or_default().push(weighted),
                }
            }
        }
        let independent = own.into_values().filter_map(|parts| in_quadrature(&parts));
        let mut contributions: Vec<Contribution> = shared.into_values().chain(independent).collect();
        contributions.retain(|c| c.standard() > Angle::from_radians(1e-15));
        contributions.sort_by_key(|c| c.component);
        Self { contributions }
    }

    /// The same, with every contribution that had no source made the error of `owner`: for a value that enters a
    /// result more than once.
    #[must_use]
    pub fn owned_by(mut self, owner: &Source) -> Self {
        for (index, contribution) in self.contributions.iter_mut().enumerate() {
            // Two errors of one owner are still two errors.
            contribution.source.get_or_insert_with(|| owner.numbered(index));
        }
        self
    }

    /// The same, with `component` made an error shared by all that has `source`, where nobody has said otherwise.
    #[must_use]
    pub fn attributed(mut self, component: Component, source: &Source) -> Self {
        let unclaimed = self.contributions.iter_mut().filter(|c| c.component == component && c.source.is_none());
        for (index, contribution) in unclaimed.enumerate() {
            contribution.source = Some(source.part(index));
        }
        self
    }

    /// The budget of `self − other`.
    #[must_use]
    pub fn difference(&self, other: &Self) -> Self {
        Self::combination(&[(1.0, self), (-1.0, other)])
    }

    /// The budget of the mean of two values.
    #[must_use]
    pub fn mean(&self, other: &Self) -> Self {
        Self::combination(&[(0.5, self), (0.5, other)])
    }
}

fn scaled(contribution: &Contribution, weight: f64) -> Contribution {
    let effects = contribution.effects.iter().map(|&e| e * weight).collect();
    Contribution { effects, ..contribution.clone() }
}

/// The sum of two contributions that are one error: effect by effect, the worse-known freedom.
fn added(mut sum: Contribution, other: &Contribution) -> Contribution {
    let longest = sum.effects.len().max(other.effects.len());
    sum.effects.resize(longest, Angle::ZERO);
    for (total, &effect) in sum.effects.iter_mut().zip(&other.effects) {
        *total += effect;
    }
    if other.freedom < sum.freedom {
        sum.freedom = other.freedom;
    }
    sum.assumed |= other.assumed;
    sum
}

/// One contribution in place of several independent ones of the same component.
fn in_quadrature(parts: &[Contribution]) -> Option<Contribution> {
    let largest = parts.iter().max_by(|a, b| a.standard().radians().total_cmp(&b.standard().radians()))?;
    Some(Contribution {
        effects: vec![root_of_squares(parts)],
        freedom: welch_satterthwaite(parts),
        assumed: parts.iter().any(|c| c.assumed),
        ..largest.clone()
    })
}

fn root_of_squares(contributions: &[Contribution]) -> Angle {
    contributions.iter().fold(Angle::ZERO, |sum, c| sum.hypot(c.standard()))
}

fn welch_satterthwaite(contributions: &[Contribution]) -> Freedom {
    let combined = root_of_squares(contributions).radians();
    // Relative to the combined value, so that neither u⁴ nor its inverse leaves the range of a float.
    let sum: f64 = contributions
        .iter()
        .map(|c| (c.standard().radians() / combined).powi(4) / c.freedom.value())
        .filter(|part| part.is_finite())
        .sum();
    if sum > 0.0 { Freedom::new(1.0 / sum) } else { Freedom::INFINITE }
}

fn coverage_factor(freedom: Freedom) -> f64 {
    // `Freedom` is at least 1 and the coverage a constant, so that there always is a factor.
    student::coverage_factor(COVERAGE, freedom.value()).unwrap_or(f64::INFINITY)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn part(component: Component, degrees: f64) -> Contribution {
        Contribution::new(component, Angle::from_degrees(degrees))
    }

    fn close(got: Angle, want: f64) {
        assert!((got.degrees() - want).abs() < 1e-12, "{} instead of {want}", got.degrees());
    }

    #[test]
    fn leaving_the_clip_where_it_sits_takes_it_out_of_the_difference() {
        let reading =
            |seat| Budget::new([part(Component::Repeat, 0.03), part(Component::Clip, 0.2).shared(Source::seat(seat))]);
        let untouched = reading(1).difference(&reading(1));
        close(untouched.standard(), 0.03 * 2f64.sqrt());
        assert!(!untouched.has(Component::Clip));
        close(reading(1).difference(&reading(2)).components()[&Component::Clip], 0.2 * 2f64.sqrt());
        // The mean of two readings on one seat keeps the seat's error in full.
        close(reading(1).mean(&reading(1)).components()[&Component::Clip], 0.2);
    }

    #[test]
    fn a_calibration_shrinks_in_a_difference_and_does_not_vanish() {
        let reading = |offset: f64, scale: f64| {
            let effects = vec![Angle::from_degrees(offset), Angle::from_degrees(scale)];
            Budget::new([part(Component::Calibration, 0.0).shared_effects(Source::calibration("bench"), effects)])
        };
        // Offset alike in both, scale growing with the angle: only the scale's difference is left.
        let travel = reading(0.3, 0.12).difference(&reading(0.3, 0.02));
        close(travel.standard(), 0.10);
        // An uncalibrated sensor without stated effects gets no such gift.
        let stated = Budget::new([part(Component::Calibration, 0.3)]);
        close(stated.difference(&stated).standard(), 0.3 * 2f64.sqrt());
    }

    #[test]
    fn one_capture_used_twice_is_one_error_twice() {
        let neutral = Budget::new([part(Component::Repeat, 0.1)]).owned_by(&Source::new("capture 1"));
        close(Budget::combination(&[(-1.0, &neutral), (-1.0, &neutral)]).standard(), 0.2);
        // Two errors of one capture are still independent of each other.
        let two = Budget::new([part(Component::Clip, 0.3), part(Component::Clip, 0.4)]).owned_by(&Source::new("1"));
        close(Budget::combination(&[(1.0, &two)]).standard(), 0.5);
    }

    #[test]
    fn one_error_in_two_readings_is_known_no_better_than_where_it_is_known_worse() {
        let seat =
            |nu| Budget::new([part(Component::Clip, 0.1).with_freedom(Freedom::new(nu)).shared(Source::seat(1))]);
        for (first, second) in [(4.0, 20.0), (20.0, 4.0)] {
            let mean = seat(first).mean(&seat(second));
            close(mean.standard(), 0.1);
            // JCGM 100:2008, table G.2: 2.78 at four degrees of freedom and 95 %.
            assert!((mean.expanded().coverage_factor - 2.78).abs() < 0.005, "{first} and {second}: {mean:?}");
        }
    }

    #[test]
    fn the_explained_budget_names_the_largest_and_what_shrinks_it() {
        let budget = Budget::new([part(Component::Repeat, 0.03), part(Component::Clip, 0.04).assumed()]);
        let shares = budget.shares();
        assert_eq!(shares[0].component, Component::Clip);
        assert!((shares[0].percent - 64.0).abs() < 1e-9);
        assert_eq!((&shares[0].shrink, shares[0].assumed), (&Remedy::SeatStudy, true));
        assert_eq!((&shares[1].shrink, shares[1].assumed), (&Remedy::HoldLonger, false));
    }

    #[test]
    fn nothing_stated_is_no_uncertainty_and_no_panic() {
        let none = Budget::default().expanded();
        assert_eq!(none.standard, Angle::ZERO);
        assert!((none.coverage_factor - 1.959_964).abs() < 1e-6);
        assert!(Budget::default().largest().is_none());
    }

    #[test]
    fn infinitely_many_degrees_of_freedom_survive_a_document() {
        let budget =
            Budget::new([part(Component::Datum, 0.1), part(Component::Repeat, 0.1).with_freedom(Freedom::new(9.0))]);
        let text = serde_json::to_string(&budget).unwrap();
        let back: Budget = serde_json::from_str(&text).unwrap();
        assert_eq!(back.contributions()[0].freedom, Freedom::INFINITE);
        assert_eq!(back.freedom().value(), budget.freedom().value());
    }

    proptest! {
        #[test]
        fn shares_always_sum_to_100_percent(sizes in prop::collection::vec(1e-6..10.0f64, 1..8)) {
            const NAMES: [Component; 4] = [Component::Repeat, Component::Clip, Component::Datum, Component::Azimuth];
            let parts = sizes.iter().enumerate().map(|(i, &s)| part(NAMES[i % 4], s));
            let sum: f64 = Budget::new(parts).shares().iter().map(|s| s.percent).sum();
            prop_assert!((sum - 100.0).abs() < 1e-9);
        }

        #[test]
        fn effective_freedom_is_never_less_than_the_least_nor_more_than_all(sizes in prop::collection::vec((1e-3..1.0f64, 1.0..100.0f64), 1..8)) {
            let parts = sizes.iter().map(|&(u, nu)| part(Component::Repeat, u).with_freedom(Freedom::new(nu)));
            let effective = Budget::new(parts).freedom().value();
            let least = sizes.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
            let all: f64 = sizes.iter().map(|p| p.1).sum();
            prop_assert!(effective >= least * (1.0 - 1e-9) && effective <= all * (1.0 + 1e-9));
        }
    }
}
