//! `sensor orient`: how the sensor sits in its clip, by gesture.

use super::keep::{keep, must_be_free};
use super::rests::Rests;
use crate::bench::angle_between;
use crate::cli::source::SourceArgs;
use crate::cli::{CliError, Common, Outcome, Output};
use crate::rotor::Rotation;
use crate::sensor::orient::{Gesture, LEAST_TURN_DEGREES, orient};
use crate::units::{Angle, SensorAxis, SensorVector};
use crate::words::{Face, Say, sensor_commands as words};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// A direction to within this is plenty, and a steady hand can hold it.
const WANT_DEGREES: f64 = 0.5;

/// Arguments of `sensor orient`.
#[derive(Debug, clap::Args)]
#[command(after_help = words::ORIENT_HELP)]
pub(super) struct Args {
    /// Where to keep the profile; a file that is there is never overwritten
    #[arg(long, value_name = "NAME.toml")]
    out: PathBuf,

    /// What the profile is called; the file's name without one
    #[arg(long)]
    name: Option<String>,

    #[command(flatten)]
    source: SourceArgs,
}

/// Guides, finds, keeps.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    must_be_free(&args.out)?;
    let saved = args.source.saved(common).await?;
    let profile = args.source.profile(&saved)?;
    let opened = args.source.open(&saved, Rotation::Clockwise).await?;
    let mut rests = Rests::of(opened, Angle::from_degrees(WANT_DEGREES));
    let as_clipped = held(Gesture::AsClipped, &[], &mut rests, output).await?;
    let leading_edge_up = held(Gesture::LeadingEdgeUp, &[as_clipped], &mut rests, output).await?;
    let tip_up = if profile.is_blind_across() {
        None
    } else {
        Some(held(Gesture::TipUp, &[as_clipped, leading_edge_up], &mut rests, output).await?)
    };
    rests.save()?;
    let found = orient(as_clipped, leading_edge_up, tip_up)
        .map_err(|error| CliError::Measurement(words::nothing_saved(&error.say(Face::Terminal))))?;
    let stem = || args.out.file_stem().map_or_else(|| "sensor".into(), |stem| stem.to_string_lossy().into_owned());
    let name = args.name.clone().unwrap_or_else(stem);
    let text = profile.with_axes(found.axes).named(&name).to_toml()?;
    keep(&args.out, &text)?;
    let document = Document {
        file: &args.out,
        name: &name,
        chord: found.axes.chord(),
        normal: found.axes.normal(),
        rotation: found.anticlockwise.map(|is| if is { Rotation::Anticlockwise } else { Rotation::Clockwise }),
        off_deg: found.off,
    };
    output.answer(&document, &words::orient::result(&found, &args.out))?;
    Ok(Outcome::Done)
}

#[derive(Serialize)]
struct Document<'a> {
    file: &'a Path,
    name: &'a str,
    chord: SensorAxis,
    normal: SensorAxis,
    rotation: Option<Rotation>,
    off_deg: [Option<Angle>; 3],
}

/// Where the vertical stands in the next rest that is turned away from those before; those on the way are passed over.
async fn held(
    gesture: Gesture,
    away_from: &[SensorVector],
    rests: &mut Rests,
    output: &Output,
) -> Result<SensorVector, CliError> {
    output.say(&words::orient::ask(gesture));
    while let Some(rest) = rests.next(output).await? {
        if away_from.iter().all(|from| angle_between(rest.up, *from).degrees() >= LEAST_TURN_DEGREES) {
            output.say(&words::orient::taken(gesture));
            return Ok(rest.up);
        }
    }
    Err(CliError::Measurement(words::orient::ended(gesture)))
}
