//! Inside, outside, or not decided: a value with its uncertainty against a target.
//!
//! The guard band is U itself (JCGM 106:2012, 8.3; ISO 14253-1): *inside* when the whole of value ± U is inside
//! the limits, *outside* when the whole of it is past one of them, else *undecided*.

use super::budget::Budget;
use super::target::Target;
use crate::units::Angle;
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

/// The decision, and for an undecided one what would decide it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Decision {
    /// Inside the limits with the guard band.
    Inside,
    /// Past a limit by more than the guard band.
    Outside,
    /// Closer to a limit than the uncertainty.
    Undecided {
        /// What would decide it, in words.
        by: String,
    },
}

/// Decides `value`, with its budget, against `target`.
#[must_use]
pub fn decide(target: Target, value: Angle, budget: &Budget) -> Decision {
    let expanded = budget.expanded().expanded;
    let margin = target.margin(value);
    if !(margin.is_finite() && expanded.is_finite()) {
        return Decision::Undecided { by: "read it again: the value is no number".to_owned() };
    }
    if margin >= expanded {
        Decision::Inside
    } else if -margin > expanded {
        Decision::Outside
    } else {
        Decision::Undecided { by: what_decides(target, value, budget) }
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

/// Names the steps, largest component first, after which U would be under the distance to the limit.
fn what_decides(target: Target, value: Angle, budget: &Budget) -> String {
    let distance = target.margin(value).abs();
    let expanded = budget.expanded();
    let missing = format!("{:.2}° from the limit with U {:.2}°", distance.degrees(), expanded.expanded.degrees());
    let mut left = expanded.standard.radians().powi(2);
    let mut steps: Vec<String> = Vec::new();
    for share in budget.shares() {
        steps.push(share.shrink.clone());
        left -= share.standard.radians().powi(2);
        let remaining = expanded.coverage_factor * left.max(0.0).sqrt();
        // A component never vanishes wholly: ask for a clear gap.
        if remaining < 0.8 * distance.radians() {
            return format!("{missing}: {}", steps.join("; "));
        }
    }
    format!("{missing}: too close to the limit for any reading to decide; adjust it away from the limit")
}
