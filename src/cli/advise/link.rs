//! `advise link`: which pitch links to turn, and by how many half-turns.

use super::{CliError, Common, Outcome, Output};
use crate::advice::Turned;
use crate::cli::document::with_uncertainty;
use crate::cli::parsed;
use crate::cli::setting::setup;
use crate::record::{BladeLink, LinkSurvey};
use crate::rotor::BladeName;
use crate::units::Angle;
use serde_json::{Value, json};

/// Arguments of `advise link`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade advise link                 all blades to the zero that the head's description wants
  clinoblade advise link --blade B       one link alone
  clinoblade advise link --to 0.5        to another pitch at mid stick

The captures at mid stick that still hold say how the blades stand; thread, arm and seats of the links are the head's. Record \
what you turned with `adjust \"link B +1 half-turn\"` and capture again: from then on a half-turn is what it was seen to do.")]
pub(super) struct Args {
    /// One blade alone
    #[arg(long, value_parser = parsed::<BladeName>)]
    blade: Option<BladeName>,

    /// Where the blades shall stand at mid stick, degrees [default: the target of the head's description]
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
    to: Option<f64>,

    /// Work on this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,
}

/// Works it out and prints it.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let to = args.to.map(pitch).transpose()?;
    let open = setup(args.setup, common).await?;
    let survey = LinkSurvey::new(&open.setup().head, open.entries(), args.blade, to)?;
    let mut document = document(&survey);
    if let Value::Object(fields) = &mut document {
        fields.insert("setup".to_owned(), open.setup().number.into());
    }
    output.answer(&document, &told(&survey).join("\n"))?;
    Ok(Outcome::Done)
}

fn pitch(degrees: f64) -> Result<Angle, CliError> {
    if degrees.abs() <= 30.0 {
        Ok(Angle::from_degrees(degrees))
    } else {
        Err(CliError::Use("--to is a pitch at mid stick: write degrees between -30 and 30".into()))
    }
}

/// The advice as a document.
pub(in crate::cli) fn document(survey: &LinkSurvey) -> Value {
    let turned = |turned: Turned| {
        json!({
            "half_turns_raising": turned.half_turns,
            "half_turns_longer": survey.longer(turned.half_turns),
            "expected_deg": turned.pitch,
            "residual_deg": turned.pitch - survey.to,
        })
    };
    let blades: Vec<Value> = survey
        .blades
        .iter()
        .map(|link| {
            json!({
                "blade": link.blade,
                "now_deg": link.advice.now,
                "now_expanded_uncertainty_deg": link.now.expanded().expanded,
                "turn": turned(link.advice.turn),
                "expected_expanded_uncertainty_deg": link.then.expanded().expanded,
                "next_best": turned(link.advice.next_best),
                "degrees_per_half_turn": survey.geometry.per_half_turn(link.advice.now),
            })
        })
        .collect();
    json!({
        "target_deg": survey.to,
        "blades": blades,
        "nearest_seat_may_leave_deg": survey.too_coarse(),
        "track_split_after_deg": survey.split_then(),
        "measured_degrees_per_half_turn": survey.geometry.measured.map(|measured| measured.raises),
        "measured_standard_uncertainty_deg": survey.geometry.measured.map(|measured| measured.u),
        "lengthening_contradicts_description": survey.contradicted,
    })
}

/// The advice as lines.
pub(in crate::cli) fn told(survey: &LinkSurvey) -> Vec<String> {
    let mut lines: Vec<String> = survey.blades.iter().map(|link| blade_line(survey, link)).collect();
    lines
        .extend(survey.split_then().map(|split| format!("Then the blades differ by {:.2}° at most.", split.degrees())));
    lines.push(basis(survey));
    lines.extend(survey.too_coarse().map(|off| {
        format!(
            "From one seat to the next is {:.2}°: the nearest may leave a blade up to {:.2}° off, more than the {:.2}° that the \
             description allows. Nearer than that only a finer thread or a longer arm can bring it.",
            2.0 * off.degrees(),
            off.degrees(),
            survey.tolerance.degrees()
        )
    }));
    if survey.contradicted {
        lines.push(
            "The head's description says the opposite of what was seen when a link was turned: what was seen counts here; mend \
             `lengthening` in the description, or look whether the half-turns were recorded the right way round."
                .to_owned(),
        );
    }
    if survey.lengthening.is_none() {
        lines.push(
            "Whether a longer link raises or lowers the pitch is not known: turn by one, see, and say so in the head's \
             description (lengthening)."
                .to_owned(),
        );
    }
    lines
}

fn blade_line(survey: &LinkSurvey, link: &BladeLink) -> String {
    let now = with_uncertainty(link.advice.now, link.now.expanded().expanded);
    let next = link.advice.next_best;
    let next = format!("next best: {} leaves {}", survey.how(next.half_turns), next.pitch);
    if link.advice.turn.half_turns == 0 {
        return format!("blade {} stands at {now}: leave its link as it is ({next})", link.blade);
    }
    let then = with_uncertainty(link.advice.turn.pitch, link.then.expanded().expanded);
    format!(
        "blade {} stands at {now}: turn its link {}, which leaves it at {then} ({next}){}",
        link.blade,
        survey.how(link.advice.turn.half_turns),
        recorded_with(survey, link)
    )
}

/// The words that record the turn, where it is known which way it lengthens the link.
fn recorded_with(survey: &LinkSurvey, link: &BladeLink) -> String {
    survey
        .longer(link.advice.turn.half_turns)
        .map_or_else(String::new, |longer| format!("; then `clinoblade adjust link {} {longer:+}`", link.blade))
}

fn basis(survey: &LinkSurvey) -> String {
    match survey.geometry.measured {
        Some(measured) => format!(
            "A half-turn moves a blade by {:.2}° ± {:.2}°, as it was seen to do.",
            measured.raises.degrees(),
            2.0 * measured.u.degrees()
        ),
        None => format!(
            "A half-turn moves a blade by {:.2}°, by the thread and the arm of {} mm in the head's description.",
            survey.geometry.per_half_turn(survey.to).degrees(),
            survey.geometry.arm.value()
        ),
    }
}
