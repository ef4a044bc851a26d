//! The truth beside the record: for every captured value the figure that a perfect instrument would have read.

use super::script::Shot;
use crate::record::{Basis, CellName, LimitRecord, Subject};
use crate::rig::Truth;
use crate::rotor::{Deflection, Rudder, Spot};
use crate::units::Angle;
use serde::Serialize;
use std::collections::BTreeMap;
use uuid::Uuid;

/// The truth at each capture.
#[derive(Debug, Default)]
pub(super) struct Truths {
    of: BTreeMap<Uuid, Known>,
    /// The script's sign of the rudder to the right, which holds the torque of its clockwise rotor.
    right: Option<f64>,
}

/// How a blade really stood when it was captured.
#[derive(Debug, Clone, Copy)]
struct Known {
    pitch: Angle,
    /// The slope of its span, up from the hub; nothing on the tail.
    span: Angle,
    /// The script's sign of what was captured.
    sign: f64,
    is_neutral: bool,
}

/// One cell of the record beside the truth.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Beside {
    pub cell: CellName,
    pub value_deg: Angle,
    pub expanded_uncertainty_deg: Angle,
    pub truth_deg: Angle,
    pub error_deg: Angle,
    pub within: bool,
}

impl Truths {
    /// Remembers how the blade really stood when it was captured.
    pub(super) fn remember(&mut self, capture: Uuid, truth: &Truth, shot: Shot, subject: Subject) {
        let stands = match subject.spot() {
            Spot::Main(_) => truth.blades.get(shot.blade).map(|blade| (blade.pitch_deg, blade.span_deg)),
            Spot::Tail(_) => truth.tail.get(shot.blade).map(|blade| (blade.pitch_deg, Angle::ZERO)),
        };
        if subject.deflection() == Deflection::Rudder(Rudder::Right) {
            self.right = Some(shot.sign);
        }
        if let Some((pitch, span)) = stands {
            let is_neutral = subject.deflection().is_neutral();
            self.of.insert(capture, Known { pitch, span, sign: shot.sign, is_neutral });
        }
    }

    /// Every captured cell beside the truth. Nothing of the record but which captures a value was worked out from goes into
    /// it: the sign is the script's.
    pub(super) fn beside(&self, record: &LimitRecord) -> Vec<Beside> {
        let rows = record.cells.iter().filter_map(|cell| {
            let value = cell.value.as_ref()?;
            let known: Vec<Known> = value.captures.iter().filter_map(|id| self.of.get(id).copied()).collect();
            let ends = mean(known.iter().filter(|k| !k.is_neutral).map(|k| k.pitch * k.sign));
            let truth = match cell.name {
                CellName::Track(_) => self.split(&value.captures, |known| known.pitch)?,
                CellName::Droop(_) => self.split(&value.captures, |known| known.span)?,
                CellName::TailNeutral => mean(known.iter().map(|k| k.pitch))? * self.right?,
                CellName::Zero(_) => mean(known.iter().map(|k| k.pitch))?,
                CellName::Limit(_) => match value.basis {
                    Basis::Travel => {
                        let sign = known.iter().find(|k| !k.is_neutral)?.sign;
                        ends? - mean(known.iter().filter(|k| k.is_neutral).map(|k| k.pitch))? * sign
                    }
                    _ => ends?,
                },
                CellName::Slop(_)
                | CellName::Spindle(_)
                | CellName::Cable
                | CellName::SwashLevel
                | CellName::Corner(_)
                | CellName::TailSplit => return None,
            };
            let error = value.angle - truth;
            Some(Beside {
                cell: cell.name,
                value_deg: value.angle,
                expanded_uncertainty_deg: value.expanded,
                truth_deg: truth,
                error_deg: error,
                within: error.abs() <= value.expanded,
            })
        });
        rows.collect()
    }

    /// An angle of the second blade less that of the first.
    fn split(&self, captures: &[Uuid], of: impl Fn(&Known) -> Angle) -> Option<Angle> {
        match captures {
            [reference, other, ..] => Some(of(self.of.get(other)?) - of(self.of.get(reference)?)),
            _ => None,
        }
    }
}

fn mean(angles: impl Iterator<Item = Angle>) -> Option<Angle> {
    let angles: Vec<Angle> = angles.collect();
    (!angles.is_empty()).then(|| angles.iter().copied().sum::<Angle>() / angles.len() as f64)
}
