//! Inside, outside, or not decided: a value with its uncertainty against a target.
//!
//! The guard band is U itself (JCGM 106:2012, 8.3; ISO 14253-1): *inside* when the whole of value ± U is inside
//! the limits, *outside* when the whole of it is past one of them, else *undecided*.

use super::budget::Budget;
use super::component::{Component, Remedy};
use super::target::Target;
use crate::units::Angle;
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};

/// The decision, and for an undecided one what would decide it.
#[derive(Debug, Clone, PartialEq)]
pub enum Decision {
    /// Inside the limits with the guard band.
    Inside,
    /// Past a limit by more than the guard band.
    Outside,
    /// Closer to a limit than the uncertainty.
    Undecided(Doubt),
}

/// Why a value is not decided, and what would decide it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Doubt {
    /// How far the value is from the nearest limit, on either side; no number where the value is none.
    #[serde(rename = "distance_deg")]
    pub distance: Angle,
    /// U of the value, for 95 %.
    #[serde(rename = "expanded_uncertainty_deg")]
    pub expanded: Angle,
    /// The probability that it is inside as it stands, 0 to 1.
    pub likely: f64,
    /// What would decide it, largest component first; empty where it is too close for any reading.
    pub steps: Vec<Remedy>,
}

/// Decides `value`, with its budget, against `target`.
#[must_use]
pub fn decide(target: Target, value: Angle, budget: &Budget) -> Decision {
    let expanded = budget.expanded();
    let margin = target.margin(value);
    if !(margin.is_finite() && expanded.expanded.is_finite()) {
        let steps = vec![Remedy::ReadAgain];
        return Decision::Undecided(Doubt { distance: margin.abs(), expanded: expanded.expanded, likely: 0.0, steps });
    }
    if margin >= expanded.expanded {
        Decision::Inside
    } else if -margin > expanded.expanded {
        Decision::Outside
    } else {
        Decision::Undecided(Doubt {
            distance: margin.abs(),
            expanded: expanded.expanded,
            likely: conformance_probability(target, value, expanded.standard),
            steps: steps_to_decide(margin.abs(), budget),
        })
    }
}

/// The probability that the true value is within the limits, for a normal distribution about `value` with the
/// standard uncertainty `standard` (JCGM 106:2012, 7.2 to 7.4).
#[must_use]
pub fn conformance_probability(target: Target, value: Angle, standard: Angle) -> f64 {
    let below = |limit: Angle| match Normal::new(value.degrees(), standard.degrees()) {
        Ok(normal) => normal.cdf(limit.degrees()),
        // Without any uncertainty the value is on one side or the other.
        Err(_) => f64::from(u8::from(value <= limit)),
    };
    match target {
        Target::Band { target, tolerance } => below(target + tolerance) - below(target - tolerance),
        Target::AtMost(ceiling) => below(ceiling),
    }
}

/// How much is left of a component once its remedy has been applied. (Common practice, no source.)
const LEFT_AFTER_REMEDY: f64 = 1.0 / 3.0;

/// The steps, largest component first, after which U would be under the distance to the limit; none where it never is.
fn steps_to_decide(distance: Angle, budget: &Budget) -> Vec<Remedy> {
    let expanded = budget.expanded();
    let mut variance = expanded.standard.radians().powi(2);
    let mut steps = Vec::new();
    for share in budget.shares() {
        // Half a turn on the lean cancels; of all else something is left.
        let left = if share.component == Component::Lean { 0.0 } else { LEFT_AFTER_REMEDY };
        variance -= share.standard.radians().powi(2) * (1.0 - left * left);
        steps.push(share.shrink);
        if expanded.coverage_factor * variance.max(0.0).sqrt() < distance.radians() {
            return steps;
        }
    }
    Vec::new()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Contribution;

    fn undecided(target: &str, value: f64, parts: &[(Component, f64)]) -> Doubt {
        let parts = parts.iter().map(|&(c, u)| Contribution::new(c, Angle::from_degrees(u)));
        match decide(target.parse().unwrap(), Angle::from_degrees(value), &Budget::new(parts)) {
            Decision::Undecided(doubt) => doubt,
            decided => panic!("{decided:?}"),
        }
    }

    #[test]
    fn an_undecided_value_says_what_would_decide_it() {
        let doubt = undecided("at most 12", 11.8, &[(Component::Repeat, 0.03), (Component::Clip, 0.15)]);
        assert!((doubt.distance.degrees() - 0.2).abs() < 1e-9);
        // 1.960·√(0.03² + 0.15²).
        assert!((doubt.expanded.degrees() - 0.29982).abs() < 1e-4, "{doubt:?}");
        // Φ(0.2/0.153) = Φ(1.307) = 0.904, from a table of the normal distribution.
        assert!((doubt.likely - 0.904).abs() < 5e-4, "{doubt:?}");
        assert_eq!(doubt.steps, [Remedy::SeatStudy]);
    }

    #[test]
    fn what_no_reading_can_decide_has_no_steps() {
        let doubt = undecided("at most 12", 11.999, &[(Component::Repeat, 0.03), (Component::Clip, 0.15)]);
        assert!(doubt.steps.is_empty() && doubt.distance.degrees() < 0.0011, "{doubt:?}");
    }

    #[test]
    fn no_number_is_never_inside() {
        assert_eq!(undecided("at most 12", f64::NAN, &[(Component::Repeat, 0.03)]).steps, [Remedy::ReadAgain]);
        assert_eq!(undecided("at most 12", 1.0, &[(Component::Repeat, f64::NAN)]).steps, [Remedy::ReadAgain]);
    }
}
