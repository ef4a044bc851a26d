//! What happened in a setup, in order, and on which seat of the clip each capture was taken.

use super::super::step::{Move, Pause, Place, Turned, Wish, Zero};
use super::{Rule, Rules};

/// One capture, as the person made it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shot {
    pub wish: Wish,
    /// The deed that set its zero; none before the first.
    pub datum: Option<usize>,
    pub seat: u32,
}

/// What happened; a number is the position of an earlier deed of the same setup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Deed {
    Shot(Shot),
    Turned(&'static str),
    /// At neutral the clip sits on a seat.
    Datum {
        zero: Zero,
        seat: Option<u32>,
    },
    /// A capture, something turned, or something left out.
    TakenBack(usize),
    ReadAnew(usize),
    TakenUp(Pause),
    LeftOut {
        what: &'static str,
        day: u8,
    },
    Cable {
        pull: i32,
    },
    Spindle(Turned),
    /// An axis, moved to both its ends once more.
    Swept {
        axis: &'static str,
        place: Place,
        moves: [Move; 2],
    },
}

#[derive(Debug, Clone, Default)]
pub struct Setup {
    pub deeds: Vec<Deed>,
    pub closed: bool,
}

impl Setup {
    /// Where its captures stand.
    pub fn shots(&self) -> impl DoubleEndedIterator<Item = usize> {
        (0..self.deeds.len()).filter(|at| matches!(self.deeds[*at], Deed::Shot(_)))
    }

    pub(super) fn counts(&self, at: usize) -> bool {
        !self.deeds.contains(&Deed::TakenBack(at))
    }

    /// Those that were not taken back.
    pub fn counting(&self) -> impl DoubleEndedIterator<Item = usize> {
        self.shots().filter(|at| self.counts(*at))
    }

    /// What was turned and not taken back, with where.
    pub fn turns(&self, rules: Rules) -> impl DoubleEndedIterator<Item = (usize, &'static str)> {
        let counts = move |at: usize| !rules.know(Rule::TurnsAreTakenBack) || self.counts(at);
        self.deeds.iter().enumerate().filter_map(move |(at, deed)| match deed {
            Deed::Turned(what) if counts(at) => Some((at, *what)),
            _ => None,
        })
    }

    /// What was left out and not taken back, with where and on which day.
    pub fn skips(&self, rules: Rules) -> impl DoubleEndedIterator<Item = (usize, &'static str, u8)> {
        let counts = move |at: usize| !rules.know(Rule::SkipsAreTakenBack) || self.counts(at);
        self.deeds.iter().enumerate().filter_map(move |(at, deed)| match deed {
            Deed::LeftOut { what, day } if counts(at) => Some((at, *what, *day)),
            _ => None,
        })
    }

    /// The deed that set the zero that holds now.
    fn datum(&self) -> Option<usize> {
        self.deeds.iter().rposition(|deed| matches!(deed, Deed::Datum { .. }))
    }

    /// What that deed made zero.
    pub fn zero(&self, datum: Option<usize>) -> Zero {
        match datum.map(|at| self.deeds[at]) {
            Some(Deed::Datum { zero, .. }) => zero,
            _ => Zero::Gravity,
        }
    }

    pub fn zero_now(&self) -> Zero {
        self.zero(self.datum())
    }

    /// A blade that was made zero where it stands says nothing about any other place.
    fn is_zero_at(&self, place: Place, forward: bool) -> bool {
        !matches!(self.zero_now(), Zero::Neutral(at, way) if (at, way) != (place, forward))
    }

    pub fn datum_of(&self, zero: Zero) -> Deed {
        let seat = match zero {
            Zero::Neutral(place, forward) => Some(self.next_seat(place, forward, false)),
            Zero::Gravity | Zero::Surface => None,
        };
        Deed::Datum { zero, seat }
    }

    /// One capture after the other, the clip moved for each where it has to be; none where the zero does not hold.
    pub fn shots_of(&self, wishes: impl IntoIterator<Item = Wish>) -> Vec<Deed> {
        let mut after = self.clone();
        for wish in wishes.into_iter().filter(|wish| self.is_zero_at(wish.place, wish.forward)) {
            let seat = after.next_seat(wish.place, wish.forward, wish.again);
            after.deeds.push(Deed::Shot(Shot { wish, datum: after.datum(), seat }));
        }
        after.deeds.split_off(self.deeds.len())
    }

    /// The zero that a person sets who wants to read other places too.
    pub fn zero_for_all(&self) -> Option<Deed> {
        matches!(self.zero_now(), Zero::Neutral(..)).then(|| self.datum_of(Zero::Gravity))
    }

    /// Captures of several places, read against one zero.
    pub fn read_against_one_zero(&self, wishes: impl Fn(&Self) -> Vec<Wish>) -> Vec<Deed> {
        let mut after = self.clone();
        after.deeds.extend(self.zero_for_all());
        let shots = after.shots_of(wishes(&after));
        self.zero_for_all().into_iter().chain(shots).collect()
    }

    /// The seat of the next capture: the same while the clip stays where and as it is.
    fn next_seat(&self, place: Place, forward: bool, put_on_again: bool) -> u32 {
        let (mut seat, mut sits, mut highest) = (0, None, 0);
        for deed in &self.deeds {
            match deed {
                Deed::Shot(shot) => {
                    (seat, sits) = (shot.seat, Some((shot.wish.place, shot.wish.forward)));
                    highest = highest.max(seat);
                }
                Deed::TakenUp(pause) if pause.clip_off || pause.other_sensor => sits = None,
                Deed::Datum { zero: Zero::Surface, .. } => sits = None,
                Deed::Datum { zero: Zero::Neutral(place, forward), seat: Some(of_it) } => {
                    (seat, sits) = (*of_it, Some((*place, *forward)));
                    highest = highest.max(seat);
                }
                _ => {}
            }
        }
        let stays = sits.is_some_and(|(on, way)| {
            let one_blade = match (on, place) {
                (Place::Main { blade: a, .. }, Place::Main { blade: b, .. }) => a == b,
                (Place::Tail { blade: a, .. }, Place::Tail { blade: b, .. }) => a == b,
                _ => false,
            };
            one_blade && way == forward
        });
        if stays && !put_on_again { seat } else { highest + 1 }
    }
}
