//! What zero means: the figure that a datum takes off an apparent pitch, and where it may do so.
//!
//! * *Gravity*: level by the calibration alone; nothing to take off.
//! * *Surface*: what the sensor reads on a chosen surface (swashplate, boom, a levelled plate) becomes zero. It holds
//!   only along the direction in which it was taken. Turned to another one it needs the sensor's own error, since
//!   the slope of the surface turns with the station and the error of the sensor does not.
//! * *Reversal*: two readings on one surface, the sensor turned end for end, each in the sensor's own sign r:
//!   the instrument's error (r₁ + r₂)/2 and the surface's slope (r₁ − r₂)/2, with no level surface at all.
//!   [Evans, Hocken, Estler, CIRP Annals 45/2 (1996)]
//! * *Neutral*: the same blade at the same station at stick centre. The difference is the travel, free of shaft
//!   tilt, clip offset and twist.
//! * *Shaft*: the rotor's own axis, as the rotor solution found it.
//!
//! A clip whose chord is off by δ reads φ + δ forward and, after its sign is turned, φ − δ reversed: so the
//! instrument's error is taken off forward and added reversed.
//!
//! Assumed: the surface's normal is the axis about which stations turn, the blade's droop is small (a
//! surface that slopes by s read with a droop β leaves an error of β·s², under 0.02° at 4° and 4°).
//! All angles go by degrees in a document.

use super::{BladeName, Clip, LeadingEdge, Rotation, ShaftTilt, Station};
use crate::units::{Angle, BladeVector};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How far the sensor's heading may be from the surface datum's, and the half-width of what a person takes for the
/// same heading. [common practice, no source]
const HEADING_TOLERANCE_DEGREES: f64 = 5.0;

/// Within what the sensor's error about its chord lies while no reversal has shown it. [common practice, no source]
const UNKNOWN_ERROR_DEGREES: f64 = 2.0;

/// Stations closer than this are the same one.
const SAME_STATION_DEGREES: f64 = 0.5;

/// An instrument's error beyond this is no error of an instrument: the sensor was not turned.
const LARGEST_INSTRUMENT_ERROR_DEGREES: f64 = 20.0;

/// Where on the model a reading is taken.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Spot {
    /// A main blade at a station.
    Main(Station),
    /// A tail blade, its leading edge up or down.
    Tail(LeadingEdge),
}

impl Spot {
    /// Whether a blade in one spot and one in the other stand at the same place of the turn (within half a degree).
    #[must_use]
    pub fn is_same(self, other: Self) -> bool {
        match (self, other) {
            (Self::Main(a), Self::Main(b)) => a.distance(b).degrees() <= SAME_STATION_DEGREES,
            (Self::Tail(a), Self::Tail(b)) => a == b,
            _ => false,
        }
    }
}

/// Which blade is read, where it stands, and how the clip sits on it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Place {
    /// The blade.
    pub blade: BladeName,
    /// Where it stands.
    pub spot: Spot,
    /// How the clip sits.
    pub clip: Clip,
}

/// The sensor's own error in its clip: what it reads on a truly level surface, in its own signs.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct InstrumentError {
    /// About the span: it adds to a blade's pitch with the clip forward.
    #[serde(rename = "chord_deg")]
    pub chord: Angle,
    /// About the chord: it adds to a blade's span slope with the clip forward.
    #[serde(rename = "span_deg")]
    pub span: Angle,
}

/// What zero means. `u` is a standard uncertainty of the zero (k = 1).
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Datum {
    /// Level by the calibration alone.
    #[default]
    Gravity,
    /// A chosen surface.
    Surface {
        /// The vertical as read on the surface, in the axes of the clip as it lay.
        up: BladeVector,
        /// Where a blade would stand that carries the clip, forward, along the same heading.
        heading: Station,
        /// The sensor's own error, where a reversal has shown it.
        instrument: Option<InstrumentError>,
        /// Of the reading on the surface.
        #[serde(rename = "u_deg")]
        u: Angle,
    },
    /// The sensor's own error, found by turning it end for end.
    Reversal {
        /// The sensor's own error.
        instrument: InstrumentError,
        /// Slope of the surface along the chord of the first reading, upward positive.
        #[serde(rename = "slope_deg")]
        slope: Angle,
        /// Of the instrument's error.
        #[serde(rename = "u_deg")]
        u: Angle,
    },
    /// The same blade at the same place at stick centre.
    Neutral {
        /// Its apparent pitch, clip turned.
        #[serde(rename = "apparent_deg")]
        apparent: Angle,
        /// The place where it was read.
        place: Place,
        /// Of that reading.
        #[serde(rename = "u_deg")]
        u: Angle,
    },
    /// The rotor's own axis.
    Shaft {
        /// How far the shaft leans.
        tilt: ShaftTilt,
        /// The direction of rotation in which stations are counted.
        rotation: Rotation,
        /// The clip's chord offset, where reversed readings have shown it.
        #[serde(rename = "clip_offset_deg")]
        clip_offset: Option<Angle>,
        /// Of the lean along one station, and of the clip's offset.
        #[serde(rename = "u_deg")]
        u: Angle,
    },
}

/// What a datum takes off an apparent pitch.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Zero {
    /// The apparent pitch that counts as zero.
    pub angle: Angle,
    /// Its standard uncertainty (k = 1).
    pub u: Angle,
}

impl Zero {
    /// The pitch against this zero.
    #[must_use]
    pub fn apply(self, apparent: Angle) -> Angle {
        (apparent - self.angle).wrapped()
    }
}

/// Why a datum does not hold for a reading.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum DatumError {
    /// A surface datum away from its heading.
    #[error("datum elsewhere: {heading}")]
    Heading {
        /// The station of the datum.
        heading: Station,
        /// How far the sensor's heading is from it.
        away: Angle,
    },
    /// A neutral of another place.
    #[error("other place: {0:?}")]
    OtherPlace(Place),
    /// A datum of the main rotor on the tail.
    #[error("not for tail")]
    NotForTail,
    /// Two readings that are no reversal.
    #[error("not reversed: {0}")]
    NotReversed(Angle),
}

impl Datum {
    /// A reversal from the verticals read before and after the sensor was turned end for end, both in the axes of
    /// the clip (not turned into the blade's). `u_reading` is the standard uncertainty of one of them.
    ///
    /// # Errors
    /// When the readings make an instrument's error of more than 20°.
    pub fn reversal(first: BladeVector, second: BladeVector, u_reading: Angle) -> Result<Self, DatumError> {
        let (one, two) = (first.apparent_pitch(), second.apparent_pitch());
        let chord = (one + two) / 2.0;
        // Asked this way round, an error that is no number is refused as well.
        if chord.abs().degrees() <= LARGEST_INSTRUMENT_ERROR_DEGREES {
            Ok(Self::Reversal {
                instrument: InstrumentError {
                    chord,
                    span: (first.span_inclination() + second.span_inclination()) / 2.0,
                },
                slope: (one - two) / 2.0,
                u: u_reading / std::f64::consts::SQRT_2,
            })
        } else {
            Err(DatumError::NotReversed(chord))
        }
    }

    /// The sensor's own error, where this datum knows it.
    #[must_use]
    pub const fn instrument(&self) -> Option<InstrumentError> {
        match self {
            Self::Surface { instrument, .. } => *instrument,
            Self::Reversal { instrument, .. } => Some(*instrument),
            Self::Gravity | Self::Neutral { .. } | Self::Shaft { .. } => None,
        }
    }

    /// What to take off where nobody says which blade is read: gravity and the sensor's own error hold at every place;
    /// none of any other zero.
    #[must_use]
    pub fn zero_at_any_place(&self, clip: Clip) -> Option<Zero> {
        match *self {
            Self::Gravity => Some(Zero::default()),
            Self::Reversal { instrument, u, .. } => Some(Zero { angle: instrument.chord * clip.sign(), u }),
            Self::Surface { .. } | Self::Neutral { .. } | Self::Shaft { .. } => None,
        }
    }

    /// What to take off an apparent pitch (clip turned) that is read at `place`. On the tail it is taken off
    /// the tail pitch alike.
    ///
    /// # Errors
    /// When the datum does not hold there; the error says what to do.
    pub fn zero(&self, place: Place) -> Result<Zero, DatumError> {
        match *self {
            Self::Gravity => Ok(Zero::default()),
            Self::Surface { up, heading, instrument, u } => match place.spot {
                Spot::Main(station) => surface_zero(up, heading, instrument, u, station, place.clip),
                Spot::Tail(_) => Err(DatumError::NotForTail),
            },
            Self::Reversal { instrument, u, .. } => Ok(Zero { angle: instrument.chord * place.clip.sign(), u }),
            Self::Neutral { apparent, place: taken, u } => {
                let same = taken.blade == place.blade && taken.clip == place.clip && taken.spot.is_same(place.spot);
                if same { Ok(Zero { angle: apparent, u }) } else { Err(DatumError::OtherPlace(taken)) }
            }
            Self::Shaft { tilt, rotation, clip_offset, u } => match place.spot {
                Spot::Main(station) => {
                    let up = tilt.up().at(station, rotation);
                    let lean = Angle::atan2(up.turn, up.shaft);
                    Ok(Zero { angle: lean + clip_offset.unwrap_or_default() * place.clip.sign(), u })
                }
                Spot::Tail(_) => Err(DatumError::NotForTail),
            },
        }
    }
}

/// The zero of a surface for a sensor that sits on a blade at `station`.
///
/// Where the sensor itself points the way it did on the surface (a reversed clip on the opposite blade does), the
/// very reading holds, whatever the sensor's error. Elsewhere the surface's slope is turned, error apart.
fn surface_zero(
    up: BladeVector,
    heading: Station,
    instrument: Option<InstrumentError>,
    u: Angle,
    station: Station,
    clip: Clip,
) -> Result<Zero, DatumError> {
    let half_turn = if clip == Clip::Reversed { std::f64::consts::PI } else { 0.0 };
    let off = (station.azimuth() - heading.azimuth() + Angle::from_radians(half_turn)).wrapped();
    let tolerance = Angle::from_degrees(HEADING_TOLERANCE_DEGREES);
    // A heading is set by eye, evenly likely within the tolerance.
    let u_heading = tolerance / 3f64.sqrt();
    if off.abs() <= tolerance {
        let own = up.apparent_pitch();
        // What rises across the heading is the slope as read, less the sensor's own error, known or only bounded.
        let across = up.span_inclination() - instrument.map_or(Angle::ZERO, |error| error.span);
        let doubt = Angle::from_degrees(instrument.map_or(UNKNOWN_ERROR_DEGREES / 3f64.sqrt(), |_| 0.0));
        let u_turn = across.hypot(doubt).radians() * u_heading.hypot(off).radians();
        return Ok(Zero { angle: own * clip.sign(), u: u.hypot(Angle::from_radians(u_turn)) });
    }
    let Some(error) = instrument else {
        return Err(DatumError::Heading { heading, away: off.abs() });
    };
    let level = without_error(up, error);
    let (sin, cos) = (off.sin(), off.cos());
    let chord = cos * level.chord - sin * level.span;
    let across = cos * level.span + sin * level.chord;
    let own = Angle::atan2(chord, level.normal) + error.chord;
    let u_turn = Angle::from_radians(across.abs() * u_heading.radians());
    Ok(Zero { angle: own * clip.sign(), u: u.hypot(u_turn) })
}

/// The vertical that a sensor without an error of its own would have read.
fn without_error(up: BladeVector, error: InstrumentError) -> BladeVector {
    super::up_from_reading(up.apparent_pitch() - error.chord, up.span_inclination() - error.span)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::up_from_reading;
    use approx::assert_abs_diff_eq;

    fn deg(value: f64) -> Angle {
        Angle::from_degrees(value)
    }

    fn station(value: f64) -> Station {
        Station::from_degrees(value).unwrap()
    }

    fn main(azimuth: f64, clip: Clip) -> Place {
        Place { blade: BladeName::A, spot: Spot::Main(station(azimuth)), clip }
    }

    /// What a sensor with its own error reads, in its own signs, on a plate whose normal leans like a shaft.
    fn on_plate(tilt: ShaftTilt, azimuth: f64, clip: Clip, error: InstrumentError) -> BladeVector {
        let hub = tilt.up().at(station(azimuth), Rotation::Clockwise);
        let own = clip.turn(BladeVector { span: hub.span, chord: hub.turn, normal: hub.shaft });
        up_from_reading(own.apparent_pitch() + error.chord, own.span_inclination() + error.span)
    }

    const PLATE: (f64, f64) = (3.0, -2.0);

    fn plate() -> ShaftTilt {
        ShaftTilt { nose: deg(PLATE.0), left: deg(PLATE.1) }
    }

    fn error() -> InstrumentError {
        InstrumentError { chord: deg(1.3), span: deg(-0.8) }
    }

    #[test]
    fn gravity_takes_nothing_off() {
        assert_eq!(Datum::Gravity.zero(main(90.0, Clip::Reversed)), Ok(Zero::default()));
    }

    #[test]
    fn a_reversal_tells_the_sensors_error_from_the_surfaces_slope() {
        let first = on_plate(plate(), 90.0, Clip::Forward, error());
        let second = on_plate(plate(), 90.0, Clip::Reversed, error());
        let datum = Datum::reversal(first, second, deg(0.02)).unwrap();
        let Datum::Reversal { instrument, slope, u } = datum else { panic!("{datum:?}") };
        assert_abs_diff_eq!(instrument.chord.degrees(), 1.3, epsilon = 1e-9);
        assert_abs_diff_eq!(instrument.span.degrees(), -0.8, epsilon = 1e-9);
        // At station 90° the leading edge points to the nose, which is 3° down.
        assert_abs_diff_eq!(slope.degrees(), -3.0, epsilon = 1e-9);
        assert_abs_diff_eq!(u.degrees(), 0.02 / 2f64.sqrt(), epsilon = 1e-12);

        let forward = datum.zero(main(0.0, Clip::Forward)).unwrap();
        let reversed = datum.zero(main(0.0, Clip::Reversed)).unwrap();
        // The blade reads φ + δ forward and φ − δ reversed.
        assert_abs_diff_eq!(forward.apply(deg(7.0 + 1.3)).degrees(), 7.0, epsilon = 1e-9);
        assert_abs_diff_eq!(reversed.apply(deg(7.0 - 1.3)).degrees(), 7.0, epsilon = 1e-9);
    }

    #[test]
    fn a_sensor_that_was_not_turned_is_noticed_on_a_steep_surface() {
        let same = up_from_reading(deg(25.0), deg(0.0));
        assert!(matches!(Datum::reversal(same, same, deg(0.02)), Err(DatumError::NotReversed(_))));
    }

    fn surface(instrument: Option<InstrumentError>) -> Datum {
        let up = on_plate(plate(), 90.0, Clip::Forward, error());
        Datum::Surface { up, heading: station(90.0), instrument, u: deg(0.02) }
    }

    #[test]
    fn a_surface_holds_along_its_heading_whatever_the_sensors_error() {
        let zero = surface(None).zero(main(90.0, Clip::Forward)).unwrap();
        assert_abs_diff_eq!(zero.angle.degrees(), -3.0 + 1.3, epsilon = 1e-9);
        // It reads 1.2° across the heading (2° of slope less 0.8° of its own, which it does not know to be under
        // 2°), and the heading is good to 5°/√3.
        let heading = 5f64.to_radians() / 3f64.sqrt();
        let across = 1.2f64.hypot(2.0 / 3f64.sqrt()) * heading;
        assert_abs_diff_eq!(zero.u.degrees(), across.hypot(0.02), epsilon = 1e-4);
        // Knowing its own error, it knows that the slope is 2°.
        let zero = surface(Some(error())).zero(main(90.0, Clip::Forward)).unwrap();
        assert_abs_diff_eq!(zero.u.degrees(), (2.0 * heading).hypot(0.02), epsilon = 1e-3);
    }

    #[test]
    fn a_reversed_clip_on_the_opposite_blade_points_the_same_way() {
        let zero = surface(None).zero(main(270.0, Clip::Reversed)).unwrap();
        let read = Clip::Reversed.turn(on_plate(plate(), 270.0, Clip::Reversed, error())).apparent_pitch();
        assert_abs_diff_eq!(zero.apply(read).degrees(), 0.0, epsilon = 1e-9);
    }

    #[test]
    fn a_surface_is_refused_elsewhere_until_the_sensors_error_is_known() {
        for (azimuth, clip) in [(180.0, Clip::Forward), (90.0, Clip::Reversed), (97.0, Clip::Forward)] {
            let refused = surface(None).zero(main(azimuth, clip)).unwrap_err();
            assert!(matches!(refused, DatumError::Heading { .. }));
            // The plate itself then reads zero at every station, either way round.
            let zero = surface(Some(error())).zero(main(azimuth, clip)).unwrap();
            let read = clip.turn(on_plate(plate(), azimuth, clip, error())).apparent_pitch();
            assert_abs_diff_eq!(zero.apply(read).degrees(), 0.0, epsilon = 1e-9);
        }
    }

    #[test]
    fn a_neutral_holds_for_its_own_blade_station_and_clip_alone() {
        let datum = Datum::Neutral { apparent: deg(2.5), place: main(90.0, Clip::Forward), u: deg(0.03) };
        let zero = datum.zero(main(90.0, Clip::Forward)).unwrap();
        assert_abs_diff_eq!(zero.apply(deg(14.0)).degrees(), 11.5, epsilon = 1e-12);
        let other_blade = Place { blade: BladeName::from_index(1).unwrap(), ..main(90.0, Clip::Forward) };
        let tail = Place { spot: Spot::Tail(LeadingEdge::Up), ..main(90.0, Clip::Forward) };
        for place in [other_blade, main(270.0, Clip::Forward), main(90.0, Clip::Reversed), tail] {
            assert_eq!(datum.zero(place).unwrap_err(), DatumError::OtherPlace(main(90.0, Clip::Forward)), "{place:?}");
        }
    }

    #[test]
    fn the_shaft_as_zero_takes_the_lean_of_the_helicopter_off_at_every_station() {
        let datum =
            Datum::Shaft { tilt: plate(), rotation: Rotation::Clockwise, clip_offset: Some(deg(1.3)), u: deg(0.05) };
        for azimuth in [0.0, 45.0, 130.0, 270.0] {
            for clip in [Clip::Forward, Clip::Reversed] {
                let read = clip.turn(on_plate(plate(), azimuth, clip, error())).apparent_pitch();
                assert_abs_diff_eq!(
                    datum.zero(main(azimuth, clip)).unwrap().apply(read).degrees(),
                    0.0,
                    epsilon = 1e-9
                );
            }
        }
        // How well the lean is known is how well zero is.
        assert_eq!(datum.zero(main(45.0, Clip::Forward)).unwrap().u, deg(0.05));
        let tail = Place { spot: Spot::Tail(LeadingEdge::Up), ..main(0.0, Clip::Forward) };
        assert_eq!(datum.zero(tail), Err(DatumError::NotForTail));
    }

    #[test]
    fn documents_carry_degrees_and_come_back() {
        let datums = [
            Datum::Gravity,
            surface(Some(error())),
            Datum::Reversal { instrument: error(), slope: deg(-3.0), u: deg(0.01) },
            Datum::Neutral { apparent: deg(2.5), place: main(90.0, Clip::Reversed), u: deg(0.03) },
            Datum::Shaft { tilt: plate(), rotation: Rotation::Clockwise, clip_offset: None, u: deg(0.05) },
        ];
        for datum in datums {
            let text = serde_json::to_string(&datum).unwrap();
            let back: Datum = serde_json::from_str(&text).unwrap();
            assert_eq!(serde_json::to_string(&back).unwrap(), text);
        }
        let text = serde_json::to_string(&datums[2]).unwrap();
        assert!(text.starts_with(r#"{"kind":"reversal","instrument":{"chord_deg":1.3,"#), "{text}");
    }
}
