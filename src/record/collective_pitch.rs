//! The collective as pitch: zero once, shared by every place of the stick, and the movement from there.
//!
//! The curve of the collective counts from mid stick; what is wanted of it is a pitch. Between both lies how its blade stands at mid
//! stick, as the record knows it.

use super::cell::{Basis, Cell, CellName, Value, Verdict};
use super::collective_survey::CollectiveSurvey;
use super::head::Head;
use super::limits::LimitRecord;
use super::tail_stand::of_travel;
use super::travel_survey::TravelSurvey;
use crate::rotor::{Axis, BladeName, Deflection};
use crate::uncertainty::{Budget, Target};
use crate::units::{Angle, Percent};
use uuid::Uuid;

/// How the blade of a collective stands at mid stick.
#[derive(Debug, Clone, PartialEq)]
pub struct MidPitch {
    /// The blade.
    pub blade: BladeName,
    /// Its pitch.
    pub pitch: Angle,
    /// U for 95 %.
    pub expanded: Angle,
    /// Whether the lean of model and swashplate is out of it; else it was read at one station.
    pub free_of_lean: bool,
    budget: Budget,
}

/// One place of the stick as pitch.
#[derive(Debug, Clone, PartialEq)]
pub struct PitchPoint {
    /// The capture; none of mid stick.
    pub capture: Option<Uuid>,
    /// Where the stick stands, 0 low to 100 high, by the end points as they are now.
    pub stick: Percent,
    /// The pitch.
    pub pitch: Angle,
    /// U for 95 %.
    pub expanded: Angle,
    /// What is wanted there, and the verdict; none where nothing is.
    pub judged: Option<(Target, Verdict)>,
}

impl MidPitch {
    /// As a record tells it; none where no reading tells it, or where it was turned since.
    #[must_use]
    pub fn of(record: &LimitRecord, blade: BladeName) -> Option<Self> {
        let cell = record.cell(CellName::Zero(blade)).filter(|cell| cell.verdict.is_captured())?;
        let Value { angle, expanded, basis, budget, .. } = cell.value.as_ref()?;
        Some(Self {
            blade,
            pitch: *angle,
            expanded: *expanded,
            free_of_lean: *basis == Basis::Collective,
            budget: budget.clone(),
        })
    }

    /// The pitch after a movement from mid stick, and U of it.
    #[must_use]
    pub fn after(&self, moved: Angle, budget: &Budget) -> (Angle, Angle) {
        let budget = Budget::combination(&[(1.0, &self.budget), (1.0, budget)]);
        (self.pitch + moved, budget.expanded().expanded)
    }

    /// What is wanted of the movement, so that an end comes to the pitch that is wanted of it; none where the zero holds lean, or
    /// leaves no room under a ceiling.
    #[must_use]
    pub fn movement(&self, end: Deflection, target: Target) -> Option<Target> {
        if !self.free_of_lean {
            return None;
        }
        of_travel(end, target, self.pitch, self.expanded)
    }
}

impl CollectiveSurvey {
    /// Every capture as pitch, mid stick among them; nothing where it is not known how the blade stands there.
    #[must_use]
    pub fn pitches(&self, head: &Head, record: &LimitRecord) -> Vec<PitchPoint> {
        let blade = self.travel.blade;
        let Some(mid) = MidPitch::of(record, blade) else { return Vec::new() };
        let verdict = |name: CellName| record.cell(name).map(|cell| cell.verdict.clone());
        let at_mid = PitchPoint {
            capture: None,
            stick: Percent::new(50.0),
            pitch: mid.pitch,
            expanded: mid.expanded,
            judged: verdict(CellName::Zero(blade)).map(|verdict| (head.targets.blade_zero, verdict)),
        };
        let curve = self.travel.curve.pairs();
        let captured = self.points().filter_map(|(stick, told)| {
            let pair = curve.iter().find(|pair| pair.output == told.output)?;
            let (pitch, expanded) = mid.after(pair.angle, &pair.budget);
            // The record judges an end by the capture that stands in its cell.
            let stands = |cell: &&Cell| {
                cell.verdict.is_captured()
                    && cell.value.as_ref().is_some_and(|value| value.captures.contains(&told.capture))
            };
            let cell = record.cell(CellName::Limit(told.deflection)).filter(stands);
            let judged = cell.map(|cell| (cell.target, cell.verdict.clone()));
            Some(PitchPoint { capture: Some(told.capture), stick: Percent::new(stick), pitch, expanded, judged })
        });
        let mut points: Vec<PitchPoint> = captured.chain([at_mid]).collect();
        points.sort_by(|a, b| a.stick.value().total_cmp(&b.stick.value()));
        points
    }
}

impl TravelSurvey {
    /// What is wanted of the movement from neutral so that an end comes to what is wanted of it: of rudder and collective a pitch, as
    /// the record has it, which knows the end itself, of the collective else from the zero. None where the pitch is not known.
    #[must_use]
    pub fn wanted_movement(&self, record: &LimitRecord, end: Deflection, target: Target) -> Option<Target> {
        let known = record.cell(CellName::Limit(end)).and_then(Cell::target_of_travel);
        match end.axis() {
            Axis::Rudder => known,
            Axis::Collective => known.or_else(|| MidPitch::of(record, self.blade)?.movement(end, target)),
            _ => Some(target),
        }
    }
}
