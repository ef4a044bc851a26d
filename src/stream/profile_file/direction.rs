//! In which of several ways a section tells where up is.

use super::Mistake;
use super::place::Fault;
use crate::codec::Direction;
use serde::{Deserialize, Serialize};

/// What two angles mean.
#[derive(Serialize, Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub(super) enum Angles {
    Attitude,
    Inclinations,
}

/// Which of the ways to tell a direction a section takes; `Err` names what is missing.
pub(super) fn direction<T>(
    force: [Option<T>; 3],
    angles: [Option<T>; 2],
    tilt: Option<T>,
    meaning: Option<Angles>,
) -> Result<Direction<T>, Fault> {
    let (any_force, any_angle) = (force.iter().any(Option::is_some), angles.iter().any(Option::is_some));
    if usize::from(any_force) + usize::from(any_angle) + usize::from(tilt.is_some()) > 1 {
        return Err(Fault::at(&[], Mistake::TwoDirections));
    }
    if meaning.is_some() && !any_angle {
        return Err(Fault::at(&["angles"], Mistake::AnglesMeaning));
    }
    match (force, angles, tilt) {
        ([Some(x), Some(y), Some(z)], _, _) => Ok(Direction::Force([x, y, z])),
        (_, [Some(pitch), Some(roll)], _) => Ok(match meaning {
            Some(Angles::Inclinations) => Direction::Inclinations([pitch, roll]),
            _ => Direction::Attitude([pitch, roll]),
        }),
        (_, _, Some(tilt)) => Ok(Direction::Tilt(tilt)),
        _ if any_force => Err(Fault::at(&["x"], Mistake::AxesMissing)),
        _ if any_angle => Err(Fault::at(&["pitch"], Mistake::AnglesMissing)),
        _ => Err(Fault::at(&[], Mistake::DirectionMissing)),
    }
}
