//! `advise link`: which pitch links to turn, and by how many half-turns.

use super::{CliError, Common, Outcome, Output};
use crate::advice::Turned;
use crate::cli::parsed;
use crate::cli::setting::setup;
use crate::record::{Adjustment, BothWays, LinkSurvey};
use crate::rotor::BladeName;
use crate::units::Angle;
use crate::words::advice::{LINK_HELP, NO_PITCH, links};
use serde::Serialize;

/// Arguments of `advise link`.
#[derive(Debug, clap::Args)]
#[command(after_help = LINK_HELP)]
pub(super) struct Args {
    /// One blade alone
    #[arg(long, value_parser = parsed::<BladeName>)]
    blade: Option<BladeName>,

    /// Where the blades shall stand at mid stick, degrees [default: the description's target]
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
    let answer = Links { setup: Some(open.setup().number), ..Links::new(&survey) };
    output.answer(&answer, &links(&survey))?;
    Ok(Outcome::Done)
}

fn pitch(degrees: f64) -> Result<Angle, CliError> {
    if degrees.abs() <= 30.0 { Ok(Angle::from_degrees(degrees)) } else { Err(CliError::Use(NO_PITCH.to_owned())) }
}

/// The advice as a document.
#[derive(Serialize)]
pub(in crate::cli) struct Links {
    #[serde(skip_serializing_if = "Option::is_none")]
    setup: Option<u32>,
    target_deg: Angle,
    blades: Vec<Blade>,
    nearest_seat_may_leave_deg: Option<Angle>,
    track_split_after_deg: Option<Angle>,
    track_split_after_expanded_uncertainty_deg: Option<Angle>,
    measured_degrees_per_half_turn: Option<Angle>,
    measured_standard_uncertainty_deg: Option<Angle>,
    lengthening_contradicts_description: bool,
}

#[derive(Serialize)]
struct Blade {
    blade: BladeName,
    now_deg: Angle,
    now_expanded_uncertainty_deg: Angle,
    turn: Turn,
    expected_expanded_uncertainty_deg: Angle,
    next_best: Option<Turn>,
    degrees_per_half_turn: Angle,
    /// How the turn is recorded once it was made.
    adjustment: Option<Adjustment>,
}

#[derive(Serialize)]
struct Turn {
    #[serde(flatten)]
    turns: BothWays,
    expected_deg: Angle,
    residual_deg: Angle,
}

impl Links {
    pub(in crate::cli) fn new(survey: &LinkSurvey) -> Self {
        let turn = |turned: Turned| Turn {
            turns: survey.half_turns(turned.half_turns),
            expected_deg: turned.pitch,
            residual_deg: turned.pitch - survey.to,
        };
        let blades = survey.blades.iter().map(|link| Blade {
            blade: link.blade,
            now_deg: link.advice.now,
            now_expanded_uncertainty_deg: link.now.expanded().expanded,
            turn: turn(link.advice.turn),
            expected_expanded_uncertainty_deg: link.then.expanded().expanded,
            next_best: link.advice.next_best.map(turn),
            adjustment: survey.turn(link).adjustment(),
            degrees_per_half_turn: survey.geometry.per_half_turn(link.advice.now),
        });
        let measured = survey.geometry.measured;
        Self {
            setup: None,
            target_deg: survey.to,
            blades: blades.collect(),
            nearest_seat_may_leave_deg: survey.too_coarse(),
            track_split_after_deg: survey.split_then(),
            track_split_after_expanded_uncertainty_deg: survey.split_expanded(),
            measured_degrees_per_half_turn: measured.map(|measured| measured.raises),
            measured_standard_uncertainty_deg: measured.map(|measured| measured.u),
            lengthening_contradicts_description: survey.contradicted,
        }
    }
}
