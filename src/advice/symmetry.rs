//! One direction of an axis against the other, and the neutral that would balance them.
//!
//! With travels `a` one way and `b` the other, wanted to differ by `w` (zero, unless the head's description wants its ends
//! unequal), the neutral moved by δ = (a − b − w)/2 in the first direction takes δ off `a` and adds it to `b`. In first
//! order: the linkage is taken as straight over so small a way.

use crate::uncertainty::Budget;
use crate::units::Angle;

/// One direction of an axis against the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Symmetry {
    /// Travel in the first direction less travel in the second.
    pub difference: Angle,
    /// What it is wanted to be.
    pub wanted: Angle,
    /// U of the difference, for 95 %.
    pub expanded: Angle,
    /// By how much the neutral would have to move in the first direction to make the difference what is wanted.
    pub neutral_shift: Angle,
}

impl Symmetry {
    /// From both travels with their budgets.
    #[must_use]
    pub fn new(first: (Angle, &Budget), second: (Angle, &Budget), wanted: Angle) -> Self {
        let difference = first.0 - second.0;
        let expanded = first.1.difference(second.1).expanded().expanded;
        Self { difference, wanted, expanded, neutral_shift: (difference - wanted) / 2.0 }
    }

    /// Whether it differs from what is wanted by more than its uncertainty.
    #[must_use]
    pub fn is_significant(&self) -> bool {
        (self.difference - self.wanted).abs() > self.expanded
    }

    /// U of the shift.
    #[must_use]
    pub fn shift_expanded(&self) -> Angle {
        self.expanded / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertainty::{Component, Contribution, Source};

    fn budget(own: f64, shared: f64) -> Budget {
        let degrees = Angle::from_degrees;
        let neutral = Contribution::new(Component::Clip, degrees(shared)).shared(Source::seat(1));
        Budget::new([Contribution::new(Component::Repeat, degrees(own)), neutral])
    }

    #[test]
    fn the_neutral_that_balances_takes_half_the_difference_off_one_side_and_adds_it_to_the_other() {
        let (up, down) = (Angle::from_degrees(11.5), Angle::from_degrees(10.5));
        let symmetry = Symmetry::new((up, &budget(0.05, 0.0)), (down, &budget(0.05, 0.0)), Angle::ZERO);
        assert!(symmetry.is_significant());
        let shift = symmetry.neutral_shift;
        assert!(((up - shift) - (down + shift)).abs().degrees() < 1e-12);
        assert!((shift.degrees() - 0.5).abs() < 1e-12);
        assert!((symmetry.shift_expanded() - symmetry.expanded / 2.0).abs().degrees() < 1e-12);
    }

    #[test]
    fn ends_that_are_wanted_unequal_are_balanced_when_they_are() {
        let (up, down) = (Angle::from_degrees(10.0), Angle::from_degrees(8.0));
        let own = budget(0.05, 0.0);
        assert!(!Symmetry::new((up, &own), (down, &own), Angle::from_degrees(2.0)).is_significant());
        let symmetry = Symmetry::new((up, &own), (down, &own), Angle::from_degrees(3.0));
        assert!((symmetry.neutral_shift.degrees() + 0.5).abs() < 1e-12, "down is still half a degree too large");
    }

    #[test]
    fn what_both_travels_share_does_not_hide_an_asymmetry() {
        let (up, down) = (Angle::from_degrees(11.5), Angle::from_degrees(11.0));
        let own = budget(0.05, 1.0);
        assert!(Symmetry::new((up, &own), (down, &own), Angle::ZERO).is_significant());
    }
}
