//! `advise travel`: the output of one direction for a wanted angle.

use super::{
    CliError, Common, Outcome, Output, end_point, line, pair_documents, place, place_documents, sought, trust,
};
use crate::advice;
use crate::cli::parsed;
use crate::cli::setting::setup;
use crate::record::{CellName, LimitRecord, TravelSurvey, TravelSurveyError, Verdict};
use crate::rotor::{Axis, Deflection};
use crate::uncertainty::Target;
use crate::units::{Angle, Percent};
use serde_json::json;

/// Arguments of `advise travel`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade advise travel elevator up --to 12
  clinoblade advise travel aileron left                what the head's description wants
  clinoblade advise travel collective low --to -10

From the captures of this direction: each is a pair of output (end point times stick) and movement from neutral. One end \
with its neutral is enough; a capture with the stick part of the way (--stick 50) shows how the linkage bends. Nothing is \
said further than a tenth beyond what was captured, nor past a bind. Record what you set with `adjust`, then capture again.")]
pub(super) struct Args {
    /// elevator, aileron, rudder or collective
    #[arg(value_parser = parsed::<Axis>)]
    axis: Axis,

    /// up or down, left or right, low or high
    direction: String,

    /// The wanted movement from neutral, degrees: positive in that direction, on the collective with the sign of the pitch
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Angle>)]
    to: Option<Angle>,

    /// Where the end point stood before the first one that was recorded
    #[arg(long, value_name = "PERCENT", value_parser = end_point)]
    end_point: Option<Percent>,

    /// Print the uncertainty budget as a table
    #[arg(long)]
    explain: bool,

    /// Work on this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,
}

/// Prints the output for the wanted angle.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let direction = Deflection::new(args.axis, &args.direction)?;
    let open = setup(args.setup, common).await?;
    let (head, entries) = (&open.setup().head, open.entries());
    let survey = TravelSurvey::new(head, entries, direction, args.end_point)?;
    let (wanted, found) = match (args.to, head.target(direction)) {
        (Some(wanted), _) => (Target::AtMost(wanted), survey.output_for(direction, wanted)?),
        (None, Some(target)) => match survey.output_within(direction, target) {
            Ok(found) => (target, found),
            Err(why) => return nothing_to_set(&open.record(), direction, target, why, output),
        },
        (None, None) => {
            let what = format!("the head's description wants nothing of {direction}: say which angle with --to");
            return Err(CliError::Use(what));
        }
    };
    let expanded = found.budget.expanded().expanded;
    let mut document = json!({
        "setup": open.setup().number,
        "axis": direction.axis(),
        "direction": direction.direction(),
        "wanted_deg": if args.to.is_some() { wanted.value() } else { sought(direction, wanted) },
        "output_percent": found.output.value().abs(),
        "output_expanded_uncertainty_percent": found.expanded,
        "set_percent": found.whole.value().abs(),
        "expected_deg": found.angle,
        "expanded_uncertainty_deg": expanded,
        "components": found.budget.components(),
        "caution": survey.caution(&found),
        "end_point_assumed": survey.assumes_end_points(),
        "pairs": pair_documents(&survey),
    });
    if let serde_json::Value::Object(fields) = &mut document {
        fields.extend(place_documents(&survey).map(|(name, value)| (name.to_owned(), value)));
    }
    let asked = if args.to.is_some() { wanted.value().to_string() } else { format!("{wanted}, as the head wants it") };
    output.answer(&document, &told(&args, direction, &survey, &found, &asked))?;
    Ok(Outcome::Done)
}

/// A ceiling is no goal: an end that stays under it is to be left alone, however far below it stands.
fn nothing_to_set(
    record: &LimitRecord,
    direction: Deflection,
    target: Target,
    why: TravelSurveyError,
    output: &Output,
) -> Result<Outcome, CliError> {
    let stands = record.cell(CellName::Limit(direction)).filter(|cell| cell.verdict == Verdict::Inside);
    match (target, stands.and_then(|cell| cell.value.as_ref())) {
        (Target::AtMost(_), Some(value)) => {
            let document = json!({
                "axis": direction.axis(),
                "direction": direction.direction(),
                "wanted_deg": target.value(),
                "stands_deg": value.angle,
                "expanded_uncertainty_deg": value.expanded,
                "set_percent": null,
            });
            output.answer(
                &document,
                &format!("{direction} stands at {value}, {target} is wanted: there is nothing to set."),
            )?;
            Ok(Outcome::Done)
        }
        _ => Err(why.into()),
    }
}

fn told(args: &Args, direction: Deflection, survey: &TravelSurvey, found: &advice::Output, asked: &str) -> String {
    let set = found.whole.value().abs();
    let mut lines = vec![format!("{direction}, blade {} {}, movement from neutral:", survey.blade, place(survey.spot))];
    lines.extend(survey.pairs.iter().map(line));
    lines.push(format!(
        "For {asked}: {:.1} % of output ± {:.1} %. Set the end point of {direction} to {set:.0} %: {} ± {:.2}°.",
        found.output.value().abs(),
        found.expanded.value(),
        found.angle,
        found.budget.expanded().expanded.degrees()
    ));
    lines.extend(survey.caution(found).map(|caution| format!("{caution}.")));
    lines.push(format!("Then `clinoblade adjust {direction} end point {set:.0}`, and capture {direction} again."));
    lines.extend(trust(survey));
    if args.explain {
        lines.push(crate::words::uncertainty::explained(&found.budget, crate::words::Face::Terminal));
    }
    lines.join("\n")
}
