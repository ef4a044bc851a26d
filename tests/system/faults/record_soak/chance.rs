//! What a person may do next, and how often: every strategy shrinks to the plainest thing of its kind.

use super::reference::{Account, CORNERS, Rule};
use super::step::{Move, OnceMore, Pause, Place, Side, Step, Turned, Which, Wish, Zero};
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
    let any = in_setup(which(setups), account.rules.about());
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

/// How often each kind of step is taken. What a whole story seldom asks for is taken more often where it is looked for.
fn in_setup(which: impl Strategy<Value = Which> + Clone + 'static, about: Option<Rule>) -> impl Strategy<Value = Step> {
    let on = || which.clone();
    let more = |of: &[Rule], often, usual| if about.is_some_and(|rule| of.contains(&rule)) { often } else { usual };
    let spindles = more(&[Rule::OnePlaneShowsNoBend, Rule::NewestCheckCounts, Rule::NewPartsEndAPool], 80, 6);
    let corners = more(&[Rule::CornersAddUp, Rule::CornersHaveAxes], 60, 6);
    let turns = more(&[Rule::TurnsAreTakenBack, Rule::NewPartsEndAPool, Rule::CornersHaveAxes], 60, 32);
    let skips = more(&[Rule::SkipsAreTakenBack, Rule::LeftOutIsNotGood], 40, 8);
    let tried = more(&[Rule::LeftOutIsNotGood, Rule::BoundMayGoOn], 60, 5);
    let read = prop_oneof![
        94 => (on(), wish(false..=true)).prop_map(|(which, wish)| Step::Capture(which, wish)),
        corners => (on(), corner()).prop_map(|(which, wish)| Step::ReadCorner(which, wish)),
        spindles => (on(), spindle()).prop_map(|(which, turned)| Step::CheckSpindle(which, turned)),
        10 => (on(), zero()).prop_map(|(which, zero)| Step::SetZero(which, zero)),
        8 => (on(), later()).prop_map(|(which, later)| Step::ReadAnew(which, later)),
        5 => (on(), -40..40).prop_map(|(which, pull)| Step::CheckCable(which, pull)),
        8 => (on(), once_more()).prop_map(|(which, again)| Step::Sweep(which, again)),
        5 => on().prop_map(Step::ReadTheRest),
        tried => on().prop_map(Step::TryTheWanted),
    ];
    let done = prop_oneof![
        turns => (on(), select(&TURNED[..])).prop_map(|(which, what)| Step::Turn(which, what)),
        12 => (on(), later()).prop_map(|(which, later)| Step::TakeBack(which, later)),
        turns / 4 => (on(), later()).prop_map(|(which, later)| Step::NeverTurned(which, later)),
        skips => (on(), select(&LEFT_OUT[..]), 0u8..9).prop_map(|(which, what, day)| Step::LeaveOut(which, what, day)),
        skips / 2 => (on(), later()).prop_map(|(which, later)| Step::NotLeftOut(which, later)),
        8 => (on(), pause()).prop_map(|(which, pause)| Step::TakeUp(which, pause)),
        6 => on().prop_map(Step::HandOver),
        8 => on().prop_map(Step::Close),
        8 => any::<bool>().prop_map(|tidied| Step::ComeBack { tidied }),
        4 => Just(Step::NewSetup),
    ];
    let reads = 143 + corners + spindles + tried;
    prop_oneof![reads => read, 46 + turns + turns / 4 + skips + skips / 2 => done]
}

/// On either blade, mostly in all quarters or in two opposite ones.
fn spindle() -> impl Strategy<Value = Turned> {
    const SEATS: [&[u16]; 4] = [&[0, 90, 180, 270], &[0, 180], &[90, 270], &[0, 90, 180]];
    let seats = select(&SEATS[..]);
    let bent = (select(&[0u16, 0, 5, 60][..]), select(&[0u16, 35, 90, 200][..]));
    (select(&['A', 'A', 'B'][..]), seats, bent, one_in(6)).prop_map(|(blade, seats, (bend, toward), old)| {
        let seats = if old { &[0, 180][..] } else { seats };
        Turned { blade, seats, bend, toward, marked: !old }
    })
}

/// Mostly where its elevator shows whole.
fn corner() -> impl Strategy<Value = Wish> {
    let place = (select(&['A', 'A', 'B'][..]), select(&[90.0, 90.0, 270.0, 0.0, 120.0][..]));
    (select(&CORNERS[..]), place, one_in(8), one_in(6)).prop_map(|(what, (blade, station), bound, part)| Wish {
        what,
        place: Place::Main { blade, station },
        forward: true,
        stick: if part { 60.0 } else { 100.0 },
        bound,
        again: false,
        from: None,
    })
}

fn zero() -> impl Strategy<Value = Zero> {
    // At both tail blades nobody reads more than how they stand.
    let of_a = |place| if let Place::Tail { up, .. } = place { Place::Tail { blade: 'A', up } } else { place };
    let neutral = (wish(false..=true)).prop_map(move |wish| Zero::Neutral(of_a(wish.place), wish.forward));
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
            "rudder" => Place::Tail { blade: 'A', up: !down },
            _ => Place::Main { blade: 'A', station: if axis == "aileron" { off } else { 90.0 + off } },
        };
        OnceMore { axis, place, moves: [one, other] }
    })
}

/// An end most often, and whatever else a record may hold.
const LEFT_OUT: [&str; 17] = [
    "elevator up",
    "elevator down",
    "aileron left",
    "aileron right",
    "rudder left",
    "rudder right",
    "collective low",
    "collective high",
    "blade A zero",
    "track B - A",
    "tail neutral",
    "tail split",
    "droop B - A",
    "blade A slop",
    "blade A spindle",
    "corner high up-right",
    "corner low down-left",
];

const TURNED: [&str; 43] = [
    "link A +1 half-turn",
    "link B -2 half-turns",
    "link A +0.5 half-turns",
    "elevator end point 95 %",
    "elevator up end point 90 %",
    "aileron left end point 90 %",
    "rudder end point 80 %",
    "collective high end point 90 %",
    "collective end point 95 %",
    "collective high end point 80 %",
    "swash link 2 +1 half-turn",
    "swash link 3 -0.25 half-turns",
    "servo arm 1",
    "servo arm 2 +1 tooth",
    "servo 3 replaced",
    "sub-trim 3 -5 %",
    "sub-trim 4 -3 %",
    "servo arm 4 -2 teeth",
    "servo 4 replaced",
    "phase 5°",
    "cyclic range 80 %",
    "collective range 60 %",
    "tail rod +1 half-turn",
    "tail rod -0.5 half-turns",
    "tail servo arm +1 tooth",
    "tail servo replaced",
    "tail sub-trim 3 %",
    "tail blades replaced",
    "reverse aileron",
    "reverse rudder",
    "elevator trim 3 %",
    "collective trim -2 %",
    "rudder trim 4 %",
    "mixing changed",
    "spindle replaced",
    "shaft replaced",
    "grip A replaced",
    "grip B replaced",
    "blade B replaced",
    "blades replaced",
    "blades A and B exchanged",
    "crash",
    "parts replaced",
];

/// What can be captured, each with where the stick stands then.
pub const WHAT: [(&str, f64); 26] = [
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
    ("collective 25%", 25.0),
    ("collective 75%", 75.0),
    (CORNERS[0], 100.0),
    (CORNERS[1], 100.0),
    (CORNERS[2], 100.0),
    (CORNERS[3], 100.0),
    (CORNERS[4], 100.0),
    (CORNERS[5], 100.0),
    (CORNERS[6], 100.0),
    (CORNERS[7], 100.0),
    (CORNERS[8], 100.0),
    (CORNERS[9], 100.0),
    (CORNERS[10], 100.0),
    (CORNERS[11], 100.0),
];

/// Of those how many are read by themselves as often as any: a corner is seldom taken without what it takes.
const USUAL: usize = 14;

/// On the main rotor, on the tail, or on either.
fn wish(on_tail: RangeInclusive<bool>) -> impl Strategy<Value = Wish> {
    let shown = |(what, _): &(&str, f64)| on_tail.contains(&what.starts_with("rudder"));
    let usual: Vec<_> = WHAT[..USUAL].iter().copied().filter(shown).collect();
    let seldom: Vec<_> = WHAT.into_iter().filter(shown).collect();
    let what = prop_oneof![12 => select(usual), 1 => select(seldom)];
    let place =
        (select(&['A', 'A', 'B'][..]), select(&[0.0, 0.0, 0.0, 0.0, 3.0, 180.0, 180.0, 30.0, 70.0][..]), any::<bool>());
    let from = prop_oneof![2 => Just(None), 1 => side().prop_map(Some)];
    let how = (one_in(6), one_in(5), one_in(8), one_in(8), from);
    (what, place, how).prop_map(|((what, full), (blade, off, down), how)| {
        let (part, reversed, bound, again, from) = how;
        let usual = if what.starts_with("aileron") { 0.0 } else { 90.0 };
        let place = match what.starts_with("rudder") {
            // Of the other tail blade it is asked how it stands against this one.
            true => Place::Tail { blade: if what == "rudder neutral" { blade } else { 'A' }, up: !down },
            false => Place::Main { blade, station: usual + off },
        };
        let stick = if part && !what.starts_with("collective") { full * 0.6 } else { full };
        Wish { what, place, forward: !reversed, stick, bound, again, from }
    })
}
