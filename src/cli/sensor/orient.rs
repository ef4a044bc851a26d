//! `sensor orient`: how the sensor sits in its clip, by gesture.

use super::keep::{keep, must_be_free};
use super::rests::Rests;
use crate::bench::{Rest, angle_between};
use crate::cli::source::SourceArgs;
use crate::cli::{CliError, Common, Outcome, Output};
use crate::rotor::Rotation;
use crate::sensor::orient::{Gesture, LEAST_TURN_DEGREES, Orientation, orient};
use crate::units::{Angle, SensorVector};
use std::path::PathBuf;

/// A direction to within this is plenty, and a steady hand can hold it.
const WANT_DEGREES: f64 = 0.5;

/// Arguments of `sensor orient`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade sensor orient --port /dev/ttyUSB0 --out clip2.toml
  clinoblade sensor orient --port /dev/ttyUSB0 --profile workshop.toml --out workshop-clip2.toml

Three gestures with the clip in your hand or on a loose blade, each held still for a moment against something that does not move: as it
sits on a level blade; then the leading edge raised by 30° to 60°; then, from level again, the tip raised likewise.")]
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
    must_be_free(&args.out, "profile")?;
    let saved = args.source.saved(common).await?;
    let profile = args.source.profile(&saved)?;
    let opened = args.source.open(&saved, Rotation::Clockwise).await?;
    let mut rests = Rests::of(opened, Angle::from_degrees(WANT_DEGREES));
    output.say("Hold it as it sits on a level blade, upper surface up, and keep it still.");
    let as_clipped = rest(Gesture::AsClipped, &mut rests, output).await?.up;
    output.say("Now raise the leading edge by 30° to 60°, and keep it still.");
    let leading_edge_up = turned(Gesture::LeadingEdgeUp, as_clipped, as_clipped, &mut rests, output).await?;
    let tip_up = if profile.is_blind_across() {
        None
    } else {
        output.say("Back to level; then raise the tip by 30° to 60°, and keep it still.");
        Some(turned(Gesture::TipUp, as_clipped, leading_edge_up, &mut rests, output).await?)
    };
    rests.save()?;
    let found = orient(as_clipped, leading_edge_up, tip_up)
        .map_err(|error| CliError::Measurement(format!("{error}. Nothing was kept.")))?;
    let stem = || args.out.file_stem().map_or_else(|| "sensor".into(), |stem| stem.to_string_lossy().into_owned());
    let name = args.name.clone().unwrap_or_else(stem);
    let text = profile.with_axes(found.axes).named(&name).to_toml().map_err(crate::stream::StreamError::from)?;
    keep(&args.out, &text, "profile")?;
    let document = serde_json::json!({
        "file": args.out,
        "name": name,
        "chord": found.axes.chord(),
        "normal": found.axes.normal(),
        "rotation": found.anticlockwise.map(rotation),
        "off_deg": found.off,
    });
    output.answer(&document, &told(&found, &args.out))?;
    Ok(Outcome::Done)
}

async fn rest(gesture: Gesture, rests: &mut Rests, output: &Output) -> Result<Rest, CliError> {
    let rest = rests.next(output).await?.ok_or_else(|| {
        CliError::Measurement(format!("the stream ended before \"{gesture}\" was seen: nothing was kept"))
    })?;
    output.say(&format!("  Taken: {gesture}."));
    Ok(rest)
}

/// The next rest that is turned away from level; those on the way back are passed over.
async fn turned(
    gesture: Gesture,
    level: SensorVector,
    before: SensorVector,
    rests: &mut Rests,
    output: &Output,
) -> Result<SensorVector, CliError> {
    loop {
        let Some(rest) = rests.next(output).await? else {
            return Err(CliError::Measurement(format!(
                "the stream ended before \"{gesture}\" was seen: nothing was kept"
            )));
        };
        let far = |from: SensorVector| angle_between(rest.up, from).degrees() >= LEAST_TURN_DEGREES;
        if far(level) && far(before) {
            output.say(&format!("  Taken: {gesture}."));
            return Ok(rest.up);
        }
    }
}

const fn rotation(anticlockwise: bool) -> &'static str {
    if anticlockwise { "anticlockwise" } else { "clockwise" }
}

fn told(found: &Orientation, out: &std::path::Path) -> String {
    let mut lines = vec![format!(
        "The sensor's {} lies along the chord, toward the leading edge; its {} stands out of the upper surface.",
        found.axes.chord(),
        found.axes.normal()
    )];
    lines.push(match found.anticlockwise {
        Some(anticlockwise) => format!(
            "So held it sits on a blade of a rotor that turns {} seen from above; if yours turns the other way, the wrong edge was raised.",
            rotation(anticlockwise)
        ),
        None => "It shows one angle only: the tip was not asked for.".to_owned(),
    });
    lines.push(format!("Kept in {}; use it with --profile {}", out.display(), out.display()));
    lines.join("\n")
}
