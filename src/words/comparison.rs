//! Two setups compared, and one cell over many.

use super::{Face, Say, angle, one_line, sheet, with_uncertainty};
use clinoblade_record::{CellHistory, CellName, CellNameError, Change, Comparison, Pattern, Proviso, Together};
use clinoblade_stats::control_chart::{Limits, Signal};
use clinoblade_units::Angle;

/// Examples of `compare`.
pub const COMPARE_HELP: &str = "\
Example:
  clinoblade compare 3 7         what is different in setup 7 from setup 3

Each difference has its own uncertainty; what both setups share (a calibration, a zero) counts in it as one error. `changed` is \
more than the uncertainty. `cannot tell` means that these readings are too coarse to show a change that matters. The exit code is \
1 if something has changed, else 0.";

/// Examples of `history`.
pub const HISTORY_HELP: &str = "\
Examples:
  clinoblade history \"Workshop trainer\"
  clinoblade history \"Workshop trainer\" --cell \"elevator up\" --plot elevator-up.svg

A chart of individuals and moving ranges for each cell: the limits that its newest value is held against, and what stands out (a \
value outside them, a jump from one setup to the next, eight in a row on one side). Limits come from the earlier setups alone and \
are never tighter than the uncertainty of a difference. With fewer than five setups a value is held against the one before; from \
fewer than eight earlier ones the limits are provisional. The exit code is 1 if the newest setup stands out, else 0.";

/// How a cell stands in both setups.
const fn changed(change: Change) -> &'static str {
    match change {
        Change::Changed => "changed",
        Change::Unchanged => "unchanged",
        Change::CannotTell => "cannot tell",
        Change::OnlyFirst => "only in the first",
        Change::OnlySecond => "only in the second",
        Change::Neither => "in neither",
    }
}

impl Say for CellNameError {
    fn say(&self, face: Face) -> String {
        format!(
            "'{}' is not a cell: write its name as {} shows it",
            self.0,
            face.command("`clinoblade check`", "the record")
        )
    }
}

impl Say for Proviso {
    fn say(&self, _: Face) -> String {
        match self {
            Self::TwoHeads { first, second } => {
                format!(
                    "{} and {} are two helicopters: their differences are not changes.",
                    one_line(first),
                    one_line(second)
                )
            }
            Self::Description => "The description has changed in between.".to_owned(),
            Self::Blades { first: (first, was), second: (second, is) } => format!(
                "The main blades were {was} in setup {first} and {is} in setup {second}. Their weight bends and turns what \
                 carries them, by half a degree or so."
            ),
        }
    }
}

impl Say for Pattern {
    fn say(&self, _: Face) -> String {
        match *self {
            Self::BladesAlike { by_deg } => format!(
                "every blade reads {} more at mid stick: the zero, the lean of the model or the collective's neutral, but no link",
                angle(by_deg, 2)
            ),
            Self::OneBlade { blade, by_deg, half_turns: Some(turns) } => {
                let noun = if turns == 1 { "half-turn" } else { "half-turns" };
                format!(
                    "blade {blade} alone moved by {}, which is {turns} {noun} of its link. Was it turned, or has it come loose?",
                    angle(by_deg, 2)
                )
            }
            Self::OneBlade { blade, by_deg, half_turns: None } => {
                format!("blade {blade} alone moved by {}: its link, its grip or the blade itself", angle(by_deg, 2))
            }
            Self::PerhapsOneBlade { blade, by_deg } => {
                format!(
                    "blade {blade} moved by {}; the readings of the others are too coarse to tell",
                    angle(by_deg, 2)
                )
            }
            Self::Ends { ends: [(one, a), (other, b)], together } => {
                let (axis, way, back) = (one.axis(), one.direction(), other.direction());
                let (a, b) = (angle(a, 2), angle(b, 2));
                match together {
                    Together::Opposite => format!(
                        "{axis} changed by {a} {way} and as much the other way {back}: its neutral has moved (trim, servo arm, a \
                         link under the swashplate)"
                    ),
                    Together::Alike => format!(
                        "{axis} changed the same way at both ends, {way} by {a} and {back} by {b}: its end points, the dual rate, \
                         a servo arm's length or the mixer's range"
                    ),
                    Together::Apart => format!("{axis} changed by {a} {way} and {b} {back}"),
                }
            }
            Self::OneEnd { end, by_deg, alone: true, .. } => {
                format!("{end} alone changed, by {}: its end point, or a bind on that side", angle(by_deg, 2))
            }
            Self::OneEnd { end, by_deg, other, alone: false } => format!(
                "{end} changed by {}; the readings of {} are too coarse to tell",
                angle(by_deg, 2),
                other.direction()
            ),
        }
    }
}

/// Two setups, cell by cell. Each is named by its number and the helicopter it is of.
#[must_use]
pub fn comparison(first: (u32, &str), second: (u32, &str), comparison: &Comparison) -> String {
    let mut lines =
        vec![format!("Setup {} of {} and setup {} of {}", first.0, one_line(first.1), second.0, one_line(second.1))];
    if first.0 == second.0 {
        lines.push("This is the same setup twice: nothing can differ.".to_owned());
    }
    lines.extend(comparison.provisos.iter().map(|proviso| proviso.say(Face::Terminal)));
    lines.push(String::new());
    if !comparison.is_possible() && first.0 != second.0 {
        lines.push(sheet::NOTHING_COMPARABLE.to_owned());
    }
    lines.push(format!("  {:<15} {:<15}  {:<15}  difference", "cell", "first", "second"));
    lines.extend(comparison.cells.iter().map(|cell| {
        let shown = |value: Option<Angle>, expanded: Option<Angle>| {
            value.zip(expanded).map_or_else(|| "-".to_owned(), |(value, u)| with_uncertainty(value, u))
        };
        let difference = cell
            .difference
            .zip(cell.expanded)
            .map_or_else(String::new, |(d, u)| format!("{:<15}  ", with_uncertainty(d, u)));
        format!(
            "{} {:<15} {:<15}  {:<15}  {difference}{}",
            if cell.change == Change::Changed { '*' } else { ' ' },
            cell.cell,
            shown(cell.first, cell.first_expanded),
            shown(cell.second, cell.second_expanded),
            changed(cell.change)
        )
    }));
    if !comparison.patterns.is_empty() {
        lines.push("\nWhat this suggests".to_owned());
    }
    lines.extend(comparison.patterns.iter().map(|pattern| format!("  {}", pattern.say(Face::Terminal))));
    lines.join("\n")
}

/// No setup of a helicopter.
#[must_use]
pub fn no_setup_of(head: &str) -> String {
    format!("No setup of '{}' is kept. See which helicopters are: `clinoblade setup list`.", one_line(head))
}

/// No setup of a helicopter has this cell.
#[must_use]
pub fn no_such_cell(head: &str, cell: CellName) -> String {
    format!("no setup of '{}' holds a value of '{cell}'", one_line(head))
}

/// The cells of a helicopter over its setups.
#[must_use]
pub fn history(head: &str, setups: usize, has_older: bool, cells: &[CellHistory]) -> String {
    let many = if setups == 1 { "setup" } else { "setups" };
    let many = if has_older {
        format!("the newest {setups} {many} (`--most N` shows more)")
    } else {
        format!("{setups} {many}")
    };
    let cells: Vec<String> = cells.iter().map(one_cell).collect();
    format!("{}, {many}\n\n{}", one_line(head), cells.join("\n"))
}

fn degrees(value: f64) -> String {
    format!("{}°", super::signed(value, 2))
}

fn between(limits: &Limits) -> String {
    format!("{} to {}", degrees(limits.low), degrees(limits.high))
}

/// Setups that make no row with the others.
fn otherwise(setups: &[u32]) -> Option<String> {
    let numbers: Vec<String> = setups.iter().map(ToString::to_string).collect();
    let (last, rest) = numbers.split_last()?;
    let named = match rest {
        [] => format!("Setup {last} is"),
        rest => format!("Setups {} and {last} are", rest.join(", ")),
    };
    Some(format!(
        "{:<16}  {named} not in this row: the cell was read in another way there than in the newest setup (as a travel from neutral, \
         as a pitch, or against the zero alone).",
        ""
    ))
}

fn one_cell(cell: &CellHistory) -> String {
    let values: Vec<String> =
        cell.values.iter().map(|v| format!("{} {}", v.setup, with_uncertainty(v.angle, v.expanded))).collect();
    let mut lines = vec![format!("{:<16}  {}", cell.cell, values.join(" · "))];
    if let Some(chart) = &cell.chart {
        let limits = &chart.limits;
        let provisional = if limits.is_provisional() { ", provisional" } else { "" };
        let from = if limits.is_of_one_before() { "setup before" } else { "mean of earlier setups" };
        lines.push(format!("{:<16}  {from} {}, limits {}{provisional}", "", degrees(limits.centre), between(limits)));
        lines.extend(chart.flags.iter().filter_map(|flag| {
            let value = cell.values.get(flag.place)?;
            let what = match flag.signal {
                Signal::Outside => format!("is outside {}", between(&flag.limits)),
                Signal::Jump => format!("jumped by more than {:.2}° from the setup before", flag.limits.range_limit),
                Signal::Run => "is the eighth or later in a row on one side of the mean before".to_owned(),
            };
            let is = with_uncertainty(value.angle, value.expanded);
            Some(format!("{:<16}  ! {} in setup {}: {is} {what}", "", cell.cell, value.setup))
        }));
    }
    lines.extend(otherwise(&cell.otherwise));
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use clinoblade_record::{Blades, Past};
    use clinoblade_rotor::BladeName;
    use clinoblade_stats::control_chart::ControlChart;
    fn deg(value: f64) -> Angle {
        Angle::from_degrees(value)
    }

    #[test]
    fn every_proviso_and_pattern() {
        let (up, down) = ("elevator up".parse().unwrap(), "elevator down".parse().unwrap());
        let ends = |together| Pattern::Ends { ends: [(up, deg(0.8)), (down, deg(-0.7))], together };
        let one_end = |alone| Pattern::OneEnd { end: up, by_deg: deg(0.8), other: down, alone };
        let one_blade = |half_turns| Pattern::OneBlade { blade: BladeName::A, by_deg: deg(-0.96), half_turns };
        let said: Vec<Box<dyn Say>> = vec![
            Box::new(Proviso::TwoHeads { first: "Trainer".into(), second: "Other".into() }),
            Box::new(Proviso::Description),
            Box::new(Proviso::Blades { first: (3, Blades::On), second: (7, Blades::Off) }),
            Box::new(Pattern::BladesAlike { by_deg: deg(0.5) }),
            Box::new(one_blade(Some(1))),
            Box::new(one_blade(Some(2))),
            Box::new(one_blade(None)),
            Box::new(Pattern::PerhapsOneBlade { blade: BladeName::A, by_deg: deg(0.5) }),
            Box::new(ends(Together::Opposite)),
            Box::new(ends(Together::Alike)),
            Box::new(ends(Together::Apart)),
            Box::new(one_end(true)),
            Box::new(one_end(false)),
        ];
        let said: Vec<String> = said.iter().map(|one| one.say(Face::Terminal)).collect();
        insta::assert_snapshot!(said.join("\n"));
    }

    #[test]
    fn a_history_with_everything_that_stands_out() {
        let degrees = [0.0, 0.01, 0.0, 0.02, 0.01, 0.0, 0.01, 0.02, 0.01, 0.0, 1.0];
        let values: Vec<Past> = degrees
            .iter()
            .zip(1..)
            .map(|(value, setup)| Past {
                setup,
                at: jiff::Timestamp::UNIX_EPOCH,
                angle: deg(*value),
                expanded: deg(0.1),
            })
            .collect();
        let measured: Vec<(f64, f64)> = degrees.iter().map(|value| (*value, 0.1)).collect();
        let cell = CellHistory {
            cell: CellName::Zero(BladeName::A),
            values,
            chart: ControlChart::of(&measured),
            otherwise: vec![],
        };
        insta::assert_snapshot!(history("Trainer", 11, true, &[cell]));
    }

    #[test]
    fn a_history_of_few_setups() {
        let measured = [(0.1, 0.3), (0.2, 0.3), (0.1, 0.3), (3.28, 0.3)];
        let past = |((value, expanded), setup): ((f64, f64), u32)| Past {
            setup,
            at: jiff::Timestamp::UNIX_EPOCH,
            angle: deg(value),
            expanded: deg(expanded),
        };
        let values = measured.into_iter().zip(1..).map(past).collect();
        let cell = CellHistory {
            cell: CellName::Zero(BladeName::A),
            values,
            chart: ControlChart::of(&measured),
            otherwise: vec![1, 2, 5],
        };
        insta::assert_snapshot!(history("Trainer", 4, false, &[cell]));
    }
}
