//! How far the swashplate tilts on a diagonal of the cyclic stick, and whether that is too far.
//!
//! A tilt of A_e toward the elevator and A_a toward the aileron together is one of A_d = ρ·√(A_e² + A_a²). A stick that nothing
//! limits on its diagonals brings both whole, ρ = 1, and stands past a ceiling that each axis alone keeps; a ring that limits the
//! stick to a circle brings ρ = 0.71 of equal axes. At one place the cyclic part of a corner is ρ times the sum of its cyclic parts,
//! because a ring shortens both alike.

use super::cell::{Basis, Cell, CellName, Value, Verdict};
use super::corner_cell::Part;
use super::finding::{CellFinding, Undecided};
use super::head::Head;
use super::plan;
use crate::rotor::{Axis, Corner, Deflection};
use crate::uncertainty::{Budget, Decision, Target, decide};
use crate::units::{Angle, Percent};

/// Where less than this share of both axes shows together, it tells nothing of the diagonal.
const LEAST_SHARE: f64 = 0.5;

/// A stick that comes within this share of its ring is limited by one. [common practice, no source]
const RING_SHARE: f64 = 0.06;

/// The diagonal of a corner.
pub(super) struct Diagonal {
    amplitude: Angle,
    budget: Budget,
    share: f64,
    ring: f64,
    /// What both axes may tilt at most; none where the head wants them to come to something instead.
    ceiling: Option<Angle>,
}

impl Diagonal {
    /// From the movement of a corner less its collective part, with its budget, and its cyclic parts; none for a corner along one
    /// axis, where a travel is not known, and where the place does not show it.
    pub(super) fn of(
        head: &Head,
        cells: &[Cell],
        corner: Corner,
        cyclic: (Angle, &Budget),
        parts: &[&Part],
    ) -> Option<Self> {
        let [one, other] = parts else { return None };
        let ends: Vec<Deflection> = corner.parts().filter(|part| part.axis() != Axis::Collective).collect();
        let travels: Vec<&Value> = ends.iter().map(|end| travel(cells, *end)).collect::<Option<_>>()?;
        let [first, second] = travels[..] else { return None };
        let square = first.angle.hypot(second.angle);
        let sum = one.moved + other.moved;
        let stick = one.stick.min(other.stick);
        if sum.abs() < square * (LEAST_SHARE * stick) {
            return None;
        }
        let (moved, of_moved) = cyclic;
        let share = moved.radians() / sum.radians();
        let whole = square * stick;
        let per_sum = whole.radians() / sum.radians();
        let budget = Budget::combination(&[
            (per_sum, of_moved),
            (-share * per_sum, &one.budget),
            (-share * per_sum, &other.budget),
            (share * stick * (first.angle.radians() / square.radians()), &first.budget),
            (share * stick * (second.angle.radians() / square.radians()), &second.budget),
        ]);
        let ceilings: Option<Vec<Angle>> = ends.iter().map(|end| ceiling(head, *end)).collect();
        Some(Self {
            amplitude: whole * share,
            budget,
            share,
            ring: first.angle.radians().max(second.angle.radians()) / square.radians(),
            ceiling: ceilings
                .and_then(|all| all.into_iter().reduce(|one, other| if other > one { other } else { one })),
        })
    }

    fn finding(&self) -> CellFinding {
        CellFinding::OnTheDiagonal {
            amplitude: self.amplitude,
            expanded: self.budget.expanded().expanded,
            of_square: Percent::new(self.share * 100.0),
            is_ring: (self.share - self.ring).abs() <= RING_SHARE,
            ceiling: self.ceiling,
        }
    }

    /// Past the ceiling the corner is outside, whatever the sum of its parts says; where it may be past it, it is not decided.
    pub(super) fn judge(&self, cell: &mut Cell) {
        let decided = self.ceiling.map(|ceiling| decide(Target::AtMost(ceiling), self.amplitude, &self.budget));
        match decided {
            Some(Decision::Outside) if cell.verdict != Verdict::Outside => {
                cell.verdict = Verdict::Outside;
                cell.consequence = Some(self.finding());
            }
            Some(Decision::Undecided(doubt)) if cell.verdict.is_good() => {
                cell.verdict = Verdict::Undecided { by: Undecided::TooClose(doubt) };
                cell.remarks.push(self.finding());
            }
            _ => cell.remarks.push(self.finding()),
        }
    }
}

fn travel(cells: &[Cell], end: Deflection) -> Option<&Value> {
    let cell = cells.iter().find(|cell| cell.name == CellName::Limit(end))?;
    cell.value.as_ref().filter(|value| value.basis == Basis::Travel && value.angle > Angle::ZERO)
}

fn ceiling(head: &Head, end: Deflection) -> Option<Angle> {
    plan::ends(head).find_map(|(of, target)| match target {
        Target::AtMost(ceiling) if of == end => Some(ceiling),
        _ => None,
    })
}
