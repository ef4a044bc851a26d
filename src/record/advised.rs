//! Whether what was turned is what had been advised: worked out from what was captured before it, as the advice was.
//!
//! Things turned one after the other, with no capture in between, were advised together.

use super::adjustment::{Adjustment, Ends};
use super::cell::{CellName, Verdict};
use super::head::Head;
use super::limits::LimitRecord;
use super::link_survey::{BothWays, LinkSurvey};
use super::setup::{Entry, Event, withdrawn};
use super::travel_survey::TravelSurvey;
use crate::rotor::{BladeName, Deflection};
use crate::units::{HalfTurns, Percent};
use std::cell::OnceCell;

/// Nobody turns a turnbuckle more exactly than by this.
const AS_ADVISED: HalfTurns = HalfTurns::new(0.1);

/// What had been advised about an adjustment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Advised {
    /// What was done.
    Done,
    /// Another turn of the link.
    Link(BothWays),
    /// Another end point.
    EndPoint(Percent),
}

/// Every adjustment with its remark, in order, and what had been advised about it; none where nothing had been.
#[must_use]
pub fn adjustments(head: &Head, entries: &[Entry]) -> Vec<(Adjustment, Option<String>, Option<Advised>)> {
    let gone = withdrawn(entries);
    let mut told = Vec::new();
    let mut run = Run::new(head, &[]);
    for (at, entry) in entries.iter().enumerate() {
        let Event::Adjustment { adjustment, note } = &entry.event else {
            run = Run::new(head, &entries[..=at]);
            continue;
        };
        if gone.contains(&entry.id) {
            continue;
        }
        run.turned.push(*adjustment);
        told.push((*adjustment, note.clone(), run.advised(*adjustment)));
    }
    told
}

/// What was turned since something else happened, and what had happened before.
struct Run<'a> {
    head: &'a Head,
    before: &'a [Entry],
    turned: Vec<Adjustment>,
    record: OnceCell<LimitRecord>,
    links: OnceCell<Option<LinkSurvey>>,
}

impl<'a> Run<'a> {
    const fn new(head: &'a Head, before: &'a [Entry]) -> Self {
        Self { head, before, turned: Vec::new(), record: OnceCell::new(), links: OnceCell::new() }
    }

    fn advised(&self, adjustment: Adjustment) -> Option<Advised> {
        match adjustment {
            Adjustment::Link { blade, .. } => self.link(blade),
            Adjustment::EndPoint { ends: Ends::One(end), output } => self.end_point(end, output.value()),
            _ => None,
        }
    }

    fn link(&self, blade: BladeName) -> Option<Advised> {
        let survey = self.links.get_or_init(|| LinkSurvey::new(self.head, self.before, None, None).ok()).as_ref()?;
        let raising = survey.blades.iter().find(|link| link.blade == blade)?.advice.turn.half_turns;
        let turned = self.turned.iter().filter_map(|one| match one {
            Adjustment::Link { blade: same, half_turns } if *same == blade => Some(*half_turns),
            _ => None,
        });
        let advised = survey.half_turns(raising);
        let off = (advised.longer? - turned.sum::<HalfTurns>()).abs();
        Some(if off < AS_ADVISED { Advised::Done } else { Advised::Link(advised) })
    }

    /// An end that was as it should be was given no advice.
    fn end_point(&self, end: Deflection, output: f64) -> Option<Advised> {
        let record = self.record.get_or_init(|| LimitRecord::new(self.head, self.before));
        let cell = record.cell(CellName::Limit(end)).filter(|cell| cell.question.is_none())?;
        if !matches!(cell.verdict, Verdict::Outside | Verdict::Undecided { .. }) {
            return None;
        }
        let found = TravelSurvey::new(self.head, self.before, end, None)
            .ok()?
            .output_within(end, cell.target_of_travel()?)
            .ok()?;
        let set = found.whole.value().abs();
        let is_done = (set - output.abs()).abs() < 0.5;
        Some(if is_done { Advised::Done } else { Advised::EndPoint(Percent::new(set)) })
    }
}
