//! `sensor check`: the sensor's own health, from a record of it at rest.

use crate::cli::progress::ProgressLine;
use crate::cli::source::{Opened, SourceArgs};
use crate::cli::{CliError, Common, Outcome, Output};
use crate::report::pictures;
use crate::report::plot::Plot;
use crate::rotor::Rotation;
use crate::sensor::health::{Health, RestRecord};
use crate::sensor::verdict::{Finding, Grade};
use crate::units::{Sample, Seconds};
use crate::words::{Face, Say, sensor_commands as words};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Arguments of `sensor check`.
#[derive(Debug, clap::Args)]
#[command(after_help = words::CHECK_HELP)]
pub(super) struct Args {
    /// How long the sensor rests, seconds of the stream; a recording may be shorter
    #[arg(long = "for", value_name = "SECONDS", default_value_t = 30.0)]
    duration: f64,

    /// Write the Allan deviation as a plot
    #[arg(long, value_name = "FILE.svg")]
    plot: Option<PathBuf>,

    #[command(flatten)]
    source: SourceArgs,
}

/// Records, looks, and says what it found: exit code 1 when the sensor is not to be measured with.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    if !(args.duration > 0.0 && args.duration.is_finite()) {
        return Err(CliError::Use(words::must_be_above_zero("--for", "30")));
    }
    let saved = args.source.saved(common).await?;
    let mut opened = args.source.open(&saved, Rotation::Clockwise).await?;
    if !output.is_json() {
        output.say(&words::check::begin());
    }
    let samples = record(&mut opened, Seconds::new(args.duration), output).await?;
    let instrument = &opened.instrument;
    let profile = &instrument.profile;
    let health = Health::of(&RestRecord {
        samples: &samples,
        counters: opened.stream.counters(),
        calibration: &instrument.calibration,
        axes: profile.axes(),
        full_scale: profile.full_scale(),
        nominal_rate: profile.rate(),
        has_clock: profile.has_clock(),
    })?;
    if let Some(path) = &args.plot {
        write(path, &plot(&health).svg())?;
    }
    let floor = health.floor.filter(|_| health.grade() != Grade::Poor);
    let kept = match floor {
        Some(floor) => args.source.keep_floor(floor.deviation_deg, common).await?,
        None => false,
    };
    output.answer(&Document::of(&health, kept), &words::check::result(&health, kept))?;
    Ok(if health.grade() == Grade::Poor { Outcome::SaysNo } else { Outcome::Done })
}

async fn record(opened: &mut Opened, duration: Seconds, output: &Output) -> Result<Vec<Sample>, CliError> {
    let line = ProgressLine::new(output);
    let whole = duration.value();
    let mut samples: Vec<Sample> = Vec::new();
    let mut shown = -1.0;
    while let Some(sample) = opened.stream.next().await? {
        let begun = samples.first().map_or(sample.clock, |first| first.clock);
        if sample.clock - begun > duration {
            break;
        }
        let now = (sample.clock - begun).value();
        // Once a second of the stream is as often as anybody reads it.
        if now.floor() > shown {
            shown = now.floor();
            line.show(&bar(now / whole, &format!("{shown:.0} of {whole:.0} s")));
        }
        samples.push(sample);
    }
    opened.stream.save()?;
    Ok(samples)
}

/// A bar of forty cells, this part of it full, with what stands beside it.
fn bar(part: f64, beside: &str) -> String {
    let full = (40.0 * part.clamp(0.0, 1.0)) as usize;
    format!("{}{} {beside}", "█".repeat(full), "░".repeat(40 - full))
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    health: &'a Health,
    findings: Vec<Told<'a>>,
    grade: Grade,
    floor_kept: bool,
}

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    finding: &'a Finding,
    text: String,
}

impl<'a> Document<'a> {
    fn of(health: &'a Health, floor_kept: bool) -> Self {
        let findings = health.findings.iter().map(|finding| Told { finding, text: finding.say(Face::Terminal) });
        Self { health, findings: findings.collect(), grade: health.grade(), floor_kept }
    }
}

fn plot(health: &Health) -> Plot {
    let curve: Vec<_> = health.allan.iter().map(|point| (point.averaging_s, point.deviation_deg)).collect();
    pictures::allan(&curve, health.noise_density_deg_rthz, health.floor.map(|floor| floor.deviation_deg))
}

fn write(path: &Path, text: &str) -> Result<(), CliError> {
    crate::bench::written::over(path, text).map_err(CliError::file(path))
}
