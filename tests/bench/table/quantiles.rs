//! Medians and tails of measured times.

/// Times, sorted.
pub struct Quantiles(Vec<f64>);

impl Quantiles {
    pub fn of(mut times: Vec<f64>) -> Self {
        times.sort_by(f64::total_cmp);
        Self(times)
    }

    /// The time that this share of all stays under; not a number where there are none.
    pub fn at(&self, share: f64) -> f64 {
        let place = (self.0.len().saturating_sub(1) as f64 * share).round() as usize;
        self.0.get(place).copied().unwrap_or(f64::NAN)
    }

    pub fn len(&self) -> usize {
        self.0.len()
    }
}

/// Median, 99th and 99.9th of a hundred, in milliseconds.
impl std::fmt::Display for Quantiles {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:.2}/{:.2}/{:.2} ms of {}", self.at(0.5), self.at(0.99), self.at(0.999), self.len())
    }
}
