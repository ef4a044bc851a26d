//! `advise collective`: pitch against stick, how straight it is, and the outputs for wanted ends.

use super::{
    CliError, Common, Outcome, Output, end_point, line, pair_documents, place, place_documents, sought, trust,
};
use crate::cli::parsed;
use crate::cli::setting::setup;
use crate::record::{CollectiveSurvey, Head};
use crate::report::pictures;
use crate::rotor::{Collective, Deflection};
use crate::units::{Angle, Percent};
use serde_json::{Value, json};
use std::path::PathBuf;

/// Arguments of `advise collective`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade advise collective
  clinoblade advise collective --low -10 --high 11 --plot pitch.svg

From `capture collective mid`, `low`, `high` and places between (`capture collective 25%`), all on one blade at one station. \
Pitch counts from mid stick. Between the captures runs a curve that never swings beyond them.")]
pub(super) struct Args {
    /// The pitch wanted at the low end, degrees [default: what the head's description wants]
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Angle>)]
    low: Option<Angle>,

    /// The pitch wanted at the high end, degrees [default: what the head's description wants]
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Angle>)]
    high: Option<Angle>,

    /// Where both end points stood before the first one that was recorded
    #[arg(long, value_name = "PERCENT", value_parser = end_point)]
    end_point: Option<Percent>,

    /// Draw pitch against stick into this file
    #[arg(long, value_name = "FILE.svg")]
    plot: Option<PathBuf>,

    /// Work on this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,
}

/// Prints, and draws where asked to.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let open = setup(args.setup, common).await?;
    let head = &open.setup().head;
    let survey = CollectiveSurvey::new(head, open.entries(), args.end_point)?;
    if let Some(path) = &args.plot {
        let failed = CliError::file(path);
        crate::cli::written::over(path, &pictures::collective(&survey, head).svg()).map_err(failed)?;
    }
    let ends = [(Collective::Low, args.low), (Collective::High, args.high)];
    let advised: Vec<(Value, String)> =
        ends.into_iter().filter_map(|(end, wanted)| advised(&survey, head, end, wanted)).collect();
    let (documents, sentences): (Vec<Value>, Vec<String>) = advised.into_iter().unzip();
    let mut document = json!({
        "setup": open.setup().number,
        "pairs": pair_documents(&survey.travel),
        "end_point_assumed": survey.travel.assumes_end_points(),
        "off_the_line": survey.off_the_line.iter().map(|point| json!({
            "stick_percent": point.stick,
            "by_deg": point.by,
            "expanded_uncertainty_deg": point.expanded,
            "bent": point.is_significant(),
        })).collect::<Vec<_>>(),
        "asymmetry_deg": survey.symmetry.as_ref().map(|s| s.difference),
        "asymmetry_expanded_uncertainty_deg": survey.symmetry.as_ref().map(|s| s.expanded),
        "advice": documents,
    });
    if let Value::Object(fields) = &mut document {
        fields.extend(place_documents(&survey.travel).map(|(name, value)| (name.to_owned(), value)));
    }
    output.answer(&document, &told(&survey, &sentences))?;
    Ok(Outcome::Done)
}

/// The output for one end; a refusal is an answer too, so that the other end is not lost with it.
fn advised(survey: &CollectiveSurvey, head: &Head, end: Collective, asked: Option<Angle>) -> Option<(Value, String)> {
    let deflection = Deflection::Collective(end);
    let travel = &survey.travel;
    let (wanted, found) = match (asked, head.target(deflection)) {
        (Some(wanted), _) => (wanted.to_string(), travel.output_for(deflection, wanted)),
        (None, Some(target)) => (format!("{target}, as the head wants it,"), travel.output_within(deflection, target)),
        (None, None) => return None,
    };
    let wanted_deg = asked.or_else(|| head.target(deflection).map(|target| sought(deflection, target)));
    Some(match found {
        Ok(found) => {
            let (set, expanded) = (found.whole.value().abs(), found.budget.expanded().expanded);
            let caution = travel.caution(&found);
            let document = json!({
                "direction": deflection.direction(),
                "wanted_deg": wanted_deg,
                "output_percent": found.output.value().abs(),
                "output_expanded_uncertainty_percent": found.expanded,
                "set_percent": set,
                "expected_deg": found.angle,
                "expanded_uncertainty_deg": expanded,
                "caution": caution,
            });
            let mut text = format!(
                "For {wanted} at the {} end: {:.1} % of output ± {:.1} %. Set the end point of {deflection} to {set:.0} %: {} ± {:.2}°.",
                deflection.direction(),
                found.output.value().abs(),
                found.expanded.value(),
                found.angle,
                expanded.degrees()
            );
            text.extend(caution.map(|caution| format!(" {caution}.")));
            (document, text)
        }
        Err(error) => {
            let document =
                json!({ "direction": deflection.direction(), "wanted_deg": wanted_deg, "refused": error.to_string() });
            (document, format!("{deflection}: {error}."))
        }
    })
}

fn told(survey: &CollectiveSurvey, advice: &[String]) -> String {
    let travel = &survey.travel;
    let mut lines = vec![format!("Collective, blade {} {}, pitch from mid stick:", travel.blade, place(travel.spot))];
    lines.extend(travel.pairs.iter().map(line));
    match survey.worst() {
        Some(worst) => lines.push(format!(
            "Bent: at {:.0} % stick it stands {} ± {:.2}° off the straight line between the ends. Is a servo arm square to its rod?",
            worst.stick.value(),
            worst.by,
            worst.expanded.degrees()
        )),
        None if survey.off_the_line.is_empty() => {
            lines.push("How straight it is shows with both ends captured, and places between (capture collective 25%).".to_owned());
        }
        None => lines.push("Straight within 0.3° or its uncertainty at every place that was captured.".to_owned()),
    }
    if let Some(symmetry) = &survey.symmetry {
        let (difference, u) = (symmetry.difference, symmetry.expanded.degrees());
        lines.push(match (symmetry.is_significant(), difference > Angle::ZERO) {
            (false, _) => format!("Both ends go equally far: {difference} ± {u:.2}°."),
            (true, true) => {
                format!("The high end goes further than the low end by {:.2}° ± {u:.2}°.", difference.degrees())
            }
            (true, false) => {
                format!("The low end goes further than the high end by {:.2}° ± {u:.2}°.", -difference.degrees())
            }
        });
    }
    lines.extend(advice.iter().cloned());
    lines.extend(trust(travel));
    lines.join("\n")
}
