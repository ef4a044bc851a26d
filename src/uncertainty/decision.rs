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

/// How much is left of a component once its remedy has been applied. (Common practice, no source.)
const LEFT_AFTER_REMEDY: f64 = 1.0 / 3.0;

/// How likely it is inside as it stands, and the steps, largest component first, after which U would be under the distance to
/// the limit.
fn what_decides(target: Target, value: Angle, budget: &Budget) -> String {
    let distance = target.margin(value).abs();
    let expanded = budget.expanded();
    let likely = 100.0 * conformance_probability(target, value, expanded.standard);
    let missing = format!(
        "{:.2}° from the limit with U {:.2}° ({likely:.0} % likely inside)",
        distance.degrees(),
        expanded.expanded.degrees()
    );
    let mut variance = expanded.standard.radians().powi(2);
    let mut steps: Vec<String> = Vec::new();
    for share in budget.shares() {
        variance -= share.standard.radians().powi(2) * (1.0 - LEFT_AFTER_REMEDY * LEFT_AFTER_REMEDY);
        steps.push(share.shrink);
        if expanded.coverage_factor * variance.max(0.0).sqrt() < distance.radians() {
            return format!("{missing}: {}", steps.join("; "));
        }
    }
    format!("{missing}: too close to the limit for any reading to decide; adjust it away from the limit")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Component, Contribution};

    fn undecided(target: &str, value: f64, parts: &[(Component, f64)]) -> String {
        let parts = parts.iter().map(|&(c, u)| Contribution::new(c, Angle::from_degrees(u)));
        match decide(target.parse().unwrap(), Angle::from_degrees(value), &Budget::new(parts)) {
            Decision::Undecided { by } => by,
            decided => panic!("{decided:?}"),
        }
    }

    #[test]
    fn an_undecided_value_says_what_would_decide_it() {
        let by = undecided("at most 12", 11.8, &[(Component::Repeat, 0.03), (Component::Clip, 0.15)]);
        assert_eq!(
            by,
            // Φ(0.2/0.153) = Φ(1.307) = 0.904, from a table of the normal distribution.
            "0.20° from the limit with U 0.30° (90 % likely inside): leave the clip where it sits and take the difference, or do a re-seat study"
        );
    }

    #[test]
    fn what_no_reading_can_decide_is_to_be_adjusted() {
        let by = undecided("at most 12", 11.999, &[(Component::Repeat, 0.03), (Component::Clip, 0.15)]);
        assert!(by.ends_with("the limit for any reading to decide; adjust it away from the limit"), "{by}");
    }

    #[test]
    fn no_number_is_never_inside() {
        assert!(undecided("at most 12", f64::NAN, &[(Component::Repeat, 0.03)]).contains("no number"));
        assert!(undecided("at most 12", 1.0, &[(Component::Repeat, f64::NAN)]).contains("no number"));
    }
}
