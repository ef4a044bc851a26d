//! `advise collective`: pitch against stick, how straight it is, and the outputs for wanted ends.

use super::{Captured, CliError, Common, Found, Outcome, end_point, sought};
use crate::advice::Output;
use crate::cli::parsed;
use crate::cli::setting::setup;
use crate::record::{CollectiveSurvey, MidPitch, PitchPoint, TravelSurveyError};
use crate::report::pictures;
use crate::rotor::{Collective, Deflection};
use crate::uncertainty::Target;
use crate::units::{Angle, Percent};
use crate::words::advice::{self as words, COLLECTIVE_HELP, WantedOf};
use crate::words::{Face, Say};
use serde::Serialize;
use std::path::PathBuf;
use uuid::Uuid;

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
pub(super) async fn run(args: Args, common: &Common, output: &super::Output) -> Result<Outcome, CliError> {
    let open = setup(args.setup, common).await?;
    let head = &open.setup().head;
    let survey = CollectiveSurvey::new(head, open.entries(), args.end_point)?;
    if let Some(path) = &args.plot {
        let failed = CliError::file(path);
        crate::bench::written::over(path, &pictures::collective(&survey, head).svg()).map_err(failed)?;
    }
    let record = open.record();
    let mid = MidPitch::of(&record, survey.travel.blade);
    let pitches = survey.pitches(head, &record);
    let mut lines = words::collective(&survey, mid.as_ref(), &pitches);
    let mut advice = Vec::new();
    for (end, asked) in [(Collective::Low, args.low), (Collective::High, args.high)] {
        let deflection = Deflection::Collective(end);
        let exactly = |pitch: Angle| Target::Band { target: pitch, tolerance: Angle::ZERO };
        let (wanted, movement) = match (asked, head.target(deflection)) {
            (Some(pitch), _) => (WantedOf::Angle(pitch), mid.as_ref().map(|mid| exactly(pitch - mid.pitch))),
            (None, Some(target)) => {
                (WantedOf::Description(target), survey.travel.wanted_movement(&record, deflection, target))
            }
            (None, None) => continue,
        };
        let wanted_deg = asked.or_else(|| head.target(deflection).map(|target| sought(deflection, target)));
        let found = movement.map(|movement| survey.travel.output_within(deflection, movement));
        lines.push(words::collective_end(&survey, end, wanted, mid.as_ref(), found.as_ref()));
        // A refusal is an answer too, so that the other end is not lost with it.
        advice.push(EndAnswer::new(&survey, deflection, wanted_deg.unwrap_or_default(), mid.as_ref(), found));
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
        zero_deg: mid.as_ref().map(|mid| mid.pitch),
        zero_expanded_uncertainty_deg: mid.as_ref().map(|mid| mid.expanded),
        zero_free_of_lean: mid.as_ref().map(|mid| mid.free_of_lean),
        pitches: pitches.into_iter().map(PitchAnswer::from).collect(),
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
    zero_deg: Option<Angle>,
    zero_expanded_uncertainty_deg: Option<Angle>,
    zero_free_of_lean: Option<bool>,
    pitches: Vec<PitchAnswer>,
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

/// One place of the stick as pitch.
#[derive(Serialize)]
struct PitchAnswer {
    capture: Option<Uuid>,
    stick_percent: Percent,
    pitch_deg: Angle,
    expanded_uncertainty_deg: Angle,
    target_deg: Option<Angle>,
    tolerance_deg: Option<Angle>,
    verdict: Option<&'static str>,
}

impl From<PitchPoint> for PitchAnswer {
    fn from(point: PitchPoint) -> Self {
        let target = point.judged.as_ref().map(|(target, _)| *target);
        Self {
            capture: point.capture,
            stick_percent: point.stick,
            pitch_deg: point.pitch,
            expanded_uncertainty_deg: point.expanded,
            target_deg: target.map(Target::value),
            tolerance_deg: target.and_then(Target::tolerance),
            verdict: point.judged.as_ref().map(|(_, verdict)| verdict.word()),
        }
    }
}

#[derive(Serialize)]
#[serde(untagged)]
enum EndAnswer {
    Found {
        #[serde(flatten)]
        found: Found,
        /// The movement from mid stick that makes this pitch.
        movement_deg: Angle,
    },
    Refused {
        direction: String,
        wanted_deg: Angle,
        refused: String,
    },
}

impl EndAnswer {
    fn new(
        survey: &CollectiveSurvey,
        end: Deflection,
        wanted_deg: Angle,
        mid: Option<&MidPitch>,
        found: Option<Result<Output, TravelSurveyError>>,
    ) -> Self {
        let refused = |refused| Self::Refused { direction: end.direction(), wanted_deg, refused };
        match (found, mid) {
            (Some(Ok(found)), Some(mid)) => {
                let (expected_deg, expanded_uncertainty_deg) = mid.after(found.angle, &found.budget);
                let movement_deg = found.angle;
                let found = Found::new(&survey.travel, end, wanted_deg, &found);
                Self::Found { found: Found { expected_deg, expanded_uncertainty_deg, ..found }, movement_deg }
            }
            (Some(Err(why)), _) => refused(why.say(Face::Terminal)),
            _ => refused(words::pitch_not_known(end)),
        }
    }
}
