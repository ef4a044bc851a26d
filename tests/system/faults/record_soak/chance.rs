//! What a person may do next, and how often: every strategy shrinks to the plainest thing of its kind.

use super::reference::{Account, ENDS};
use super::step::{Move, OnceMore, Pause, Place, Side, Step, Which, Wish, Zero};
use proptest::prelude::*;
use proptest::sample::select;
use std::ops::RangeInclusive;

/// Once in so many.
fn one_in(many: u32) -> BoxedStrategy<bool> {
    prop_oneof![many - 1 => Just(false), 1 => Just(true)].boxed()
}

/// What can be done from here: nothing but a setup to begin with, where there is none.
pub fn next_step(account: &Account) -> BoxedStrategy<Step> {
    let setups = account.setups.len();
    if setups == 0 {
        return Just(Step::NewSetup).boxed();
    }
    if account.current().is_none() {
        let taken_up = (0..setups, pause()).prop_map(|(at, pause)| Step::TakeUp(Which::Named(at), pause));
        return prop_oneof![2 => Just(Step::NewSetup), 1 => taken_up].boxed();
    }
    let any = in_setup(which(setups));
    let open = match account.last_wish() {
        Some(last) => prop_oneof![9 => any, 1 => side().prop_map(move |from| again(last, from))].boxed(),
        None => any.boxed(),
    };
    match account.zero() {
        // Until another zero is set nothing else can be read.
        Zero::Neutral(place, forward) => {
            let on_tail = matches!(place, Place::Tail { .. });
            let here = wish(on_tail..=on_tail).prop_map(move |wish| Wish { place, forward, ..wish });
            let here = here.prop_map(|wish| Step::Capture(Which::Open, wish));
            prop_oneof![2 => open, 1 => here, 1 => zero().prop_map(|zero| Step::SetZero(Which::Open, zero))].boxed()
        }
        _ => open,
    }
}

/// The last capture once more, the stick brought there on purpose.
const fn again(last: Wish, from: Side) -> Step {
    Step::Capture(Which::Open, Wish { from: Some(from), again: false, ..last })
}

fn side() -> impl Strategy<Value = Side> {
    prop_oneof![Just(Side::Below), Just(Side::Above)]
}

/// Sometimes another than the open one is named.
fn which(setups: usize) -> impl Strategy<Value = Which> + Clone {
    prop_oneof![11 => Just(Which::Open), 1 => (0..setups).prop_map(Which::Named)]
}

fn in_setup(which: impl Strategy<Value = Which> + Clone + 'static) -> impl Strategy<Value = Step> {
    let on = || which.clone();
    prop_oneof![
        98 => (on(), wish(false..=true)).prop_map(|(which, wish)| Step::Capture(which, wish)),
        28 => (on(), select(&TURNED[..])).prop_map(|(which, what)| Step::Turn(which, what)),
        10 => (on(), zero()).prop_map(|(which, zero)| Step::SetZero(which, zero)),
        12 => (on(), later()).prop_map(|(which, later)| Step::TakeBack(which, later)),
        6 => (on(), select(&ENDS[..]), 0u8..9).prop_map(|(which, what, day)| Step::LeaveOut(which, what, day)),
        8 => (on(), pause()).prop_map(|(which, pause)| Step::TakeUp(which, pause)),
        8 => (on(), later()).prop_map(|(which, later)| Step::ReadAnew(which, later)),
        5 => (on(), -40..40).prop_map(|(which, pull)| Step::CheckCable(which, pull)),
        8 => (on(), once_more()).prop_map(|(which, again)| Step::Sweep(which, again)),
        5 => on().prop_map(Step::ReadTheRest),
        5 => on().prop_map(Step::TryTheWanted),
        6 => on().prop_map(Step::HandOver),
        4 => on().prop_map(Step::Close),
        8 => any::<bool>().prop_map(|tidied| Step::ComeBack { tidied }),
        4 => Just(Step::NewSetup),
    ]
}

fn zero() -> impl Strategy<Value = Zero> {
    let neutral = (wish(false..=true)).prop_map(|wish| Zero::Neutral(wish.place, wish.forward));
    prop_oneof![Just(Zero::Gravity), Just(Zero::Surface), neutral]
}

/// Mostly the last.
fn later() -> impl Strategy<Value = usize> {
    prop_oneof![2 => Just(0usize), 1 => 0usize..12]
}

fn pause() -> impl Strategy<Value = Pause> {
    let parts = (one_in(3), one_in(2), one_in(4));
    parts.prop_map(|(moved, clip_off, other_sensor)| Pause { moved, clip_off, other_sensor })
}

/// Mostly both ends come to where they came before.
fn once_more() -> impl Strategy<Value = OnceMore> {
    let moved = || prop_oneof![4 => Just(Move::AsBefore), 1 => select(&[Move::Short, Move::Far, Move::Still, Move::Buzzing][..])];
    let place = (select(&["elevator", "aileron", "rudder"][..]), select(&[0.0, 0.0, 180.0, 30.0][..]), any::<bool>());
    (place, moved(), moved()).prop_map(|((axis, off, down), one, other)| {
        let place = match axis {
            "rudder" => Place::Tail { up: !down },
            _ => Place::Main { blade: 'A', station: if axis == "aileron" { off } else { 90.0 + off } },
        };
        OnceMore { axis, place, moves: [one, other] }
    })
}

const TURNED: [&str; 14] = [
    "link A +1 half-turn",
    "link B -2 half-turns",
    "elevator end point 95 %",
    "elevator up end point 90 %",
    "aileron left end point 90 %",
    "rudder end point 80 %",
    "collective high end point 90 %",
    "swash link 2 +1 half-turn",
    "servo arm 1",
    "sub-trim 3 -5 %",
    "phase 5°",
    "cyclic range 80 %",
    "tail rod +1 half-turn",
    "reverse aileron",
];

/// What can be captured, each with where the stick stands then.
pub const WHAT: [(&str, f64); 12] = [
    ("elevator up", 100.0),
    ("elevator down", -100.0),
    ("elevator neutral", 0.0),
    ("aileron left", -100.0),
    ("aileron right", 100.0),
    ("aileron neutral", 0.0),
    ("rudder left", -100.0),
    ("rudder right", 100.0),
    ("rudder neutral", 0.0),
    ("collective low", 0.0),
    ("collective mid", 50.0),
    ("collective high", 100.0),
];

/// On the main rotor, on the tail, or on either.
fn wish(on_tail: RangeInclusive<bool>) -> impl Strategy<Value = Wish> {
    let shown = WHAT.into_iter().filter(|(what, _)| on_tail.contains(&what.starts_with("rudder")));
    let what = select(shown.collect::<Vec<_>>());
    let place =
        (select(&['A', 'A', 'B'][..]), select(&[0.0, 0.0, 0.0, 0.0, 3.0, 180.0, 180.0, 30.0, 70.0][..]), any::<bool>());
    let from = prop_oneof![2 => Just(None), 1 => side().prop_map(Some)];
    let how = (one_in(6), one_in(5), one_in(8), one_in(8), from);
    (what, place, how).prop_map(|((what, full), (blade, off, down), how)| {
        let (part, reversed, bound, again, from) = how;
        let usual = if what.starts_with("aileron") { 0.0 } else { 90.0 };
        let place = match what.starts_with("rudder") {
            true => Place::Tail { up: !down },
            false => Place::Main { blade, station: usual + off },
        };
        let stick = if part && !what.starts_with("collective") { full * 0.6 } else { full };
        Wish { what, place, forward: !reversed, stick, bound, again, from }
    })
}
