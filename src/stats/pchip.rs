//! A curve through points that never swings beyond them: the monotone cubic of Fritsch and Butland (SIAM J. Sci. Stat.
//! Comput. 5 (1984) 300–304), as known by the name PCHIP.
//!
//! Between two points runs a cubic. Its slope at an inner point is the weighted harmonic mean of the slopes on either
//! side, and zero where these differ in sign; at an end a one-sided three-point formula, held back where it would turn
//! the curve. So a curve through rising points rises, and can be read backwards.

/// A curve through points.
#[derive(Debug, Clone, PartialEq)]
pub struct Pchip {
    points: Vec<(f64, f64)>,
    slopes: Vec<f64>,
}

/// Why points make no curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PchipError {
    /// One point or none.
    #[error("too few points")]
    TooFew,
    /// Two points at one place, or a number that is none.
    #[error("points not apart")]
    Places,
}

impl Pchip {
    /// The curve through points in any order.
    ///
    /// # Errors
    /// When there are fewer than two points, two at one place, or a coordinate is not finite.
    pub fn new(points: impl IntoIterator<Item = (f64, f64)>) -> Result<Self, PchipError> {
        let mut points: Vec<(f64, f64)> = points.into_iter().collect();
        if points.len() < 2 {
            return Err(PchipError::TooFew);
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let apart = points.windows(2).all(|pair| pair[0].0 < pair[1].0);
        if !apart || points.iter().any(|(x, y)| !x.is_finite() || !y.is_finite()) {
            return Err(PchipError::Places);
        }
        let slopes = slopes(&points);
        Ok(Self { points, slopes })
    }

    /// The points, in order.
    #[must_use]
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// The places of the first and the last point.
    #[must_use]
    pub fn span(&self) -> (f64, f64) {
        let place = |point: Option<&(f64, f64)>| point.map_or(f64::NAN, |p| p.0);
        (place(self.points.first()), place(self.points.last()))
    }

    /// The value at a place; beyond the ends straight on with the slope of the end.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        let (a, b, sa, sb) = self.piece(x);
        if x < a.0 {
            return a.1 + sa * (x - a.0);
        }
        if x > b.0 {
            return b.1 + sb * (x - b.0);
        }
        let width = b.0 - a.0;
        let t = (x - a.0) / width;
        let (u, tt) = (1.0 - t, t * t);
        // Hermite's four: value and slope on either side.
        u * u * (1.0 + 2.0 * t) * a.1 + tt * (3.0 - 2.0 * t) * b.1 + width * t * u * (u * sa - t * sb)
    }

    /// The slope at a place.
    #[must_use]
    pub fn slope(&self, x: f64) -> f64 {
        let (a, b, sa, sb) = self.piece(x);
        if x <= a.0 {
            return sa;
        }
        if x >= b.0 {
            return sb;
        }
        let width = b.0 - a.0;
        let t = (x - a.0) / width;
        let secant = (b.1 - a.1) / width;
        6.0 * t * (1.0 - t) * secant + (1.0 - t) * (1.0 - 3.0 * t) * sa + t * (3.0 * t - 2.0) * sb
    }

    /// Whether the points rise, or fall, from each to the next.
    #[must_use]
    pub fn is_monotone(&self) -> bool {
        let all = |way: fn(f64, f64) -> bool| self.points.windows(2).all(|pair| way(pair[0].1, pair[1].1));
        all(|a, b| a < b) || all(|a, b| a > b)
    }

    /// The place where the curve has this value, at most `beyond` outside the span; none where it is not monotone or
    /// does not come to the value there.
    #[must_use]
    pub fn inverse(&self, y: f64, beyond: f64) -> Option<f64> {
        if !self.is_monotone() || !y.is_finite() {
            return None;
        }
        let (first, last) = self.span();
        let (mut low, mut high) = (first - beyond.max(0.0), last + beyond.max(0.0));
        let rises = self.at(last) > self.at(first);
        let is_short = |x: f64| if rises { self.at(x) < y } else { self.at(x) > y };
        let reached = |x: f64, past: bool| if past { !is_short(x) } else { is_short(x) || self.at(x) == y };
        if !reached(low, false) || !reached(high, true) {
            return None;
        }
        // Halving a hundred times leaves nothing that a float could hold.
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if is_short(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(0.5 * (low + high))
    }

    /// The two points and slopes between which a place lies; outside, those of the nearest piece.
    fn piece(&self, x: f64) -> ((f64, f64), (f64, f64), f64, f64) {
        let after = self.points.partition_point(|point| point.0 <= x).clamp(1, self.points.len() - 1);
        (self.points[after - 1], self.points[after], self.slopes[after - 1], self.slopes[after])
    }
}

fn slopes(points: &[(f64, f64)]) -> Vec<f64> {
    let pieces: Vec<(f64, f64)> = points
        .windows(2)
        .map(|pair| {
            let width = pair[1].0 - pair[0].0;
            (width, (pair[1].1 - pair[0].1) / width)
        })
        .collect();
    let [.., before_last, last] = pieces.as_slice() else {
        // Two points: a straight line.
        let secant = pieces.first().map_or(0.0, |piece| piece.1);
        return vec![secant; points.len()];
    };
    let mut slopes = vec![at_end(pieces[0], pieces[1])];
    slopes.extend(pieces.windows(2).map(|pair| inside(pair[0], pair[1])));
    slopes.push(at_end(*last, *before_last));
    slopes
}

/// At an inner point, from width and secant of the pieces on either side.
fn inside((before, m): (f64, f64), (after, n): (f64, f64)) -> f64 {
    if m * n <= 0.0 {
        return 0.0;
    }
    let (w, v) = (2.0 * after + before, after + 2.0 * before);
    (w + v) / (w / m + v / n)
}

/// At an end, from the piece beside it and the next one.
fn at_end((width, m): (f64, f64), (next, n): (f64, f64)) -> f64 {
    let slope = ((2.0 * width + next) * m - width * n) / (width + next);
    if slope * m <= 0.0 {
        0.0
    } else if m * n <= 0.0 && slope.abs() > 3.0 * m.abs() {
        3.0 * m
    } else {
        slope
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::Value;

    fn numbers(value: &Value) -> Vec<f64> {
        value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
    }

    #[test]
    fn agrees_with_scipy() {
        // scipy.interpolate.PchipInterpolator; see `tests/reference/SOURCES-statistics.md`.
        let reference: Value = serde_json::from_str(include_str!("../../tests/reference/pchip_scipy.json")).unwrap();
        let mut checked = 0;
        for case in reference["cases"].as_array().unwrap() {
            let (x, y) = (numbers(&case["x"]), numbers(&case["y"]));
            let curve = Pchip::new(x.iter().copied().zip(y)).unwrap();
            for (x, slope) in x.iter().zip(numbers(&case["slopes"])) {
                assert!(
                    (curve.slope(*x) - slope).abs() < 1e-11,
                    "{} at {x}: {} {slope}",
                    case["name"],
                    curve.slope(*x)
                );
            }
            for (at, value) in numbers(&case["at"]).into_iter().zip(numbers(&case["value"])) {
                assert!((curve.at(at) - value).abs() < 1e-12, "{} at {at}: {} {value}", case["name"], curve.at(at));
                checked += 1;
            }
        }
        assert_eq!(checked, 8 * 23);
    }

    #[test]
    fn what_makes_no_curve_is_refused() {
        assert_eq!(Pchip::new([(1.0, 2.0)]), Err(PchipError::TooFew));
        assert_eq!(Pchip::new([(1.0, 2.0), (1.0, 3.0)]), Err(PchipError::Places));
        assert_eq!(Pchip::new([(1.0, 2.0), (f64::NAN, 3.0)]), Err(PchipError::Places));
        let hill = Pchip::new([(0.0, 0.0), (1.0, 1.0), (2.0, 0.0)]).unwrap();
        assert_eq!((hill.is_monotone(), hill.inverse(0.5, 0.0)), (false, None));
    }

    #[test]
    fn beyond_its_points_it_is_followed_as_far_as_is_asked_and_no_further() {
        let line = Pchip::new([(0.0, 0.0), (100.0, 10.0)]).unwrap();
        assert!((line.inverse(10.9, 10.0).unwrap() - 109.0).abs() < 1e-9);
        assert_eq!(line.inverse(11.1, 10.0), None);
        assert_eq!(line.inverse(-0.1, 0.0), None);
        assert!(
            (line.inverse(0.0, 0.0).unwrap()).abs() < 1e-9 && (line.inverse(10.0, 0.0).unwrap() - 100.0).abs() < 1e-9
        );
    }

    proptest! {
        #[test]
        fn a_curve_through_rising_points_rises_and_is_read_backwards(
            steps in prop::collection::vec((0.1..5.0f64, 0.01..3.0f64), 1..8),
            share in 0.0..1.0f64,
            falls in any::<bool>(),
        ) {
            let (mut x, mut y) = (0.0, 0.0);
            let mut points = vec![(0.0, 0.0)];
            for (dx, dy) in steps {
                x += dx;
                y += if falls { -dy } else { dy };
                points.push((x, y));
            }
            let curve = Pchip::new(points).unwrap();
            let place = share * x;
            let value = curve.at(place);
            let back = curve.inverse(value, 1e-9).unwrap();
            // Where the curve is flat many places have nearly one value.
            prop_assert!((curve.at(back) - value).abs() < 1e-9, "{} {}", back, place);
            let (a, b) = (curve.at(place * 0.99), value);
            let onward = if falls { a - b } else { b - a };
            prop_assert!(onward >= -1e-12, "{} {}", a, b);
            let h = 1e-6;
            let numeric = (curve.at(place + h) - curve.at(place - h)) / (2.0 * h);
            prop_assert!(place < 2.0 * h || place > x - 2.0 * h || (curve.slope(place) - numeric).abs() < 1e-3 * (1.0 + numeric.abs()));
        }
    }
}
