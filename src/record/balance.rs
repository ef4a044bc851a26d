//! One direction of an axis against the other: which goes too far, and by how much the neutral would balance them.

use super::cell::{Basis, Cell, CellName, Value, Verdict};
use super::head::Head;
use super::limits::LimitRecord;
use super::setup::Entry;
use super::tail_cells::slider_travel;
use super::tail_stand::KnownFrom;
use super::trade;
use super::travel_survey::{EndPoint, TravelSurvey};
use crate::advice::Symmetry;
use crate::rotor::{Axis, Deflection, Rotation, Rudder};
use crate::uncertainty::Target;
use crate::units::{Angle, Percent};
use serde::Serialize;

/// Both travels of an axis that hold, none of them in question, one against the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Balance {
    /// Up and down, or left and right.
    pub ends: [Deflection; 2],
    /// Their travels.
    pub travels: [Value; 2],
    /// The difference; none where the description says nothing of it, because its ceilings differ.
    pub symmetry: Option<Symmetry>,
    /// Whether a bind bounds one of the ends, which then must not be moved further.
    pub bound: bool,
    /// A difference of less than this is left alone, however certain.
    matters: Angle,
}

/// Why ends that differ are left alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LeftAlone {
    /// Nobody flies the difference.
    TooLittle,
    /// The end that goes further holds the torque of the main rotor.
    HoldsTheTorque,
}

/// Ends that differ by less than this are left alone: nobody flies the difference. [common practice, no source]
const WORTH_BALANCING_DEGREES: f64 = 0.25;

impl Balance {
    /// The axis as it was captured; none where one of its travels is missing, or of the collective and of corners.
    #[must_use]
    pub fn new(record: &LimitRecord, axis: Axis) -> Option<Self> {
        let ends = trade::ends(axis).filter(|_| axis != Axis::Collective)?;
        let [first, second] =
            ends.map(|end| record.cell(CellName::Limit(end)).filter(|cell| cell.verdict.is_captured()));
        let (first, second) = (first?, second?);
        let travel = |cell: &super::cell::Cell| {
            cell.value.clone().filter(|value| value.basis == Basis::Travel && cell.question.is_none())
        };
        let (a, b) = (travel(first)?, travel(second)?);
        let symmetry = wanted_of(first, second, 1.0)
            .map(|wanted| Symmetry::new((a.angle, &a.budget), (b.angle, &b.budget), wanted));
        let bound = [first, second].iter().any(|cell| cell.verdict == Verdict::Bound);
        // Nor is anything advised below a tenth of what may be.
        let tolerance = [first, second].into_iter().filter_map(|cell| cell.target.tolerance()).map(|one| one / 10.0);
        let matters = tolerance.fold(Angle::from_degrees(WORTH_BALANCING_DEGREES), |a, b| if b > a { b } else { a });
        Some(Self { ends, travels: [a, b], symmetry, bound, matters })
    }

    /// What balances the axis; none where both ends go as they should. `before` is the end point before the first one that
    /// was recorded, where the person knows it.
    #[must_use]
    pub fn advice(&self, head: &Head, entries: &[Entry], before: Option<Percent>) -> Option<BalanceAdvice> {
        let far = self.too_far()?;
        // Bringing the long end down to what the short one allows needs its curve.
        let survey = TravelSurvey::new(head, entries, far.end, before).ok();
        let end_point = survey.and_then(|survey| {
            let found = survey.output_for(far.end, far.even).ok()?;
            Some(survey.end_point(far.end, &found))
        });
        Some(BalanceAdvice { far, end_point, bound: self.bound })
    }

    /// Why the axis is left as it is although its ends differ for certain; none where they do not, or where something is advised.
    /// `asked` tells whether the person asked for this axis by name.
    #[must_use]
    pub fn left_alone(&self, head: &Head, asked: bool) -> Option<LeftAlone> {
        let far = self.too_far()?;
        if far.by < self.matters {
            Some(LeftAlone::TooLittle)
        } else if holds_the_torque(head, far.end) && !asked {
            Some(LeftAlone::HoldsTheTorque)
        } else {
            None
        }
    }

    /// The direction that goes too far against the other for certain, with the neutral that would balance them.
    #[must_use]
    pub fn too_far(&self) -> Option<TooFar> {
        let symmetry = self.symmetry.as_ref().filter(|symmetry| symmetry.is_significant())?;
        let (a, b) = (self.travels[0].angle, self.travels[1].angle);
        let first = symmetry.neutral_shift > Angle::ZERO;
        Some(TooFar {
            end: self.ends[usize::from(!first)],
            other: self.ends[usize::from(first)],
            wanted: if first { symmetry.wanted } else { -symmetry.wanted },
            travel: if first { a } else { b },
            even: if first { b + symmetry.wanted } else { a - symmetry.wanted },
            by: (symmetry.difference - symmetry.wanted).abs(),
            expanded: symmetry.expanded,
            shift: symmetry.neutral_shift.abs(),
            shift_expanded: symmetry.shift_expanded(),
        })
    }
}

/// What balances an axis: the neutral moved, or the end point of the direction that goes too far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BalanceAdvice {
    /// The direction that goes too far.
    pub far: TooFar,
    /// The end point that takes it back; none where its captures do not tell.
    pub end_point: Option<EndPoint>,
    /// Whether a bind bounds one of the ends, which then must not be moved further.
    pub bound: bool,
}

/// The direction that goes too far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TooFar {
    /// Which.
    pub end: Deflection,
    /// The one that it is held against.
    pub other: Deflection,
    /// By how much it is wanted to go further than the other; mostly zero.
    pub wanted: Angle,
    /// How far it goes.
    pub travel: Angle,
    /// How far it would go if it went with the other as wanted.
    pub even: Angle,
    /// By how much it goes too far, more than zero.
    pub by: Angle,
    /// U of that, for 95 %.
    pub expanded: Angle,
    /// How far the neutral would have to move toward it, its end left where it is.
    pub shift: Angle,
    /// U of the shift, for 95 %.
    pub shift_expanded: Angle,
}

/// What the first travel is wanted to exceed the second by; `sign` is −1 where the second is a pitch below zero. A ceiling says what is allowed and not what is wanted: of two
/// ceilings that differ nothing follows, and under the same one the ends are expected alike (common practice, no source).
pub(super) fn wanted(first: Target, second: Target, sign: f64) -> Option<Angle> {
    match (first, second) {
        (Target::Band { target: a, .. }, Target::Band { target: b, .. }) => Some(a - b * sign),
        (Target::AtMost(a), Target::AtMost(b)) if a == b => Some(Angle::ZERO),
        _ => None,
    }
}

/// The same of two cells. The tail's slider goes both ways alike where its ends make equal z/r = sin p_end − sin p_neutral:
/// about a neutral that is not zero the degrees then differ. Nothing follows where the pitch of an end is not known.
pub(super) fn wanted_of(first: &Cell, second: &Cell, sign: f64) -> Option<Angle> {
    let plain = wanted(first.target, second.target, sign)?;
    match (first.target, second.target) {
        (Target::AtMost(_), Target::AtMost(_)) if first.is_rudder() => equal_sliders(first, second),
        _ => Some(plain),
    }
}

/// What the first travel exceeds the second by where both ends have the mean of their slider travels.
fn equal_sliders(first: &Cell, second: &Cell) -> Option<Angle> {
    let of = |cell: &Cell| {
        let stands = cell.stands.as_ref().filter(|stands| stands.known_from != KnownFrom::OneEdge)?;
        let neutral = stands.angle - cell.travel()?;
        Some((neutral, slider_travel(stands.angle, neutral)))
    };
    let ((n, z), (m, y)) = (of(first)?, of(second)?);
    let mean = f64::midpoint(z, y);
    let travel =
        |neutral: Angle| Angle::from_radians((neutral.radians().sin() + mean).clamp(-1.0, 1.0).asin()) - neutral;
    Some(travel(n) - travel(m))
}

/// Whether an end is the one that holds the torque of the main rotor: nose right under a clockwise rotor, left under an
/// anticlockwise one.
pub(super) fn holds_the_torque(head: &Head, end: Deflection) -> bool {
    let side = match head.rotation {
        Rotation::Clockwise => Rudder::Right,
        Rotation::Anticlockwise => Rudder::Left,
    };
    end == Deflection::Rudder(side)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ceilings_that_differ_do_not_say_how_far_each_end_should_go() {
        let target = |text: &str| text.parse::<Target>().unwrap();
        let wanted = |first, second| wanted(target(first), target(second), 1.0);
        assert_eq!(wanted("at most 45", "at most 38"), None);
        assert_eq!(wanted("at most 12", "at most 12"), Some(Angle::ZERO));
        let unequal = wanted("14 ± 0.3", "13 ± 0.3").unwrap();
        assert!((unequal.degrees() - 1.0).abs() < 1e-9, "{unequal}");
        assert_eq!(wanted("14 ± 0.3", "at most 14"), None);
        // The ends of the collective keep the sign of the pitch.
        let collective = super::wanted(target("11 ± 0.5"), target("-9 ± 0.5"), -1.0).unwrap();
        assert!((collective.degrees() - 2.0).abs() < 1e-9, "{collective}");
    }
}
