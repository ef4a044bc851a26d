//! The output that gives a wanted angle, from captured pairs of output and angle.
//!
//! Through the pairs runs the monotone cubic, which is read backwards. It is followed beyond the pairs by no more than a
//! tenth of the span of their outputs: what a linkage does further out, nobody has seen.
//!
//! Two things make the answer uncertain. The angles of the pairs do: each by what the curve at that output moves when the
//! pair moves (JCGM 100:2008, 5.1.3 note 2). And so does the shape between two pairs: half the
//! way between them it may differ from the curve by as much as the curve differs from a straight line, and by 4 % of the
//! whole travel where the pairs are as far apart as they can be, less by the square of their distance, because servo arms,
//! swashplate and pitch arms move in arcs. Both are taken as evenly likely.

use crate::stats::pchip::{Pchip, PchipError};
use crate::uncertainty::{Budget, Component, Contribution};
use crate::units::{Angle, Percent};

/// What the shape of a linkage may add half way between pairs that span the whole travel, as a share of it.
///
/// A straight line through neutral and end, followed from 60 % to 108 % of the output, was off by 1.5 % of the travel (root
/// mean square) on the elevator, 1.0 % on the aileron and 0.4 % on the tail of simulated heads whose three servo arms stand
/// up to 6° off square, each on its own; by 5 % at worst. A bow of 4 % half way makes as much of it at those outputs.
const BEND: f64 = 0.04;

/// How far beyond the pairs the curve is followed, as a share of their span.
const BEYOND: f64 = 0.1;

/// One output and the angle that it gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Output, percent.
    pub output: Percent,
    /// The angle: a travel, or a pitch.
    pub angle: Angle,
    /// What makes the angle uncertain; errors that pairs share must name their source.
    pub budget: Budget,
}

/// Angle against output.
#[derive(Debug, Clone, PartialEq)]
pub struct TravelCurve {
    pairs: Vec<Pair>,
    curve: Pchip,
}

/// An output, and what it is expected to give.
#[derive(Debug, Clone, PartialEq)]
pub struct Output {
    /// The output, percent.
    pub output: Percent,
    /// U of the output for the wanted angle, for 95 %, percent.
    pub expanded: Percent,
    /// The nearest whole percent, as a transmitter takes it.
    pub whole: Percent,
    /// The angle that the whole percent is expected to give.
    pub angle: Angle,
    /// What makes that angle uncertain.
    pub budget: Budget,
}

/// Why pairs give no output.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TravelError {
    /// Fewer than two pairs.
    #[error("one pair")]
    OnePair,
    /// Two pairs at one output, or a coordinate that is no number.
    #[error("one output twice")]
    Twice,
    /// More output, less angle.
    #[error("turns: {from}, {to}")]
    Turns {
        /// Where it begins, percent.
        from: f64,
        /// Where it ends, percent.
        to: f64,
    },
    /// What was captured is too uncertain for the ceiling.
    #[error("never under: {ceiling}")]
    NeverUnder {
        /// What must not be passed.
        ceiling: Angle,
    },
    /// Too far beyond the pairs.
    #[error("too far: {wanted}")]
    TooFar {
        /// What was asked for.
        wanted: Angle,
        /// The least angle captured.
        low: Angle,
        /// The largest.
        high: Angle,
        /// The farthest output that is advised, percent.
        limit: f64,
    },
}

impl TravelCurve {
    /// The curve through pairs in any order.
    ///
    /// # Errors
    /// When there are fewer than two, two at one output, or more output does not give more angle.
    pub fn new(pairs: impl IntoIterator<Item = Pair>) -> Result<Self, TravelError> {
        let mut pairs: Vec<Pair> = pairs.into_iter().collect();
        pairs.sort_by(|a, b| a.output.value().total_cmp(&b.output.value()));
        let curve = Pchip::new(pairs.iter().map(point)).map_err(|error| match error {
            PchipError::TooFew => TravelError::OnePair,
            PchipError::Places => TravelError::Twice,
        })?;
        let rises = pairs.last().zip(pairs.first()).is_some_and(|(last, first)| last.angle > first.angle);
        let turned =
            pairs.windows(2).find(|pair| (pair[1].angle > pair[0].angle) != rises || pair[1].angle == pair[0].angle);
        match turned {
            Some(pair) => Err(TravelError::Turns { from: pair[0].output.value(), to: pair[1].output.value() }),
            None => Ok(Self { pairs, curve }),
        }
    }

    /// The pairs, in order of output.
    #[must_use]
    pub fn pairs(&self) -> &[Pair] {
        &self.pairs
    }

    /// The output for a wanted angle.
    ///
    /// # Errors
    /// When it lies further beyond the pairs than a tenth of their span.
    pub fn output_for(&self, wanted: Angle) -> Result<Output, TravelError> {
        let output = self.curve.inverse(wanted.degrees(), self.beyond()).ok_or_else(|| self.too_far(wanted))?;
        let slope = self.curve.slope(output).abs();
        let u = self.budget_at(output).expanded().expanded;
        // A whole percent must not step over the farthest place that is advised.
        let (first, last) = self.curve.span();
        let whole = output.round().clamp((first - self.beyond()).ceil(), (last + self.beyond()).floor());
        Ok(Output {
            output: Percent::new(output),
            expanded: Percent::new(u.degrees() / slope),
            whole: Percent::new(whole),
            angle: self.angle_at(whole),
            budget: self.budget_at(whole),
        })
    }

    /// The largest whole output whose angle stays under a ceiling for certain, its uncertainty allowed for.
    ///
    /// # Errors
    /// When the ceiling lies further beyond the pairs than a tenth of their span, or no output stays under it.
    pub fn output_under(&self, ceiling: Angle) -> Result<Output, TravelError> {
        let mut found = self.output_for(ceiling)?;
        let towards_neutral = found.whole.value().signum();
        while found.angle.abs() + found.budget.expanded().expanded > ceiling.abs() {
            let whole = found.whole.value() - towards_neutral;
            if whole * towards_neutral <= 0.0 {
                return Err(TravelError::NeverUnder { ceiling });
            }
            found.whole = Percent::new(whole);
            found.angle = self.angle_at(whole);
            found.budget = self.budget_at(whole);
        }
        // No output at all is no end point either.
        if found.whole.value() == 0.0 { Err(TravelError::NeverUnder { ceiling }) } else { Ok(found) }
    }

    /// Whether an output lies beyond the pairs, where nobody has seen what the linkage does.
    #[must_use]
    pub fn is_beyond(&self, output: Percent) -> bool {
        let (first, last) = self.curve.span();
        !(first..=last).contains(&output.value())
    }

    /// The angle at an output, percent.
    #[must_use]
    pub fn angle_at(&self, output: f64) -> Angle {
        Angle::from_degrees(self.curve.at(output))
    }

    /// What makes the angle at an output uncertain.
    #[must_use]
    pub fn budget_at(&self, output: f64) -> Budget {
        let terms: Vec<(f64, &Budget)> =
            self.pairs.iter().enumerate().map(|(place, pair)| (self.moved_by(place, output), &pair.budget)).collect();
        Budget::combination(&terms).with(self.shape(output))
    }

    /// By how much the angle at an output moves with the angle of one pair.
    fn moved_by(&self, place: usize, output: f64) -> f64 {
        const STEP: f64 = 1e-4;
        let moved = |by: f64| {
            let points = self.pairs.iter().enumerate().map(|(i, pair)| {
                let (x, y) = point(pair);
                (x, if i == place { y + by } else { y })
            });
            Pchip::new(points).map_or(0.0, |curve| curve.at(output))
        };
        (moved(STEP) - moved(-STEP)) / (2.0 * STEP)
    }

    /// What the linkage may do between the pairs, or beyond them, that they do not show.
    fn shape(&self, output: f64) -> Contribution {
        let points = self.curve.points();
        let after = points.partition_point(|point| point.0 <= output).clamp(1, points.len() - 1);
        let (a, b) = (points[after - 1], points[after]);
        let (width, (first, last)) = (b.0 - a.0, self.curve.span());
        let share = (output - a.0) / width;
        let straight = a.1 + share * (b.1 - a.1);
        let bowed = (self.curve.at(output) - straight).abs();
        let whole = (self.curve.at(last) - self.curve.at(first)).abs();
        let unseen = 4.0 * BEND * whole * (share * (1.0 - share)).abs() * (width / (last - first)).powi(2);
        Contribution::rectangular(Component::Shape, Angle::from_degrees(bowed.hypot(unseen))).assumed()
    }

    fn beyond(&self) -> f64 {
        let (first, last) = self.curve.span();
        BEYOND * (last - first)
    }

    fn too_far(&self, wanted: Angle) -> TravelError {
        let ends = [self.pairs.first(), self.pairs.last()].map(|pair| pair.map_or(Angle::ZERO, |pair| pair.angle));
        let (first, last) = self.curve.span();
        let rises = ends[1] > ends[0];
        let limit = if (wanted > ends[1]) == rises { last + self.beyond() } else { first - self.beyond() };
        let [low, high] = if rises { ends } else { [ends[1], ends[0]] };
        TravelError::TooFar { wanted, low, high, limit: limit.abs().trunc() }
    }
}

fn point(pair: &Pair) -> (f64, f64) {
    (pair.output.value(), pair.angle.degrees())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertainty::Source;

    fn pair(output: f64, degrees: f64, u: f64) -> Pair {
        let repeat = Contribution::new(Component::Repeat, Angle::from_degrees(u));
        Pair { output: Percent::new(output), angle: Angle::from_degrees(degrees), budget: Budget::new([repeat]) }
    }

    fn curve(pairs: &[(f64, f64)]) -> Result<TravelCurve, TravelError> {
        TravelCurve::new(pairs.iter().map(|&(output, degrees)| pair(output, degrees, 0.03)))
    }

    #[test]
    fn two_pairs_make_a_straight_line_whose_shape_is_doubted() {
        let line = curve(&[(0.0, 0.0), (100.0, 11.0)]).unwrap();
        let half = line.output_for(Angle::from_degrees(5.5)).unwrap();
        assert!((half.output.value() - 50.0).abs() < 1e-6);
        // Half way, 4 % of 11° evenly likely, and half of 0.03° from the far pair (the near one at zero has as much).
        let u = half.budget.components();
        assert!((u[&Component::Shape].degrees() - 0.44 / 3f64.sqrt()).abs() < 1e-6, "{u:?}");
        assert!((u[&Component::Repeat].degrees() - 0.5 * 0.03 * 2f64.sqrt()).abs() < 1e-6, "{u:?}");
        // On a pair itself nothing of the shape is left.
        let end = line.output_for(Angle::from_degrees(11.0)).unwrap();
        assert!(end.budget.components().get(&Component::Shape).is_none_or(|u| u.degrees() < 1e-9));
    }

    #[test]
    fn a_third_pair_bends_the_line_and_takes_doubt_away() {
        let bent = curve(&[(0.0, 0.0), (50.0, 5.8), (100.0, 11.0)]).unwrap();
        let straight = curve(&[(0.0, 0.0), (100.0, 11.0)]).unwrap();
        let wanted = Angle::from_degrees(8.0);
        let (bent, straight) = (bent.output_for(wanted).unwrap(), straight.output_for(wanted).unwrap());
        assert!(bent.output.value() < straight.output.value() - 1.0);
        assert!(bent.budget.components()[&Component::Shape] < straight.budget.components()[&Component::Shape]);
    }

    #[test]
    fn a_whole_percent_is_advised_with_what_it_gives() {
        let line = curve(&[(0.0, 0.0), (100.0, 12.5)]).unwrap();
        let advice = line.output_for(Angle::from_degrees(12.0)).unwrap();
        assert!((advice.output.value() - 96.0).abs() < 1e-6 && (advice.whole.value() - 96.0).abs() < 1e-9);
        assert!((advice.angle.degrees() - 12.0).abs() < 1e-9);
        let odd = line.output_for(Angle::from_degrees(11.93)).unwrap();
        assert!((odd.whole.value() - 95.0).abs() < 1e-9 && (odd.angle.degrees() - 11.875).abs() < 1e-9);
    }

    #[test]
    fn under_a_ceiling_is_under_it_with_the_uncertainty_allowed_for() {
        let line = curve(&[(0.0, 0.0), (50.0, 6.3), (100.0, 12.5)]).unwrap();
        let ceiling = Angle::from_degrees(12.0);
        let under = line.output_under(ceiling).unwrap();
        let u = under.budget.expanded().expanded;
        assert!(under.angle + u <= ceiling && under.angle + u > ceiling - Angle::from_degrees(0.14), "{under:?}");
        assert!((under.output.value() - line.output_for(ceiling).unwrap().output.value()).abs() < 1e-9);
    }

    #[test]
    fn beyond_a_tenth_of_what_was_measured_nothing_is_said() {
        let line = curve(&[(0.0, 0.0), (80.0, 8.0)]).unwrap();
        let just = line.output_for(Angle::from_degrees(8.79)).unwrap();
        assert!((just.output.value() - 87.9).abs() < 1e-6);
        let inside = line.output_for(Angle::from_degrees(7.0)).unwrap();
        assert!(just.expanded.value() > inside.expanded.value(), "further out is less certain");
        let far = line.output_for(Angle::from_degrees(9.0)).unwrap_err();
        let degrees = Angle::from_degrees;
        let TravelError::TooFar { wanted, low, high, limit } = far else { panic!("{far:?}") };
        assert_eq!((wanted, low, high, limit), (degrees(9.0), Angle::ZERO, degrees(8.0), 88.0));
        assert!(line.output_for(Angle::from_degrees(-2.0)).is_err());
    }

    #[test]
    fn pairs_that_make_no_sense_are_refused_with_where() {
        assert_eq!(curve(&[(100.0, 11.0)]), Err(TravelError::OnePair));
        assert_eq!(curve(&[(100.0, 11.0), (100.0, 11.1)]), Err(TravelError::Twice));
        assert_eq!(curve(&[(0.0, 0.0), (90.0, 10.0), (100.0, 9.8)]), Err(TravelError::Turns { from: 90.0, to: 100.0 }));
    }

    #[test]
    fn a_falling_curve_is_read_backwards_as_well() {
        let low = curve(&[(-100.0, -10.0), (0.0, 0.0), (100.0, 11.0)]).unwrap();
        assert!((low.output_for(Angle::from_degrees(-9.5)).unwrap().whole.value() + 95.0).abs() < 1e-9);
        let falling = curve(&[(0.0, 4.0), (50.0, -2.0), (100.0, -9.0)]).unwrap();
        assert!((falling.output_for(Angle::from_degrees(-2.0)).unwrap().output.value() - 50.0).abs() < 1e-6);
    }

    #[test]
    fn an_error_that_all_pairs_share_moves_the_answer_as_a_whole() {
        let shared = |output: f64, degrees: f64| {
            let seat = Contribution::new(Component::Clip, Angle::from_degrees(0.2)).shared(Source::seat(3));
            Pair { budget: Budget::new([seat]), ..pair(output, degrees, 0.0) }
        };
        let line = TravelCurve::new([shared(0.0, 1.0), shared(50.0, 6.5), shared(100.0, 12.0)]).unwrap();
        let u = line.budget_at(75.0).components()[&Component::Clip];
        assert!((u.degrees() - 0.2).abs() < 1e-6, "the whole curve stands higher or lower: {u}");
    }
}
