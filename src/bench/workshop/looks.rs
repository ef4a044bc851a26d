//! What is looked at: sheet, comparison, history. Commands print it, the page shows it.

use crate::SetupHandle;
use crate::logbook::{KeptSetup, Logbook, LogbookError};
use crate::record::{CellChange, CellHistory, CellName, Comparison, LimitRecord, Pattern, Proviso, Setup};
use crate::report::setup_sheet::SetupSheet;
use crate::stats::control_chart::{Flag, Signal};
use crate::units::Angle;
use crate::words::{Face, Say};
use jiff::Timestamp;
use serde::Serialize;

/// The sheet of a setup, compared with this one; with none named, with the one before of the same head.
///
/// # Errors
/// When the logbook cannot be read, or has no such setup.
pub async fn sheet(open: &SetupHandle, against: Option<u32>) -> Result<SetupSheet, LogbookError> {
    let before = before(open, against).await?;
    Ok(SetupSheet::new(open.setup(), open.entries(), before.as_ref().map(|(setup, record)| (setup, record))))
}

async fn before(open: &SetupHandle, against: Option<u32>) -> Result<Option<(Setup, LimitRecord)>, LogbookError> {
    let logbook = open.logbook();
    let number = match against {
        Some(number) => Some(number),
        None => {
            // Newest first.
            let setups = logbook.setups(Some(&open.setup().head.name), u32::MAX).await?;
            let this = setups.iter().position(|kept| kept.number == open.setup().number);
            this.and_then(|this| setups.get(this + 1)).map(|kept| kept.number)
        }
    };
    let Some(number) = number else { return Ok(None) };
    let before = SetupHandle::find(logbook.clone(), Some(number)).await?;
    Ok(Some((before.setup().clone(), before.record())))
}

/// Two setups, cell by cell.
#[derive(Debug, Clone, Serialize)]
pub struct Compared {
    /// The number of the first.
    pub first: u32,
    /// That of the second.
    pub second: u32,
    /// Their heads' names.
    #[serde(skip)]
    pub heads: [String; 2],
    /// Whether both are of one head, by its name.
    pub same_head: bool,
    /// Whether its description is another.
    pub description_changed: bool,
    /// Whether the main blades were on or off in both.
    pub same_blades: bool,
    /// Cell by cell.
    pub cells: Vec<CellChange>,
    /// What the changes have in common, in words.
    pub suggests: Vec<String>,
    /// The same as facts.
    pub patterns: Vec<Pattern>,
    /// What makes the two unlike before any change.
    pub provisos: Vec<Proviso>,
}

/// Compares two setups.
///
/// # Errors
/// When the logbook cannot be read, or has no such setup.
pub async fn compare(logbook: &Logbook, first: u32, second: u32) -> Result<(Compared, Comparison), LogbookError> {
    let one = SetupHandle::find(logbook.clone(), Some(first)).await?;
    let two = SetupHandle::find(logbook.clone(), Some(second)).await?;
    let comparison = Comparison::of_setups((one.setup(), &one.record()), (two.setup(), &two.record()));
    let (head, other) = (&one.setup().head, &two.setup().head);
    let compared = Compared {
        first,
        second,
        heads: [head.name.clone(), other.name.clone()],
        same_head: head.name == other.name,
        description_changed: head != other,
        same_blades: one.setup().blades == two.setup().blades,
        cells: comparison.cells.clone(),
        suggests: comparison.patterns.iter().map(|pattern| pattern.say(Face::Terminal)).collect(),
        patterns: comparison.patterns.clone(),
        provisos: comparison.provisos.clone(),
    };
    Ok((compared, comparison))
}

/// So many setups before those shown make their limits too. [common practice, no source: 20 to 25 make a chart]
const LEARNT_FROM: u32 = 25;

/// The cells of one head over its setups.
#[derive(Debug, Clone)]
pub struct HeadHistory {
    /// The setups that are shown, newest first.
    pub shown: Vec<u32>,
    /// The newest of them.
    pub newest: u32,
    /// Whether there are older ones.
    pub has_older: bool,
    /// Cell by cell.
    pub cells: Vec<CellHistory>,
}

impl HeadHistory {
    /// Of the newest setups of a head, at most so many; none where it has no setup.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub async fn of(logbook: &Logbook, head: &str, most: u32) -> Result<Option<Self>, LogbookError> {
        // More than asked for: whether there are older ones, and limits that do not depend on how many are shown.
        let kept = |kept: KeptSetup| {
            (kept.setup.number, kept.setup.started_at, LimitRecord::new(&kept.setup.head, &kept.entries))
        };
        let mut setups = logbook.setups_of_head(head, most.saturating_add(LEARNT_FROM), kept).await?;
        let has_older = setups.len() > most as usize;
        // Oldest first.
        setups.reverse();
        let shown: Vec<u32> = setups.iter().rev().take(most as usize).map(|(number, ..)| *number).collect();
        let Some(newest) = setups.last().map(|(number, ..)| *number) else { return Ok(None) };
        let cells = CellHistory::newest(CellHistory::of(&setups), &shown);
        Ok(Some(Self { shown, newest, has_older, cells }))
    }

    /// Whether the newest setup stands out in one of its cells.
    #[must_use]
    pub fn stands_out(&self) -> bool {
        self.cells.iter().any(|cell| {
            let of_newest = |place: usize| cell.values.get(place).is_some_and(|value| value.setup == self.newest);
            cell.chart.as_ref().is_some_and(|chart| chart.flags.iter().any(|flag| of_newest(flag.place)))
        })
    }

    /// As a document.
    #[must_use]
    pub fn document<'a>(&self, head: &'a str) -> HistoryDocument<'a> {
        HistoryDocument { head, has_older: self.has_older, cells: self.cells.iter().map(CellAnswer::new).collect() }
    }
}

/// A history as other programs read it.
#[derive(Debug, Serialize)]
pub struct HistoryDocument<'a> {
    head: &'a str,
    has_older: bool,
    cells: Vec<CellAnswer>,
}

#[derive(Debug, Serialize)]
struct CellAnswer {
    cell: CellName,
    values: Vec<ValueAnswer>,
    /// Setups whose value was read in another way than the newest.
    otherwise_in_setups: Vec<u32>,
    chart: Option<ChartAnswer>,
}

#[derive(Debug, Serialize)]
struct ValueAnswer {
    setup: u32,
    started_at: Timestamp,
    value_deg: Angle,
    expanded_uncertainty_deg: Angle,
}

#[derive(Debug, Serialize)]
struct ChartAnswer {
    centre_deg: f64,
    lower_limit_deg: f64,
    upper_limit_deg: f64,
    mean_range_deg: Option<f64>,
    range_limit_deg: f64,
    provisional: bool,
    earlier_setups: usize,
    signals: Vec<SignalAnswer>,
}

#[derive(Debug, Serialize)]
struct SignalAnswer {
    setup: Option<u32>,
    signal: Signal,
    lower_limit_deg: f64,
    upper_limit_deg: f64,
}

impl CellAnswer {
    fn new(cell: &CellHistory) -> Self {
        let values = cell.values.iter().map(|value| ValueAnswer {
            setup: value.setup,
            started_at: value.at,
            value_deg: value.angle,
            expanded_uncertainty_deg: value.expanded,
        });
        let signal = |flag: &Flag| SignalAnswer {
            setup: cell.values.get(flag.place).map(|value| value.setup),
            signal: flag.signal,
            lower_limit_deg: flag.limits.low,
            upper_limit_deg: flag.limits.high,
        };
        let chart = cell.chart.as_ref().map(|chart| ChartAnswer {
            centre_deg: chart.limits.centre,
            lower_limit_deg: chart.limits.low,
            upper_limit_deg: chart.limits.high,
            mean_range_deg: chart.limits.mean_range,
            range_limit_deg: chart.limits.range_limit,
            provisional: chart.limits.is_provisional(),
            earlier_setups: chart.limits.earlier,
            signals: chart.flags.iter().map(signal).collect(),
        });
        Self { cell: cell.cell, values: values.collect(), otherwise_in_setups: cell.otherwise.clone(), chart }
    }
}
