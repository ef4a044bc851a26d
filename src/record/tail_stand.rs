//! Where the tail blades stand: their pitch out of the disc, by which an end of the rudder is judged.
//!
//! A tail blade stalls by the pitch at which it stands, whatever the neutral that it came from. Each reading carries the
//! roll of the model, with opposite sign for leading edge up and leading edge down. So the pitch p of a blade is known from
//!
//! * both edges at the end: p = ½·(m_up + m_down);
//! * one edge at the end, both at neutral: p = ½·(n_up + n_down) + (m_edge − n_edge), the roll dropping out of the travel;
//! * another blade that is known so, and the difference of the two blades with one edge at one position of the rudder.
//!
//! From one edge alone the roll stays in the budget. Of several blades the one that is judged worst counts. A reading
//! against the blade's own neutral tells no pitch at all.

use super::cell::{Basis, Cell, CellName, Value, Verdict};
use super::finding::Undecided;
use super::timeline::{Dated, Timeline, best};
use super::travel::own_budget;
use crate::rotor::{Axis, BladeName, Collective, Datum, Deflection, LeadingEdge, Rudder, Spot};
use crate::uncertainty::{Budget, Decision, Remedy, Target, decide};
use crate::units::Angle;
use serde::Serialize;
use uuid::Uuid;

/// What the pitch of a tail blade is known from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum KnownFrom {
    /// Both leading edges at this end.
    BothEdges,
    /// Both leading edges at neutral, and the travel with one of them.
    NeutralAndTravel,
    /// The other blade, and how far this one stands off it.
    OtherBlade,
    /// One leading edge: the roll of the model is in it.
    OneEdge,
    /// An end of the collective: how its blade stands at mid stick, free of the lean, and the travel from there.
    ZeroAndTravel,
    /// The same with a zero, or an end, that was read at one station: the lean is in it.
    OneStation,
}

/// The pitch at which a blade stands at an end of the rudder or of the collective.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stands {
    /// Out of the disc, positive in the commanded direction; of the collective with the sign of the pitch.
    #[serde(rename = "pitch_deg")]
    pub angle: Angle,
    /// U for 95 %.
    #[serde(rename = "expanded_uncertainty_deg")]
    pub expanded: Angle,
    /// Which blade: the one that is judged worst.
    pub blade: BladeName,
    /// What it is known from.
    pub known_from: KnownFrom,
    /// What makes it uncertain.
    pub budget: Budget,
    /// The captures it is known from.
    pub captures: Vec<Uuid>,
}

impl Stands {
    /// What is judged in the place of a travel.
    pub(super) fn value(&self, of: &Value) -> Value {
        Value { angle: self.angle, expanded: self.expanded, budget: self.budget.clone(), ..of.clone() }
    }
}

/// A sum of readings, each with its weight.
#[derive(Debug, Clone)]
struct Sum<'t, 'a>(Vec<(f64, &'t Dated<'a>)>);

impl<'t, 'a> Sum<'t, 'a> {
    fn mean(up: &'t Dated<'a>, down: &'t Dated<'a>) -> Self {
        Self(vec![(0.5, up), (0.5, down)])
    }

    fn and(mut self, more: &'t Dated<'a>, less: &'t Dated<'a>) -> Self {
        self.0.extend([(1.0, more), (-1.0, less)]);
        self
    }

    fn angle(&self) -> Angle {
        self.0.iter().map(|(weight, dated)| dated.capture.reading.angle * *weight).sum()
    }

    fn budget(&self, sense: f64) -> Budget {
        let own: Vec<(f64, Budget)> = self.0.iter().map(|(w, d)| (w * sense, own_budget(d.capture))).collect();
        Budget::combination(&own.iter().map(|(weight, budget)| (*weight, budget)).collect::<Vec<_>>())
    }
}

/// The readings of the tail that hold and can be held against one of them; beside one that holds no more, all of them.
struct Tail<'t, 'a> {
    readings: Vec<&'t Dated<'a>>,
}

const EDGES: [LeadingEdge; 2] = [LeadingEdge::Up, LeadingEdge::Down];
const POSITIONS: [Rudder; 3] = [Rudder::Neutral, Rudder::Left, Rudder::Right];

impl<'t, 'a> Tail<'t, 'a> {
    fn of(timeline: &'t Timeline<'a>, like: &Dated<'a>) -> Self {
        let tells = |d: &&Dated<'_>| {
            d.subject().leading_edge().is_some()
                && (d.is_fresh() || !like.is_fresh())
                && !matches!(d.capture.datum.datum, Datum::Neutral { .. })
                && (d.subject().deflection().is_neutral() || d.capture.reaches_the_end())
                && d.is_comparable(like)
        };
        Self { readings: timeline.all().filter(tells).collect() }
    }

    fn read(&self, blade: BladeName, rudder: Rudder, edge: LeadingEdge) -> Option<&'t Dated<'a>> {
        let here = |d: &&&Dated<'a>| {
            d.subject().blade() == blade
                && d.subject().deflection() == Deflection::Rudder(rudder)
                && d.subject().spot() == Spot::Tail(edge)
        };
        best(self.readings.iter().filter(here).copied())
    }

    fn both(&self, blade: BladeName, rudder: Rudder) -> Option<Sum<'t, 'a>> {
        let [up, down] = EDGES.map(|edge| self.read(blade, rudder, edge));
        Some(Sum::mean(up?, down?))
    }

    /// Free of the roll, from readings of this blade alone.
    fn known(&self, blade: BladeName, rudder: Rudder) -> Option<(Sum<'t, 'a>, KnownFrom)> {
        if let Some(sum) = self.both(blade, rudder) {
            return Some((sum, KnownFrom::BothEdges));
        }
        let travel = EDGES
            .into_iter()
            .find_map(|edge| Some((self.read(blade, rudder, edge)?, self.read(blade, Rudder::Neutral, edge)?)));
        let (end, neutral) = travel?;
        Some((self.both(blade, Rudder::Neutral)?.and(end, neutral), KnownFrom::NeutralAndTravel))
    }

    /// One reading of each of two blades, with one leading edge and the rudder in one position.
    fn side_by_side(&self, blade: BladeName, other: BladeName) -> Option<[&'t Dated<'a>; 2]> {
        POSITIONS
            .into_iter()
            .flat_map(|rudder| EDGES.map(|edge| (rudder, edge)))
            .find_map(|(rudder, edge)| Some([self.read(blade, rudder, edge)?, self.read(other, rudder, edge)?]))
    }

    fn one_edge(&self, blade: BladeName, rudder: Rudder) -> Option<Sum<'t, 'a>> {
        EDGES.into_iter().find_map(|edge| self.read(blade, rudder, edge)).map(|read| Sum(vec![(1.0, read)]))
    }

    fn blades(&self) -> Vec<BladeName> {
        let mut blades: Vec<BladeName> = self.readings.iter().map(|d| d.subject().blade()).collect();
        blades.sort_unstable();
        blades.dedup();
        blades
    }

    /// What every blade that was read is known to stand at.
    fn stands(&self, rudder: Rudder) -> Vec<(BladeName, Sum<'t, 'a>, KnownFrom)> {
        let blades = self.blades();
        let known: Vec<_> =
            blades.iter().filter_map(|b| self.known(*b, rudder).map(|(sum, from)| (*b, sum, from))).collect();
        let beside = |blade: BladeName| {
            known.iter().find_map(|(other, sum, _)| {
                let [this, that] = self.side_by_side(blade, *other)?;
                Some((sum.clone().and(this, that), KnownFrom::OtherBlade))
            })
        };
        let rest = blades.iter().filter(|blade| !known.iter().any(|(known, ..)| known == *blade)).filter_map(|blade| {
            let single = || self.one_edge(*blade, rudder).map(|sum| (sum, KnownFrom::OneEdge));
            let (sum, from) = beside(*blade).or_else(single)?;
            Some((*blade, sum, from))
        });
        let rest: Vec<_> = rest.collect();
        known.into_iter().chain(rest).collect()
    }
}

/// Where the blade that is judged worst stands at an end of the rudder; none where no reading tells its pitch. `like` is a
/// reading of that end that counts, `sense` turns a pitch into the commanded direction.
pub(super) fn stands<'a>(timeline: &Timeline<'a>, like: &Dated<'a>, target: Target, sense: f64) -> Option<Stands> {
    let Deflection::Rudder(rudder) = like.subject().deflection() else { return None };
    let tail = Tail::of(timeline, like);
    let told = tail.stands(rudder).into_iter().map(|(blade, sum, known_from)| {
        let budget = sum.budget(sense);
        Stands {
            angle: sum.angle() * sense,
            expanded: budget.expanded().expanded,
            blade,
            known_from,
            budget,
            captures: sum.0.iter().map(|(_, dated)| dated.capture.id).collect(),
        }
    });
    told.max_by(|a, b| severity(target, a).total_cmp(&severity(target, b)))
}

/// The newest reading of blade A beside one of another tail blade, with the same leading edge and the rudder in the same
/// position, and the budget of their difference; those that hold first.
pub(super) fn split<'t, 'a>(timeline: &'t Timeline<'a>, other: &Dated<'a>) -> Option<(&'t Dated<'a>, Budget)> {
    let beside = |d: &&Dated<'a>| {
        d.subject().blade() == BladeName::A
            && d.subject().spot() == other.subject().spot()
            && (d.subject().deflection().is_neutral()
                || (d.capture.reaches_the_end() && other.capture.reaches_the_end()))
            && d.is_comparable(other)
    };
    let reference = best(timeline.of(other.subject().deflection()).filter(beside))?;
    Some((reference, own_budget(other.capture).difference(&own_budget(reference.capture))))
}

/// A pitch from one leading edge is never too close for any reading: the other edge takes the roll out altogether.
pub(super) fn with_other_edge(verdict: Verdict, known_from: KnownFrom) -> Verdict {
    match verdict {
        Verdict::Undecided { by: Undecided::TooClose(mut doubt) } if known_from == KnownFrom::OneEdge => {
            doubt.steps.retain(|step| *step != Remedy::OtherEdge);
            doubt.steps.insert(0, Remedy::OtherEdge);
            Verdict::Undecided { by: Undecided::TooClose(doubt) }
        }
        verdict => verdict,
    }
}

/// What is judged of a value: of a ceiling its size.
fn judged(target: Target, angle: Angle) -> Angle {
    if matches!(target, Target::AtMost(_)) { angle.abs() } else { angle }
}

/// Outside before undecided before inside, then how little is left to the limit.
fn severity(target: Target, stands: &Stands) -> f64 {
    let angle = judged(target, stands.angle);
    let rank = match decide(target, angle, &stands.budget) {
        Decision::Outside => 2.0,
        Decision::Undecided(_) => 1.0,
        Decision::Inside => 0.0,
    };
    rank * 1e3 - target.margin(angle).degrees().clamp(-400.0, 400.0)
}

/// What is wanted of a travel that begins at the pitch `before`, so that its end comes to the pitch that is wanted of it; none where
/// nothing is left under a ceiling. The low end of the collective goes down from there.
pub(super) fn of_travel(end: Deflection, target: Target, before: Angle, expanded: Angle) -> Option<Target> {
    match target {
        Target::Band { target, tolerance } => Some(Target::Band { target: target - before, tolerance }),
        Target::AtMost(ceiling) => {
            let toward = if end == Deflection::Collective(Collective::Low) { -before } else { before };
            let left = ceiling - toward - expanded;
            (left > Angle::ZERO).then_some(Target::AtMost(left))
        }
    }
}

impl Cell {
    /// What is wanted of the travel so that the blade stands as wanted; none where its pitch is not known free of the
    /// model's roll or lean, or where the neutral alone stands past it. Of cells that are judged by their value, their target.
    #[must_use]
    pub fn target_of_travel(&self) -> Option<Target> {
        let by_pitch = |end: &Deflection| matches!(end.axis(), Axis::Rudder | Axis::Collective);
        let CellName::Limit(end) = self.name else { return Some(self.target) };
        let Some(stands) = &self.stands else {
            return (!by_pitch(&end)).then_some(self.target);
        };
        if matches!(stands.known_from, KnownFrom::OneEdge | KnownFrom::OneStation) {
            return None;
        }
        let before = stands.angle - self.value.as_ref().filter(|value| value.basis == Basis::Travel)?.angle;
        of_travel(end, self.target, before, stands.expanded)
    }

    /// The value by which it is judged, with its U.
    #[must_use]
    pub fn judged(&self) -> Option<(Angle, Angle)> {
        let value = self.value.as_ref().map(|value| (value.angle, value.expanded));
        self.stands.as_ref().map(|stands| (stands.angle, stands.expanded)).or(value)
    }

    /// The same with its budget: of an end of rudder and collective the pitch, where it is known.
    #[must_use]
    pub fn judged_value(&self) -> Option<Value> {
        let value = self.value.as_ref()?;
        Some(self.stands.as_ref().map_or_else(|| value.clone(), |stands| stands.value(value)))
    }

    /// What the judged value is measured from, none where it is a pitch: values of different kinds are two things.
    pub(super) fn judged_from(&self) -> Option<Basis> {
        self.value.as_ref().filter(|_| self.stands.is_none()).map(|value| value.basis)
    }
}
