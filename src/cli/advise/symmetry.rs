//! `advise symmetry`: one direction of an axis against the other.

use super::{CliError, Common, Outcome, Output, end_point, trust};
use crate::advice;
use crate::bench::OpenSetup;
use crate::cli::parsed;
use crate::cli::setting::setup;
use crate::record::{Balance, TooFar, TravelSurvey};
use crate::rotor::Axis;
use crate::units::{Angle, Percent};
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
    #[arg(value_parser = parsed::<Axis>)]
    axis: Option<Axis>,

    /// Where the end points stood before the first one that was recorded
    #[arg(long, value_name = "PERCENT", value_parser = end_point)]
    end_point: Option<Percent>,

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
    let balances = axes.into_iter().filter_map(|axis| Balance::new(&record, axis));
    let (documents, lines): (Vec<Value>, Vec<String>) =
        balances.map(|balance| described(&open, &balance, args.end_point)).unzip();
    if lines.is_empty() {
        let what =
            "no axis has both directions captured as a travel that still holds: capture neutral, one end and the other";
        return Err(CliError::Measurement(what.to_owned()));
    }
    output.answer(&json!({ "setup": open.setup().number, "axes": documents }), &lines.join("\n"))?;
    Ok(Outcome::Done)
}

fn described(open: &OpenSetup, balance: &Balance, before: Option<Percent>) -> (Value, String) {
    let far = balance.too_far();
    // Bringing the long end down to what the short one allows needs its curve; where there is none, the neutral is advice enough.
    let survey = far.and_then(|far| TravelSurvey::new(&open.setup().head, open.entries(), far.end, before).ok());
    let output = survey.as_ref().zip(far).and_then(|(survey, far)| survey.output_for(far.end, far.even).ok());
    let [one, other] = balance.ends;
    let symmetry = balance.symmetry.as_ref();
    let toward = symmetry.map(|symmetry| balance.ends[usize::from(symmetry.neutral_shift <= Angle::ZERO)].direction());
    let document = json!({
        "axis": one.axis(),
        "difference_deg": balance.travels[0].angle - balance.travels[1].angle,
        "wanted_deg": symmetry.map(|symmetry| symmetry.wanted),
        "expanded_uncertainty_deg": symmetry.map(|symmetry| symmetry.expanded),
        "significant": far.is_some(),
        "bound": balance.bound,
        "neutral_shift_deg": symmetry.map(|symmetry| symmetry.neutral_shift),
        "neutral_shift_direction": toward,
        "end_point": output.as_ref().zip(far).map(|(found, far)| json!({
            "direction": far.end.direction(),
            "set_percent": found.whole,
            "expected_deg": found.angle,
            "expanded_uncertainty_deg": found.budget.expanded().expanded,
            "end_point_assumed": survey.as_ref().is_some_and(TravelSurvey::assumes_end_points),
        })),
    });
    let [a, b] = &balance.travels;
    let travels = format!("{}: {} {a}, {} {b}.", one.axis(), one.direction(), other.direction());
    let mut text = format!("{travels} {}", advised(balance, far, output.as_ref()));
    text.extend(survey.filter(|_| output.is_some()).and_then(|survey| trust(&survey)).map(|trust| format!(" {trust}")));
    (document, text)
}

/// What to do about the difference.
fn advised(balance: &Balance, far: Option<TooFar>, output: Option<&advice::Output>) -> String {
    let Some(symmetry) = &balance.symmetry else {
        return "The head's description wants no more of these ends than to stay under ceilings that differ: nothing to \
                balance."
            .to_owned();
    };
    let Some(far) = far else {
        let u = symmetry.expanded.degrees();
        return format!("No difference from what is wanted beyond its uncertainty (± {u:.2}°).");
    };
    let lower = match output {
        Some(found) => format!(
            "or take {} from {} back: end point {:.0} %, which gives {} ± {:.2}°.",
            far.end,
            far.travel,
            found.whole.value(),
            found.angle,
            found.budget.expanded().expanded.degrees()
        ),
        None => format!("or lower the end point of {}.", far.end),
    };
    let bind = if balance.bound {
        " One of these ends stops short of a bind: let no end go further than it does now."
    } else {
        ""
    };
    format!("{far}; {lower}{bind}")
}
