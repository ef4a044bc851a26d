//! The collective from its captures: pitch against stick, how straight it is, one end against the other.
//!
//! Pitch is the movement from mid stick, as in the record: free of the lean of the shaft and the clip's offset. A straight
//! line is drawn through the two outermost captures; what lies off it by more than its own uncertainty is a bend. Unequal
//! ends and a bend point to a servo arm that is not square to its rod (a straight linkage makes 6.03° of 6.00° at half
//! stick: arm 15 mm, pitch arm 20 mm, by calculation).

use super::head::Head;
use super::setup::Entry;
use super::travel_survey::{TravelPair, TravelSurvey, TravelSurveyError};
use crate::advice::{Pair, Symmetry};
use crate::rotor::{Collective, Deflection};
use crate::uncertainty::Budget;
use crate::units::{Angle, Percent};

/// A point no farther off the line than this is on it. [common practice, no source]
const STRAIGHT_DEGREES: f64 = 0.3;

/// The collective as captured.
#[derive(Debug, Clone, PartialEq)]
pub struct CollectiveSurvey {
    /// Output against pitch, from −100 low to +100 high.
    pub travel: TravelSurvey,
    /// How far each capture between the ends lies off the straight line through the ends; the neutral among them.
    pub off_the_line: Vec<OffTheLine>,
    /// The high end against the low end; none while one of them was not captured as its end point stands now, or where the
    /// description sets ceilings that differ.
    pub symmetry: Option<Symmetry>,
    ends: [Percent; 2],
}

/// Two outputs nearer than this are one, percent.
const SAME_OUTPUT: f64 = 0.5;

/// One point and the straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffTheLine {
    /// Where the stick stood, 0 low to 100 high, by the end points as they are now.
    pub stick: Percent,
    /// How far above the line.
    pub by: Angle,
    /// U, for 95 %.
    pub expanded: Angle,
}

impl OffTheLine {
    /// Whether it is off the line for certain, and by more than a straight linkage should be.
    #[must_use]
    pub fn is_significant(&self) -> bool {
        self.by.abs() > self.expanded && self.by.abs().degrees() > STRAIGHT_DEGREES
    }
}

impl CollectiveSurvey {
    /// From the captures of the collective that hold, on the blade and at the place of the newest.
    ///
    /// # Errors
    /// When no pair holds, or the pairs make no curve.
    pub fn new(head: &Head, entries: &[Entry], before: Option<Percent>) -> Result<Self, TravelSurveyError> {
        let travel = TravelSurvey::new(head, entries, Deflection::Collective(Collective::High), before)?;
        let end = |end| {
            let now = TravelSurvey::end_point_now(entries, Deflection::Collective(end));
            now.or(before).unwrap_or(Percent::new(100.0))
        };
        let ends = [end(Collective::Low), end(Collective::High)];
        let pairs = travel.curve.pairs();
        // An end is what was captured at the end point that is in force now.
        let captured = |output: f64| pairs.iter().find(|pair| (pair.output.value() - output).abs() < SAME_OUTPUT);
        let low = captured(-ends[0].value());
        let symmetry = low.zip(captured(ends[1].value())).zip(wanted(head)).map(|((low, high), wanted)| {
            Symmetry::new((high.angle, &high.budget), (-low.angle, &turned(&low.budget)), wanted)
        });
        let off_the_line = match pairs {
            [low, between @ .., high] => between.iter().map(|pair| off(low, pair, high, ends)).collect(),
            _ => Vec::new(),
        };
        Ok(Self { travel, off_the_line, symmetry, ends })
    }

    /// Where the stick stands for an output, by the end points as they are now; 0 low to 100 high.
    #[must_use]
    pub fn stick_of(&self, output: f64) -> f64 {
        stick_of(output, self.ends)
    }

    /// The captures, each with the place of the stick as the end points are now.
    pub fn points(&self) -> impl Iterator<Item = (f64, &TravelPair)> {
        self.travel.pairs.iter().map(|pair| (self.stick_of(pair.output.value()), pair))
    }

    /// The curve at evenly spaced places between the outermost captures: stick and pitch in degrees.
    #[must_use]
    pub fn drawn(&self) -> Vec<(f64, f64)> {
        const STEPS: u32 = 100;
        let outputs = self.travel.curve.pairs().first().zip(self.travel.curve.pairs().last());
        let Some((first, last)) = outputs.map(|(a, b)| (a.output.value(), b.output.value())) else { return Vec::new() };
        let place = |step: u32| first + (last - first) * f64::from(step) / f64::from(STEPS);
        (0..=STEPS).map(place).map(|x| (self.stick_of(x), self.travel.curve.angle_at(x).degrees())).collect()
    }

    /// The point that lies farthest off the line for certain.
    #[must_use]
    pub fn worst(&self) -> Option<OffTheLine> {
        let certain = self.off_the_line.iter().filter(|point| point.is_significant());
        certain.max_by(|a, b| a.by.abs().radians().total_cmp(&b.by.abs().radians())).copied()
    }
}

/// How much further the high end shall go than the low one: as the description says, else not at all.
fn wanted(head: &Head) -> Option<Angle> {
    let target = |end| head.target(Deflection::Collective(end));
    match (target(Collective::High), target(Collective::Low)) {
        (Some(high), Some(low)) => super::balance::wanted(high, low, -1.0),
        _ => Some(Angle::ZERO),
    }
}

fn stick_of(output: f64, ends: [Percent; 2]) -> f64 {
    let end = if output < 0.0 { ends[0] } else { ends[1] };
    50.0 + 50.0 * output / end.value()
}

fn turned(budget: &Budget) -> Budget {
    Budget::combination(&[(-1.0, budget)])
}

fn off(low: &Pair, pair: &Pair, high: &Pair, ends: [Percent; 2]) -> OffTheLine {
    let share = (pair.output.value() - low.output.value()) / (high.output.value() - low.output.value());
    let by = pair.angle - (low.angle * (1.0 - share) + high.angle * share);
    let budget = Budget::combination(&[(1.0, &pair.budget), (share - 1.0, &low.budget), (-share, &high.budget)]);
    OffTheLine { stick: Percent::new(stick_of(pair.output.value(), ends)), by, expanded: budget.expanded().expanded }
}
