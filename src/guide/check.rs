//! The check stick: a short movement shows that clip and head are where they were asked for.

use super::flow::{Guide, MOVED_DEGREES};
use super::seen::{Moment, Rest, pitch};
use super::stage::{Answer, Question, Stage};
use super::words::upper;
use crate::rotor::{Deflection, Spot};
use crate::units::{Angle, Seconds};

/// A stick that has gone back leaves the blade so near to where it was.
const BACK_DEGREES: f64 = 0.7;
/// Waited for so long, a stick that hardly moves the blade was moved.
const HARDLY_MOVES: Seconds = Seconds::new(5.0);
/// Waited for so long, and nothing has moved: it is asked.
const NOTHING_MOVED: Seconds = Seconds::new(12.0);

impl Guide {
    pub(super) fn moment_in_check(&mut self, at: Moment) {
        let Some(spot) = self.here.map(|here| here.seat.spot) else { return };
        let Stage::Check(check) = &mut self.stage else { return };
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
        let Some(seat) = self.here.map(|here| here.seat) else { return };
        let moved = if swung > Angle::ZERO { "raised" } else { "lowered" };
        let why = match (seat.spot, way) {
            (Spot::Main(_), Deflection::Collective(_)) => {
                "Either the clip sits end for end, or the collective channel is reversed.".to_owned()
            }
            (Spot::Main(station), _) if !self.carriers.is_empty() => format!(
                "Either blade {} does not stand at {station} (the head half a turn off), or the sensors of two blades are \
                 exchanged, or the channel is reversed.",
                seat.blade
            ),
            (Spot::Main(station), _) => format!(
                "Either the blade with the clip does not stand at {station} (the head half a turn off, or the clip on another \
                 blade), or the channel is reversed."
            ),
            (Spot::Tail(_), _) => {
                "Either the leading edge points the other way, the clip sits end for end, or the channel is reversed."
                    .to_owned()
            }
        };
        self.ask(Question {
            text: format!("{} {moved} blade {}, and should not have. Look at clip and head.", upper(way), seat.blade),
            why,
            answers: vec![
                ("I have put it right: begin this place again".to_owned(), Answer::PlaceAgain),
                ("That was another stick: check again".to_owned(), Answer::CheckAgain),
            ],
        });
    }

    fn nothing_moved(&mut self, way: Deflection) {
        let station = match self.here.map(|here| here.seat.spot) {
            Some(Spot::Main(station)) => format!(" Do blade and clip stand at {station}? There {way} shows most."),
            _ => String::new(),
        };
        self.ask(Question {
            text: format!("The blade does not answer to {way}.{station}"),
            why: "A head that was not turned, or a stick that was not moved, look alike.".to_owned(),
            answers: vec![
                ("I will turn it now: begin this place again".to_owned(), Answer::PlaceAgain),
                ("I will move the stick now".to_owned(), Answer::CheckAgain),
            ],
        });
    }
}
