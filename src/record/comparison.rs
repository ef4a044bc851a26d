//! Two setups of one head, cell by cell: what has changed, what has not, and what these readings cannot tell.
//!
//! A calibration that both used (the same one, not one of the same name) is one error in both and shrinks in the difference, as does a datum; a seat of the clip, a
//! stand of the model or a capture is one setup's own. |d| > U(d) is a change. Within U(d) a cell is unchanged only where
//! U(d) is fine enough to have shown a change that matters; otherwise nobody can tell.

use super::cell::{Cell, CellName, Value};
use super::head::Head;
use super::limits::LimitRecord;
use super::link_survey::half_turn;
use super::setup::Setup;
use crate::rotor::{Axis, BladeName, Deflection};
use crate::uncertainty::{Budget, Contribution, Source, Target};
use crate::units::Angle;
use serde::Serialize;
use std::fmt;

/// A change of a limit by so much matters. [common practice, no source]
const MATTERS_DEGREES: f64 = 0.5;

/// How one cell stands in both setups.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// The difference is more than its uncertainty.
    Changed,
    /// The difference is within its uncertainty, and that is fine enough to say so.
    Unchanged,
    /// The difference is within its uncertainty, which is too large to say that nothing changed; or the two were read in
    /// different ways, one as a travel from neutral and one against the datum.
    CannotTell,
    /// Only the first setup has a value that holds.
    OnlyFirst,
    /// Only the second has one.
    OnlySecond,
    /// Neither has.
    Neither,
}

impl Change {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Changed => "changed",
            Self::Unchanged => "unchanged",
            Self::CannotTell => "cannot tell",
            Self::OnlyFirst => "only in the first",
            Self::OnlySecond => "only in the second",
            Self::Neither => "in neither",
        }
    }
}

/// One cell in both setups.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CellChange {
    /// Which cell.
    pub cell: CellName,
    /// Its value in the first setup, where it holds.
    #[serde(rename = "first_deg")]
    pub first: Option<Angle>,
    /// Its value in the second.
    #[serde(rename = "second_deg")]
    pub second: Option<Angle>,
    /// The second less the first.
    #[serde(rename = "difference_deg")]
    pub difference: Option<Angle>,
    /// U of the difference, for 95 %.
    #[serde(rename = "expanded_uncertainty_deg")]
    pub expanded: Option<Angle>,
    /// What that means.
    pub change: Change,
    /// The verdicts in both.
    pub verdicts: [&'static str; 2],
}

/// Two setups of one head.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Cell by cell, in the order of the second record.
    pub cells: Vec<CellChange>,
    /// What makes the two setups unlike before any change.
    pub provisos: Vec<String>,
    /// What the pattern of the changes suggests.
    pub suggests: Vec<String>,
}

impl Comparison {
    /// Compares two setups, each with its record. What was turned, or has come loose, is a question to one head, its blades on
    /// both times or off both times.
    #[must_use]
    pub fn of_setups(first: (&Setup, &LimitRecord), second: (&Setup, &LimitRecord)) -> Self {
        let (one, two) = (first.0, second.0);
        let mut comparison = Self::new(first.1, second.1, &two.head);
        if one.head.name != two.head.name {
            comparison.suggests.clear();
            comparison.provisos.push(format!(
                "{} and {} are two heads: a difference is one between helicopters, and no change.",
                one.head.name, two.head.name
            ));
        } else if one.head != two.head {
            comparison.provisos.push("The head's description has changed in between.".to_owned());
        }
        if one.blades != two.blades {
            comparison.suggests.clear();
            comparison.provisos.push(format!(
                "The main blades were {} in setup {} and {} in setup {}: a blade's own weight bends and turns what carries it, by \
                 half a degree or so.",
                one.blades, one.number, two.blades, two.number
            ));
        }
        comparison
    }

    /// Compares two records; `head` is the second one's description.
    #[must_use]
    pub fn new(first: &LimitRecord, second: &LimitRecord, head: &Head) -> Self {
        let in_second = second.cells.iter().map(|cell| cell.name);
        let gone = first.cells.iter().map(|cell| cell.name).filter(|name| second.cell(*name).is_none());
        let cells: Vec<CellChange> =
            in_second.chain(gone).map(|name| change(name, first.cell(name), second.cell(name))).collect();
        let suggests = Pattern { cells: &cells, head }.sentences();
        Self { cells, provisos: Vec::new(), suggests }
    }

    /// The cells that have changed.
    pub fn changed(&self) -> impl Iterator<Item = &CellChange> {
        self.cells.iter().filter(|cell| cell.change == Change::Changed)
    }
}

/// The value of a cell, where it holds.
fn held(cell: Option<&Cell>) -> Option<&Value> {
    cell.filter(|cell| cell.verdict.is_captured())?.value.as_ref()
}

fn change(name: CellName, first: Option<&Cell>, second: Option<&Cell>) -> CellChange {
    let verdicts = [first, second].map(|cell| cell.map_or("missing", |cell| cell.verdict.word()));
    let values = (held(first), held(second));
    let none = |change| CellChange {
        cell: name,
        first: values.0.map(|v| v.angle),
        second: values.1.map(|v| v.angle),
        difference: None,
        expanded: None,
        change,
        verdicts,
    };
    let (one, two) = match values {
        (None, None) => return none(Change::Neither),
        (Some(_), None) => return none(Change::OnlyFirst),
        (None, Some(_)) => return none(Change::OnlySecond),
        (Some(one), Some(two)) => (one, two),
    };
    // A travel and an angle against the datum are two things.
    if one.basis != two.basis {
        return none(Change::CannotTell);
    }
    let difference = two.angle - one.angle;
    let expanded = own_to(&two.budget, "second").difference(&own_to(&one.budget, "first")).expanded().expanded;
    let matters = second.or(first).map_or(Angle::from_degrees(MATTERS_DEGREES), |cell| matters(cell.target));
    let change = if difference.abs() > expanded {
        Change::Changed
    } else if expanded <= matters {
        Change::Unchanged
    } else {
        Change::CannotTell
    };
    CellChange { difference: Some(difference), expanded: Some(expanded), ..none(change) }
}

/// The least change that one would want to know of: the tolerance of a band, half of a small ceiling.
fn matters(target: Target) -> Angle {
    let usual = Angle::from_degrees(MATTERS_DEGREES);
    let own = match target {
        Target::Band { tolerance, .. } => tolerance,
        Target::AtMost(ceiling) => ceiling / 2.0,
    };
    if own < usual { own } else { usual }
}

/// The budget with every error that is one setup's own named after it; those of calibration and datum stay what they are,
/// because their names are unique among setups.
fn own_to(budget: &Budget, setup: &str) -> Budget {
    let named = |contribution: &Contribution| {
        let source = contribution.source.clone().map(|source| {
            if source.outlives_a_setup() { source } else { Source::new(format!("{source} of the {setup} setup")) }
        });
        Contribution { source, ..contribution.clone() }
    };
    Budget::new(budget.contributions().iter().map(named))
}

/// What the changes have in common.
struct Pattern<'a> {
    cells: &'a [CellChange],
    head: &'a Head,
}

impl Pattern<'_> {
    fn sentences(&self) -> Vec<String> {
        let blades = self.blades();
        let axes = [Axis::Elevator, Axis::Aileron, Axis::Rudder].into_iter().filter_map(|axis| self.axis(axis));
        blades.into_iter().chain(axes).collect()
    }

    fn find(&self, name: CellName) -> Option<&CellChange> {
        self.cells.iter().find(|cell| cell.cell == name)
    }

    /// The zeros: all alike, or one blade by a number of half-turns.
    fn blades(&self) -> Option<String> {
        let zeros: Vec<(BladeName, &CellChange)> = self
            .head
            .blades
            .names()
            .filter_map(|blade| Some((blade, self.find(CellName::Zero(blade))?)))
            .filter(|(_, cell)| cell.difference.is_some())
            .collect();
        let moved: Vec<_> = zeros.iter().filter(|(_, cell)| cell.change == Change::Changed).collect();
        let by = |cell: &CellChange| cell.difference.unwrap_or_default();
        if let [(blade, cell)] = moved.as_slice()
            && zeros.len() > 1
        {
            let others = zeros.iter().filter(|(other, _)| other != blade);
            return Some(if others.clone().all(|(_, cell)| cell.change == Change::Unchanged) {
                self.one_blade(*blade, by(cell), cell.expanded.unwrap_or_default())
            } else {
                format!(
                    "blade {blade} stands {} from where it stood; whether the others do too, these readings cannot tell",
                    by(cell)
                )
            });
        }
        let (first, rest) = moved.split_first()?;
        let tracks_hold =
            self.cells.iter().all(|cell| !matches!(cell.cell, CellName::Track(_)) || cell.change != Change::Changed);
        let alike = rest.iter().all(|(_, cell)| {
            let within = cell.expanded.unwrap_or_default();
            (by(cell) - by(first.1)).abs() < within
        });
        (alike && tracks_hold && moved.len() == zeros.len()).then(|| {
            format!(
                "every blade reads {} alike at mid stick: the datum, the lean of the model or the collective's own centre; no pitch link",
                by(first.1)
            )
        })
    }

    fn one_blade(&self, blade: BladeName, by: Angle, expanded: Angle) -> String {
        let each = half_turn(self.head);
        let turns = (by / each).abs().round();
        let left = by.abs() - each * turns;
        let noun = if turns == 1.0 { "half-turn" } else { "half-turns" };
        if turns >= 1.0 && left.abs() < expanded {
            format!(
                "blade {blade} alone stands {by} from where it stood: that is {turns:.0} {noun} of its link; was it turned, or has it come loose?"
            )
        } else {
            format!("blade {blade} alone stands {by} from where it stood: its link, its grip or the blade itself")
        }
    }

    /// Both ends of an axis.
    fn axis(&self, axis: Axis) -> Option<String> {
        let ends = super::trade::ends(axis)?;
        let [one, other] = ends.map(Deflection::direction);
        let (one, other) = (one.as_str(), other.as_str());
        let [first, second] = ends.map(|end| self.find(CellName::Limit(end)));
        let (first, second) = (first?, second?);
        let by = |cell: &CellChange| cell.difference.filter(|_| cell.change == Change::Changed);
        match (by(first), by(second)) {
            (None, None) => None,
            (Some(d), None) => Some(one_end(axis, one, d, other, second)),
            (None, Some(d)) => Some(one_end(axis, other, d, one, first)),
            (Some(a), Some(b)) if (a + b).abs() < first.expanded?.hypot(second.expanded?) => Some(format!(
                "{axis} has changed by {a} {one} and as much the other way {other}: its centre has moved (trim, servo arm, a link under the swashplate)"
            )),
            (Some(a), Some(b)) if a.radians() * b.radians() > 0.0 => Some(format!(
                "{axis} has changed the same way at both ends, {one} by {a} and {other} by {b}: its end points or dual rate, a servo \
                 arm's length, or the mixer's range"
            )),
            (Some(a), Some(b)) => Some(format!("{axis} has changed by {a} {one} and {b} {other}")),
        }
    }
}

/// One end has changed; whether it alone, the other end says, if it is known.
fn one_end(axis: Axis, way: &str, by: Angle, other: &str, beside: &CellChange) -> String {
    if beside.change == Change::Unchanged {
        format!("{axis} {way} alone has changed, by {by}: its end point, or a bind on that side")
    } else {
        format!("{axis} {way} has changed by {by}; whether {other} has too, these readings cannot tell")
    }
}

impl fmt::Display for Comparison {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "  {:<16}  {:>9}  {:>9}  {:<18}  ", "cell", "first", "second", "difference")?;
        for cell in &self.cells {
            let angle = |angle: Option<Angle>| angle.map_or_else(|| "-".to_owned(), |angle| angle.to_string());
            let difference = match (cell.difference, cell.expanded) {
                (Some(d), Some(u)) => format!("{d} ± {:.2}°", u.degrees()),
                _ => String::new(),
            };
            let mark = if cell.change == Change::Changed { '*' } else { ' ' };
            let line = format!(
                "{mark} {:<16}  {:>9}  {:>9}  {difference:<18}  {}",
                cell.cell,
                angle(cell.first),
                angle(cell.second),
                cell.change.words()
            );
            writeln!(f, "{}", line.trim_end())?;
        }
        if !self.suggests.is_empty() {
            writeln!(f, "\nWhat the pattern suggests")?;
        }
        self.suggests.iter().try_for_each(|sentence| writeln!(f, "  {sentence}"))
    }
}
