//! `sensor calibrate`: a tumble or the six faces, hands-free.

use super::keep::{keep, must_be_free};
use super::rests::Rests;
use crate::bench::{Rest, angle_between, pose};
use crate::cli::parsed;
use crate::cli::source::SourceArgs;
use crate::cli::{CliError, Common, Outcome, Output};
use crate::rotor::Rotation;
use crate::sensor::faces::{Opposites, faces};
use crate::sensor::poses::{Facing, Pose, coverage, picture};
use crate::sensor::{Calibration, FEWEST_POSES, FULL_POSES, GUIDED_POSES, Label, Model, Mounting, PosesError, tumble};
use crate::units::{Angle, BladeVector, Celsius, SensorVector};
use std::path::{Path, PathBuf};

/// Twice the standard uncertainty of the direction of a rest: well under what is asked of a calibration.
const WANT_DEGREES: f64 = 0.03;
/// A rest closer to one that was taken tells nothing new.
const NEW_DEGREES: f64 = 15.0;
/// A side must seem to lie so close to the vertical; a poor sensor seems to lean by ten degrees.
const SQUARE_DEGREES: f64 = 20.0;
/// Share of the sphere that a sound tumble covers.
const WELL_COVERED: f64 = 0.9;
/// So many rests that disagree with the others are left out before it is given up.
const LEFT_OUT: usize = 3;

/// Arguments of `sensor calibrate`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(subcommand)]
    method: Method,
}

#[derive(Debug, clap::Subcommand)]
enum Method {
    /// Rest the sensor in many attitudes, in any order, against anything
    #[command(after_help = "\
Examples:
  clinoblade sensor calibrate tumble --out clip2.toml --port /dev/ttyUSB0
  clinoblade sensor calibrate tumble --out clip2.toml --name \"November\" --sensor \"clip 2\" --save-raw tumble.log
  clinoblade sensor calibrate tumble --out again.toml --replay tumble.log

Turn the sensor and let go: each rest is taken by itself. Lean it against anything that does not move; the hand shakes.
Nine rests at least show offsets, scales and the angles between the axes, twelve make it sound; six to eight show offsets
and scales only.")]
    Tumble {
        /// How many rests to take
        #[arg(long, value_name = "N", default_value_t = GUIDED_POSES)]
        poses: usize,

        #[command(flatten)]
        common: Shared,
    },
    /// Lay the case on each of its six sides: also shows how the axes sit in the case
    #[command(after_help = "\
Examples:
  clinoblade sensor calibrate faces --out clip2.toml --port /dev/ttyUSB0

Use a levelled surface: what it is out of level goes into the calibration.")]
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
    must_be_free(&shared.out, "calibration")?;
    let (mut rests, mounting) = shared.rests(common).await?;
    let (calibration, poses) = match &args.method {
        Method::Tumble { poses, .. } => tumbled(*poses, shared, &mut rests, output).await?,
        Method::Faces { square, .. } => faced(*square, shared, &mut rests, output).await?,
    };
    rests.save()?;
    let text = calibration.to_toml().map_err(|error| CliError::Use(error.to_string()))?;
    keep(&shared.out, &text, "calibration")?;
    output.answer(
        &document(&calibration, poses, mounting, &shared.out),
        &told(&calibration, poses, mounting, &shared.out),
    )?;
    Ok(Outcome::Done)
}

impl Shared {
    /// Opens the source without any calibration: nothing that was found before may colour what is found now.
    async fn rests(&self, common: &Common) -> Result<(Rests, Mounting), CliError> {
        if !self.source.calibration.is_empty() {
            return Err(CliError::Use(
                "a calibration is found from the bare sensor, not on top of another one: leave --calibration out"
                    .into(),
            ));
        }
        let saved = self.source.saved(common).await?;
        if self.source.profile(&saved)?.is_angle_only() {
            return Err(CliError::Use(
                "this sensor sends angles, no force: its gravity is 1 g in every attitude, so that no tumble and no faces show its \
                 errors. Measure with it as it is, and take its zero out with a datum (datum reversal)"
                    .into(),
            ));
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

/// The rests of a tumble so far.
#[derive(Default)]
struct Tumble {
    poses: Vec<Pose>,
    up: Vec<SensorVector>,
    temperature: Option<Celsius>,
    left_out: usize,
}

impl Tumble {
    fn directions(&self) -> Vec<[f64; 3]> {
        self.up.iter().map(|up| up.0).collect()
    }

    fn is_new(&self, rest: &Rest) -> bool {
        self.up.iter().all(|up| angle_between(*up, rest.up).degrees() > NEW_DEGREES)
    }

    fn add(&mut self, rest: &Rest) {
        self.poses.extend(pose(&rest.taken));
        self.up.push(rest.up);
        self.temperature = rest.taken.temperature.or(self.temperature);
    }

    fn leave_out(&mut self, index: usize) {
        self.poses.remove(index);
        self.up.remove(index);
        self.left_out += 1;
    }

    /// Rests that leave much unseen are worth a word, although they could be fitted.
    fn caution(&self, output: &Output) {
        let covered = coverage(&self.directions());
        if covered.share < WELL_COVERED {
            let share = 100.0 * covered.share;
            output.say(&format!(
                "  These rests foretell {share:.0} % of the sphere as well as a rest there would: with {} as well it were sounder.",
                covered.next
            ));
        }
    }

    fn tell(&self, wanted: usize, output: &Output) {
        let directions = self.directions();
        let covered = coverage(&directions);
        let more = self.poses.len() < wanted;
        output.say(&picture(&directions, more.then_some(covered.next)));
        if more {
            let (n, share) = (self.poses.len() + 1, 100.0 * covered.share);
            output.say(&format!("  {share:.0} % of the sphere covered. {n} of {wanted}: {}.", covered.next));
        }
    }
}

async fn tumbled(
    wanted: usize,
    shared: &Shared,
    rests: &mut Rests,
    output: &Output,
) -> Result<(Calibration, usize), CliError> {
    if wanted < FEWEST_POSES {
        return Err(CliError::Use(format!(
            "--poses {wanted} is too few: {FEWEST_POSES} show offsets and scales, {FULL_POSES} the full model, {GUIDED_POSES} make it sound"
        )));
    }
    if wanted < FULL_POSES {
        output.say(&format!(
            "{wanted} rests show offsets and scales only; the angles between the axes need {FULL_POSES}, better {GUIDED_POSES}."
        ));
    }
    output.say("Turn the sensor, lean it against something, and let go. Each rest is taken by itself.");
    let mut tumble_so_far = Tumble::default();
    tumble_so_far.tell(wanted, output);
    let mut wanted_now = wanted;
    while let Some(rest) = rests.next(output).await? {
        if !tumble_so_far.is_new(&rest) {
            output.say(&format!("  Nearly as before ({}): turn it further.", Facing::nearest(rest.up.0)));
            continue;
        }
        tumble_so_far.add(&rest);
        output.say(&format!("  Taken: {}.", Facing::nearest(rest.up.0)));
        tumble_so_far.tell(wanted_now, output);
        if tumble_so_far.poses.len() < wanted_now {
            continue;
        }
        match tumble(&tumble_so_far.poses, shared.label(tumble_so_far.temperature)) {
            Ok(calibration) => {
                tumble_so_far.caution(output);
                return Ok((calibration, tumble_so_far.poses.len()));
            }
            Err(error @ PosesError::Narrow { .. }) if wanted_now < 2 * wanted => {
                output.say(&format!("  Not enough yet: {error}."));
                wanted_now += 1;
            }
            Err(error @ PosesError::Disagree { pose, .. }) if tumble_so_far.left_out < LEFT_OUT => {
                output.say(&format!("  {error}. It is left out; take another."));
                tumble_so_far.leave_out(pose.saturating_sub(1));
            }
            Err(error) => return Err(refused(&error)),
        }
    }
    // The stream is over: what is there must do.
    match tumble(&tumble_so_far.poses, shared.label(tumble_so_far.temperature)) {
        Ok(calibration) => {
            output.say(&format!(
                "The stream ended after {} of {wanted} rests: the calibration rests on those.",
                tumble_so_far.poses.len()
            ));
            Ok((calibration, tumble_so_far.poses.len()))
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
        return Err(CliError::Use("--square must be above zero: no side lies perfectly square".into()));
    }
    output.say("Lay the sensor on each of its six sides, in any order, and let go each time.");
    let mut found: [[Option<Pose>; 2]; 3] = Default::default();
    let mut temperature = None;
    while let Some(missing) = missing(&found) {
        output.say(&format!("  Next: {missing}."));
        let Some(rest) = rests.next(output).await? else {
            return Err(CliError::Measurement(format!(
                "the stream ended before all six sides were laid: {missing} is missing, and nothing was kept"
            )));
        };
        let facing = Facing::nearest(rest.up.0);
        let off = angle_between(rest.up, SensorVector(facing.unit()));
        match facing.face() {
            Some((axis, positive)) if off.degrees() < SQUARE_DEGREES => {
                found[axis][usize::from(positive)] = pose(&rest.taken);
                temperature = rest.taken.temperature.or(temperature);
                output.say(&format!("  Taken: {facing}."));
            }
            _ => output.say(&format!("  It lies with {facing}, on none of its sides: lay it flat.")),
        }
    }
    let sides = found.map(|[down, up]| Some(Opposites { up: up?, down: down? }));
    let [Some(x), Some(y), Some(z)] = sides else {
        return Err(CliError::Measurement("a side held too few samples: begin again".into()));
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
    CliError::Measurement(format!("{error}. Nothing was kept."))
}

/// What the calibration leaves in doubt: of an angle against gravity near level, and of a travel of twelve degrees.
fn doubts(calibration: &Calibration, mounting: Mounting) -> (Angle, Angle) {
    let level = BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
    let turned = Angle::from_degrees(12.0);
    let deflected = BladeVector { span: 0.0, chord: turned.sin(), normal: turned.cos() };
    let absolute = calibration.u_angle(level, mounting).hypot(calibration.u_case_rotation());
    (absolute, calibration.u_difference(deflected, level, mounting))
}

fn document(calibration: &Calibration, poses: usize, mounting: Mounting, out: &Path) -> serde_json::Value {
    let (absolute, travel) = doubts(calibration, mounting);
    serde_json::json!({
        "file": out,
        "name": calibration.name,
        "sensor": calibration.sensor,
        "model": calibration.model,
        "poses": poses,
        "residual_rms_mg": 1e3 * calibration.residual_rms.value(),
        "condition": calibration.condition,
        "u_angle_deg": absolute,
        "u_travel_deg": travel,
        "offset_counts": calibration.offset,
        "matrix_g_per_count": calibration.matrix,
        "temperature_celsius": calibration.temperature,
    })
}

fn told(calibration: &Calibration, poses: usize, mounting: Mounting, out: &Path) -> String {
    let (absolute, travel) = doubts(calibration, mounting);
    let model = match calibration.model {
        Model::Full => "offsets, scales and the angles between the axes",
        Model::OffsetsAndScales => "offsets and scales only: nine rests and more show the angles between the axes too",
        Model::Faces => "offsets, scales, the angles between the axes and how they sit in the case",
        Model::Nominal => "nothing",
    };
    let mut lines = vec![
        format!("{poses} rests gave {model}."),
        format!(
            "They leave {:.2} mg, condition {:.1}. Expected standard uncertainty: {:.3}° of a 12° travel, {:.3}° of an angle against gravity.",
            1e3 * calibration.residual_rms.value(),
            calibration.condition,
            travel.degrees(),
            absolute.degrees()
        ),
    ];
    if calibration.u_case_rotation() > Angle::ZERO {
        lines.push("How the axes sit in the case no tumble shows: a datum (datum reversal) takes that out.".to_owned());
    }
    lines.push(format!("Kept in {}; use it with --calibration {}", out.display(), out.display()));
    lines.join("\n")
}
