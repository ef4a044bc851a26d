//! The clip on its blade, the blade at its station: seen to move, and then still.

use super::Mark;
use super::flow::{Guide, Here};
use super::question::Question;
use super::seen::{Moment, Rest, apart, is_plausible, pitch};
use super::stage::{Check, Place, Stage, still};
use crate::record::{Seat, trade};
use crate::rotor::{Aileron, Collective, Deflection, Elevator, Rudder, Spot};
use crate::units::{Angle, Seconds};

/// A head that is turned shows at least so much; a clip that goes to another blade far more.
const TURNED_DEGREES: f64 = 0.3;
const CARRIED_DEGREES: f64 = 5.0;
/// Two rests of one stand are no further apart.
const SAME_DEGREES: f64 = 0.3;
/// So long after it was asked for, a head has been turned.
const TURNED_BY_NOW: Seconds = Seconds::new(6.0);
/// A clip that was not seen to go anywhere for so long: it is asked.
const NOTHING_SEEN: Seconds = Seconds::new(15.0);
/// From so many blades on a neighbour stands within a quarter turn of the place.
const CROSS_CHECKED_BLADES: u8 = 4;
/// A span that stands so far from where it stood was not moved by a stick.
const KNOCKED_DEGREES: f64 = 2.0;

impl Guide {
    pub(super) fn moment_in_place(&mut self, at: Moment) {
        let carried = self.is_carried();
        let Stage::Place(place) = &mut self.stage else { return };
        let began = *place.began.get_or_insert(at);
        let enough = if carried { CARRIED_DEGREES } else { TURNED_DEGREES };
        place.moved |= apart(began, at).degrees() > enough;
    }

    pub(super) fn rest_in_place(&mut self, rest: &Rest) {
        let Some(seat) = self.line().map(|line| line.seat) else { return };
        let first = self.here.is_none();
        let (by_hand, carried) = (self.by_hand, self.is_carried());
        let Stage::Place(place) = &mut self.stage else { return };
        let began = *place.began.get_or_insert(rest.at);
        let still = still(&mut place.still_from, &mut place.last, rest, Angle::from_degrees(SAME_DEGREES));
        let waited = rest.at.clock - began.clock;
        // A head may be turned so gently that nothing shows; whether it was, the check stick tells.
        let moved = place.moved || first || by_hand || (!carried && waited >= TURNED_BY_NOW);
        if !is_plausible(rest.at, seat.spot) {
            return;
        }
        if moved && still >= trade::TWO_RESTS {
            self.in_place(Some(rest.at));
        } else if !moved && waited >= NOTHING_SEEN {
            self.ask(Question::NothingMoved { to: seat });
        }
    }

    /// Whether the clip goes to another blade, and is not only turned with the head. A sensor of a blade's own goes nowhere.
    fn is_carried(&self) -> bool {
        if !self.carriers.is_empty() {
            return false;
        }
        match (self.here, self.line()) {
            (Some(here), Some(line)) => {
                here.seat.blade != line.seat.blade
                    || matches!(here.seat.spot, Spot::Main(_)) != matches!(line.seat.spot, Spot::Main(_))
            }
            _ => false,
        }
    }

    /// Clip and head seem to be where they were asked for: short movements show it, where the geometry foretells them.
    pub(super) fn in_place(&mut self, at: Option<Moment>) {
        let Some(seat) = self.line().map(|line| line.seat) else { return };
        let carried = match self.carrier_of(seat) {
            Some(carrier) => !self.shown.contains(&carrier),
            None => self.is_carried() || self.here.is_none(),
        };
        let ways = self.check_ways(seat, carried);
        self.turned = match seat.spot {
            // What was wound whole turns was to be unwound first.
            Spot::Main(_) => self.turned % 360.0 + self.turn().map_or(0.0, Angle::degrees),
            // Off the mast the cable is wound round nothing; those of sensors that stay where they are stay wound.
            Spot::Tail(_) if self.carriers.is_empty() => 0.0,
            Spot::Tail(_) => self.turned,
        };
        self.here = Some(Here { seat, neutral: None, span: None, rudder: None });
        self.by_hand = false;
        self.begin_check(ways, at.map(|at| pitch(at, seat.spot)), None);
    }

    /// The short movements that show a seat: up with the collective where the clip was carried, then the cyclic that shows
    /// most there; on the tail the rudder, where the head's description says which way it moves.
    pub(super) fn check_ways(&self, seat: Seat, carried: bool) -> Vec<Deflection> {
        let mut ways = Vec::new();
        if let Spot::Main(station) = seat.spot {
            if carried {
                ways.push(Deflection::Collective(Collective::High));
            }
            let (elevator, aileron) = (Deflection::Elevator(Elevator::Up), Deflection::Aileron(Aileron::Right));
            let shown = |way| trade::share_at(&self.head, way, station).map_or(0.0, f64::abs);
            let (most, least) =
                if shown(aileron) > shown(elevator) { (aileron, elevator) } else { (elevator, aileron) };
            ways.push(most);
            // With many blades a neighbour moves the same way, and less: the other cyclic axis moves it more.
            ways.extend((carried && self.head.blades.get() >= CROSS_CHECKED_BLADES).then_some(least));
        } else if self.head.tail.positive.is_some() {
            ways.extend([Deflection::Rudder(Rudder::Right)]);
        }
        ways
    }

    /// Begins the next short movement; `baseline` is the pitch with the sticks centred, where it was seen already.
    pub(super) fn begin_check(&mut self, ways: Vec<Deflection>, baseline: Option<Angle>, most: Option<Angle>) {
        if ways.is_empty() {
            let carrier = self.here.and_then(|here| self.carrier_of(here.seat));
            self.shown.extend(carrier);
            self.begin_at_seat();
        } else {
            self.stage = Stage::Check(Check { ways, baseline, swung: Angle::ZERO, since: None, away_from: None, most });
            self.say_step();
        }
    }

    pub(super) fn place_again(&mut self) {
        if let Some(carrier) = self.line().map(|line| line.seat.carrier()) {
            self.shown.retain(|shown| *shown != carrier);
        }
        self.here = None;
        self.by_hand = false;
        self.stage = Stage::Place(Place::default());
        self.say_step();
    }

    /// A span that has left its place: the head was knocked, turned, or the model moved. Named, and nothing is captured.
    pub(super) fn was_knocked(&mut self, rest: &Rest) -> bool {
        let deflected = !matches!(self.stage, Stage::Neutral | Stage::Move | Stage::Return(_) | Stage::Cable(_));
        let Some(span) = self.here.and_then(|here| here.span).filter(|_| !deflected) else { return false };
        let off = (rest.at.span - span).abs();
        if off.degrees() < KNOCKED_DEGREES {
            return false;
        }
        self.mark(Mark::Knock);
        self.ask(Question::Knocked { off_deg: off });
        true
    }

    /// The plan of the head for onlookers: how far it is to be turned.
    #[must_use]
    pub fn turn_wanted(&self) -> Option<Angle> {
        matches!(self.stage, Stage::Place(_)).then(|| self.turn()).flatten().filter(|turn| *turn != Angle::ZERO)
    }

    /// The seat at which the clip is as far as is known.
    #[must_use]
    pub fn seat(&self) -> Option<Seat> {
        self.here.map(|here| here.seat)
    }
}
