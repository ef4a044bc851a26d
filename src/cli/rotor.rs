//! `rotor`: collectives, droop, swashplate tilt and the lean of the shaft, from readings round the turn.

use super::setting::setup;
use super::{CliError, Common, Outcome, Output};
use crate::cli::parsed;
use crate::record::{PhaseSurvey, RotorSurvey};
use crate::report::pictures;
use crate::rotor::{
    AxisPhase, BladeName, Clip, Deflection, Estimate, PhaseError, Readings, Rotation, RotorReading, RotorSolution,
    SolutionError, Unknown, solve,
};
use crate::units::Angle;
use std::path::{Path, PathBuf};

/// Arguments of `rotor`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade rotor                                   from the captures of the open setup, all sticks centred
  clinoblade rotor --at \"collective high\" --plot rotor.svg
  clinoblade rotor --readings round.csv --rotation clockwise --json
  clinoblade rotor --phase                           where round the turn elevator and aileron act

A table has the columns blade, station_deg, clip, apparent_deg, span_deg and may have u_apparent_deg, u_span_deg; above its
header it may say '# rotation=clockwise'. Uncertainties that are both empty or both 0 count as not known; then give none at all. A helicopter need not stand level: four stations a quarter turn apart, or three a
third apart, tell the lean of the shaft from the tilt of the swashplate.")]
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
        let picture = pictures::azimuth(&solved.readings, &solved.solution, |blade| name(blade, solved.numbered));
        super::written::over(path, &picture.svg()).map_err(CliError::file(path))?;
    }
    let mut document = solved.solution.document(solved.numbered);
    if let (serde_json::Value::Object(fields), Some(setup)) = (&mut document, solved.setup) {
        fields.insert("setup".to_owned(), setup.into());
    }
    output.answer(&document, &told(&solved))?;
    Ok(if solved.solution.unobservable().is_empty() { Outcome::Done } else { Outcome::SaysNo })
}

fn from_table(path: &Path, rotation: Option<Rotation>) -> Result<Solved, CliError> {
    let name = path.display();
    let text = std::fs::read_to_string(path).map_err(|source| match source.kind() {
        std::io::ErrorKind::InvalidData => {
            CliError::Use(format!("{name} is no table of readings: it is not text. Save the sheet as CSV (UTF-8)"))
        }
        _ => CliError::File { path: name.to_string(), source },
    })?;
    let table = Readings::from_csv(&text, rotation).map_err(|error| CliError::Use(format!("{name}: {error}")))?;
    let solution = solve(&table.readings, table.rotation).map_err(|error| match error {
        SolutionError::Unsettled => CliError::Measurement(format!("{name}: {error}")),
        wrong => CliError::Use(format!("{name}: {wrong}")),
    })?;
    Ok(Solved { readings: table.readings, solution, numbered: table.numbered, setup: None })
}

async fn from_setup(args: &Args, common: &Common) -> Result<Solved, CliError> {
    let open = setup(args.setup, common).await?;
    let survey = RotorSurvey::new(&open.setup().head, open.entries(), args.at)?;
    let setup = Some(open.setup().number);
    Ok(Solved { readings: survey.readings, solution: survey.solution, numbered: false, setup })
}

async fn phase(args: &Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let open = setup(args.setup, common).await?;
    let survey = PhaseSurvey::new(&open.setup().head, open.entries());
    let said = |axis: &Result<AxisPhase, PhaseError>| match axis {
        Ok(phase) => phase.to_string(),
        Err(error) => error.to_string(),
    };
    let mut lines = vec![said(&survey.elevator), said(&survey.aileron)];
    lines.extend(survey.pair.map(|pair| pair.to_string()));
    let document = serde_json::json!({
        "setup": open.setup().number,
        "elevator": phase_document(&survey.elevator),
        "aileron": phase_document(&survey.aileron),
        "skew_deg": survey.pair.map(|pair| pair.skew().0),
        "mean_phase_deg": survey.pair.map(|pair| pair.mean().0),
        "linkage": survey.pair.map(|pair| pair.to_string()),
    });
    output.answer(&document, &lines.join("\n"))?;
    Ok(if survey.pair.is_some() { Outcome::Done } else { Outcome::SaysNo })
}

/// One axis; `null` figures with the reason where its captures do not tell it.
fn phase_document(axis: &Result<AxisPhase, PhaseError>) -> serde_json::Value {
    let known = axis.as_ref().ok();
    let figure = |of: fn(&AxisPhase) -> Angle| known.map(of);
    serde_json::json!({
        "amplitude_deg": figure(|p| p.amplitude),
        "amplitude_standard_uncertainty_deg": figure(|p| p.u_amplitude),
        "phase_deg": figure(|p| p.phase),
        "phase_standard_uncertainty_deg": figure(|p| p.u_phase),
        "leak_deg": figure(|p| p.leak),
        "leak_standard_uncertainty_deg": figure(|p| p.u_leak),
        "residual_rms_deg": figure(|p| p.residual_rms),
        "says": axis.as_ref().map_or_else(ToString::to_string, ToString::to_string),
    })
}

fn told(solved: &Solved) -> String {
    let solution = &solved.solution;
    let mut lines = vec![format!(
        "shaft leans {} and {}",
        lean(solution, Unknown::Nose, "nose", "tail"),
        lean(solution, Unknown::Left, "left", "right")
    )];
    for blade in &solution.blades {
        let name = name(blade.blade, solved.numbered);
        lines.push(format!(
            "blade {name}: collective {}, droop {} (tip up positive)",
            figure(blade.collective),
            figure(blade.droop)
        ));
    }
    if let Some(first) = solution.blades.first() {
        for blade in &solution.blades {
            if let Some(split) = blade.split {
                let (first, other) = (name(first.blade, solved.numbered), name(blade.blade, solved.numbered));
                lines.push(format!(
                    "track split {first} less {other}: {} (positive: blade {first} stands higher; `track` and `check` say {other} \
                     less {first})",
                    figure(split)
                ));
            }
        }
    }
    lines.push(swash(solution));
    for (unknown, what) in [
        (Unknown::ClipOffset, "clip's offset about the span"),
        (Unknown::ClipSpanOffset, "clip's offset about the chord"),
    ] {
        lines.extend(solution.get(unknown).map(|estimate| format!("{what} {}", figure(estimate))));
    }
    lines.push(fit(solved));
    lines.extend(unobservable(solved));
    lines.join("\n")
}

fn name(blade: BladeName, numbered: bool) -> String {
    if numbered { (blade.index() + 1).to_string() } else { blade.to_string() }
}

/// Value and expanded uncertainty at k = 2; `not known` where the readings do not tell it.
fn figure(estimate: Estimate) -> String {
    match estimate.known() {
        Some(value) => super::document::with_uncertainty(value, estimate.standard_error * 2.0),
        None => "not known".to_owned(),
    }
}

fn lean(solution: &RotorSolution, unknown: Unknown, to: &str, away: &str) -> String {
    let Some(estimate) = solution.get(unknown) else { return String::new() };
    match estimate.known() {
        Some(value) if value < Angle::ZERO => {
            format!("{} to the {away}", figure(Estimate { value: -value, ..estimate }))
        }
        Some(_) => format!("{} to the {to}", figure(estimate)),
        None => format!("to {to} or {away} by what is not known"),
    }
}

fn swash(solution: &RotorSolution) -> String {
    match (solution.swash(), solution.get(Unknown::Cos), solution.get(Unknown::Sin)) {
        (Some((amplitude, azimuth)), Some(cos), Some(sin)) => {
            let u = cos.standard_error.hypot(sin.standard_error) / std::f64::consts::SQRT_2;
            let figure = super::document::with_uncertainty(amplitude, u * 2.0);
            if amplitude > u * 2.0 {
                format!("swashplate tilt {figure}, pitch greatest at {:.0}° from the boom", azimuth.degrees())
            } else {
                format!("swashplate tilt {figure}: square to the shaft as far as these readings tell")
            }
        }
        _ => "swashplate tilt: not known".to_owned(),
    }
}

fn fit(solved: &Solved) -> String {
    let solution = &solved.solution;
    let readings = solved.readings.len();
    let said = format!(
        "{readings} {}, {} degrees of freedom, residuals {:.3}° rms; ± is for about 95 % (k = 2)",
        if readings == 1 { "reading" } else { "readings" },
        solution.degrees_of_freedom,
        solution.residual_rms.degrees()
    );
    if !solution.misfit {
        return said;
    }
    let size = |k: &usize| solution.residuals.get(*k).map_or(0.0, |r| r.apparent.hypot(r.span).radians());
    let worst = (0..readings).max_by(|a, b| size(a).total_cmp(&size(b)));
    let worst = worst.and_then(|k| solved.readings.get(k)).map_or_else(String::new, |r| {
        format!(" Look first at blade {} at {}.", name(r.blade, solved.numbered), r.station)
    });
    format!(
        "{said}\nThe readings scatter by more than their uncertainties explain: a misread station, a clip that moved, a model \
         that was moved, or binding.{worst}"
    )
}

/// What is not known, and the readings that would tell it.
fn unobservable(solved: &Solved) -> Option<String> {
    let hidden = solved.solution.unobservable();
    if hidden.is_empty() {
        return None;
    }
    let hidden: Vec<String> = hidden.iter().map(ToString::to_string).collect();
    let wanted: Vec<String> = solved
        .solution
        .suggestions
        .iter()
        .map(|s| {
            let clip = if s.clip == Clip::Reversed { ", clip reversed" } else { "" };
            format!("blade {} at station {}{clip}", name(s.blade, solved.numbered), s.station)
        })
        .collect();
    Some(format!(
        "These readings do not tell {}: the lean of the shaft and the tilt of the swashplate look alike in them. Read {} as \
         well.",
        hidden.join(", "),
        if wanted.is_empty() { "more stations".to_owned() } else { wanted.join(" and ") }
    ))
}
