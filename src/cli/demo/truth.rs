//! The truth beside the record: for every captured value the figure that a perfect instrument would have read.

use crate::record::{Basis, CellName, LimitRecord};
use crate::rig::Truth;
use crate::rotor::{Axis, Deflection, Expectation, Rotation, Spot, Station};
use crate::units::Angle;
use serde::Serialize;
use std::collections::BTreeMap;
use uuid::Uuid;

/// The truth at each capture.
#[derive(Debug, Default)]
pub(super) struct Truths {
    of: BTreeMap<Uuid, Angle>,
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
    pub(super) fn remember(&mut self, capture: Uuid, truth: &Truth, blade: usize, spot: Spot) {
        let pitch = match spot {
            Spot::Main(_) => truth.blades.get(blade).map(|blade| blade.pitch_deg),
            Spot::Tail(_) => truth.tail.get(blade).map(|blade| blade.pitch_deg),
        };
        if let Some(pitch) = pitch {
            self.of.insert(capture, pitch);
        }
    }

    /// Every captured cell beside the truth.
    pub(super) fn beside(
        &self,
        record: &LimitRecord,
        rotation: Rotation,
        captures: &[(Uuid, Deflection, Spot)],
    ) -> Vec<Beside> {
        let rows = record.cells.iter().filter_map(|cell| {
            let value = cell.value.as_ref()?;
            let pitch = |id: &Uuid| self.of.get(id).copied();
            let of = |wanted: bool| {
                let chosen: Vec<Angle> = captures
                    .iter()
                    .filter(|(id, deflection, _)| value.captures.contains(id) && deflection.is_neutral() == wanted)
                    .filter_map(|(id, _, _)| pitch(id))
                    .collect();
                mean(&chosen)
            };
            let truth = match (cell.name, value.basis) {
                (CellName::Track(_), _) => self.split(value.captures.as_slice())?,
                (CellName::Limit(end), Basis::Travel) => {
                    let (limit, neutral) = (of(false)?, of(true)?);
                    let spot = captures.iter().find(|(id, d, _)| value.captures.contains(id) && *d == end)?.2;
                    (limit - neutral) * sign(end, spot, rotation)
                }
                (CellName::Limit(end), _) => of(false)? * tail_sign(end, value.angle, value.as_read),
                (CellName::Zero(_), _) => of(true)?,
                (CellName::Slop(_) | CellName::Spindle(_), _) => return None,
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

    /// The pitch of the second blade less that of the first.
    fn split(&self, captures: &[Uuid]) -> Option<Angle> {
        match captures {
            [reference, other] | [reference, other, ..] => Some(*self.of.get(other)? - *self.of.get(reference)?),
            _ => None,
        }
    }
}

fn mean(angles: &[Angle]) -> Option<Angle> {
    (!angles.is_empty()).then(|| angles.iter().copied().sum::<Angle>() / angles.len() as f64)
}

/// Which way the pitch must go for this end at this place: +1 up, −1 down.
fn sign(end: Deflection, spot: Spot, rotation: Rotation) -> f64 {
    let expected = |station: Station| Expectation::of(end, station, rotation, Angle::ZERO);
    match spot {
        // An end of the collective keeps the sign of the pitch.
        Spot::Main(_) if end.axis() == Axis::Collective => 1.0,
        Spot::Main(station) => expected(station).map_or(1.0, Expectation::sign),
        Spot::Tail(_) => 1.0,
    }
}

/// The sign with which the record took the tail's pitch.
fn tail_sign(end: Deflection, value: Angle, as_read: Angle) -> f64 {
    if end.axis() == Axis::Rudder && value.radians() * as_read.radians() < 0.0 { -1.0 } else { 1.0 }
}
