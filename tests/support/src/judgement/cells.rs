//! Which cells are to show a fault.

use clinoblade::record::CellName;
use clinoblade::rotor::Axis;

pub const fn all(_: CellName) -> bool {
    true
}

pub fn zero(name: CellName) -> bool {
    matches!(name, CellName::Zero(_) | CellName::Track(_))
}

pub fn level(name: CellName) -> bool {
    matches!(name, CellName::SwashLevel)
}

fn limit(name: CellName, of: impl Fn(Axis) -> bool) -> bool {
    matches!(name, CellName::Limit(end) if of(end.axis()))
}

pub fn cyclic(name: CellName) -> bool {
    limit(name, |axis| matches!(axis, Axis::Elevator | Axis::Aileron))
}

pub fn rudder(name: CellName) -> bool {
    limit(name, |axis| axis == Axis::Rudder)
}

pub fn swept(name: CellName) -> bool {
    cyclic(name) || rudder(name)
}

pub fn collective(name: CellName) -> bool {
    limit(name, |axis| axis == Axis::Collective)
}

pub fn tail_neutral_cell(name: CellName) -> bool {
    matches!(name, CellName::TailNeutral)
}

pub fn tail_split_cell(name: CellName) -> bool {
    matches!(name, CellName::TailSplit)
}

pub fn spindle(name: CellName) -> bool {
    matches!(name, CellName::Spindle(_))
}

pub fn droop(name: CellName) -> bool {
    matches!(name, CellName::Droop(_))
}

pub fn corner(name: CellName) -> bool {
    matches!(name, CellName::Corner(_))
}

pub fn slop(name: CellName) -> bool {
    matches!(name, CellName::Slop(_))
}
