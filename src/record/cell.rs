//! One cell of the limit record: a value, how far it can be trusted, what was wanted, and the verdict.

use super::adjustment::Adjustment;
use super::capture::Capture;
use super::finding::{CellFinding, Question, Undecided};
use super::in_question::InQuestion;
use super::limit_cell::judge;
use super::subject::Subject;
use super::tail_stand::Stands;
use super::timeline::each_once;
use crate::rotor::{Axis, BladeName, Collective, Corner, Deflection, Rudder};
use crate::uncertainty::{Budget, Target};
use crate::units::{Angle, as_text};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::Not;
use uuid::Uuid;

/// Which cell. Written as it is displayed: `elevator up`, `blade A zero`, `track B - A`, `corner high up-left`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "String", into = "String")]
#[schemars(extend("pattern" = super::cell_name::pattern()))]
pub enum CellName {
    /// A main blade's pitch at mid stick.
    Zero(BladeName),
    /// A main blade's pitch less that of blade A, both read at one station.
    Track(BladeName),
    /// The end of an axis in one direction.
    Limit(Deflection),
    /// Lost motion of a main blade: one stick position approached from above less from below.
    Slop(BladeName),
    /// A main blade's droop less that of blade A, both read at one station; tip up positive.
    Droop(BladeName),
    /// Bend of the spindle, on a main blade: what the span slope changes by when it is turned in its grips.
    Spindle(BladeName),
    /// How far the swashplate leans at stick centre.
    SwashLevel,
    /// What the hanging cable does to the reading.
    Cable,
    /// Collective and full cyclic at once, against the sum of their parts.
    Corner(Corner),
    /// The pitch of the tail at stick centre, positive toward the side that holds the torque.
    TailNeutral,
    /// The pitch of a tail blade less that of blade A, with one leading edge.
    TailSplit,
}

impl CellName {
    /// The cell that a capture of `subject` fills; a neutral fills none, and names its end of the axis that no head has.
    #[must_use]
    pub fn of(subject: Subject) -> Self {
        match subject.deflection() {
            Deflection::Collective(Collective::Mid) => Self::Zero(subject.blade()),
            Deflection::Corner(corner) => Self::Corner(corner),
            Deflection::Rudder(Rudder::Neutral) => Self::TailNeutral,
            end => Self::Limit(end),
        }
    }
}

impl fmt::Display for CellName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&match self {
            Self::Zero(blade) => format!("blade {blade} zero"),
            Self::Track(blade) => format!("track {blade} - {}", BladeName::A),
            Self::Limit(deflection) => deflection.to_string(),
            Self::Slop(blade) => format!("blade {blade} slop"),
            Self::Droop(blade) => format!("droop {blade} - {}", BladeName::A),
            Self::Spindle(blade) => format!("blade {blade} spindle"),
            Self::SwashLevel => "swash level".to_owned(),
            Self::Cable => "cable".to_owned(),
            Self::Corner(corner) => format!("corner {corner}"),
            Self::TailNeutral => "tail neutral".to_owned(),
            Self::TailSplit => "tail split".to_owned(),
        })
    }
}

as_text!(CellName);

/// What the value of a cell is measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// From the neutral of the same blade at the same place: free of shaft tilt, clip offset and blade twist.
    Travel,
    /// From the datum, because there is no neutral of that place.
    Absolute,
    /// Free of the lean of model and swashplate: the mean of two stations half a turn apart, or the solved rotor.
    Collective,
    /// From blade A.
    Split,
    /// From readings of a blade round the turn.
    Round,
    /// From the same stick position approached from below.
    Approach,
    /// From the same blade before the spindle was turned half round: the part of its bend in the plane of both seats.
    Turned,
    /// From the same blade with the spindle at quarter turns: the size of its bend.
    Bend,
    /// From the same blade with the cable lifted.
    Lifted,
}

/// The value of a cell.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Value {
    /// The value that is judged. A travel is positive in the commanded direction; a zero, a split and an end of the
    /// collective have the sign of the pitch.
    #[serde(rename = "value_deg")]
    pub angle: Angle,
    /// U for 95 %.
    #[serde(rename = "expanded_uncertainty_deg")]
    pub expanded: Angle,
    /// What it is measured from.
    pub basis: Basis,
    /// The angle as read; on the tail the mean of both leading edges where both were read.
    #[serde(rename = "angle_deg")]
    pub as_read: Angle,
    /// What makes the value uncertain.
    pub budget: Budget,
    /// The captures it was worked out from.
    pub captures: Vec<Uuid>,
}

/// What is to be said about a cell.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "verdict", rename_all = "lowercase")]
pub enum Verdict {
    /// Inside what is wanted, the uncertainty allowed for.
    Inside,
    /// Outside what is wanted, the uncertainty allowed for.
    Outside,
    /// Too close to the edge to say.
    Undecided {
        /// Why.
        by: Undecided,
    },
    /// Something seen besides it contradicts the value: it is captured again, or answered for.
    #[serde(rename = "in_question")]
    InQuestion {
        /// What.
        because: Vec<InQuestion>,
    },
    /// Set just short of a bind.
    Bound,
    /// Something was turned since.
    Stale {
        /// What was turned.
        by: Vec<Adjustment>,
    },
    /// Never captured.
    Missing,
}

impl Verdict {
    /// One word.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Inside => "inside",
            Self::Outside => "outside",
            Self::Undecided { .. } => "undecided",
            Self::InQuestion { .. } => "in question",
            Self::Bound => "bound",
            Self::Stale { .. } => "stale",
            Self::Missing => "missing",
        }
    }

    /// One sign, for a narrow table. The word always stands beside it.
    #[must_use]
    pub const fn mark(&self) -> char {
        match self {
            Self::Inside => '✓',
            Self::Outside => '✗',
            Self::Undecided { .. } | Self::InQuestion { .. } => '?',
            Self::Bound => '■',
            Self::Stale { .. } => '~',
            Self::Missing => '·',
        }
    }

    /// Whether a valid value stands in the cell.
    #[must_use]
    pub const fn is_captured(&self) -> bool {
        !matches!(self, Self::Stale { .. } | Self::Missing | Self::InQuestion { .. })
    }

    /// Whether the cell is as it should be.
    #[must_use]
    pub const fn is_good(&self) -> bool {
        matches!(self, Self::Inside | Self::Bound)
    }
}

/// An earlier capture of a cell, kept when it was redone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Earlier {
    /// The capture.
    pub id: Uuid,
    /// When it was taken.
    pub taken_at: Timestamp,
    /// What it read.
    #[serde(rename = "angle_deg")]
    pub angle: Angle,
    /// Whether the person took it back as wrong.
    pub withdrawn: bool,
}

/// One cell of the limit record.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cell {
    /// Which.
    #[serde(rename = "cell")]
    pub name: CellName,
    /// What is wanted.
    pub target: Target,
    /// What was measured; a stale cell keeps its last value.
    #[serde(flatten)]
    pub value: Option<Value>,
    /// The pitch at which a tail blade stands, by which an end of the rudder is judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stands: Option<Stands>,
    /// The verdict.
    #[serde(flatten)]
    pub verdict: Verdict,
    /// What that means; none where the verdict says it all.
    pub consequence: Option<CellFinding>,
    /// A reading that contradicts the sign expected here: a question to answer.
    pub question: Option<Question>,
    /// What to know about this value besides.
    pub remarks: Vec<CellFinding>,
    /// Earlier captures of the same cell, oldest first.
    pub history: Vec<Earlier>,
    /// Whether this record owes it, where it is otherwise measured at will.
    #[serde(skip_serializing_if = "Not::not")]
    pub owed: bool,
    /// Why it was left out on purpose, where it holds no value: then the record does not ask for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_out: Option<String>,
}

impl Earlier {
    pub(super) const fn of(capture: &Capture) -> Self {
        Self { id: capture.id, taken_at: capture.taken_at, angle: capture.reading.angle, withdrawn: false }
    }
}

impl Cell {
    /// A cell in which nothing stands yet.
    pub(super) const fn missing(name: CellName, target: Target) -> Self {
        Self {
            name,
            target,
            value: None,
            stands: None,
            verdict: Verdict::Missing,
            consequence: None,
            question: None,
            remarks: Vec::new(),
            history: Vec::new(),
            owed: false,
            left_out: None,
        }
    }

    /// Whether a record is incomplete without it: nobody has to measure corners, lost motion, spindles or the tail's split, unless
    /// something has happened that makes them owed, and the tail's neutral only where the description wants one. What was left out
    /// on purpose is not asked for.
    #[must_use]
    pub const fn is_owed(&self) -> bool {
        if self.left_out.is_some() {
            return false;
        }
        if self.owed {
            return true;
        }
        match self.name {
            CellName::Zero(_) | CellName::Track(_) | CellName::Limit(_) => true,
            CellName::TailNeutral => matches!(self.target, Target::Band { .. }),
            _ => false,
        }
    }

    /// Judges what is measured at will. Where something was turned since that can have moved it, it is owed again if it was not
    /// as it should: whatever was turned may not have put it right.
    pub(super) fn judge_at_will(&mut self, value: Value, stale_by: &[Adjustment]) {
        self.verdict = judge(self.target, &value, false, false);
        self.value = Some(value);
        self.make_stale(stale_by);
        self.consequence = self.plain_consequence();
    }

    /// The same for a cell that is judged already.
    pub(super) fn make_stale(&mut self, by: &[Adjustment]) {
        if !by.is_empty() {
            self.owed |= !self.verdict.is_good();
            self.verdict = Verdict::Stale { by: each_once(by) };
            self.consequence = None;
        }
    }

    /// What the verdict means by itself.
    pub(super) fn plain_consequence(&self) -> Option<CellFinding> {
        let (angle, _) = self.judged().filter(|_| self.verdict == Verdict::Outside)?;
        Some(CellFinding::Outside { by: -self.margin(angle) })
    }

    /// Whether it is an end of the rudder.
    #[must_use]
    pub fn is_rudder(&self) -> bool {
        matches!(self.name, CellName::Limit(end) if end.axis() == Axis::Rudder)
    }

    /// Everything that is found about it, its consequence first.
    pub fn findings(&self) -> impl Iterator<Item = &CellFinding> {
        self.consequence.iter().chain(&self.remarks)
    }

    fn margin(&self, value: Angle) -> Angle {
        match self.target {
            Target::Band { .. } => self.target.margin(value),
            Target::AtMost(_) => self.target.margin(value.abs()),
        }
    }
}
