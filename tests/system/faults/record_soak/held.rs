//! Holds a record of the program against the second account.

use super::book::{Book, Written, reason};
use super::reference::{Deed, ENDS, Rule, Setup, Stands};
use super::step::Wish;
use clinoblade::record::{Basis, Cell, CellFinding, CellName, LimitRecord, Verdict};
use clinoblade::uncertainty::Target;
use std::collections::BTreeSet;
use uuid::Uuid;

/// Whether the program's record of this setup says what the second account says.
pub async fn hold(book: &Book, setup: &Setup, touches: Rule) -> LimitRecord {
    let record = book.open().await.record();
    let wanted = setup.record(touches);
    let collectives = setup.collectives(touches);
    let of_whom = format!("setup {}", book.number);
    for cell in record.cells.iter().filter(|cell| !matches!(cell.name, CellName::Corner(_) | CellName::SwashLevel)) {
        let name = cell.name.to_string();
        let free_of_lean = cell.value.as_ref().filter(|value| value.basis == Basis::Collective);
        let stands = match free_of_lean.map(|value| value.captures.len()) {
            // The rotor has an account of its own.
            Some(3..) => continue,
            Some(_) => Some(collectives.get(&name).unwrap_or_else(|| panic!("{of_whom}: {name} is of no pair"))),
            None => wanted.get(&name),
        };
        match stands {
            Some(stands) => {
                let told = format!("{of_whom}, {name}");
                holds_what_stands(cell, stands, &book.written, &told);
                if stands.stale.is_empty() {
                    holds_the_verdict(cell, &bound_ends(setup, stands), &told);
                }
            }
            None => {
                assert!(cell.is_owed(), "{of_whom}: {name} is there, and should not be");
                assert!(cell.verdict == Verdict::Missing && cell.value.is_none(), "{of_whom}: {name}: {cell:#?}");
                holds_the_reason(setup, &name, cell.consequence.as_ref());
            }
        }
    }
    for name in wanted.keys() {
        assert!(record.cells.iter().any(|cell| cell.name.to_string() == *name), "{of_whom}: {name} is not there");
    }
    let owed = |name: &str| record.cells.iter().any(|cell| cell.is_owed() && cell.name.to_string() == name);
    let holding = wanted.iter().filter(|(name, stands)| owed(name) && stands.stale.is_empty()).count();
    let complete = holding == record.cells.iter().filter(|cell| cell.is_owed()).count();
    assert_eq!(record.complete, complete, "{of_whom}: whether it is complete");
    assert_eq!(record.to_measure.is_empty(), record.complete, "{of_whom}: whether nothing is to be measured");
    record
}

fn holds_what_stands(cell: &Cell, stands: &Stands, written: &[Written], told: &str) {
    let value = cell.value.as_ref().unwrap_or_else(|| panic!("{told} has no value"));
    let made_of: BTreeSet<Uuid> = value.captures.iter().copied().collect();
    let wanted: BTreeSet<Uuid> = stands.shares.iter().map(|(_, at)| written[*at].id).collect();
    assert_eq!(made_of, wanted, "what {told} is made of");
    let stale: BTreeSet<String> = match &cell.verdict {
        Verdict::Stale { by } => by.iter().map(ToString::to_string).collect(),
        _ => BTreeSet::new(),
    };
    let wanted: BTreeSet<String> = stands.stale.iter().map(ToString::to_string).collect();
    assert_eq!(stale, wanted, "what makes {told} stale");
    let sum = |of: fn(&Written) -> f64| stands.shares.iter().map(|(share, at)| share * of(&written[*at])).sum();
    let (read, truth): (f64, f64) = (sum(|written| written.angle), sum(|written| written.truth));
    // An end may be called by either sign, as its direction and the head's description say: its size is what was moved.
    let name = cell.name.to_string();
    let signed = !ENDS.contains(&name.as_str()) || name.starts_with("collective");
    let sized = |angle: f64| if signed { angle } else { angle.abs() };
    let (value, claimed) = (sized(value.angle.degrees()), value.expanded.degrees());
    assert!((value - sized(read)).abs() < 1e-9, "{told} is {value}, and should be {read}");
    let off = (value - sized(truth)).abs();
    assert!(off < 2.5 * claimed.max(0.05), "{told} is {value}, in truth {truth}, U {claimed}");
}

/// The captures of a value that stand at an end, just short of a bind.
fn bound_ends<'a>(setup: &'a Setup, stands: &Stands) -> Vec<&'a Wish> {
    let at_an_end = |wish: &&Wish| wish.bound && ENDS.contains(&wish.what);
    let wishes = stands.shares.iter().filter_map(|(_, at)| match &setup.deeds[*at] {
        Deed::Shot(shot) => Some(&shot.wish),
        _ => None,
    });
    wishes.filter(at_an_end).collect()
}

/// Inside only for certain, outside only for certain, else undecided; an end just short of a bind may fall short. Where it
/// binds, full stick must come to stop there.
fn holds_the_verdict(cell: &Cell, bound: &[&Wish], told: &str) {
    let value = cell.value.as_ref().unwrap();
    let (x, u) = (value.angle.degrees(), value.expanded.degrees());
    let (over, falls_short) = match cell.target {
        Target::Band { target, tolerance } => {
            let (target, tolerance) = (target.degrees(), tolerance.degrees());
            ((x - target).abs() - tolerance, x * target >= 0.0 && x.abs() < target.abs())
        }
        Target::AtMost(ceiling) => (x.abs() - ceiling.degrees(), x.abs() < ceiling.degrees()),
    };
    let wanted = match (over + u <= 0.0, over - u > 0.0) {
        _ if cell.question.is_some() => "undecided",
        (_, true) if bound.is_empty() || !falls_short => "outside",
        _ if !bound.is_empty() => "bound",
        (true, _) => "inside",
        _ => "undecided",
    };
    assert_eq!(cell.verdict.word(), wanted, "the verdict on {told}: {x} ± {u}, {} is wanted", cell.target);
    if let ("bound", [wish]) = (wanted, bound) {
        let full = wish.what.starts_with("collective") || wish.stick.abs() == 100.0;
        let follows = match cell.consequence {
            Some(CellFinding::BackedOff { .. }) => full,
            Some(CellFinding::StickGoesFurther { .. }) => !full,
            _ => false,
        };
        assert!(follows, "{told}, stick {}: {:?}", wish.stick, cell.consequence);
    }
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
