//! Overlapping Allan deviation: how far two neighbouring means of a resting record differ, for each averaging time.
//!
//! White noise falls with √τ; where the curve stops falling, more averaging brings nothing: that is the floor.
//! The values are plain numbers in whatever unit they have, evenly spaced in time.
//!
//! With S the running sum of the values and m values in a mean,
//!
//! ```text
//! σ²(m) = Σ (S[j+2m] − 2·S[j+m] + S[j])² / (2·m²·count)
//! ```
//!
//! over every j for which the three exist. [NIST Special Publication 1065 (Riley 2008), 5.2.5] Its degrees of freedom
//! are those of white noise. [ibid., 5.4.1, from memory]
//!
//! It fails where the values are not evenly spaced, or where the record moved instead of resting.

/// One point of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AllanPoint {
    /// Values in a mean; averaging time over the spacing of the values.
    pub values: usize,
    /// The Allan deviation, in the unit of the values.
    pub deviation: f64,
    /// Degrees of freedom of the estimate, were the noise white.
    pub freedom: f64,
}

impl AllanPoint {
    /// Relative standard uncertainty of the deviation: 1/√(2ν) (JCGM 100:2008, G.4.2).
    #[must_use]
    pub fn relative_uncertainty(&self) -> f64 {
        1.0 / (2.0 * self.freedom).sqrt()
    }
}

/// The deviation of means of `m` values; `None` where the record is shorter than two such means.
#[must_use]
pub fn overlapping(values: &[f64], m: usize) -> Option<AllanPoint> {
    Sums::of(values).point(m)
}

/// The curve over averaging times that grow by a third or so, up to a quarter of the record: beyond, too few means are
/// left to say anything.
#[must_use]
pub fn curve(values: &[f64]) -> Vec<AllanPoint> {
    let sums = Sums::of(values);
    let mut points = Vec::new();
    let mut m = 1;
    while 4 * m <= values.len() {
        points.extend(sums.point(m));
        m = next(m);
    }
    points
}

/// The curve of several records of one spacing, such as the rests between which a blade was moved: second differences
/// within each, never across two, averaged together. Up to a quarter of the longest record.
#[must_use]
pub fn pooled(records: &[Vec<f64>]) -> Vec<AllanPoint> {
    let sums: Vec<Sums> = records.iter().map(|values| Sums::of(values)).collect();
    let longest = records.iter().map(Vec::len).max().unwrap_or(0);
    let mut points = Vec::new();
    let mut m = 1;
    while 4 * m <= longest {
        let weighed: Vec<(f64, AllanPoint)> =
            sums.iter().filter_map(|sums| Some((sums.differences(m)? as f64, sums.point(m)?))).collect();
        let count: f64 = weighed.iter().map(|(count, _)| count).sum();
        if count > 0.0 {
            let squares: f64 = weighed.iter().map(|(count, point)| count * point.deviation * point.deviation).sum();
            let freedom = weighed.iter().map(|(_, point)| point.freedom).sum();
            points.push(AllanPoint { values: m, deviation: (squares / count).sqrt(), freedom });
        }
        m = next(m);
    }
    points
}

/// The next averaging time: a third or so longer.
fn next(m: usize) -> usize {
    (m + 1).max((m as f64 * 1.3).round() as usize)
}

/// The running sum of the values about their mean, from zero: a mean does not change a second difference, but would cost
/// digits.
struct Sums(Vec<f64>);

impl Sums {
    fn of(values: &[f64]) -> Self {
        let mean = super::moments::mean(values).unwrap_or(0.0);
        let running = values.iter().scan(0.0, |sum, value| {
            *sum += value - mean;
            Some(*sum)
        });
        Self(std::iter::once(0.0).chain(running).collect())
    }

    /// How many second differences of means of `m` values there are, where there is one.
    fn differences(&self, m: usize) -> Option<usize> {
        self.0.len().checked_sub(m.checked_mul(2)?).filter(|count| m > 0 && *count > 0)
    }

    fn point(&self, m: usize) -> Option<AllanPoint> {
        let phases = self.0.len();
        let count = self.differences(m)?;
        let (middle, last) = (self.0.iter().skip(m), self.0.iter().skip(2 * m));
        let squares: f64 = self
            .0
            .iter()
            .zip(middle)
            .zip(last)
            .map(|((first, middle), last)| (last - 2.0 * middle + first).powi(2))
            .sum();
        let (n, m_real) = (phases as f64, m as f64);
        let white = (3.0 * (n - 1.0) / (2.0 * m_real) - 2.0 * (n - 2.0) / n) * 4.0 * m_real * m_real
            / (4.0 * m_real * m_real + 5.0);
        let deviation = (squares / (2.0 * m_real * m_real * count as f64)).sqrt();
        Some(AllanPoint { values: m, deviation, freedom: white.max(1.0) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn published() -> Value {
        serde_json::from_str(include_str!("../../tests/reference/sp1065_allan.json")).unwrap()
    }

    fn agrees(set: &Value, values: &[f64]) {
        let taus = set["dev"]["tau"].as_array().unwrap();
        assert!(taus.len() >= 2);
        for (tau, printed) in taus.iter().zip(set["dev"]["oadev"].as_array().unwrap()) {
            let printed: f64 = printed.as_str().unwrap().parse().unwrap();
            let found = overlapping(values, tau.as_u64().unwrap() as usize).unwrap().deviation;
            // Seven digits are printed.
            assert!((found / printed - 1.0).abs() < 3e-7, "{tau}: {found} against {printed}");
        }
    }

    #[test]
    fn agrees_with_the_ten_points_of_the_handbook() {
        let set = &published()["nbs10"];
        let values: Vec<f64> = set["freq"].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
        assert_eq!(values.len(), 9);
        agrees(set, &values);
    }

    #[test]
    fn agrees_with_the_thousand_points_of_the_handbook() {
        let set = &published()["set1000"];
        let rule = |name: &str| set["rule"][name].as_u64().unwrap();
        let (multiplier, modulus) = (rule("multiplier"), rule("modulus"));
        let states = std::iter::successors(Some(rule("n0")), |n| Some(n * multiplier % modulus));
        let values: Vec<f64> = states.take(1000).map(|n| n as f64 / modulus as f64).collect();
        let checks: Vec<u64> =
            set["rule"]["first_check"].as_array().unwrap().iter().map(|v| v.as_u64().unwrap()).collect();
        assert!(values.iter().zip(&checks).all(|(value, n)| (value * modulus as f64).round() as u64 == *n));
        agrees(set, &values);
    }

    /// A record cut in pieces, each shifted by its own constant, has the curve of the whole: for the handbook's thousand
    /// points within what the lost differences across the cuts leave uncertain.
    #[test]
    fn rests_at_different_angles_are_pooled_without_their_steps() {
        let mut random = crate::rig::noise::Random::new(6);
        let whole: Vec<f64> = (0..12_000).map(|_| random.normal()).collect();
        let pieces: Vec<Vec<f64>> = whole
            .chunks(400)
            .zip(0..)
            .map(|(piece, k)| piece.iter().map(|v| v + 50.0 * f64::from(k)).collect())
            .collect();
        let pooled = pooled(&pieces);
        assert_eq!(pooled.last().map(|point| point.values >= 70), Some(true), "{pooled:?}");
        for point in &pooled {
            let together = overlapping(&whole, point.values).unwrap();
            assert!(
                (point.deviation / together.deviation - 1.0).abs() < 5.0 * point.relative_uncertainty(),
                "{point:?}"
            );
            assert!((point.freedom / together.freedom - 1.0).abs() < 0.5, "{point:?} {together:?}");
        }
        assert_eq!(super::pooled(&[vec![1.0, 2.0, 4.0, 1.0]]).len(), 1);
        assert!(super::pooled(&[]).is_empty());
    }

    /// White noise of standard deviation 1: σ(m) = 1/√m.
    #[test]
    fn white_noise_falls_with_the_root_of_the_averaging_time() {
        let mut random = crate::rig::noise::Random::new(5);
        let values: Vec<f64> = (0..20_000).map(|_| random.normal()).collect();
        let curve = curve(&values);
        assert!(curve.len() > 25, "{}", curve.len());
        let astray = curve.iter().filter(|point| {
            let theory = 1.0 / (point.values as f64).sqrt();
            (point.deviation / theory - 1.0).abs() > 2.0 * point.relative_uncertainty()
        });
        // Neighbouring points share their data: a chance excursion shows in several of them.
        assert!(astray.count() <= curve.len() / 6);
    }

    #[test]
    fn a_constant_offset_and_short_records_are_no_trouble() {
        assert_eq!(overlapping(&[1e9; 64], 4).unwrap().deviation, 0.0);
        assert!(overlapping(&[1.0, 2.0], 2).is_none());
        assert!(overlapping(&[1.0, 2.0], 0).is_none());
        assert!(overlapping(&[], 1).is_none());
        assert!(curve(&[1.0, 2.0, 3.0]).is_empty());
    }
}
