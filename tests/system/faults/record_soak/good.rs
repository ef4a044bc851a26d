//! Whether a record is good, and not only complete.

use super::book::Written;
use super::reference::{Rule, Rules, Setup, Stands};
use super::verdict::{bound_ends, came_as_recorded};
use clinoblade::record::{Cell, Verdict};
use std::cell;
use std::collections::BTreeMap;

thread_local! {
    /// How often a record was.
    pub static GOOD: cell::Cell<u32> = const { cell::Cell::new(0) };
}

/// A cell speaks against it unless it is inside what is wanted, or bound with a stick that stops there. What nobody owes need not be
/// there, and may be old.
pub fn is_good(
    cell: &Cell,
    record: &BTreeMap<String, Stands>,
    setup: &Setup,
    (owed, rules): (&[String], Rules),
    written: &[Written],
) -> bool {
    let name = cell.name.to_string();
    if rules.know(Rule::LeftOutIsNotGood) && cell.left_out.is_some() {
        return false;
    }
    match (&cell.verdict, record.get(&name)) {
        (Verdict::Inside, _) => true,
        (Verdict::Bound, Some(stands)) => !rules.know(Rule::BoundMayGoOn) || stops(cell, stands, setup, written),
        (Verdict::Stale { .. } | Verdict::Missing, _) => !owed.contains(&name),
        _ => false,
    }
}

/// Whether the stick is known to stop where the linkage bound: it stood all the way over there, or it came to there when it was
/// moved once more since.
fn stops(cell: &Cell, stands: &Stands, setup: &Setup, written: &[Written]) -> bool {
    if stands.corner.as_ref().is_some_and(|corner| corner.bound) {
        return false;
    }
    let came = || {
        let sweep = stands.end.as_ref().and_then(|end| end.sweep.as_ref());
        sweep.is_some_and(|again| !again.newer && came_as_recorded(cell, again, written))
    };
    bound_ends(setup, stands).is_empty() || came()
}
