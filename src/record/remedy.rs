//! What to turn for one cell, in one sentence: the words that stand beside it.

use super::balance::Balance;
use super::cell::{Cell, CellName, Verdict};
use super::head::Head;
use super::limits::LimitRecord;
use super::link_survey::{BladeLink, LinkSurvey};
use super::setup::Entry;
use super::travel_survey::TravelSurvey;
use crate::rotor::{BladeName, Deflection};

/// Ends that differ by less than this are left alone: nobody flies the difference (common practice, no source).
const WORTH_BALANCING_DEGREES: f64 = 0.25;

/// What to turn so that this cell comes out as it should; none where it does already, where nothing is known, or where
/// nothing that can be turned would help.
#[must_use]
pub fn remedy(head: &Head, entries: &[Entry], record: &LimitRecord, cell: &Cell) -> Option<String> {
    let amiss = matches!(cell.verdict, Verdict::Outside | Verdict::Undecided { .. }) && cell.question.is_none();
    match cell.name {
        // A bind's limit stays where it is: a neutral that is moved would take it into the bind.
        CellName::Limit(_) if cell.verdict == Verdict::Bound => None,
        CellName::Limit(end) if cell.verdict.is_good() => balance(record, end),
        _ if !amiss => None,
        CellName::Zero(blade) => links(head, entries, |link| link.blade == blade),
        CellName::Track(blade) => links(head, entries, |link| link.blade == blade || link.blade == BladeName::A),
        CellName::Limit(end) => end_point(head, entries, cell, end),
        CellName::Slop(_) | CellName::Spindle(_) | CellName::Cable | CellName::Corner(_) => None,
    }
}

/// The links of these blades, as far as they are to be turned at all.
fn links(head: &Head, entries: &[Entry], of: impl Fn(&BladeLink) -> bool) -> Option<String> {
    let survey = LinkSurvey::new(head, entries, None, None).ok()?;
    let turned = survey.blades.iter().filter(|link| of(link) && link.advice.turn.half_turns != 0);
    let told: Vec<String> = turned
        .map(|link| {
            let then = link.then.expanded().expanded.degrees();
            let how = survey.how(link.advice.turn.half_turns);
            format!(
                "Turn the link of blade {} {how}: it then stands at {} ± {then:.2}°.",
                link.blade, link.advice.turn.pitch
            )
        })
        .collect();
    (!told.is_empty()).then(|| told.join(" "))
}

/// What balances an axis, beside the end that goes too far; none where both are alike or hardly differ, or where a bind
/// bounds one of them.
fn balance(record: &LimitRecord, end: Deflection) -> Option<String> {
    let balance = Balance::new(record, end.axis()).filter(|balance| !balance.bound)?;
    let far = balance.too_far().filter(|far| far.end == end && far.by.degrees() > WORTH_BALANCING_DEGREES)?;
    Some(format!("{end}: {far}; or lower the end point of {end}."))
}

/// The end point that brings an end where it is wanted; where there is none, why.
fn end_point(head: &Head, entries: &[Entry], cell: &Cell, end: Deflection) -> Option<String> {
    let survey = TravelSurvey::new(head, entries, end, None).ok()?;
    Some(match survey.output_within(end, cell.target) {
        Ok(found) => {
            let (set, expanded) = (found.whole.value().abs(), found.budget.expanded().expanded.degrees());
            let assumed = if survey.assumes_end_points() { ", if it stands at 100 % now" } else { "" };
            let caution = survey.caution(&found).map_or_else(String::new, |caution| format!(" {caution}."));
            format!("Set the end point of {end} to {set:.0} %{assumed}: {} ± {expanded:.2}°.{caution}", found.angle)
        }
        Err(why) => why.to_string(),
    })
}
