//! Quantities with their units, one raw sample, and the map from a sensor's axes to a blade's.
//!
//! Every public edge of the crate speaks in these types instead of bare floats. Angles are kept in
//! radians and spoken in degrees; forces are in g (1 g = 9.80665 m/s²); times in seconds.

mod angle;
mod axis_map;
mod half_turns;
mod quantity;
mod sample;
mod schema;
mod text;
mod vector;

pub use angle::{Angle, ParseAngleError};
pub use axis_map::{AxisMap, AxisMapError, SensorAxis};
pub use half_turns::HalfTurns;
pub use quantity::{Celsius, Gravities, Hertz, Millimetres, Percent, Seconds};
pub use sample::Sample;
pub use schema::{Day, Moment};
pub use vector::{BladeVector, SensorVector};

/// The letters that name the blades of a rotor, A for the reference blade: no rotor here has more blades than letters.
pub const BLADE_LETTERS: &str = "ABCDEFGH";

/// The most blades that a rotor can have here.
pub const MOST_BLADES: usize = BLADE_LETTERS.len();

/// The letter of the last of them.
pub const LAST_BLADE: char = BLADE_LETTERS.as_bytes()[MOST_BLADES - 1] as char;

/// The letter of the blade so many places after A.
#[must_use]
pub fn blade_letter(index: usize) -> Option<char> {
    BLADE_LETTERS.chars().nth(index)
}

/// How many places after A the blade of this letter comes, small or capital.
#[must_use]
pub fn blade_index(text: &str) -> Option<usize> {
    let mut letters = text.chars();
    let letter = letters.next().filter(|_| letters.next().is_none())?;
    BLADE_LETTERS.chars().position(|named| named.eq_ignore_ascii_case(&letter))
}
