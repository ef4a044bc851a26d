//! Holds a record of the program against the second account.

use super::besides::{holds_the_corner, holds_the_curve, holds_the_spindle};
use super::book::{Book, Written, reason};
use super::good::{GOOD, is_good};
use super::reference::{DROOP, ENDS, Rules, Setup, Stands, Sum, TAIL_NEUTRAL};
use super::verdict::{came_as_recorded, holds_the_verdict, weighed};
use clinoblade::record::{Basis, Cell, CellFinding, CellName, InQuestion, LimitRecord, Verdict};
use std::collections::BTreeSet;
use uuid::Uuid;

/// Whether the program's record of this setup says what the second account says.
pub async fn hold(book: &Book, setup: &Setup, rules: Rules) -> LimitRecord {
    let open = book.open().await;
    let record = open.record();
    let wanted = setup.record(rules);
    let of_whom = format!("setup {}", book.number);
    let mut all_owed = setup.owed(rules);
    let mut holding: BTreeSet<String> = BTreeSet::new();
    for cell in &record.cells {
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
                holding.insert(name.clone());
            }
            Some(stands) => {
                holds_what_stands(cell, stands, &book.written, setup.may_solve_a_rotor(rules), &told);
                if stands.stale.is_empty() {
                    let doubted = holds_the_verdict(cell, stands, setup, (&wanted, &book.written), &told);
                    holding.extend((!doubted).then(|| name.clone()));
                }
            }
            None => {
                assert!(cell.verdict == Verdict::Missing && cell.value.is_none(), "{told} is there: {cell:#?}");
                assert!(all_owed.contains(&name), "{told} is there, and nobody owes it");
                holds_the_reason(setup, &name, rules, cell.consequence.as_ref());
            }
        }
        let left_out = setup.left_out(&name, rules).filter(|_| !cell.verdict.is_captured()).map(reason);
        assert_eq!(cell.left_out, left_out, "why {told} is left out");
    }
    let of_record = |name: &str| record.cells.iter().find(|cell| cell.name.to_string() == name);
    for name in wanted.keys() {
        assert!(of_record(name).is_some(), "{of_whom}: {name} is not there");
    }
    let is_left_out = |name: &String| {
        setup.left_out(name, rules).is_some() && of_record(name).is_some_and(|cell| !cell.verdict.is_captured())
    };
    all_owed.extend(record.cells.iter().filter(|cell| was_amiss(cell)).map(|cell| cell.name.to_string()));
    let owed: BTreeSet<String> = all_owed.iter().filter(|name| !is_left_out(name)).cloned().collect();
    let told_owed: BTreeSet<String> = record.cells.iter().filter(|c| c.is_owed()).map(|c| c.name.to_string()).collect();
    assert_eq!(told_owed, owed, "{of_whom}: what is owed");
    let is_swept = |end: &&str| {
        let again = match wanted.get(*end).and_then(|stands| stands.end.as_ref()) {
            Some(end) => end.sweep.clone(),
            None => setup.swept_without_value(end, rules),
        };
        again.is_some_and(|again| !again.newer || came_as_recorded(of_record(end).unwrap(), &again, &book.written))
    };
    let all_swept = setup.sweeps_owed(rules).iter().all(|ends| ends.iter().all(is_swept));
    let complete = all_swept && owed.iter().all(|name| holding.contains(name));
    assert_eq!(record.complete, complete, "{of_whom}: whether it is complete");
    let asks = !record.to_measure.is_empty() || !record.to_check.is_empty();
    assert_eq!(!asks, record.complete, "{of_whom}: whether nothing is to be measured");
    let good =
        complete && record.cells.iter().all(|cell| is_good(cell, &wanted, setup, (&all_owed, rules), &book.written));
    assert_eq!(record.good, good, "{of_whom}: whether it is good");
    GOOD.set(GOOD.get() + u32::from(good));
    holds_the_curve(open.setup(), open.entries(), setup, rules, &book.written);
    record
}

/// What is measured at will, does not hold any more and was not as it should be while it did: whatever was turned may not have put it
/// right. What a corner and a spindle were is not told by one number. A corner at which a servo buzzes, and that nothing is held
/// against, is read again with its parts.
fn was_amiss(cell: &Cell) -> bool {
    if matches!((cell.name, &cell.verdict), (CellName::Corner(_), Verdict::InQuestion { .. })) {
        return true;
    }
    if !matches!(cell.verdict, Verdict::Stale { .. }) {
        return false;
    }
    match cell.name {
        CellName::Slop(_) | CellName::TailSplit | CellName::Droop(_) => {
            let value = cell.value.as_ref().unwrap();
            weighed(cell.target, (value.angle.degrees(), value.expanded.degrees()), false) != "inside"
        }
        CellName::Corner(_) | CellName::Spindle(_) => cell.is_owed(),
        _ => false,
    }
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
    if let Some(pool) = &stands.spindle {
        return holds_the_spindle(cell, pool, stands, written, told);
    }
    if let Some(corner) = &stands.corner {
        return holds_the_corner(cell, corner, stands, written, told);
    }
    let value = cell.value.as_ref().unwrap_or_else(|| panic!("{told} has no value"));
    let made_of: BTreeSet<Uuid> = value.captures.iter().copied().collect();
    // Which of the tail blades stands worse is a matter of numbers.
    let of_blade = |blades: &[(char, Sum)]| {
        let told = cell.stands.as_ref().map(|stands| stands.blade.to_string());
        blades.iter().find(|(blade, _)| told == Some(blade.to_string())).map(|(_, sum)| sum.clone())
    };
    let stands = &Stands { shares: of_blade(&stands.of_blades).unwrap_or(stands.shares.clone()), ..stands.clone() };
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
    let name = cell.name.to_string();
    let blades = end.pitch.as_ref().filter(|blades| !blades.is_empty());
    let (Some(blades), Some(told_pitch)) = (blades, &cell.stands) else {
        let both = blades.is_none() && (cell.stands.is_none() || end.pitch.is_none());
        // The zero in it may be the rotor's where the account has none.
        let of_rotor = by_rotor && name.starts_with("collective") && cell.stands.is_some();
        return assert!(both || of_rotor, "where {told} stands: {:?}", cell.stands);
    };
    let of_blade = blades.iter().find(|(blade, _)| blade.to_string() == told_pitch.blade.to_string());
    let (_, pitch) = of_blade.unwrap_or_else(|| panic!("{told} is of blade {}", told_pitch.blade));
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

/// A missing end says why it was left out.
fn holds_the_reason(setup: &Setup, name: &str, rules: Rules, consequence: Option<&CellFinding>) {
    if !ENDS.contains(&name) {
        return;
    }
    let why = setup.left_out_once(name, rules).map(reason);
    let kept = match consequence {
        Some(CellFinding::NotCaptured { left_out }) => left_out.clone(),
        other => panic!("{name} is missing, and not: {other:?}"),
    };
    assert_eq!(kept, why, "why {name} was left out");
}
