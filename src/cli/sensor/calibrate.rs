//! `sensor calibrate`: a tumble or the six faces, hands-free.

use super::keep::{keep, must_be_free};
use super::rests::Rests;
use crate::bench::{Tumble, TumbleEvent, WANT_DEGREES, angle_between, doubts, pose};
use crate::cli::parsed;
use crate::cli::source::SourceArgs;
use crate::cli::{CliError, Common, Outcome, Output};
use crate::rotor::Rotation;
use crate::sensor::faces::{Opposites, faces};
use crate::sensor::poses::{Facing, Pose, picture};
use crate::sensor::{Calibration, FEWEST_POSES, FULL_POSES, GUIDED_POSES, Label, Model, Mounting, PosesError};
use crate::units::{Angle, Celsius, SensorVector};
use crate::words::sensor_commands::{FACES_HELP, TUMBLE_HELP, calibrate as words, must_be_above_zero, nothing_saved};
use crate::words::{Face, Say};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// A side must seem to lie so close to the vertical; a poor sensor seems to lean by ten degrees.
const SQUARE_DEGREES: f64 = 20.0;
/// Share of the sphere that a sound tumble covers.
const WELL_COVERED: f64 = 0.9;

/// Arguments of `sensor calibrate`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(subcommand)]
    method: Method,
}

#[derive(Debug, clap::Subcommand)]
enum Method {
    /// Rest the sensor in many attitudes, in any order, against anything
    #[command(after_help = TUMBLE_HELP)]
    Tumble {
        /// How many rests to take
        #[arg(long, value_name = "N", default_value_t = GUIDED_POSES)]
        poses: usize,

        #[command(flatten)]
        common: Shared,
    },
    /// Lay the case on each of its six sides: also shows how the axes sit in the case
    #[command(after_help = FACES_HELP)]
    Faces {
        /// How well a side lies square to the vertical, one standard uncertainty, degrees
        #[arg(long, value_name = "DEGREES", default_value = "0.25", value_parser = parsed::<Angle>)]
        square: Angle,

        #[command(flatten)]
        common: Shared,
    },
}

#[derive(Debug, clap::Args)]
struct Shared {
    /// Where to keep the calibration; a file that is there is never overwritten
    #[arg(long, value_name = "NAME.toml")]
    out: PathBuf,

    /// What captures call it; the file's name without one
    #[arg(long)]
    name: Option<String>,

    /// Label or serial number of the sensor
    #[arg(long, default_value = "")]
    sensor: String,

    #[command(flatten)]
    source: SourceArgs,
}

/// Guides, fits, keeps.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let shared = match &args.method {
        Method::Tumble { common, .. } | Method::Faces { common, .. } => common,
    };
    must_be_free(&shared.out)?;
    // What can be told beforehand is not told after a sensor was waited for.
    if let Method::Tumble { poses, .. } = args.method
        && poses < FEWEST_POSES
    {
        return Err(CliError::Use(words::too_few(poses)));
    }
    let (mut rests, mounting) = shared.rests(common).await?;
    let (calibration, poses) = match &args.method {
        Method::Tumble { poses, .. } => tumbled(*poses, shared, &mut rests, output).await?,
        Method::Faces { square, .. } => faced(*square, shared, &mut rests, output).await?,
    };
    rests.save()?;
    let text = calibration.to_toml()?;
    keep(&shared.out, &text)?;
    let (absolute, travel) = doubts(&calibration, mounting);
    let document = Document {
        file: &shared.out,
        name: &calibration.name,
        sensor: &calibration.sensor,
        model: calibration.model,
        poses,
        residual_rms_mg: 1e3 * calibration.residual_rms.value(),
        condition: calibration.condition,
        u_angle_deg: absolute,
        u_travel_deg: travel,
        offset_counts: calibration.offset,
        matrix_g_per_count: calibration.matrix,
        temperature_celsius: calibration.temperature,
    };
    output.answer(&document, &words::result(&calibration, poses, travel, absolute, &shared.out))?;
    Ok(Outcome::Done)
}

#[derive(Serialize)]
struct Document<'a> {
    file: &'a Path,
    name: &'a str,
    sensor: &'a str,
    model: Model,
    poses: usize,
    residual_rms_mg: f64,
    condition: f64,
    u_angle_deg: Angle,
    u_travel_deg: Angle,
    offset_counts: [f64; 3],
    matrix_g_per_count: [[f64; 3]; 3],
    temperature_celsius: Option<Celsius>,
}

impl Shared {
    /// Opens the source without any calibration: nothing that was found before may colour what is found now.
    async fn rests(&self, common: &Common) -> Result<(Rests, Mounting), CliError> {
        if !self.source.calibration.is_empty() {
            return Err(CliError::Use(words::bare_sensor()));
        }
        let saved = self.source.saved(common).await?;
        if self.source.profile(&saved)?.is_angle_only() {
            return Err(CliError::Use(words::angles_only()));
        }
        let opened = self.source.open(&saved, Rotation::Clockwise).await?;
        let mounting = opened.instrument.mounting;
        Ok((Rests::of(opened, Angle::from_degrees(WANT_DEGREES)), mounting))
    }

    fn label(&self, temperature: Option<Celsius>) -> Label {
        let stem = || self.out.file_stem().map_or("calibration".into(), |stem| stem.to_string_lossy().into_owned());
        Label {
            name: self.name.clone().unwrap_or_else(stem),
            sensor: self.sensor.clone(),
            made_on: Some(jiff::ZonedDateTime::now().date()),
            temperature,
        }
    }
}

/// What is shown between two rests.
fn tell(tumble: &Tumble, output: &Output) {
    let (directions, covered) = (tumble.directions(), tumble.covered());
    let more = tumble.have() < tumble.wanted();
    output.say(&picture(&directions, more.then_some(covered.next)));
    if more {
        output.say(&words::next(covered.share, tumble.have() + 1, tumble.wanted(), covered.next));
    }
}

/// Rests that leave much unseen are worth a word, although they could be fitted.
fn caution(tumble: &Tumble, output: &Output) {
    let covered = tumble.covered();
    if covered.share < WELL_COVERED {
        output.say(&words::one_sided(covered.share, covered.next));
    }
}

async fn tumbled(
    wanted: usize,
    shared: &Shared,
    rests: &mut Rests,
    output: &Output,
) -> Result<(Calibration, usize), CliError> {
    if wanted < FULL_POSES {
        output.say(&words::not_full(wanted));
    }
    output.say(&words::begin_tumble());
    let mut tumble_so_far = Tumble::new(wanted, shared.label(None));
    tell(&tumble_so_far, output);
    while let Some(rest) = rests.next(output).await? {
        for event in tumble_so_far.push(&rest) {
            match event {
                TumbleEvent::AsBefore(facing) => output.say(&words::as_before(facing)),
                TumbleEvent::Taken(facing) => output.say(&words::taken(facing)),
                TumbleEvent::More(error) => output.say(&words::more(&error)),
                TumbleEvent::LeftOut(error) => output.say(&words::left_out(&error)),
                TumbleEvent::Next => tell(&tumble_so_far, output),
                TumbleEvent::Done(calibration) => {
                    caution(&tumble_so_far, output);
                    return Ok((*calibration, tumble_so_far.have()));
                }
                TumbleEvent::Refused(error) => return Err(refused(&error)),
            }
        }
    }
    // The stream is over: what is there must do.
    let rests = tumble_so_far.have();
    if wanted >= FULL_POSES && (FEWEST_POSES..FULL_POSES).contains(&rests) {
        return Err(CliError::Measurement(nothing_saved(&words::ended_early(rests, wanted))));
    }
    match tumble_so_far.fit() {
        Ok(calibration) => {
            output.say(&words::ended(rests, wanted));
            Ok((calibration, rests))
        }
        Err(error) => Err(refused(&error)),
    }
}

async fn faced(
    square: Angle,
    shared: &Shared,
    rests: &mut Rests,
    output: &Output,
) -> Result<(Calibration, usize), CliError> {
    if square.degrees().is_nan() || square.degrees() <= 0.0 {
        return Err(CliError::Use(must_be_above_zero("--square", "0.25")));
    }
    output.say(&words::begin_faces());
    let mut found: [[Option<Pose>; 2]; 3] = Default::default();
    let mut temperature = None;
    while let Some(missing) = missing(&found) {
        output.say(&words::next_side(missing));
        let Some(rest) = rests.next(output).await? else {
            return Err(CliError::Measurement(words::side_missing(missing)));
        };
        let facing = Facing::nearest(rest.up.0);
        let off = angle_between(rest.up, SensorVector(facing.unit()));
        match facing.face() {
            Some((axis, positive)) if off.degrees() < SQUARE_DEGREES => {
                found[axis][usize::from(positive)] = pose(&rest.taken);
                temperature = rest.taken.temperature.or(temperature);
                output.say(&words::taken(facing));
            }
            _ => output.say(&words::on_no_side(facing)),
        }
    }
    let sides = found.map(|[down, up]| Some(Opposites { up: up?, down: down? }));
    let [Some(x), Some(y), Some(z)] = sides else {
        return Err(CliError::Measurement(words::side_too_short()));
    };
    let calibration = faces([x, y, z], square, shared.label(temperature)).map_err(|error| refused(&error))?;
    Ok((calibration, 6))
}

/// The first side that has not been seen, easiest first.
fn missing(found: &[[Option<Pose>; 2]; 3]) -> Option<Facing> {
    let order = [(2, true), (2, false), (1, true), (1, false), (0, true), (0, false)];
    let unseen = order.into_iter().find(|&(axis, positive)| found[axis][usize::from(positive)].is_none());
    unseen.and_then(|(axis, positive)| Facing::of_face(axis, positive))
}

fn refused(error: &PosesError) -> CliError {
    CliError::Measurement(nothing_saved(&error.say(Face::Terminal)))
}
