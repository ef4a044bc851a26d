//! Whether a still stretch is the end of an exponential settling, and what that would leave in its mean.
//!
//! A servo that creeps into its place gets there as e^(−t/τ). Its last part hides in the noise, so the stretch itself
//! cannot show it; what came before can. For each of some time constants, level and decay are fitted to the stretch and
//! to ever more before it, as long as each further piece lies where the fit foretells it (recursive residuals: Brown,
//! Durbin and Evans, J. R. Stat. Soc. B 37 (1975) 149–192). A movement that ends at once stops this soon; a settling lets
//! it run far back. Times in seconds, angles in radians.

use super::stillness::Point;
use crate::stats::normal_equations::NormalEquations;

/// Time constants of a servo's settling; between two of them a factor of 1.5.
const TIME_CONSTANTS: [f64; 7] = [0.1, 0.15, 0.23, 0.35, 0.55, 0.85, 1.4];
/// A further piece may lie so many standard deviations off.
const FORETOLD: f64 = 3.0;
/// A decay that stands out by less is none.
const SIGNIFICANT: f64 = 3.0;
/// A settling must be seen for so long before the stretch, or for so many of its time constants.
const SEEN: f64 = 0.12;
const SEEN_SHARE: f64 = 0.8;
/// Longest look back in time constants: before that an e^(−t/τ) would have been a different movement.
const FURTHEST: f64 = 12.0;

/// Where a creep may have ended, as shares of the stretch.
const HINGES: [f64; 8] = [0.3, 0.45, 0.6, 0.7, 0.8, 0.9, 0.97, 1.05];
/// A creep that ended explains the samples better when its sum of squares is less by so many variances.
const RATHER_CREEP: f64 = 8.0;

/// A decay that a stretch may be the end of.
#[derive(Debug, Clone, Copy)]
pub struct Tail {
    /// What is left of it at the newest sample, in radians.
    pub left: f64,
    /// In seconds.
    pub time_constant: f64,
}

impl Tail {
    /// What it adds to the mean of the last `length` seconds.
    pub fn in_mean_of(&self, length: f64) -> f64 {
        let spans = length / self.time_constant;
        self.left * spans.exp_m1() / spans.max(1e-9)
    }
}

/// Sums for level and shape, from the newest sample backward; the first of them is the number of samples.
type Sums = NormalEquations<2, 1>;

/// How far the mean of a piece lies from what those before it foretell, in standard deviations.
fn misses(known: &Sums, piece: &Sums, sigma: f64) -> f64 {
    let Some(solved) = known.solve(0) else { return 0.0 };
    let [[level, amplitude]] = solved.coefficients();
    let n = piece.sum(0, 0);
    let at = piece.sum(1, 0) / n;
    let off = piece.sum_with(0, 0) / n - level - amplitude * at;
    off.abs() / (sigma * (1.0 / n + solved.variance_at([1.0, at])).sqrt())
}

/// e^(age/τ) at ages that grow in small steps. Most of the time of a look goes into these; a few terms of the series for each
/// step are as good as an exponential, and several times as quick.
struct Growth {
    time_constant: f64,
    age: f64,
    value: f64,
}

impl Growth {
    /// Up to this step the series is good to 2·10⁻¹¹ each time.
    const SMALL: f64 = 0.05;

    const fn of(time_constant: f64) -> Self {
        Self { time_constant, age: 0.0, value: 1.0 }
    }

    fn at(&mut self, age: f64) -> f64 {
        let step = (age - self.age) / self.time_constant;
        self.value *= if step.abs() < Self::SMALL {
            1.0 + step * (1.0 + step / 2.0 * (1.0 + step / 3.0 * (1.0 + step / 4.0 * (1.0 + step / 5.0))))
        } else {
            step.exp()
        };
        self.age = age;
        self.value
    }
}

/// Points from the newest to the oldest, made only as far back as somebody looks.
struct Backward<I> {
    further: I,
    known: Vec<Point>,
}

impl<I: Iterator<Item = Point>> Backward<I> {
    fn at(&mut self, place: usize) -> Option<Point> {
        while self.known.len() <= place {
            self.known.push(self.further.next()?);
        }
        self.known.get(place).copied()
    }

    fn all(&mut self) -> impl Iterator<Item = Point> {
        (0..).map_while(|place| self.at(place))
    }
}

/// The decay that the last `length` seconds are the end of, if one shows before them; the strongest in their mean.
pub fn tail_of(points: impl Iterator<Item = Point>, length: f64, sigma: f64) -> Option<Tail> {
    let mut points = Backward { further: points, known: Vec::new() };
    let newest = points.at(0)?.0;
    let mut found: Option<(Tail, f64)> = None;
    let mut furthest: f64 = 0.0;
    for time_constant in TIME_CONSTANTS {
        let Some((tail, seen)) = follow(&mut points, newest, length, time_constant, sigma) else { continue };
        let more = found.is_none_or(|(old, _)| tail.in_mean_of(length).abs() > old.in_mean_of(length).abs());
        if seen > 1.25 * furthest || (seen > 0.8 * furthest && more) {
            found = Some((tail, seen));
        }
        furthest = furthest.max(seen);
    }
    let (tail, seen) = found?;
    let shown = |age: f64| age <= length + seen;
    let mut growth = Growth::of(tail.time_constant);
    let decay = left_over(&mut points, newest, shown, |age| growth.at(age));
    let creep = HINGES
        .iter()
        .map(|share| share * length)
        .map(|hinge| left_over(&mut points, newest, shown, |age| (age - hinge).max(0.0)))
        .fold(f64::INFINITY, f64::min);
    (decay < creep + RATHER_CREEP * sigma * sigma).then_some(tail)
}

/// The sum of squares that level and shape leave of the samples shown.
fn left_over(
    points: &mut Backward<impl Iterator<Item = Point>>,
    newest: f64,
    shown: impl Fn(f64) -> bool,
    mut shape: impl FnMut(f64) -> f64,
) -> f64 {
    let mut sums = Sums::default();
    for (clock, value) in points.all() {
        let age = newest - clock;
        if !shown(age) {
            break;
        }
        sums.add([1.0, shape(age)], [value]);
    }
    sums.solve(0).map_or(f64::INFINITY, |solved| solved.left()[0])
}

/// Follows a decay back beyond the stretch; gives it with the time for which it was followed.
fn follow(
    points: &mut Backward<impl Iterator<Item = Point>>,
    newest: f64,
    length: f64,
    time_constant: f64,
    sigma: f64,
) -> Option<(Tail, f64)> {
    let mut known = Sums::default();
    let mut piece = Sums::default();
    let mut growth = Growth::of(time_constant);
    let mut reach = length;
    let mut seen = 0.0;
    for (clock, value) in points.all() {
        let age = newest - clock;
        if age > length + FURTHEST * time_constant || age > 30.0 * time_constant {
            break;
        }
        if age > reach {
            if known.sum(0, 0) > 0.0 {
                if piece.sum(0, 0) < 2.0 || misses(&known, &piece, sigma) > FORETOLD {
                    break;
                }
                seen = reach - length;
            }
            known.add_all(&piece);
            piece = Sums::default();
            reach += (0.25 * time_constant).max(0.03);
        }
        piece.add([1.0, growth.at(age)], [value]);
    }
    if seen < SEEN.max(SEEN_SHARE * time_constant) {
        return None;
    }
    let solved = known.solve(0)?;
    let [[_, left]] = solved.coefficients();
    let u_left = sigma / solved.own(1);
    (left.abs() > SIGNIFICANT * u_left).then_some((Tail { left, time_constant }, seen))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Six seconds of a sensor at 400 Hz whose samples come early and late, with a gap.
    #[test]
    fn a_growth_that_is_followed_step_by_step_is_the_exponential() {
        for time_constant in TIME_CONSTANTS {
            let mut growth = Growth::of(time_constant);
            let mut age = 0.0;
            for sample in 0..2400 {
                let value = growth.at(age);
                let exact = (age / time_constant).exp();
                assert!((value / exact - 1.0).abs() < 1e-8, "{time_constant} s at {age}: {value} {exact}");
                age += match sample {
                    700 => 0.4,
                    late if late % 3 == 0 => 0.0033,
                    _ => 0.0021,
                };
            }
        }
    }
}
