//! One cell of a head over its setups: the row of its values, and what stands out of it.

use super::cell::CellName;
use super::limits::LimitRecord;
use crate::stats::control_chart::ControlChart;
use crate::units::Angle;
use jiff::Timestamp;

/// One value of a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Past {
    /// The setup's number.
    pub setup: u32,
    /// When it was begun.
    pub at: Timestamp,
    /// The value.
    pub angle: Angle,
    /// U for 95 %.
    pub expanded: Angle,
}

/// A cell over time.
#[derive(Debug, Clone, PartialEq)]
pub struct CellHistory {
    /// Which.
    pub cell: CellName,
    /// Its values that hold, oldest first.
    pub values: Vec<Past>,
    /// The chart of individuals and moving ranges, degrees; none of a single value.
    pub chart: Option<ControlChart>,
    /// The setups whose value was read in another way than the newest, and so makes no row with it.
    pub otherwise: Vec<u32>,
}

impl CellHistory {
    /// The cells of these setups, given oldest first, in the order in which the newest record has them.
    #[must_use]
    pub fn of(setups: &[(u32, Timestamp, LimitRecord)]) -> Vec<Self> {
        let mut names: Vec<CellName> = Vec::new();
        for (_, _, record) in setups.iter().rev() {
            for cell in &record.cells {
                if !names.contains(&cell.name) {
                    names.push(cell.name);
                }
            }
        }
        names.into_iter().map(|name| Self::one(name, setups)).filter(|history| !history.values.is_empty()).collect()
    }

    /// The cells over these setups alone, the newest of those looked at: each with the flags that it has when all are looked at; without those that
    /// hold no value then.
    #[must_use]
    pub fn newest(cells: Vec<Self>, setups: &[u32]) -> Vec<Self> {
        let shown = |mut cell: Self| {
            let older = cell.values.iter().take_while(|value| !setups.contains(&value.setup)).count();
            cell.values.drain(..older);
            cell.otherwise.retain(|setup| setups.contains(setup));
            cell.chart = cell.chart.map(|chart| chart.without_first(older));
            (!cell.values.is_empty()).then_some(cell)
        };
        cells.into_iter().filter_map(shown).collect()
    }

    fn one(cell: CellName, setups: &[(u32, Timestamp, LimitRecord)]) -> Self {
        let past = |(setup, at, record): &(u32, Timestamp, LimitRecord)| {
            let held = record.cell(cell).filter(|cell| cell.verdict.is_captured())?;
            let (angle, expanded) = held.judged()?;
            Some(Past { setup: *setup, at: *at, angle, expanded })
        };
        // Only what was read in the same way as the newest makes one row.
        let basis = |record: &LimitRecord| Some(record.cell(cell).filter(|cell| cell.value.is_some())?.judged_from());
        let newest = setups.iter().rev().find(|setup| past(setup).is_some()).and_then(|(.., record)| basis(record));
        let (alike, others): (Vec<_>, Vec<_>) = setups.iter().partition(|(.., record)| basis(record) == newest);
        let values: Vec<Past> = alike.into_iter().filter_map(past).collect();
        let otherwise = others.into_iter().filter_map(past).map(|past| past.setup).collect();
        let degrees: Vec<(f64, f64)> =
            values.iter().map(|value| (value.angle.degrees(), value.expanded.degrees())).collect();
        Self { cell, chart: ControlChart::of(&degrees), values, otherwise }
    }
}
