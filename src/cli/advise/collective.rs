//! `advise collective`: pitch against stick, how straight it is, and the outputs for wanted ends.

use super::{Captured, CliError, Common, Found, Outcome, Output, end_point, sought};
use crate::cli::parsed;
use crate::cli::setting::setup;
use crate::record::CollectiveSurvey;
use crate::report::pictures;
use crate::rotor::{Collective, Deflection};
use crate::units::{Angle, Percent};
use crate::words::advice::{self as words, COLLECTIVE_HELP, WantedOf};
use crate::words::{Face, Say};
use serde::Serialize;
use std::path::PathBuf;

/// Arguments of `advise collective`.
#[derive(Debug, clap::Args)]
#[command(after_help = COLLECTIVE_HELP)]
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
        crate::bench::written::over(path, &pictures::collective(&survey, head).svg()).map_err(failed)?;
    }
    let mut lines = words::collective(&survey);
    let mut advice = Vec::new();
    for (end, asked) in [(Collective::Low, args.low), (Collective::High, args.high)] {
        let deflection = Deflection::Collective(end);
        let target = head.target(deflection);
        let (wanted, found) = match (asked, target) {
            (Some(wanted), _) => (WantedOf::Angle(wanted), survey.travel.output_for(deflection, wanted)),
            (None, Some(target)) => (WantedOf::Description(target), survey.travel.output_within(deflection, target)),
            (None, None) => continue,
        };
        let wanted_deg = asked.or_else(|| target.map(|target| sought(deflection, target))).unwrap_or_default();
        lines.push(words::collective_end(&survey, end, wanted, &found));
        // A refusal is an answer too, so that the other end is not lost with it.
        advice.push(match found {
            Ok(found) => EndAnswer::Found(Found::new(&survey.travel, deflection, wanted_deg, &found)),
            Err(why) => {
                EndAnswer::Refused { direction: deflection.direction(), wanted_deg, refused: why.say(Face::Terminal) }
            }
        });
    }
    let off_the_line = survey.off_the_line.iter().map(|point| PointAnswer {
        stick_percent: point.stick,
        by_deg: point.by,
        expanded_uncertainty_deg: point.expanded,
        bent: point.is_significant(),
    });
    let answer = Answer {
        setup: open.setup().number,
        captured: Captured::new(&survey.travel),
        off_the_line: off_the_line.collect(),
        asymmetry_deg: survey.symmetry.as_ref().map(|s| s.difference),
        asymmetry_expanded_uncertainty_deg: survey.symmetry.as_ref().map(|s| s.expanded),
        advice,
    };
    output.answer(&answer, &lines.join("\n"))?;
    Ok(Outcome::Done)
}

#[derive(Serialize)]
struct Answer {
    setup: u32,
    #[serde(flatten)]
    captured: Captured,
    off_the_line: Vec<PointAnswer>,
    asymmetry_deg: Option<Angle>,
    asymmetry_expanded_uncertainty_deg: Option<Angle>,
    advice: Vec<EndAnswer>,
}

#[derive(Serialize)]
struct PointAnswer {
    stick_percent: Percent,
    by_deg: Angle,
    expanded_uncertainty_deg: Angle,
    bent: bool,
}

#[derive(Serialize)]
#[serde(untagged)]
enum EndAnswer {
    Found(Found),
    Refused { direction: String, wanted_deg: Angle, refused: String },
}
