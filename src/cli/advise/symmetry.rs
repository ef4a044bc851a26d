//! `advise symmetry`: one direction of an axis against the other.

use super::{CliError, Common, Outcome, Output};
use crate::advice::Symmetry;
use crate::bench::OpenSetup;
use crate::cli::setting::setup;
use crate::record::{Basis, Cell, CellName, LimitRecord, TravelSurvey};
use crate::rotor::{Axis, Deflection};
use crate::units::Angle;
use serde_json::{Value, json};

/// Arguments of `advise symmetry`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade advise symmetry
  clinoblade advise symmetry elevator

Ends that the head's description wants unequal are held against that. Two remedies are named: the neutral moved by half of \
what is too much, the ends left where they are; or the end point of the direction that goes too far.")]
pub(super) struct Args {
    /// elevator, aileron or rudder [default: every axis with two travels]
    axis: Option<Axis>,

    /// Work on this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,
}

/// Prints each axis.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let axes = match args.axis {
        Some(axis @ (Axis::Elevator | Axis::Aileron | Axis::Rudder)) => vec![axis],
        Some(Axis::Collective) => {
            return Err(CliError::Use("the collective has a command of its own: `advise collective`".into()));
        }
        Some(Axis::Corner) => return Err(CliError::Use("a corner has one direction: name an axis".into())),
        None => vec![Axis::Elevator, Axis::Aileron, Axis::Rudder],
    };
    let open = setup(args.setup, common).await?;
    let record = open.record();
    let (documents, lines): (Vec<Value>, Vec<String>) = axes
        .into_iter()
        .filter_map(|axis| described(&open, &record, axis).transpose())
        .collect::<Result<Vec<_>, _>>()?
        .into_iter()
        .unzip();
    if lines.is_empty() {
        let what =
            "no axis has both directions captured as a travel that still holds: capture neutral, one end and the other";
        return Err(CliError::Measurement(what.to_owned()));
    }
    output.answer(&json!({ "setup": open.setup().number, "axes": documents }), &lines.join("\n"))?;
    Ok(Outcome::Done)
}

fn described(open: &OpenSetup, record: &LimitRecord, axis: Axis) -> Result<Option<(Value, String)>, CliError> {
    let (one, other) = if axis == Axis::Elevator { ("up", "down") } else { ("left", "right") };
    let ends = [Deflection::new(axis, one)?, Deflection::new(axis, other)?];
    let [Some(first), Some(second)] = ends.map(|end| travel(record, end)) else { return Ok(None) };
    let (Some(a), Some(b)) = (&first.value, &second.value) else { return Ok(None) };
    let wanted = first.target.value() - second.target.value();
    let symmetry = Symmetry::new((a.angle, &a.budget), (b.angle, &b.budget), wanted);
    let text = format!("{axis}: {one} {a}, {other} {b}. ");
    let excess = symmetry.difference - wanted;
    let (long, long_value, short_value) =
        if excess > Angle::ZERO { (ends[0], a.angle, b.angle + wanted) } else { (ends[1], b.angle, a.angle - wanted) };
    // Bringing the long end down to what the short one allows needs its curve; where there is none, the neutral is advice enough.
    let output = TravelSurvey::new(&open.setup().head, open.entries(), long, None)
        .and_then(|survey| survey.output_for(short_value))
        .ok()
        .filter(|_| symmetry.is_significant());
    let document = json!({
        "axis": axis,
        "difference_deg": symmetry.difference,
        "wanted_deg": symmetry.wanted,
        "expanded_uncertainty_deg": symmetry.expanded,
        "significant": symmetry.is_significant(),
        "neutral_shift_deg": symmetry.neutral_shift,
        "neutral_shift_direction": ends[usize::from(excess <= Angle::ZERO)].direction(),
        "end_point": output.as_ref().map(|found| json!({
            "direction": long.direction(),
            "set_percent": found.whole,
            "expected_deg": found.angle,
            "expanded_uncertainty_deg": found.budget.expanded().expanded,
        })),
    });
    let u = symmetry.expanded.degrees();
    if !symmetry.is_significant() {
        return Ok(Some((
            document,
            format!("{text}No difference from what is wanted beyond its uncertainty (± {u:.2}°)."),
        )));
    }
    let size = excess.abs().degrees();
    let mut text = format!(
        "{text}{} goes {size:.2}° ± {u:.2}° too far. To balance them, move the neutral {:.2}° ± {:.2}° toward {} with both ends \
         left where they are",
        long.direction(),
        symmetry.neutral_shift.abs().degrees(),
        symmetry.shift_expanded().degrees(),
        long.direction()
    );
    match output {
        Some(found) => {
            text += &format!(
                "; or take {long} from {long_value} back: end point {:.0} %, which gives {} ± {:.2}°.",
                found.whole.value(),
                found.angle,
                found.budget.expanded().expanded.degrees()
            );
        }
        None => text += &format!("; or lower the end point of {long}."),
    }
    Ok(Some((document, text)))
}

/// An end whose travel holds and is not in question.
fn travel(record: &LimitRecord, end: Deflection) -> Option<&Cell> {
    record.cell(CellName::Limit(end)).filter(|cell| {
        let is_travel = cell.value.as_ref().is_some_and(|value| value.basis == Basis::Travel);
        is_travel && cell.verdict.is_captured() && cell.question.is_none()
    })
}
