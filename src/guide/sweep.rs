//! An axis moved to both its ends once more: which directions were reached, seen from the blade alone.
//!
//! It is over by itself when both were, and the stick is back at centre. A direction counts as reached where the blade was
//! still at its end, or went there and came back.

use super::seen::{Moment, Rest, pitch};
use crate::record::{Sweep, Swept};
use crate::rotor::{BladeName, Deflection, Spot};
use crate::units::{Angle, Seconds};

/// A stick that was let go leaves the blade so near to its neutral.
const BACK_DEGREES: f64 = 0.7;
/// Waited at centre for so long, the rest of the sweep is not coming.
const NOTHING_MORE: Seconds = Seconds::new(12.0);

/// Watches one axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweeper {
    blade: BladeName,
    spot: Spot,
    /// Both directions, each with the sign of the pitch in it.
    ends: [(Swept, f64); 2],
    neutral: Option<Angle>,
    /// The direction in which the blade was last.
    last: Option<usize>,
    /// From when the blade has been at centre with nothing new.
    waits_from: Option<Seconds>,
    at_centre: bool,
}

impl Sweeper {
    /// A sweep of these two directions, each with the sign that the pitch has in it at this place: +1 or −1.
    #[must_use]
    pub const fn new(blade: BladeName, spot: Spot, ends: [(Deflection, f64); 2]) -> Self {
        let [(one, plus), (other, minus)] = ends;
        let ends = [(Swept::still(one), plus), (Swept::still(other), minus)];
        Self { blade, spot, ends, neutral: None, last: None, waits_from: None, at_centre: true }
    }

    /// The blade as it moves.
    pub fn moment(&mut self, at: Moment) {
        let Some(off) = self.off(at) else { return };
        let Some((k, (end, sign))) =
            self.ends.iter_mut().enumerate().find(|(_, (_, sign))| off.radians() * *sign > 0.0)
        else {
            return;
        };
        let travel = off * *sign;
        if travel > end.furthest {
            end.furthest = travel;
        }
        if travel.degrees() > BACK_DEGREES {
            (self.at_centre, self.waits_from) = (false, None);
        }
        if end.moves() && travel.degrees() > end.furthest.degrees() / 2.0 {
            self.last = Some(k);
        }
    }

    /// The blade at rest: the first rest is the neutral.
    pub fn rest(&mut self, rest: &Rest) {
        let Some(off) = self.off(rest.at) else {
            self.neutral = Some(pitch(rest.at, self.spot));
            self.waits_from = Some(rest.at.clock);
            return;
        };
        self.moment(rest.at);
        self.at_centre = off.abs().degrees() < BACK_DEGREES;
        if self.at_centre {
            self.waits_from.get_or_insert(rest.from);
            if let Some(k) = self.last.take() {
                self.ends[k].0.returned = Some(off);
            }
            return;
        }
        for (end, sign) in &mut self.ends {
            let travel = off * *sign;
            // Half-way up a slow stick is no end.
            if travel.degrees() > 0.9 * end.furthest.degrees()
                && end.moves()
                && end.held.is_none_or(|held| travel > held)
            {
                end.held = Some(travel);
            }
        }
    }

    fn off(&self, at: Moment) -> Option<Angle> {
        Some((pitch(at, self.spot) - self.neutral?).wrapped())
    }

    /// Whether the neutral was seen.
    #[must_use]
    pub const fn has_begun(&self) -> bool {
        self.neutral.is_some()
    }

    /// The first direction that is still to be reached.
    #[must_use]
    pub fn next(&self) -> Option<Deflection> {
        self.ends.iter().map(|(end, _)| end).find(|end| !is_reached(end)).map(|end| end.deflection)
    }

    /// Whether both directions were reached and the stick is back.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.next().is_none() && self.at_centre
    }

    /// Whether nothing new has come for a long while.
    #[must_use]
    pub fn is_given_up(&self, now: Seconds) -> bool {
        !self.is_over() && self.at_centre && self.waits_from.is_some_and(|from| now - from > NOTHING_MORE)
    }

    /// It is waited on from here.
    pub const fn wait_on(&mut self) {
        self.waits_from = None;
    }

    /// How far the blade stands over in the direction at hand.
    #[must_use]
    pub fn travel(&self, at: Moment) -> Option<Angle> {
        self.off(at).map(Angle::abs)
    }

    /// What was seen.
    #[must_use]
    pub fn sweep(&self) -> Sweep {
        Sweep { blade: self.blade, spot: self.spot, ends: self.ends.iter().map(|(end, _)| *end).collect() }
    }
}

fn is_reached(end: &Swept) -> bool {
    end.held.is_some() || (end.moves() && end.returned.is_some())
}
