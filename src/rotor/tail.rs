//! Tail pitch: the same sensor on a blade whose disc stands upright.
//!
//! The tail shaft lies across, so at zero pitch the chord is vertical: leading edge up or leading edge down. Pitch
//! out of the disc plane is
//!
//! ```text
//! θ = −sign(u·chord)·atan2(u·normal, |u·chord|)
//! ```
//!
//! which holds with the blade's span level. A roll ρ of the model leans the tail shaft and enters as θ − ρ with
//! the leading edge up and as θ + ρ with it down: the mean of the two (two blades read at the same place, the tail
//! rotor turned half round in between) is free of the roll, and half their difference is the roll itself.
//! [Reversal: Evans, Hocken, Estler, CIRP Annals 45/2 (1996)]
//!
//! One position alone carries the roll, unseen. A blade whose span points up or down is refused, and so is one
//! whose chord lies level: it shows neither leading edge up nor down.

use super::{LeadingEdge, SpanTooSteep, Visibility};
use crate::units::{Angle, BladeVector};

/// The largest pitch out of the disc plane that still tells leading edge up from down.
const STEEPEST_PITCH: f64 = 75.0;

/// The pitch of one tail blade, as gravity shows it in one position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TailReading {
    /// Pitch out of the tail disc's plane, with the model's roll in it.
    pub pitch: Angle,
    /// Which way the leading edge points.
    pub leading_edge: LeadingEdge,
    /// How well gravity shows it.
    pub visibility: Visibility,
}

/// Why a tail blade's pitch cannot be read.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum TailError {
    /// The span points up or down.
    #[error(transparent)]
    Span(#[from] SpanTooSteep),
    /// The chord lies level.
    #[error("chord level")]
    ChordLevel,
    /// Two readings were not one of each.
    #[error("same edge: {0}")]
    SamePosition(LeadingEdge),
}

/// Reads tail pitch from the vertical in blade axes (clip already turned).
///
/// # Errors
/// When the span is steeper than 60°, or the pitch is so large that the leading edge points neither up nor down.
pub fn tail_pitch(up: BladeVector) -> Result<TailReading, TailError> {
    let visibility = Visibility::of(up)?;
    let from_disc = Angle::atan2(up.normal, up.chord.abs());
    if from_disc.abs().degrees() > STEEPEST_PITCH {
        return Err(TailError::ChordLevel);
    }
    let (pitch, leading_edge) =
        if up.chord > 0.0 { (-from_disc, LeadingEdge::Up) } else { (from_disc, LeadingEdge::Down) };
    Ok(TailReading { pitch, leading_edge, visibility })
}

/// Tail pitch from both positions: free of the model's roll.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TailMean {
    /// Mean pitch of the two readings.
    pub pitch: Angle,
    /// Roll of the tail shaft that the two readings imply: what leading edge up reads too little.
    pub roll: Angle,
}

/// Brings the readings of leading edge up and leading edge down together.
///
/// # Errors
/// When both are of the same position.
pub fn tail_mean(first: TailReading, second: TailReading) -> Result<TailMean, TailError> {
    if first.leading_edge == second.leading_edge {
        return Err(TailError::SamePosition(first.leading_edge));
    }
    let (up, down) = match first.leading_edge {
        LeadingEdge::Up => (first.pitch, second.pitch),
        LeadingEdge::Down => (second.pitch, first.pitch),
    };
    Ok(TailMean { pitch: (up + down) / 2.0, roll: (down - up) / 2.0 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Attitude, HubVector, up_from_reading};
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    /// A tail blade of the given pitch, its leading edge up or down, on a model rolled by `roll`.
    fn blade(pitch: f64, roll: f64, edge: LeadingEdge) -> BladeVector {
        let (sin, cos) = roll.to_radians().sin_cos();
        let turn = if edge == LeadingEdge::Up { cos } else { -cos };
        let attitude = Attitude { flap: Angle::ZERO, feather: Angle::from_degrees(pitch) };
        attitude.to_blade(HubVector { span: 0.0, turn, shaft: sin })
    }

    #[test]
    fn the_leading_edge_is_seen_and_pitch_has_one_sign_in_both_positions() {
        for edge in [LeadingEdge::Up, LeadingEdge::Down] {
            let read = tail_pitch(blade(32.0, 0.0, edge)).unwrap();
            assert_eq!(read.leading_edge, edge);
            assert_abs_diff_eq!(read.pitch.degrees(), 32.0, epsilon = 1e-12);
        }
    }

    #[test]
    fn a_span_that_points_up_is_refused_and_so_is_a_level_chord() {
        assert!(matches!(
            tail_pitch(up_from_reading(Angle::from_degrees(90.0), Angle::from_degrees(80.0))),
            Err(TailError::Span(_))
        ));
        assert_eq!(tail_pitch(up_from_reading(Angle::ZERO, Angle::ZERO)), Err(TailError::ChordLevel));
    }

    #[test]
    fn two_readings_of_one_position_make_no_mean() {
        let read = tail_pitch(blade(10.0, 0.0, LeadingEdge::Up)).unwrap();
        assert_eq!(tail_mean(read, read), Err(TailError::SamePosition(LeadingEdge::Up)));
    }

    proptest! {
        #[test]
        fn the_mean_of_both_positions_is_free_of_the_roll(pitch in -45.0..45.0f64, roll in -10.0..10.0f64) {
            let up = tail_pitch(blade(pitch, roll, LeadingEdge::Up)).unwrap();
            let down = tail_pitch(blade(pitch, roll, LeadingEdge::Down)).unwrap();
            let mean = tail_mean(down, up).unwrap();
            prop_assert!((mean.pitch.degrees() - pitch).abs() < 1e-12);
            prop_assert!((mean.roll.degrees() - roll).abs() < 1e-12);
        }
    }
}
