//! What fills each cell at its usual place, with its neutral before it.

use super::super::chance::WHAT;
use super::super::step::{Move, Place, Wish};
use super::ends::Past;
use super::rules::{axis_of, parts_of};
use super::{Deed, Rules, Setup, Stands};

/// What is deflected, and where the stick stands then.
type Stick = (&'static str, f64);

const A: Place = Place::Main { blade: 'A', station: 90.0 };
const B: Place = Place::Main { blade: 'B', station: 90.0 };
const A_ALONG: Place = Place::Main { blade: 'A', station: 0.0 };
const A_HALF_ON: Place = Place::Main { blade: 'A', station: 270.0 };
const B_HALF_ON: Place = Place::Main { blade: 'B', station: 270.0 };
const BOTH_EDGES: [Place; 2] = [Place::Tail { blade: 'A', up: true }, Place::Tail { blade: 'A', up: false }];

const MID: Stick = ("collective mid", 50.0);
const ELEVATOR: Stick = ("elevator neutral", 0.0);
const AILERON: Stick = ("aileron neutral", 0.0);
const RUDDER: Stick = ("rudder neutral", 0.0);

/// What a record of this head must hold to be complete.
pub const SHEET: [(&str, &[Stick], &[Place]); 12] = [
    ("blade A zero", &[MID], &[A, A_HALF_ON]),
    ("blade B zero", &[MID], &[B, B_HALF_ON]),
    ("track B - A", &[MID], &[A, B]),
    ("elevator up", &[ELEVATOR, ("elevator up", 100.0)], &[A]),
    ("elevator down", &[ELEVATOR, ("elevator down", -100.0)], &[A]),
    ("aileron left", &[AILERON, ("aileron left", -100.0)], &[A_ALONG]),
    ("aileron right", &[AILERON, ("aileron right", 100.0)], &[A_ALONG]),
    ("tail neutral", &[RUDDER], &BOTH_EDGES),
    ("rudder left", &[RUDDER, ("rudder left", -100.0)], &BOTH_EDGES),
    ("rudder right", &[RUDDER, ("rudder right", 100.0)], &BOTH_EDGES),
    ("collective low", &[MID, ("collective low", 0.0)], &[A]),
    ("collective high", &[MID, ("collective high", 100.0)], &[A]),
];

/// A corner with its neutral and its parts, each cyclic one where it shows.
pub fn corner(corner: Wish) -> Vec<Wish> {
    let Place::Main { blade, station } = corner.place else { return vec![corner] };
    let plain = Wish { bound: false, again: false, from: None, ..corner };
    let mut wishes = vec![Wish { what: MID.0, stick: MID.1, ..plain }];
    for part in parts_of(corner.what) {
        let (neutral, own, shown) = match axis_of(part) {
            "elevator" => (ELEVATOR, 90.0, station.to_radians().sin().abs()),
            "aileron" => (AILERON, 0.0, station.to_radians().cos().abs()),
            _ => (MID, station, 1.0),
        };
        let (_, full) = WHAT.into_iter().find(|(what, _)| *what == part).expect("a part");
        if shown > 0.2 {
            wishes.push(Wish { what: part, stick: full, ..plain });
        } else {
            let at_own = Wish { place: Place::Main { blade, station: own }, ..plain };
            wishes.extend([neutral, (part, full)].map(|(what, stick)| Wish { what, stick, ..at_own }));
        }
    }
    wishes.push(corner);
    wishes
}

impl Setup {
    /// What is to be read for every cell to hold.
    pub fn rest(&self, rules: Rules) -> Vec<Wish> {
        let cells = self.record(rules);
        let holds = |cell| cells.get(cell).is_some_and(|stands| stands.stale.is_empty() && !self.is_doubtful(stands));
        // Whoever goes where it bound before stops short of it again.
        let binds = |what| cells.get(what).and_then(|stands| stands.end.as_ref()).is_some_and(|end| end.bind.is_some());
        let mut wishes = Vec::new();
        for (_, sticks, places) in SHEET.into_iter().filter(|(cell, ..)| !holds(*cell)) {
            for (place, (what, stick)) in
                places.iter().flat_map(|place| sticks.iter().map(move |stick| (*place, *stick)))
            {
                let wish = Wish { what, place, forward: true, stick, bound: binds(what), again: false, from: None };
                if !wishes.contains(&wish) {
                    wishes.push(wish);
                }
            }
        }
        wishes
    }

    /// What was seen besides it speaks against a value, as far as that is known without numbers.
    fn is_doubtful(&self, stands: &Stands) -> bool {
        let Some(end) = &stands.end else { return false };
        let swept = end.sweep.as_ref().filter(|again| !again.newer).is_some_and(|again| match self.deeds[again.at] {
            Deed::Swept { moves, .. } => moves[again.which] != Move::AsBefore,
            _ => false,
        });
        swept || end.bind.as_ref().is_some_and(|past| *past != Past::Told(false))
    }
}
