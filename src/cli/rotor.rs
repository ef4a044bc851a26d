//! `rotor`: collectives, droop, swashplate tilt and the lean of the shaft, from readings round the turn.

use super::setting::setup;
use super::{CliError, Common, Outcome, Output};
use crate::cli::parsed;
use crate::record::{PhaseSurvey, RotorSurvey};
use crate::report::pictures;
use crate::rotor::{
    AxisPhase, Deflection, PhaseError, PhaseFinding, Readings, Rotation, RotorReading, RotorSolution, solve,
};
use crate::stream::file;
use crate::units::Angle;
use crate::words::{Face, Say, rotor};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Arguments of `rotor`.
#[derive(Debug, clap::Args)]
#[command(after_help = rotor::ROTOR_HELP)]
pub(super) struct Args {
    /// Read this table instead of the captures of a setup
    #[arg(long, value_name = "FILE.csv", conflicts_with_all = ["setup", "at"])]
    readings: Option<PathBuf>,

    /// Which way the rotor turns, seen from above, where the table does not say it
    #[arg(long, value_name = "clockwise|anticlockwise", requires = "readings", value_parser = parsed::<Rotation>)]
    rotation: Option<Rotation>,

    /// Work on this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    /// Use the captures of this stick position [default: every stick at its centre]
    #[arg(long, value_name = "AXIS DIRECTION", value_parser = parsed::<Deflection>)]
    at: Option<Deflection>,

    /// Amplitude and phase of elevator and aileron instead, from their full ends at several stations
    #[arg(long, conflicts_with_all = ["readings", "at", "plot"])]
    phase: bool,

    /// Draw pitch against azimuth, measured and fitted
    #[arg(long, value_name = "FILE.svg")]
    plot: Option<PathBuf>,
}

/// What was solved, from wherever its readings came.
struct Solved {
    readings: Vec<RotorReading>,
    solution: RotorSolution,
    numbered: bool,
    setup: Option<u32>,
    moved_since: bool,
}

/// Solves and prints.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    if args.phase {
        return phase(&args, common, output).await;
    }
    let solved = match &args.readings {
        Some(path) => from_table(path, args.rotation)?,
        None => from_setup(&args, common).await?,
    };
    if let Some(path) = &args.plot {
        let picture =
            pictures::azimuth(&solved.readings, &solved.solution, |blade| rotor::blade_name(blade, solved.numbered));
        crate::bench::written::over(path, &picture.svg()).map_err(CliError::file(path))?;
    }
    let mut document = solved.solution.document(solved.numbered);
    if let (serde_json::Value::Object(fields), Some(setup)) = (&mut document, solved.setup) {
        fields.insert("setup".to_owned(), setup.into());
        fields.insert("moved_since".to_owned(), solved.moved_since.into());
    }
    let mut text = rotor::solution(&solved.readings, &solved.solution, solved.numbered);
    if solved.moved_since {
        text = format!("{text}\n{}", rotor::MOVED_SINCE);
    }
    output.answer(&document, &text)?;
    Ok(if solved.solution.unobservable().is_empty() { Outcome::Done } else { Outcome::SaysNo })
}

fn from_table(path: &Path, rotation: Option<Rotation>) -> Result<Solved, CliError> {
    let name = path.display();
    let text = file::read_text(path, file::MOST_OF_A_TABLE).map_err(|source| match source.kind() {
        std::io::ErrorKind::InvalidData => CliError::Use(rotor::not_a_table(&name.to_string())),
        _ => CliError::File { path: name.to_string(), source },
    })?;
    let table = Readings::from_csv(&text, rotation).map_err(|error| CliError::about(&name, &error))?;
    let solution = solve(&table.readings, table.rotation).map_err(|error| CliError::about(&name, &error))?;
    Ok(Solved { readings: table.readings, solution, numbered: table.numbered, setup: None, moved_since: false })
}

async fn from_setup(args: &Args, common: &Common) -> Result<Solved, CliError> {
    let open = setup(args.setup, common).await?;
    let survey = RotorSurvey::new(&open.setup().head, open.entries(), args.at)?;
    let setup = Some(open.setup().number);
    let RotorSurvey { readings, solution, moved_since, .. } = survey;
    Ok(Solved { readings, solution, numbered: false, setup, moved_since })
}

async fn phase(args: &Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let open = setup(args.setup, common).await?;
    let survey = PhaseSurvey::new(&open.setup().head, open.entries());
    let pair = survey.pair;
    let linkage = pair.map(|pair| pair.say(Face::Terminal));
    let answer = PhaseAnswer {
        setup: open.setup().number,
        elevator: AxisAnswer::new(&survey.elevator),
        aileron: AxisAnswer::new(&survey.aileron),
        skew_deg: pair.map(|pair| pair.skew().0),
        mean_phase_deg: pair.map(|pair| pair.mean().0),
        finding: pair.map(|pair| pair.finding()),
        linkage: linkage.clone(),
    };
    let lines: Vec<String> =
        [answer.elevator.says.clone(), answer.aileron.says.clone()].into_iter().chain(linkage).collect();
    output.answer(&answer, &lines.join("\n"))?;
    Ok(if pair.is_some() { Outcome::Done } else { Outcome::SaysNo })
}

#[derive(Serialize)]
struct PhaseAnswer {
    setup: u32,
    elevator: AxisAnswer,
    aileron: AxisAnswer,
    skew_deg: Option<Angle>,
    mean_phase_deg: Option<Angle>,
    finding: Option<PhaseFinding>,
    linkage: Option<String>,
}

/// One axis; no figures, but the reason, where its captures do not tell it.
#[derive(Serialize)]
struct AxisAnswer {
    amplitude_deg: Option<Angle>,
    amplitude_standard_uncertainty_deg: Option<Angle>,
    phase_deg: Option<Angle>,
    phase_standard_uncertainty_deg: Option<Angle>,
    leak_deg: Option<Angle>,
    leak_standard_uncertainty_deg: Option<Angle>,
    residual_rms_deg: Option<Angle>,
    says: String,
}

impl AxisAnswer {
    fn new(axis: &Result<AxisPhase, PhaseError>) -> Self {
        let figure = |of: fn(&AxisPhase) -> Angle| axis.as_ref().ok().map(of);
        Self {
            amplitude_deg: figure(|p| p.amplitude),
            amplitude_standard_uncertainty_deg: figure(|p| p.u_amplitude),
            phase_deg: figure(|p| p.phase),
            phase_standard_uncertainty_deg: figure(|p| p.u_phase),
            leak_deg: figure(|p| p.leak),
            leak_standard_uncertainty_deg: figure(|p| p.u_leak),
            residual_rms_deg: figure(|p| p.residual_rms),
            says: axis.as_ref().map_or_else(|why| why.say(Face::Terminal), |phase| phase.say(Face::Terminal)),
        }
    }
}
