//! What happened in a setup, in order, and on which seat of the clip each capture was taken.

use super::super::step::{Pause, Place, Wish};

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
    Datum { on_a_surface: bool },
    TakenBack(usize),
    ReadAnew(usize),
    TakenUp(Pause),
    LeftOut { what: &'static str, day: u8 },
    Cable { pull: i32 },
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

    /// Those that were not taken back.
    pub fn counting(&self) -> impl DoubleEndedIterator<Item = usize> {
        self.shots().filter(|at| !self.deeds.contains(&Deed::TakenBack(*at)))
    }

    /// The zero that holds now.
    fn datum(&self) -> Option<usize> {
        self.deeds.iter().rposition(|deed| matches!(deed, Deed::Datum { .. }))
    }

    /// One capture after the other, the clip moved for each where it has to be.
    pub fn shots_of(&self, wishes: impl IntoIterator<Item = Wish>) -> Vec<Deed> {
        let mut after = self.clone();
        for wish in wishes {
            let seat = after.next_seat(wish.place, wish.forward, wish.again);
            after.deeds.push(Deed::Shot(Shot { wish, datum: after.datum(), seat }));
        }
        after.deeds.split_off(self.deeds.len())
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
                Deed::Datum { on_a_surface: true } => sits = None,
                _ => {}
            }
        }
        let stays = sits.is_some_and(|(on, way)| {
            let one_blade = match (on, place) {
                (Place::Main { blade: a, .. }, Place::Main { blade: b, .. }) => a == b,
                (Place::Tail { .. }, Place::Tail { .. }) => true,
                _ => false,
            };
            one_blade && way == forward
        });
        if stays && !put_on_again { seat } else { highest + 1 }
    }
}
