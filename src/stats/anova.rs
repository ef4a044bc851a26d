//! Analysis of variance: how much of a scatter comes from where.
//!
//! Readings fall into groups (one seating of a clip, one day). What differs within a group is repeatability; what the
//! groups differ by beyond that is a cause of its own. Plain numbers, in whatever unit the readings have.
//!
//! ```text
//! SS_between = Σ nᵢ·(x̄ᵢ − x̄)²    SS_within = Σ Σ (x − x̄ᵢ)²    MS = SS/ν
//! variance of the groups = (MS_between − MS_within)/n₀,    n₀ = (N − Σnᵢ²/N)/(k − 1)
//! ```
//!
//! [JCGM 100:2008, annex H.5; NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4 and 7.4.3]. Its degrees of freedom are
//! those of Satterthwaite, Biometrics Bulletin 2 (1946) 110.
//!
//! Assumed: within every group the readings scatter alike, and independently of each other.

use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// A sum of squares with its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Squares {
    /// The sum.
    pub sum: f64,
    /// Its degrees of freedom.
    pub freedom: f64,
}

impl Squares {
    /// The mean square; zero without degrees of freedom.
    #[must_use]
    pub fn mean(self) -> f64 {
        if self.freedom > 0.0 { self.sum / self.freedom } else { 0.0 }
    }

    /// Together with another estimate of the same variance.
    #[must_use]
    pub fn pooled(self, other: Self) -> Self {
        Self { sum: self.sum + other.sum, freedom: self.freedom + other.freedom }
    }

    /// From a standard deviation with its degrees of freedom.
    #[must_use]
    pub fn of_deviation(deviation: f64, freedom: f64) -> Self {
        Self { sum: deviation * deviation * freedom, freedom }
    }

    /// Probability that a ratio of mean squares at least as large as that to `other` comes from chance alone; 1 where
    /// one of them has no degrees of freedom.
    #[must_use]
    pub fn chance_against(self, other: Self) -> f64 {
        let ratio = self.mean() / other.mean();
        match FisherSnedecor::new(self.freedom, other.freedom) {
            Ok(distribution) if ratio.is_finite() => distribution.sf(ratio),
            Ok(_) if self.mean() > 0.0 => 0.0,
            _ => 1.0,
        }
    }
}

/// What a variance is estimated to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Variance {
    /// The variance; never negative.
    pub value: f64,
    /// Degrees of freedom of the estimate, at least 1.
    pub freedom: f64,
}

/// Readings in groups: what differs between them and within.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneWay {
    /// Between the groups.
    pub between: Squares,
    /// Within them.
    pub within: Squares,
    /// Readings in a group, on the average that counts here (n₀).
    pub size: f64,
}

impl OneWay {
    /// The variance of what the groups differ by, beyond what the scatter within them explains.
    #[must_use]
    pub fn component(&self) -> Variance {
        component(self.between, self.within, self.size)
    }
}

/// (MS_outer − MS_inner)/size, zero at least.
#[must_use]
pub fn component(outer: Squares, inner: Squares, size: f64) -> Variance {
    let value = ((outer.mean() - inner.mean()) / size).max(0.0);
    let part = |squares: Squares| {
        if squares.freedom > 0.0 { (squares.mean() / size).powi(2) / squares.freedom } else { 0.0 }
    };
    let spread = part(outer) + part(inner);
    let freedom = if spread > 0.0 { value * value / spread } else { outer.freedom };
    Variance { value, freedom: freedom.max(1.0) }
}

/// Splits readings in groups; `None` with fewer than two groups that hold anything.
#[must_use]
pub fn one_way<G: AsRef<[f64]>>(groups: &[G]) -> Option<OneWay> {
    let groups: Vec<&[f64]> = groups.iter().map(AsRef::as_ref).filter(|group| !group.is_empty()).collect();
    if groups.len() < 2 {
        return None;
    }
    let (count, sizes) = (groups.len() as f64, groups.iter().map(|group| group.len() as f64));
    let total: f64 = sizes.clone().sum();
    let all: Vec<f64> = groups.iter().flat_map(|group| group.iter().copied()).collect();
    let grand = super::moments::mean(&all)?;
    let (mut between, mut within) = (0.0, 0.0);
    for group in &groups {
        let mean = super::moments::mean(group)?;
        between += group.len() as f64 * (mean - grand).powi(2);
        within += group.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
    }
    let size = (total - sizes.map(|n| n * n).sum::<f64>() / total) / (count - 1.0);
    Some(OneWay {
        between: Squares { sum: between, freedom: count - 1.0 },
        within: Squares { sum: within, freedom: total - count },
        size,
    })
}

#[cfg(test)]
#[path = "anova_tests.rs"]
mod tests;
