//! A steady reading: why there is none, and what came of it.

use super::Face;
use clinoblade_rotor::{BladeName, LeadingEdge};

/// Of all samples none can be used.
#[must_use]
pub fn nothing_usable(face: Face) -> String {
    let setting = if face == Face::Terminal { "--profile and --counts-per-g" } else { "its profile" };
    format!(
        "No usable sample: all are saturated, out of range or not a number. Check the sensor's measuring range and {setting}."
    )
}

/// The recording is over, or the sensor's line.
#[must_use]
pub fn stream_ended() -> String {
    "The stream has ended: there is nothing left to read.".to_owned()
}

/// A zero that holds at one place, and no place.
#[must_use]
pub fn place_not_named(face: Face) -> String {
    let how = if face == Face::Terminal { ", such as --blade A --station 90" } else { "" };
    format!("This zero holds for one place only. Name the blade and its station{how}.")
}

/// A blade that the rotor does not have.
#[must_use]
pub fn no_blade(head: &str, blade: BladeName, blades: u8) -> String {
    format!("{head} has no blade {blade}: that rotor has {blades} blades, from A on.")
}

/// The tail blade stands the other way than it was said.
#[must_use]
pub fn leading_edge(said: LeadingEdge, seen: LeadingEdge, face: Face) -> String {
    let or = if face == Face::Terminal { format!(" or write --leading-edge {seen}") } else { String::new() };
    format!(
        "The tail blade's leading edge points {seen}, not {said}. Is it the other blade, or is the clip the other way round? \
         Turn the tail rotor{or}."
    )
}

/// A capture whose samples hold no steady stretch by today's filter.
#[must_use]
pub fn not_steady_any_more() -> String {
    "No steady stretch found in its samples: the old reading stays.".to_owned()
}
