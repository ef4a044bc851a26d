//! What is said while a clip is put on again and again.

use super::{Angle, BladeName, FEWEST_SEATINGS, Reseat};
use clinoblade_sensor::reseat::Doubt;

/// Too few seatings asked for.
#[must_use]
pub fn too_few() -> String {
    format!("--times must be at least {FEWEST_SEATINGS}, better 6 or more.")
}

/// Before the first seating on a blade.
#[must_use]
pub fn begin(blade: BladeName, is_next: bool) -> String {
    let turn = if is_next { "turn the rotor half round, " } else { "" };
    format!("Blade {blade}: {turn}put the clip on it, and let go.")
}

/// Waiting for a person to say so.
#[must_use]
pub fn enter() -> String {
    "Press Enter when it is on.".to_owned()
}

/// A seating that was read.
#[must_use]
pub fn taken(number: usize, times: usize, angle: Angle) -> String {
    let next = if number < times { " Take it off, turn it over in your hand, and put it back." } else { "" };
    format!("  {number} of {times}: {angle:.2}.{next}")
}

/// The stream ended early.
#[must_use]
pub fn ended(number: usize, times: usize, blade: BladeName) -> String {
    format!("The stream ended after {number} of {times} seatings on blade {blade}. Nothing was saved.")
}

/// What was found, a line each.
#[must_use]
pub fn found(found: &Reseat) -> Vec<String> {
    let (u, freedom) = (found.u.degrees(), found.freedom);
    vec![
        format!(
            "{} seatings on {} blades: they scatter by {:.3}° on a blade, of which {:.3}° is the readings' own.",
            found.seatings,
            found.blades,
            found.scatter_deg.degrees(),
            found.repeat_deg.degrees()
        ),
        if found.stands_out {
            format!("The clip seats to {u:.3}° (standard uncertainty, {freedom} degrees of freedom).")
        } else {
            format!(
                "The seat cannot be told from the readings' own scatter: it is at most {u:.3}° ({freedom} degrees of freedom)."
            )
        },
    ]
}

/// Whether it is saved.
#[must_use]
pub const fn saved(saved: bool) -> &'static str {
    if saved {
        "Saved: every reading on a blade now includes this instead of an assumed 0.1°. Forget it: `clinoblade sensor reseat --forget`"
    } else {
        "Nothing was saved."
    }
}

/// Asked before it is saved.
pub const SAVE_IT: &str = "Save it for every later reading on a blade?";
/// Nothing is saved.
pub const NO_STUDY: &str =
    "No study is saved: a clip is assumed to seat to 0.1°. Measure it: `clinoblade sensor reseat`";
/// The saved one is gone.
pub const FORGOTTEN: &str = "Forgotten: from now on a clip is assumed to seat to 0.1°.";
/// A rest that may be one in the hand.
pub const UPSIDE_DOWN: &str = "The sensor lies upside down: this is not taken for the clip on the blade.";
/// Asked about it.
pub const IS_SEATED: &str = "Is the clip on the blade?";
/// Asked about what is doubtful.
pub const ALL_SEATED: &str = "Was the clip on the blade as usual every time?";

/// What is doubtful about the seatings of a blade.
#[must_use]
pub fn doubtful(blade: BladeName, doubts: &[Doubt]) -> String {
    let said = |doubt: &Doubt| match doubt {
        Doubt::Off { number, by_deg } => {
            format!("seating {number} is {:.2}° from the others", by_deg.degrees().abs())
        }
        Doubt::TwoGroups { apart_deg } => {
            format!("the seatings lie in two groups, {:.2}° apart", apart_deg.degrees())
        }
    };
    let said: Vec<String> = doubts.iter().map(said).collect();
    format!("Blade {blade}: {}. Was it the clip in your hand, or does it seat in two ways?", said.join("; "))
}

/// What was doubted is read again.
#[must_use]
pub fn again(times: usize) -> String {
    format!("Left out. Put the clip on {times} more times.")
}
