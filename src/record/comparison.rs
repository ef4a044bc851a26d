//! Two setups of one head, cell by cell: what has changed, what has not, and what these readings cannot tell.
//!
//! A calibration that both used (the same one, not one of the same name) is one error in both and shrinks in the difference, as does a datum; a seat of the clip, a
//! stand of the model or a capture is one setup's own. |d| > U(d) is a change. Within U(d) a cell is unchanged only where
//! U(d) is fine enough to have shown a change that matters; otherwise nobody can tell.

use super::cell::{Basis, Cell, CellName, Value};
use super::head::Head;
use super::limits::LimitRecord;
use super::link_survey::half_turn;
use super::setup::{Blades, Setup};
use crate::rotor::{Axis, BladeName, Deflection};
use crate::uncertainty::{Budget, Contribution, Target};
use crate::units::Angle;
use serde::Serialize;

/// A change of a limit by so much matters. [common practice, no source]
const MATTERS_DEGREES: f64 = 0.5;

/// How one cell stands in both setups.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// The difference is more than its uncertainty, and no less than a tenth of what matters.
    Changed,
    /// The difference is within its uncertainty, and that is fine enough to say so; or it is less than a tenth of what matters.
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

/// One cell in both setups.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CellChange {
    /// Which cell.
    pub cell: CellName,
    /// Its value in the first setup, where it holds.
    #[serde(rename = "first_deg")]
    pub first: Option<Angle>,
    /// U of it, for 95 %.
    #[serde(rename = "first_expanded_uncertainty_deg")]
    pub first_expanded: Option<Angle>,
    /// Its value in the second.
    #[serde(rename = "second_deg")]
    pub second: Option<Angle>,
    /// U of it, for 95 %.
    #[serde(rename = "second_expanded_uncertainty_deg")]
    pub second_expanded: Option<Angle>,
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
    pub provisos: Vec<Proviso>,
    /// What the changes have in common.
    pub patterns: Vec<Pattern>,
}

/// What makes two setups unlike before any change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Proviso {
    /// They are of two heads, by their names.
    TwoHeads {
        /// The first one's.
        first: String,
        /// The second one's.
        second: String,
    },
    /// The description of the head has changed in between.
    Description,
    /// The main blades were on in one of them only: their own weight bends and turns what carries it.
    Blades {
        /// The first setup's number, and whether they were on.
        first: (u32, Blades),
        /// The second one's.
        second: (u32, Blades),
    },
}

/// What changes have in common, and so may have one cause. Angles in degrees, the second setup less the first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Pattern {
    /// Every blade reads otherwise by as much.
    BladesAlike {
        /// By how much.
        by_deg: Angle,
    },
    /// One blade alone stands elsewhere.
    OneBlade {
        /// Which.
        blade: BladeName,
        /// By how much.
        by_deg: Angle,
        /// The half-turns of its link that make as much; none where no whole number does.
        half_turns: Option<u32>,
    },
    /// One blade stands elsewhere; of the others these readings do not tell.
    PerhapsOneBlade {
        /// Which.
        blade: BladeName,
        /// By how much.
        by_deg: Angle,
    },
    /// Both ends of an axis have changed.
    Ends {
        /// Each with its change.
        ends: [(Deflection, Angle); 2],
        /// How they go together.
        together: Together,
    },
    /// One end of an axis has changed.
    OneEnd {
        /// Which.
        end: Deflection,
        /// By how much.
        by_deg: Angle,
        /// The other end.
        other: Deflection,
        /// Whether the other has not; else these readings do not tell.
        alone: bool,
    },
}

/// How the changes of both ends of an axis go together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Together {
    /// One by as much as the other the other way: the neutral has moved.
    Opposite,
    /// Both the same way: the range has changed.
    Alike,
    /// Neither.
    Apart,
}

impl Comparison {
    /// Compares two setups, each with its record. What was turned, or has come loose, is a question to one head, its blades on
    /// both times or off both times.
    #[must_use]
    pub fn of_setups(first: (&Setup, &LimitRecord), second: (&Setup, &LimitRecord)) -> Self {
        let (one, two) = (first.0, second.0);
        let mut comparison = Self::new(first.1, second.1, &two.head);
        if one.head.name != two.head.name {
            comparison.patterns.clear();
            let names = [&one.head.name, &two.head.name].map(ToString::to_string);
            let [first, second] = names;
            comparison.provisos.push(Proviso::TwoHeads { first, second });
        } else if one.head != two.head {
            comparison.provisos.push(Proviso::Description);
        }
        if one.blades != two.blades {
            comparison.patterns.clear();
            let of = |setup: &Setup| (setup.number, setup.blades);
            comparison.provisos.push(Proviso::Blades { first: of(one), second: of(two) });
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
        let patterns = Changes { cells: &cells, head }.patterns();
        Self { cells, provisos: Vec::new(), patterns }
    }

    /// Whether any cell holds values in both that can be held against each other.
    #[must_use]
    pub fn is_possible(&self) -> bool {
        self.cells.iter().any(|cell| cell.difference.is_some())
    }

    /// The cells that have changed.
    pub fn changed(&self) -> impl Iterator<Item = &CellChange> {
        self.cells.iter().filter(|cell| cell.change == Change::Changed)
    }
}

/// The value by which a cell is judged, and what it is measured from, where it holds.
fn held(cell: Option<&Cell>) -> Option<(Value, Option<Basis>)> {
    let cell = cell.filter(|cell| cell.verdict.is_captured())?;
    Some((cell.judged_value()?, cell.judged_from()))
}

fn change(name: CellName, first: Option<&Cell>, second: Option<&Cell>) -> CellChange {
    let verdicts = [first, second].map(|cell| cell.map_or("missing", |cell| cell.verdict.word()));
    let values = (held(first), held(second));
    let none = |change| CellChange {
        cell: name,
        first: values.0.as_ref().map(|(v, _)| v.angle),
        first_expanded: values.0.as_ref().map(|(v, _)| v.expanded),
        second: values.1.as_ref().map(|(v, _)| v.angle),
        second_expanded: values.1.as_ref().map(|(v, _)| v.expanded),
        difference: None,
        expanded: None,
        change,
        verdicts,
    };
    let ((one, from), (two, other)) = match &values {
        (None, None) => return none(Change::Neither),
        (Some(_), None) => return none(Change::OnlyFirst),
        (None, Some(_)) => return none(Change::OnlySecond),
        (Some(one), Some(two)) => (one, two),
    };
    // A travel, a pitch and an angle against the datum are different things.
    if from != other {
        return none(Change::CannotTell);
    }
    let difference = two.angle - one.angle;
    let expanded = own_to(&two.budget, "second").difference(&own_to(&one.budget, "first")).expanded().expanded;
    let matters = second.or(first).map_or(Angle::from_degrees(MATTERS_DEGREES), |cell| matters(cell.target));
    // What is significant need not be relevant.
    let change = if difference.abs() > expanded && difference.abs() * 10.0 >= matters {
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
        let source = contribution.source.as_ref().map(|source| source.of_setup(setup));
        Contribution { source, ..contribution.clone() }
    };
    Budget::new(budget.contributions().iter().map(named))
}

/// The changes, to see what they have in common.
struct Changes<'a> {
    cells: &'a [CellChange],
    head: &'a Head,
}

impl Changes<'_> {
    fn patterns(&self) -> Vec<Pattern> {
        let axes = [Axis::Elevator, Axis::Aileron, Axis::Rudder].into_iter().filter_map(|axis| self.axis(axis));
        self.blades().into_iter().chain(axes).collect()
    }

    fn find(&self, name: CellName) -> Option<&CellChange> {
        self.cells.iter().find(|cell| cell.cell == name)
    }

    /// The zeros: all alike, or one blade by a number of half-turns.
    fn blades(&self) -> Option<Pattern> {
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
            let (blade, by_deg) = (*blade, by(cell));
            let mut others = zeros.iter().filter(|(other, _)| *other != blade);
            return Some(if others.all(|(_, cell)| cell.change == Change::Unchanged) {
                let half_turns = self.half_turns(by_deg, cell.expanded.unwrap_or_default());
                Pattern::OneBlade { blade, by_deg, half_turns }
            } else {
                Pattern::PerhapsOneBlade { blade, by_deg }
            });
        }
        let (first, rest) = moved.split_first()?;
        let tracks_hold =
            self.cells.iter().all(|cell| !matches!(cell.cell, CellName::Track(_)) || cell.change != Change::Changed);
        let alike = rest.iter().all(|(_, cell)| {
            let within = cell.expanded.unwrap_or_default();
            (by(cell) - by(first.1)).abs() < within
        });
        (alike && tracks_hold && moved.len() == zeros.len()).then(|| Pattern::BladesAlike { by_deg: by(first.1) })
    }

    /// The whole number of half-turns that makes a change within its uncertainty.
    fn half_turns(&self, by: Angle, expanded: Angle) -> Option<u32> {
        let each = half_turn(self.head);
        let turns = (by / each).abs().round();
        let left = by.abs() - each * turns;
        (turns >= 1.0 && left.abs() < expanded).then_some(turns as u32)
    }

    /// Both ends of an axis.
    fn axis(&self, axis: Axis) -> Option<Pattern> {
        let [one, other] = super::trade::ends(axis)?;
        let (first, second) = (self.find(CellName::Limit(one))?, self.find(CellName::Limit(other))?);
        let by = |cell: &CellChange| cell.difference.filter(|_| cell.change == Change::Changed);
        let one_end = |end, by_deg, other, beside: &CellChange| Pattern::OneEnd {
            end,
            by_deg,
            other,
            alone: beside.change == Change::Unchanged,
        };
        match (by(first), by(second)) {
            (None, None) => None,
            (Some(d), None) => Some(one_end(one, d, other, second)),
            (None, Some(d)) => Some(one_end(other, d, one, first)),
            (Some(a), Some(b)) => {
                let together = if (a + b).abs() < first.expanded?.hypot(second.expanded?) {
                    Together::Opposite
                } else if a.radians() * b.radians() > 0.0 {
                    Together::Alike
                } else {
                    Together::Apart
                };
                Some(Pattern::Ends { ends: [(one, a), (other, b)], together })
            }
        }
    }
}
