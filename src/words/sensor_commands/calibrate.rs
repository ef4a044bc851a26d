//! What is said while a sensor is calibrated.

use super::{Angle, Calibration, FEWEST_POSES, Face, Facing, JUDGED_POSES, Model, Path, Say, plus_minus, saved};

/// A calibration on top of another.
#[must_use]
pub fn bare_sensor() -> String {
    "A calibration is made from the bare sensor. Leave --calibration out.".to_owned()
}

/// A sensor of angles.
#[must_use]
pub fn angles_only() -> String {
    "This sensor sends angles, no force, so it cannot be calibrated this way. Measure with it as it is, and take its error out with \
         a zero: `clinoblade datum reversal`."
            .to_owned()
}

/// Too few rests asked for.
#[must_use]
pub fn too_few(wanted: usize) -> String {
    format!("--poses {wanted} is too few: {FEWEST_POSES} give offsets and scales, {JUDGED_POSES} the full model.")
}

/// Fewer rests than the full model takes.
#[must_use]
pub fn not_full(wanted: usize) -> String {
    format!(
        "{wanted} rests give offsets and scales only: good for travels, not for angles against gravity. The angles between the axes need \
         {JUDGED_POSES}."
    )
}

/// Before a tumble.
#[must_use]
pub fn begin_tumble() -> String {
    "Turn the sensor, lean it against something, and let go. Every pause is recorded automatically.".to_owned()
}

/// Before the six sides.
#[must_use]
pub fn begin_faces() -> String {
    "Lay the sensor on each of its six sides, in any order, and let go each time.".to_owned()
}

/// A rest that tells nothing new.
#[must_use]
pub fn as_before(facing: Facing) -> String {
    format!("  Nearly as before ({}): turn it further.", facing.say(Face::Terminal))
}

/// A rest that was taken.
#[must_use]
pub fn taken(facing: Facing) -> String {
    format!("  Recorded: {}.", facing.say(Face::Terminal))
}

/// What comes next in a tumble.
#[must_use]
pub fn next(covered: f64, number: usize, wanted: usize, facing: Facing) -> String {
    let share = 100.0 * covered;
    format!("  {share:.0} % of the sphere covered. {number} of {wanted}: {}.", facing.say(Face::Terminal))
}

/// Rests that leave much unseen, although they can be fitted.
#[must_use]
pub fn one_sided(covered: f64, facing: Facing) -> String {
    let share = 100.0 * covered;
    format!("  These rests cover {share:.0} % of the sphere. One more with {} would help.", facing.say(Face::Terminal))
}

/// The rests do not suffice yet.
#[must_use]
pub fn more(error: &impl Say) -> String {
    format!("  Not enough yet. {}", error.say(Face::Terminal))
}

/// A rest that is left out.
#[must_use]
pub fn left_out(error: &impl Say) -> String {
    format!("  {} It is left out.", error.say(Face::Terminal))
}

/// The stream ended early.
#[must_use]
pub fn ended(rests: usize, wanted: usize) -> String {
    format!("The stream ended after {rests} of {wanted} rests. The calibration uses those.")
}

/// The stream ended with so few rests that they give less than was wanted.
#[must_use]
pub fn ended_early(rests: usize, wanted: usize) -> String {
    format!(
        "The stream ended after {rests} of {wanted} rests. For offsets and scales alone, say so: `--poses {rests}`."
    )
}

/// The stream ended before all sides were seen.
#[must_use]
pub fn side_missing(facing: Facing) -> String {
    format!(
        "The stream ended before all six sides were seen: {} is missing. Nothing was saved.",
        facing.say(Face::Terminal)
    )
}

/// The next side.
#[must_use]
pub fn next_side(facing: Facing) -> String {
    format!("  Next: {}.", facing.say(Face::Terminal))
}

/// A rest on no side.
#[must_use]
pub fn on_no_side(facing: Facing) -> String {
    format!("  It lies with {}, not on one of its sides. Lay it flat.", facing.say(Face::Terminal))
}

/// A side with too few samples.
#[must_use]
pub fn side_too_short() -> String {
    "One side has too few samples. Start again.".to_owned()
}

/// What was found: the standard uncertainties are of a 12° travel and of an angle against gravity.
#[must_use]
pub fn result(calibration: &Calibration, rests: usize, u_travel: Angle, u_angle: Angle, out: &Path) -> String {
    let until = if calibration.model == Model::Faces { "" } else { " until you do `clinoblade datum reversal`" };
    [
        format!("{rests} rests gave {}.", calibration.model.say(Face::Terminal)),
        format!(
            "Residual {:.2} mg. Travel {}. Absolute angles {}{until}.",
            1e3 * calibration.residual_rms.value(),
            plus_minus(u_travel * 2.0),
            plus_minus(u_angle * 2.0)
        ),
        saved(out, "--calibration"),
    ]
    .join("\n")
}
