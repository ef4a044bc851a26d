//! The check stick: a short movement shows that clip and head are where they were asked for.

use super::flow::{BACK_DEGREES, Guide, MOVED_DEGREES};
use super::question::Question;
use super::seen::{Moment, Rest, pitch};
use super::stage::Stage;
use crate::rotor::Deflection;
use crate::units::{Angle, Seconds};

/// Waited for so long, a stick that hardly moves the blade was moved.
const HARDLY_MOVES: Seconds = Seconds::new(5.0);
/// Waited for so long, and nothing has moved: it is asked.
const NOTHING_MOVED: Seconds = Seconds::new(12.0);

impl Guide {
    pub(super) fn moment_in_check(&mut self, at: Moment) {
        let Some(spot) = self.here.map(|here| here.seat.spot) else { return };
        let Some(check) = self.stage.check_mut() else { return };
        let Some(baseline) = check.baseline else { return };
        let off = (pitch(at, spot) - baseline).wrapped();
        if off.abs() > check.swung.abs() {
            check.swung = off;
        }
    }

    pub(super) fn rest_in_check(&mut self, rest: &Rest) {
        let Some(seat) = self.here.map(|here| here.seat) else { return };
        let Stage::Check(check) = &mut self.stage else { return };
        let pitch = pitch(rest.at, seat.spot);
        let since = *check.since.get_or_insert(rest.at.clock);
        let Some(baseline) = check.baseline else {
            check.baseline = Some(pitch);
            return;
        };
        let back = (pitch - baseline).wrapped().abs().degrees() < BACK_DEGREES;
        if back {
            check.away_from = None;
        } else if rest.at.clock - *check.away_from.get_or_insert(rest.from) > NOTHING_MOVED {
            // The stick was over already, or the clip still in hand, when the blade was first read: it begins again from here.
            (check.baseline, check.swung, check.since, check.away_from) =
                (Some(pitch), Angle::ZERO, Some(rest.at.clock), None);
            self.say_step();
            return;
        }
        let Some(&way) = check.ways.first() else { return };
        let (waited, most, swung) = (rest.at.clock - since, check.most, check.swung);
        // The cross check: where the blade stands right, this stick hardly moves it, and there is nothing to see.
        if let Some(most) = most.filter(|_| self.sign_of(way, seat).is_none()) {
            if swung.abs() > most.abs() {
                self.contradicted(way, swung);
            } else if back && waited > HARDLY_MOVES {
                self.next_way(most);
            }
            return;
        }
        if back && swung.abs().degrees() > MOVED_DEGREES {
            self.judge(way, swung);
        } else if back && waited > NOTHING_MOVED {
            self.nothing_moved(way);
        }
    }

    fn judge(&mut self, way: Deflection, swung: Angle) {
        let Some(seat) = self.here.map(|here| here.seat) else { return };
        let expected = self.sign_of(way, seat);
        if expected.is_some_and(|sign| sign * swung.radians() < 0.0) {
            self.contradicted(way, swung);
            return;
        }
        self.next_way(swung);
    }

    fn next_way(&mut self, swung: Angle) {
        let Stage::Check(check) = &mut self.stage else { return };
        let cyclic = check.ways.first().is_some_and(|way| !matches!(way, Deflection::Collective(_)));
        let (next, baseline) = (check.ways.split_off(1), check.baseline);
        self.begin_check(next, baseline, cyclic.then_some(swung));
    }

    fn contradicted(&mut self, way: Deflection, swung: Angle) {
        let Some(at) = self.here.map(|here| here.seat) else { return };
        let (raised, own_sensors) = (swung > Angle::ZERO, !self.carriers.is_empty());
        self.ask(Question::Contradicted { way, raised, at, own_sensors });
    }

    fn nothing_moved(&mut self, way: Deflection) {
        let Some(spot) = self.here.map(|here| here.seat.spot) else { return };
        self.ask(Question::NoAnswer { way, spot });
    }
}
