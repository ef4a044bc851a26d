//! Holds a record of the program against the second account.

use super::book::{Book, Written, reason};
use super::reference::{DROOP, Deed, ENDS, Rules, SHEET, Setup, Stands, Sum, TAIL_NEUTRAL};
use super::verdict::holds_the_verdict;
use clinoblade::record::{Basis, Cell, CellFinding, CellName, InQuestion, LimitRecord, Verdict};
use std::collections::BTreeSet;
use uuid::Uuid;

/// Whether the program's record of this setup says what the second account says.
pub async fn hold(book: &Book, setup: &Setup, rules: Rules) -> LimitRecord {
    let record = book.open().await.record();
    let wanted = setup.record(rules);
    let of_whom = format!("setup {}", book.number);
    let mut holding: BTreeSet<String> = BTreeSet::new();
    for cell in record.cells.iter().filter(|cell| !matches!(cell.name, CellName::Corner(_))) {
        let name = cell.name.to_string();
        let told = format!("{of_whom}, {name}");
        let is_a_rotors = cell.value.as_ref().is_some_and(is_of_the_rotor);
        match wanted.get(&name) {
            // The rotor has an account of its own: here it is asked whether it may be told, and whether it is true.
            _ if cell.name == CellName::SwashLevel => holds_the_plate(cell, setup, rules, &told),
            Some(stands) if is_a_rotors => {
                let pair_holds = stands.half_turn_on.is_none() && stands.stale.is_empty();
                assert!(setup.may_solve_a_rotor(rules) && !pair_holds, "{told} is of the rotor, and should not be");
                holds_the_truth(cell, sum(&stands.shares, &book.written, |written| written.truth), &told);
                holding.insert(name);
            }
            Some(stands) => {
                holds_what_stands(cell, stands, &book.written, setup.may_solve_a_rotor(rules), &told);
                if stands.stale.is_empty() {
                    let doubted = holds_the_verdict(cell, stands, setup, &book.written, &told);
                    holding.extend((!doubted).then_some(name));
                }
            }
            None => {
                assert!(cell.verdict == Verdict::Missing && cell.value.is_none(), "{told} is there: {cell:#?}");
                holds_the_reason(setup, &name, cell.consequence.as_ref());
            }
        }
    }
    let of_record = |name: &str| record.cells.iter().find(|cell| cell.name.to_string() == name);
    for name in wanted.keys() {
        assert!(of_record(name).is_some(), "{of_whom}: {name} is not there");
    }
    let is_left_out = |name: &str| {
        let cell = record.cells.iter().find(|cell| cell.name.to_string() == name);
        left_out_at(setup, name).is_some() && cell.is_some_and(|cell| !cell.verdict.is_captured())
    };
    let owed: Vec<&str> = SHEET.into_iter().map(|(name, ..)| name).filter(|name| !is_left_out(name)).collect();
    let told_owed: Vec<String> = record.cells.iter().filter(|c| c.is_owed()).map(|c| c.name.to_string()).collect();
    let as_set = |names: &[String]| names.iter().cloned().collect::<BTreeSet<_>>();
    let wanted_owed = owed.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
    assert_eq!(as_set(&told_owed), as_set(&wanted_owed), "{of_whom}: what is owed");
    let complete = owed.iter().all(|name| holding.contains(*name));
    assert_eq!(record.complete, complete, "{of_whom}: whether it is complete");
    assert_eq!(record.to_measure.is_empty(), record.complete, "{of_whom}: whether nothing is to be measured");
    record
}

fn is_of_the_rotor(value: &clinoblade::record::Value) -> bool {
    value.basis == Basis::Collective && value.captures.len() > 2
}

/// How much of what was written a sum is.
pub fn sum(shares: &Sum, written: &[Written], of: impl Fn(&Written) -> f64) -> f64 {
    shares.iter().map(|(share, at)| share * of(&written[*at])).sum()
}

fn ids(shares: &Sum, written: &[Written]) -> BTreeSet<Uuid> {
    shares.iter().map(|(_, at)| written[*at].id).collect()
}

/// The plate of this head stands level: whoever was read round the turn finds it so, and nothing is asked about it.
fn holds_the_plate(cell: &Cell, setup: &Setup, rules: Rules, told: &str) {
    assert!(setup.may_solve_a_rotor(rules) && cell.question.is_none(), "{told} is there: {cell:#?}");
    assert!(matches!(cell.verdict, Verdict::Inside | Verdict::Undecided { .. }), "{told}: {cell:#?}");
    holds_the_truth(cell, 0.0, told);
}

fn holds_the_truth(cell: &Cell, truth: f64, told: &str) {
    let value = cell.value.as_ref().unwrap();
    let (value, claimed) = (value.angle.degrees(), value.expanded.degrees());
    assert!((value - truth).abs() < 2.5 * claimed.max(0.05), "{told} is {value}, in truth {truth}, U {claimed}");
}

fn holds_what_stands(cell: &Cell, stands: &Stands, written: &[Written], by_rotor: bool, told: &str) {
    let stale: BTreeSet<String> = match &cell.verdict {
        Verdict::Stale { by } => by.iter().map(ToString::to_string).collect(),
        _ => BTreeSet::new(),
    };
    let wanted: BTreeSet<String> = stands.stale.iter().map(ToString::to_string).collect();
    assert_eq!(stale, wanted, "what makes {told} stale");
    let name = cell.name.to_string();
    if name == TAIL_NEUTRAL && !stale.is_empty() {
        // How the tail stood before something was turned nobody needs to know.
        return;
    }
    let value = cell.value.as_ref().unwrap_or_else(|| panic!("{told} has no value"));
    let made_of: BTreeSet<Uuid> = value.captures.iter().copied().collect();
    assert_eq!(made_of, ids(&stands.shares, written), "what {told} is made of");
    let read = match name.as_str() {
        DROOP => sum(&stands.shares, written, |written| written.slope),
        _ => sum(&stands.shares, written, |written| written.angle),
    };
    // Both blades hang alike.
    let truth = if name == DROOP { 0.0 } else { sum(&stands.shares, written, |written| written.truth) };
    // An end may be called by either sign, as its direction and the head's description say: its size is what was moved.
    let signed = !ENDS.contains(&name.as_str()) || name.starts_with("collective");
    let sized = |angle: f64| if signed { angle } else { angle.abs() };
    let (value, claimed) = (sized(value.angle.degrees()), value.expanded.degrees());
    assert!((value - sized(read)).abs() < 1e-9, "{told} is {value}, and should be {read}");
    let off = (value - sized(truth)).abs();
    assert!(off < 2.5 * claimed.max(0.05), "{told} is {value}, in truth {truth}, U {claimed}");
    holds_the_pitch(cell, stands, written, by_rotor, told);
}

/// Where a blade stands at an end of the tail, positive with rudder right, or of the collective. `by_rotor`: the zero in it may be
/// that of a rotor, which has an account of its own.
fn holds_the_pitch(cell: &Cell, stands: &Stands, written: &[Written], by_rotor: bool, told: &str) {
    let Some(end) = stands.end.as_ref().filter(|_| stands.stale.is_empty()) else { return };
    let pitch = end.pitch.as_ref().filter(|pitch| !pitch.is_empty());
    let (Some(pitch), Some(told_pitch)) = (pitch, &cell.stands) else {
        let both = pitch.is_none() && (cell.stands.is_none() || end.pitch.is_none());
        return assert!(both, "where {told} stands: {:?}", cell.stands);
    };
    let name = cell.name.to_string();
    let is_collective = name.starts_with("collective");
    let way = if is_collective || name.ends_with("right") { 1.0 } else { -1.0 };
    let read = way * sum(pitch, written, |written| written.angle);
    let truth = way * sum(pitch, written, |written| written.truth);
    let (stood, claimed) = (told_pitch.angle.degrees(), told_pitch.expanded.degrees());
    let made_of: BTreeSet<Uuid> = told_pitch.captures.iter().copied().collect();
    if !(is_collective && by_rotor) {
        assert_eq!(made_of, ids(pitch, written), "what the pitch of {told} is made of");
        assert!((stood - read).abs() < 1e-9, "{told} stands at {stood}, and should at {read}");
    }
    assert!((stood - truth).abs() < 2.5 * claimed.max(0.05), "{told} stands at {stood}, in truth {truth}, U {claimed}");
}

/// Whether it is in question because full stick goes past a bind.
pub fn is_past_a_bind(cell: &Cell) -> bool {
    let past = |because: &InQuestion| matches!(because, InQuestion::PastBind { .. });
    matches!(&cell.verdict, Verdict::InQuestion { because } if because.iter().any(past))
}

/// The deed by which a direction was left out, where it was not captured since.
fn left_out_at(setup: &Setup, name: &str) -> Option<usize> {
    let left_out = |deed: &Deed| matches!(deed, Deed::LeftOut { what, .. } if *what == name);
    let at = setup.deeds.iter().rposition(left_out)?;
    let full = |shot: usize| match setup.deeds[shot] {
        Deed::Shot(shot) => {
            shot.wish.what == name
                && (shot.wish.bound || name.starts_with("collective") || shot.wish.stick.abs() >= 99.0)
        }
        _ => false,
    };
    (!setup.counting().any(|shot| shot > at && full(shot))).then_some(at)
}

fn holds_the_reason(setup: &Setup, name: &str, consequence: Option<&CellFinding>) {
    let why = setup.deeds.iter().rev().find_map(|deed| match deed {
        Deed::LeftOut { what, day } if *what == name => Some(reason(*day)),
        _ => None,
    });
    let kept = match consequence {
        Some(CellFinding::NotCaptured { left_out }) => left_out.as_ref(),
        _ => None,
    };
    assert!(
        why.is_none_or(|why| kept.is_some_and(|kept| kept.contains(&why))),
        "why {name} was left out: {consequence:?}"
    );
}
