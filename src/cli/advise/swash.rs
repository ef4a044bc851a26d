//! `advise swash`: which servo's link levels the swashplate at stick centre.

use super::{CliError, Common, Outcome, Output};
use crate::cli::setting::setup;
use crate::record::{Advice, CellName, LevelPlate, Verdict, remedy};
use crate::units::Angle;
use crate::words::advice::{self as words, SWASH_HELP};
use crate::words::record::consequence;
use crate::words::{Face, Say};
use serde::Serialize;

/// Arguments of `advise swash`.
#[derive(Debug, clap::Args)]
#[command(after_help = SWASH_HELP)]
pub(super) struct Args {
    /// Work on this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,
}

/// Prints what levels the plate.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let open = setup(args.setup, common).await?;
    let record = open.record();
    let not_read = || CliError::Measurement(words::PLATE_NOT_READ.to_owned());
    let cell = record.cell(CellName::SwashLevel).ok_or_else(not_read)?;
    let (tilt_deg, expanded_uncertainty_deg) = cell.judged().ok_or_else(not_read)?;
    let answer = |level_plate| Answer {
        setup: open.setup().number,
        tilt_deg,
        expanded_uncertainty_deg,
        verdict: cell.verdict.word(),
        level_plate,
    };
    match remedy(&open.setup().head, open.entries(), &record, cell) {
        _ if cell.verdict == Verdict::Inside => output.answer(&answer(None), &words::plate_is_level(cell))?,
        Some(Advice::LevelPlate(level)) => {
            let said = words::plate_leans(cell, &level);
            output.answer(&answer(Some(level)), &said)?;
        }
        Some(other) => return Err(CliError::Measurement(other.say(Face::Terminal))),
        None => {
            let why = cell.question.as_ref().map(|question| question.say(Face::Terminal));
            let why = why.or_else(|| consequence(cell, Face::Terminal));
            return Err(why.map_or_else(not_read, CliError::Measurement));
        }
    }
    Ok(Outcome::Done)
}

#[derive(Serialize)]
struct Answer {
    setup: u32,
    tilt_deg: Angle,
    expanded_uncertainty_deg: Angle,
    verdict: &'static str,
    level_plate: Option<LevelPlate>,
}
