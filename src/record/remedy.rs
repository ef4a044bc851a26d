//! What to turn for one cell.

use super::adjustment::{Adjustment, Ends};
use super::balance::{Balance, BalanceAdvice};
use super::cell::{Cell, CellName, Verdict};
use super::collective_pitch::MidPitch;
use super::finding::Undecided;
use super::head::Head;
use super::limits::LimitRecord;
use super::link_survey::{BladeLink, BothWays, LinkSurvey, LinkSurveyError};
use super::setup::Entry;
use super::swash::{LevelPlate, ServoTurn};
use super::travel_survey::{EndPoint, TravelSurvey, TravelSurveyError};
use crate::rotor::{Axis, BladeName, Deflection};
use crate::units::Angle;

/// What to turn.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
    /// These links, one or more.
    Links(Vec<LinkTurn>),
    /// These servos' links.
    LevelPlate(LevelPlate),
    /// A servo's link, and the description does not say where the servos stand.
    PlateNotDescribed,
    /// No link, and why.
    NoLinks(LinkSurveyError),
    /// The neutral of an axis, or one of its end points.
    Balance(BalanceAdvice),
    /// An end point.
    EndPoint(EndPoint),
    /// No end point would do, and why.
    NoEndPoint(TravelSurveyError),
}

impl Advice {
    /// How it is recorded once it was done; empty where nothing is to be turned, or nobody knows which way.
    #[must_use]
    pub fn adjustments(&self) -> Vec<Adjustment> {
        let end_point = |to: &EndPoint| Adjustment::EndPoint { ends: Ends::One(to.end), output: to.set };
        match self {
            Self::Links(turns) => turns.iter().filter_map(LinkTurn::adjustment).collect(),
            Self::LevelPlate(plate) => plate.servos.iter().filter_map(ServoTurn::adjustment).collect(),
            Self::Balance(advice) => advice.end_point.iter().map(end_point).collect(),
            Self::EndPoint(to) => vec![end_point(to)],
            Self::PlateNotDescribed | Self::NoLinks(_) | Self::NoEndPoint(_) => Vec::new(),
        }
    }
}

/// One link to turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkTurn {
    /// Whose.
    pub blade: BladeName,
    /// By how much.
    pub turns: BothWays,
    /// Where the blade then stands.
    pub then: Angle,
    /// U of that, for 95 %.
    pub expanded: Angle,
}

impl LinkTurn {
    /// How it is recorded once it was done; none where it is left alone or nobody knows which way is longer.
    #[must_use]
    pub fn adjustment(&self) -> Option<Adjustment> {
        let half_turns = self.turns.longer.filter(|longer| !longer.is_zero())?;
        Some(Adjustment::Link { blade: self.blade, half_turns })
    }
}

/// What to turn so that this cell comes out as it should; none where it does already, where nothing is known, or where
/// nothing that can be turned would help.
#[must_use]
pub fn remedy(head: &Head, entries: &[Entry], record: &LimitRecord, cell: &Cell) -> Option<Advice> {
    let amiss = matches!(cell.verdict, Verdict::Outside | Verdict::Undecided { .. }) && cell.question.is_none();
    match cell.name {
        // A bind's limit stays where it is: a neutral that is moved would take it into the bind.
        CellName::Limit(_) if cell.verdict == Verdict::Bound => None,
        CellName::Limit(end) if cell.verdict.is_good() => balance(head, entries, record, end),
        _ if !amiss => None,
        // What its verdict says is all there is to do.
        CellName::Zero(_) if matches!(cell.verdict, Verdict::Undecided { by: Undecided::LeanUnknown { .. } }) => None,
        CellName::Zero(blade) => links(head, entries, cell, |link| link.blade == blade),
        CellName::Track(blade) => links(head, entries, cell, |link| link.blade == blade || link.blade == BladeName::A),
        // A neutral that stands off moves both ends: no end point puts that right.
        CellName::Limit(_) if cell.is_rudder() && tail_neutral_is_off(record) => None,
        CellName::Limit(end) => end_point(head, entries, record, cell, end),
        // Outside, not only in question: then it is known how it stands.
        CellName::SwashLevel if cell.verdict != Verdict::Outside => None,
        CellName::SwashLevel if head.swash.is_none() => Some(Advice::PlateNotDescribed),
        CellName::SwashLevel => LevelPlate::new(head, entries).map(Advice::LevelPlate),
        CellName::Slop(_) | CellName::Droop(_) | CellName::Spindle(_) | CellName::Cable | CellName::Corner(_) => None,
        CellName::TailNeutral | CellName::TailSplit => None,
    }
}

fn tail_neutral_is_off(record: &LimitRecord) -> bool {
    record.cell(CellName::TailNeutral).is_some_and(|cell| cell.verdict == Verdict::Outside)
}

impl LinkSurvey {
    /// What to do with one link.
    #[must_use]
    pub fn turn(&self, link: &BladeLink) -> LinkTurn {
        LinkTurn {
            blade: link.blade,
            turns: self.half_turns(link.advice.turn.half_turns),
            then: link.advice.turn.pitch,
            expanded: link.then.expanded().expanded,
        }
    }
}

/// The links of these blades, as far as they are to be turned at all.
fn links(head: &Head, entries: &[Entry], cell: &Cell, of: impl Fn(&BladeLink) -> bool) -> Option<Advice> {
    let survey = match LinkSurvey::new(head, entries, None, None) {
        Ok(survey) => survey,
        Err(LinkSurveyError::NoCaptures | LinkSurveyError::NotRead(_)) => return None,
        Err(why) => return Some(Advice::NoLinks(why)),
    };
    // No link is turned for what may be as it should.
    if cell.verdict != Verdict::Outside {
        return None;
    }
    let turned = survey.blades.iter().filter(|link| of(link) && !link.advice.turn.half_turns.is_zero());
    let turns: Vec<LinkTurn> = turned.map(|link| survey.turn(link)).collect();
    (!turns.is_empty()).then_some(Advice::Links(turns))
}

/// What balances an axis, beside the end that goes too far; none where both are alike or hardly differ, or where a bind
/// bounds one of them.
fn balance(head: &Head, entries: &[Entry], record: &LimitRecord, end: Deflection) -> Option<Advice> {
    let balance = Balance::new(record, end.axis()).filter(|balance| !balance.bound)?;
    balance.too_far().filter(|far| far.end == end)?;
    // Nothing is taken from the side that holds the torque unless the person asks for it.
    if balance.left_alone(head, false).is_some() {
        return None;
    }
    balance.advice(head, entries, None).map(Advice::Balance)
}

/// The end point that brings an end where it is wanted; where there is none, why.
fn end_point(head: &Head, entries: &[Entry], record: &LimitRecord, cell: &Cell, end: Deflection) -> Option<Advice> {
    let survey = TravelSurvey::new(head, entries, end, None).ok()?;
    let mid = MidPitch::of(record, survey.blade).filter(|_| end.axis() == Axis::Collective);
    Some(match survey.output_within(end, cell.target_of_travel()?) {
        Ok(found) => {
            let set = survey.end_point(end, &found);
            // An end of the collective goes to a pitch.
            let to_pitch = |mid: MidPitch| mid.after(found.angle, &found.budget);
            let (gives, expanded) = mid.map_or((set.gives, set.expanded), to_pitch);
            Advice::EndPoint(EndPoint { gives, expanded, ..set })
        }
        Err(why) => Advice::NoEndPoint(why),
    })
}
