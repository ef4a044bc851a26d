//! The values of a record against the truth of the head.

use super::Bench;
use clinoblade::record::{Basis, CellName, LimitRecord, trade};
use clinoblade::rotor::{Axis, BladeName, Deflection};
use clinoblade::uncertainty::Budget;
use clinoblade::units::Angle;

/// What a value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// A blade at mid stick, free of the lean of model and plate.
    Zero,
    /// Two blades at one station.
    Split,
    /// A cyclic end from its neutral.
    Travel,
    /// An end of the collective from mid stick.
    Collective,
    /// A tail blade as it stands, at its neutral and at both ends.
    TailPitch,
    /// The tilt of the swashplate.
    SwashLevel,
}

impl What {
    pub const fn name(self) -> &'static str {
        match self {
            Self::Zero => "zero",
            Self::Split => "track split",
            Self::Travel => "cyclic travel",
            Self::Collective => "collective end",
            Self::TailPitch => "tail pitch",
            Self::SwashLevel => "swash level",
        }
    }
}

/// One value shown, and how far it is off.
#[derive(Debug, Clone)]
pub struct Shown {
    pub what: What,
    pub error: Angle,
    pub budget: Budget,
}

/// Every cell of the record whose truth the rig knows.
pub fn values(bench: &Bench, record: &LimitRecord) -> Vec<Shown> {
    let at_station = |blade| {
        let square = trade::own_station(&bench.head, trade::neutral(Axis::Elevator));
        bench.pitch_at(blade, f64::from(square), None)
    };
    // The pitch of a tail blade has the sign of the direction that is commanded.
    let tail = |found: Angle, end: Option<Deflection>| {
        let truly = bench.tail_pitch(0, end);
        [found - truly, found + truly].into_iter().min_by(|a, b| a.abs().degrees().total_cmp(&b.abs().degrees()))
    };
    let mut shown = Vec::new();
    for cell in record.cells.iter().filter(|cell| cell.question.is_none()) {
        let Some(value) = &cell.value else { continue };
        let mut show = |what, error: Angle| shown.push(Shown { what, error, budget: value.budget.clone() });
        match cell.name {
            CellName::Zero(blade) if value.basis == Basis::Collective => {
                show(What::Zero, value.angle - bench.collective(blade));
            }
            CellName::Track(blade) => {
                show(What::Split, value.angle - (at_station(blade) - at_station(BladeName::A)));
            }
            CellName::SwashLevel => {
                let plate = bench.plate();
                show(What::SwashLevel, value.angle - plate);
            }
            CellName::TailNeutral => {
                if let Some(error) = tail(value.angle, None) {
                    show(What::TailPitch, error);
                }
            }
            CellName::Limit(end) if end.axis() == Axis::Rudder => {
                if let Some((stands, error)) = cell.stands.as_ref().and_then(|s| Some((s, tail(s.angle, Some(end))?))) {
                    shown.push(Shown { what: What::TailPitch, error, budget: stands.budget.clone() });
                }
            }
            CellName::Limit(end) if value.basis == Basis::Travel => {
                let what = if end.axis() == Axis::Collective { What::Collective } else { What::Travel };
                show(what, value.angle.abs() - bench.travel(end));
            }
            _ => {}
        }
    }
    shown
}
