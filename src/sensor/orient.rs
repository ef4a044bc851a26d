//! How a sensor sits in its clip, from three gestures: held as clipped, leading edge up, tip up.
//!
//! Each gesture shows where the vertical stands in the sensor's own axes. As clipped it is the normal; with the leading edge
//! up it has moved toward the chord, with the tip up toward the span. The sensor's axes are taken to lie along the clip's: what is
//! askew by more than 30° is refused, what is left of it a calibration and a datum take out.

use crate::units::{Angle, AxisMap, AxisMapError, SensorAxis, SensorVector};

/// A gesture turns the sensor by this much at least, degrees.
pub const LEAST_TURN_DEGREES: f64 = 15.0;
/// And an axis is told from its neighbours within this, degrees.
const ASKEW_DEGREES: f64 = 30.0;

/// One of the gestures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gesture {
    /// Held as it sits on a level blade.
    AsClipped,
    /// The leading edge raised.
    LeadingEdgeUp,
    /// The tip raised.
    TipUp,
}

impl std::fmt::Display for Gesture {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::AsClipped => "as clipped",
            Self::LeadingEdgeUp => "leading edge up",
            Self::TipUp => "tip up",
        })
    }
}

/// What the gestures show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Orientation {
    /// The axes along chord and normal.
    pub axes: AxisMap,
    /// Whether the blade belongs to a rotor that turns anticlockwise seen from above; unknown without the third gesture.
    pub anticlockwise: Option<bool>,
    /// By how much each gesture was off the axis that it shows.
    pub off: [Option<Angle>; 3],
}

/// Why the gestures show no axes.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum OrientError {
    /// Too small a turn.
    #[error("turned little: {turned:.0}")]
    TooLittle {
        /// Which gesture.
        gesture: Gesture,
        /// By how much it was turned.
        turned: Angle,
    },
    /// Between two axes.
    #[error("between axes: {off:.0}")]
    Between {
        /// Which gesture.
        gesture: Gesture,
        /// How far off.
        off: Angle,
    },
    /// Two gestures moved the sensor the same way.
    #[error("same way twice: {0}")]
    SameWay(Gesture),
    /// No map.
    #[error(transparent)]
    Map(#[from] AxisMapError),
}

/// Where the vertical stood in the sensor's axes with each gesture; the third is left out for a sensor that is blind across.
///
/// # Errors
/// When a turn was too small, or along no axis, or as the one before.
pub fn orient(
    as_clipped: SensorVector,
    leading_edge_up: SensorVector,
    tip_up: Option<SensorVector>,
) -> Result<Orientation, OrientError> {
    let (normal, normal_off) = nearest(Gesture::AsClipped, as_clipped.0)?;
    let (chord, chord_off) = moved(Gesture::LeadingEdgeUp, as_clipped, leading_edge_up)?;
    if same_axis(chord, normal) {
        return Err(OrientError::SameWay(Gesture::LeadingEdgeUp));
    }
    let axes = AxisMap::new(chord, normal)?;
    let Some(tip_up) = tip_up else {
        return Ok(Orientation { axes, anticlockwise: None, off: [Some(normal_off), Some(chord_off), None] });
    };
    let (span, span_off) = moved(Gesture::TipUp, as_clipped, tip_up)?;
    if same_axis(span, chord) || same_axis(span, normal) {
        return Err(OrientError::SameWay(Gesture::TipUp));
    }
    // The span points outward: on an anticlockwise rotor it is chord × normal.
    let anticlockwise = axes.apply(SensorVector(span.unit()), true).span > 0.0;
    let off = [normal_off, chord_off, span_off].map(Some);
    Ok(Orientation { axes, anticlockwise: Some(anticlockwise), off })
}

/// The axis toward which the vertical moved.
fn moved(gesture: Gesture, from: SensorVector, to: SensorVector) -> Result<(SensorAxis, Angle), OrientError> {
    let unit = |vector: SensorVector| vector.0.map(|axis| axis / vector.norm().max(f64::MIN_POSITIVE));
    let (from, to) = (unit(from), unit(to));
    let along: f64 = from.iter().zip(to).map(|(a, b)| a * b).sum();
    let turned = Angle::from_radians(along.clamp(-1.0, 1.0).acos());
    if turned.degrees() < LEAST_TURN_DEGREES {
        return Err(OrientError::TooLittle { gesture, turned });
    }
    nearest(gesture, std::array::from_fn(|axis| to[axis] - along * from[axis]))
}

/// The axis that a direction is nearest to, and how far off it is.
fn nearest(gesture: Gesture, direction: [f64; 3]) -> Result<(SensorAxis, Angle), OrientError> {
    let vector = SensorVector(direction);
    let along = |axis: &SensorAxis| axis.of(vector) / vector.norm().max(f64::MIN_POSITIVE);
    let axes = ["+x", "-x", "+y", "-y", "+z", "-z"].into_iter().filter_map(|name| name.parse::<SensorAxis>().ok());
    let best = axes.max_by(|a, b| along(a).total_cmp(&along(b)));
    let off = Angle::from_radians(best.map_or(0.0, |axis| along(&axis)).clamp(-1.0, 1.0).acos());
    match best.filter(|_| off.degrees() <= ASKEW_DEGREES) {
        Some(axis) => Ok((axis, off)),
        None => Err(OrientError::Between { gesture, off }),
    }
}

fn same_axis(one: SensorAxis, other: SensorAxis) -> bool {
    one.unit().iter().zip(other.unit()).any(|(a, b)| a * b != 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const NAMES: [&str; 6] = ["+x", "-x", "+y", "-y", "+z", "-z"];

    fn axis(name: &str) -> [f64; 3] {
        name.parse::<SensorAxis>().unwrap().unit()
    }

    fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    }

    fn sum(parts: [(f64, [f64; 3]); 3]) -> SensorVector {
        SensorVector(std::array::from_fn(|n| parts.iter().map(|(share, axis)| share * axis[n]).sum()))
    }

    /// A blade with these axes: its vertical with the leading edge raised by `nose` degrees, and the tip by `tip`. Seen from above
    /// an anticlockwise rotor's leading edge goes to the left of the outward span, so that chord × normal is span.
    fn up(chord: [f64; 3], normal: [f64; 3], span: [f64; 3], nose: f64, tip: f64) -> SensorVector {
        let (nose, tip) = (nose.to_radians(), tip.to_radians());
        let level = tip.cos();
        sum([(level * nose.sin(), chord), (tip.sin(), span), (level * nose.cos(), normal)])
    }

    #[test]
    fn all_forty_eight_ways_to_sit_are_found_by_sloppy_gestures() {
        let mut found = 0;
        for chord in NAMES {
            for normal in NAMES.into_iter().filter(|normal| normal[1..] != chord[1..]) {
                for anticlockwise in [true, false] {
                    let (c, n) = (axis(chord), axis(normal));
                    let span = cross(c, n).map(|s| if anticlockwise { s } else { -s });
                    let up = |nose, tip| up(c, n, span, nose, tip);
                    let seen = orient(up(6.0, -4.0), up(40.0, 8.0), Some(up(-5.0, 35.0))).unwrap();
                    assert_eq!(seen.axes.chord().to_string(), chord);
                    assert_eq!(seen.axes.normal().to_string(), normal);
                    assert_eq!(seen.anticlockwise, Some(anticlockwise));
                    found += 1;
                }
            }
        }
        assert_eq!(found, 48);
    }

    #[test]
    fn a_gesture_that_shows_nothing_is_refused_by_name() {
        let (c, n, s) = (axis("+x"), axis("+z"), cross(axis("+x"), axis("+z")));
        let at = |nose, tip| up(c, n, s, nose, tip);
        let refused = |one, two, three| orient(one, two, Some(three)).unwrap_err();
        assert!(matches!(
            refused(at(0.0, 0.0), at(8.0, 0.0), at(0.0, 40.0)),
            OrientError::TooLittle { gesture: Gesture::LeadingEdgeUp, turned } if (turned.degrees() - 8.0).abs() < 1e-9
        ));
        let twice = refused(at(0.0, 0.0), at(40.0, 0.0), at(50.0, 0.0));
        assert_eq!(twice, OrientError::SameWay(Gesture::TipUp));
        let askew = |error| if let OrientError::Between { gesture, .. } = error { Some(gesture) } else { None };
        assert_eq!(askew(refused(at(0.0, 0.0), at(40.0, 40.0), at(0.0, 40.0))), Some(Gesture::LeadingEdgeUp));
        assert_eq!(askew(refused(at(45.0, 0.0), at(80.0, 0.0), at(0.0, 40.0))), Some(Gesture::AsClipped));
        assert_eq!(orient(at(0.0, 0.0), at(40.0, 0.0), None).unwrap().anticlockwise, None);
    }
}
