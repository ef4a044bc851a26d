//! `advise travel`: the output of one direction for a wanted angle.

use super::{Captured, CliError, Common, Found, Outcome, Output, end_point, sought};
use crate::cli::parsed;
use crate::cli::setting::setup;
use crate::record::{CellName, LimitRecord, TravelSurvey, TravelSurveyError, Verdict};
use crate::rotor::{Axis, Deflection};
use crate::uncertainty::{Component, Target};
use crate::units::{Angle, Percent};
use crate::words::Face;
use crate::words::advice::{self as words, TRAVEL_HELP, WantedOf};
use crate::words::uncertainty::explained;
use serde::Serialize;
use std::collections::BTreeMap;

/// Arguments of `advise travel`.
#[derive(Debug, clap::Args)]
#[command(after_help = TRAVEL_HELP)]
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
    let described = head.target(direction).filter(|_| args.to.is_none());
    let by_pitch = matches!(direction.axis(), Axis::Rudder | Axis::Collective);
    // Of rudder and collective the description wants a pitch; the end point chooses the movement to it.
    let target = match described {
        Some(pitch) if by_pitch => {
            let record = open.record();
            let known = survey.wanted_movement(&record, direction, pitch);
            Some(known.ok_or_else(|| CliError::Use(words::pitch_not_known(direction)))?)
        }
        other => other,
    };
    let (wanted, found) = match (args.to, target) {
        (Some(to), _) => (WantedOf::Angle(to), survey.output_for(direction, to)?),
        (None, Some(target)) => match survey.output_within(direction, target) {
            Ok(found) => (
                described
                    .filter(|_| by_pitch)
                    .map_or(WantedOf::Description(target), |pitch| WantedOf::Pitch(pitch, target)),
                found,
            ),
            Err(why) => return nothing_to_set(&open.record(), direction, target, why, output),
        },
        (None, None) => return Err(CliError::Use(words::nothing_wanted(direction))),
    };
    let wanted_deg = args.to.or_else(|| target.map(|target| sought(direction, target)));
    let answer = Answer {
        setup: open.setup().number,
        axis: direction.axis(),
        found: Found::new(&survey, direction, wanted_deg.unwrap_or_default(), &found),
        wanted_pitch_deg: described.filter(|_| by_pitch).map(|pitch| sought(direction, pitch)),
        components: found.budget.components(),
        captured: Captured::new(&survey),
    };
    let mut text = words::travel(&survey, direction, &found, wanted);
    if args.explain {
        text = format!("{text}\n{}", explained(&found.budget, Face::Terminal));
    }
    output.answer(&answer, &text)?;
    Ok(Outcome::Done)
}

#[derive(Serialize)]
struct Answer {
    setup: u32,
    axis: Axis,
    #[serde(flatten)]
    found: Found,
    #[serde(skip_serializing_if = "Option::is_none")]
    wanted_pitch_deg: Option<Angle>,
    components: BTreeMap<Component, Angle>,
    #[serde(flatten)]
    captured: Captured,
}

/// An end that needs no other end point.
#[derive(Serialize)]
struct Stands {
    axis: Axis,
    direction: String,
    wanted_deg: Angle,
    stands_deg: Angle,
    expanded_uncertainty_deg: Angle,
    set_percent: Option<Percent>,
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
            let answer = Stands {
                axis: direction.axis(),
                direction: direction.direction(),
                wanted_deg: target.value(),
                stands_deg: value.angle,
                expanded_uncertainty_deg: value.expanded,
                set_percent: None,
            };
            output.answer(&answer, &words::nothing_to_set(direction, value.angle, value.expanded, target))?;
            Ok(Outcome::Done)
        }
        _ => Err(why.into()),
    }
}
