//! A setup taken up again after a pause: what of datum, calibration and neutrals still holds, and what to redo.
//!
//! Limits of the judgement are common practice, no source: a datum is for one day, a calibration for half a year,
//! and a drift of the sensor that may reach 0.25° (half the usual tolerance on zero) is too much to carry on with.

use super::capture::DatumRef;
use crate::rotor::Datum;
use crate::sensor;
use crate::units::{Angle, Celsius, Seconds};
use serde::Serialize;

const DATUM_FOR: f64 = 12.0 * 3600.0;
const CALIBRATION_FOR: f64 = 182.0 * 24.0 * 3600.0;
const DRIFT_LIMIT_DEGREES: f64 = 0.25;

/// What is known about a pause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pause {
    /// The datum in force before it.
    pub datum: DatumRef,
    /// How long ago it was set.
    pub datum_age: Seconds,
    /// Whether the sensor is calibrated, and since when.
    pub calibration: Calibrated,
    /// Change of the sensor's temperature since the last capture, where it is known.
    pub temperature_change: Option<Celsius>,
    /// Whether the model was moved, or may have been.
    pub model_moved: bool,
    /// Whether the clip was taken off.
    pub clip_taken_off: bool,
    /// Whether another sensor is used now.
    pub sensor_changed: bool,
}

/// A sensor that runs is warmer than its room by no more than this. [common practice, no source]
const WARMER_BY: f64 = 5.0;

/// How far a sensor's temperature has changed at least, where its own was known then and that of the room is known now: it may
/// stand as warm as the room, or a few degrees above.
#[must_use]
pub fn changed_at_least(own_then: Celsius, room_now: Celsius) -> Celsius {
    let (own, room) = (own_then.value(), room_now.value());
    Celsius::new(own.clamp(room, room + WARMER_BY) - own)
}

/// Whether a sensor is calibrated, and since when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Calibrated {
    /// It is not.
    Never,
    /// It is, but the calibration does not say when it was made.
    Undated,
    /// So long ago.
    Ago(Seconds),
}

/// What may or may not hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Held {
    /// The datum.
    Datum,
    /// The sensor's calibration.
    Calibration,
    /// The neutrals read so far, as the beginning of a further travel.
    Neutrals,
    /// The captures in the record.
    Captures,
}

/// One judgement.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "about", rename_all = "lowercase")]
pub enum Finding {
    /// About the datum.
    Datum {
        /// Its kind in one word.
        datum: &'static str,
        /// What became of it.
        #[serde(flatten)]
        state: State,
    },
    /// About the calibration.
    Calibration {
        /// What became of it.
        #[serde(flatten)]
        state: State,
    },
    /// About the neutrals.
    Neutrals {
        /// What became of them.
        #[serde(flatten)]
        state: State,
    },
    /// About the captures, which stay as they are.
    Captures,
}

/// What became of something in a pause.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum State {
    /// It holds as it did.
    Holds {
        /// How old it is, where it ages.
        age_s: Option<Seconds>,
    },
    /// It is too old.
    Old {
        /// How old.
        age_s: Seconds,
    },
    /// It belongs to another sensor.
    OtherSensor,
    /// The model was moved.
    ModelMoved,
    /// The clip was taken off.
    ClipOff,
    /// The sensor's temperature is another one.
    Drifted {
        /// The change.
        change_c: Celsius,
        /// How far that may move the sensor, for 95 %.
        reach_deg: Angle,
    },
    /// There is none: the sensor is not calibrated.
    Never,
    /// It does not say when it was made.
    Undated,
}

impl Finding {
    /// About what.
    #[must_use]
    pub const fn about(&self) -> Held {
        match self {
            Self::Datum { .. } => Held::Datum,
            Self::Calibration { .. } => Held::Calibration,
            Self::Neutrals { .. } => Held::Neutrals,
            Self::Captures => Held::Captures,
        }
    }

    /// Whether it still holds, so that nothing is to be redone.
    #[must_use]
    pub const fn holds(&self) -> bool {
        match self {
            Self::Captures => true,
            Self::Datum { state, .. } | Self::Calibration { state } | Self::Neutrals { state } => match state {
                State::Holds { .. } | State::Never | State::Undated => true,
                State::Old { .. } | State::OtherSensor | State::ModelMoved | State::ClipOff | State::Drifted { .. } => {
                    false
                }
            },
        }
    }
}

impl Pause {
    /// What still holds, and what to redo.
    #[must_use]
    pub fn judge(&self) -> Vec<Finding> {
        vec![
            Finding::Datum { datum: self.datum.kind(), state: self.of_the_datum() },
            Finding::Calibration { state: self.of_the_calibration() },
            Finding::Neutrals { state: self.of_the_neutrals() },
            Finding::Captures,
        ]
    }

    /// Whether nothing has to be redone.
    #[must_use]
    pub fn can_go_on(&self) -> bool {
        self.judge().iter().all(Finding::holds)
    }

    fn of_the_datum(&self) -> State {
        let (set, age_s) = (self.datum.datum, self.datum_age);
        let rides_on_the_model = !matches!(set, Datum::Gravity | Datum::Reversal { .. });
        if self.sensor_changed {
            State::OtherSensor
        } else if self.model_moved && rides_on_the_model {
            State::ModelMoved
        } else if let Some(drifted) = self.drift() {
            drifted
        } else if age_s.value() > DATUM_FOR && set != Datum::Gravity {
            // Gravity's level does not age; what is to be known of the calibration is said there.
            State::Old { age_s }
        } else {
            State::Holds { age_s: Some(age_s) }
        }
    }

    fn of_the_calibration(&self) -> State {
        match self.calibration {
            Calibrated::Never => State::Never,
            _ if self.sensor_changed => State::OtherSensor,
            Calibrated::Undated => State::Undated,
            Calibrated::Ago(age_s) if age_s.value() > CALIBRATION_FOR => State::Old { age_s },
            Calibrated::Ago(age_s) => State::Holds { age_s: Some(age_s) },
        }
    }

    fn of_the_neutrals(&self) -> State {
        if self.model_moved {
            State::ModelMoved
        } else if self.clip_taken_off {
            State::ClipOff
        } else if self.sensor_changed {
            State::OtherSensor
        } else {
            self.drift().unwrap_or(State::Holds { age_s: None })
        }
    }

    fn drift(&self) -> Option<State> {
        let change_c = self.temperature_change?;
        // Of a level blade, for 95 %.
        let level = crate::units::BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
        let effects = sensor::temperature_effects(level, sensor::Mounting::default(), change_c);
        let reach_deg = effects.into_iter().fold(Angle::ZERO, Angle::hypot) * 2.0;
        (reach_deg > Angle::from_degrees(DRIFT_LIMIT_DEGREES)).then_some(State::Drifted { change_c, reach_deg })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;
    use uuid::Uuid;

    const HOUR: f64 = 3600.0;

    fn pause(datum: Datum, hours: f64) -> Pause {
        let set = DatumRef {
            id: Uuid::from_u128(1),
            set_at: Timestamp::UNIX_EPOCH,
            datum,
            temperature: None,
            seat: None,
            carrier: None,
        };
        Pause {
            datum: set,
            datum_age: Seconds::new(hours * HOUR),
            calibration: Calibrated::Ago(Seconds::new(30.0 * 24.0 * HOUR)),
            temperature_change: Some(Celsius::new(1.0)),
            model_moved: false,
            clip_taken_off: false,
            sensor_changed: false,
        }
    }

    fn surface() -> Datum {
        let up = crate::units::BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
        let heading = crate::rotor::Station::from_degrees(90.0).unwrap();
        Datum::Surface { up, heading, instrument: None, u: Angle::ZERO }
    }

    fn finding(pause: &Pause, about: Held) -> Finding {
        pause.judge().into_iter().find(|f| f.about() == about).unwrap()
    }

    #[test]
    fn after_a_coffee_everything_still_holds() {
        let pause = pause(surface(), 0.5);
        assert!(pause.can_go_on());
        let state = State::Holds { age_s: Some(Seconds::new(1800.0)) };
        assert_eq!(finding(&pause, Held::Datum), Finding::Datum { datum: "surface", state });
    }

    #[test]
    fn a_datum_taken_on_the_model_goes_when_the_model_is_moved_and_gravity_stays() {
        let moved = Pause { model_moved: true, ..pause(surface(), 0.5) };
        assert!(!finding(&moved, Held::Datum).holds());
        let level = Pause { model_moved: true, ..pause(Datum::Gravity, 0.5) };
        assert!(finding(&level, Held::Datum).holds());
        // Either way a travel needs a neutral of the model as it now stands.
        assert!(!finding(&level, Held::Neutrals).holds());
        assert!(finding(&level, Held::Captures).holds());
    }

    #[test]
    fn a_cold_morning_moves_the_sensor() {
        let cold = Pause { temperature_change: Some(Celsius::new(-10.0)), ..pause(Datum::Gravity, 8.0) };
        // ±1 mg/°C evenly likely: 10 mg, 0.57°, over √3, twice.
        let Finding::Datum { datum: "gravity", state: State::Drifted { change_c, reach_deg } } =
            finding(&cold, Held::Datum)
        else {
            panic!("{:?}", finding(&cold, Held::Datum));
        };
        assert_eq!(change_c.value(), -10.0);
        assert!((reach_deg.degrees() - 0.66).abs() < 0.005, "{reach_deg}");
        assert!(finding(&Pause { temperature_change: None, ..cold }, Held::Datum).holds());
    }

    #[test]
    fn a_sensor_that_runs_is_a_little_warmer_than_its_room() {
        let changed = |own: f64, room: f64| changed_at_least(Celsius::new(own), Celsius::new(room)).value();
        assert_eq!((changed(20.0, 20.0), changed(24.5, 20.0)), (0.0, 0.0));
        assert_eq!((changed(35.0, 20.0), changed(10.0, 20.0)), (-10.0, 10.0));
    }

    #[test]
    fn a_calibration_without_a_date_is_still_a_calibration() {
        let undated = finding(&Pause { calibration: Calibrated::Undated, ..pause(surface(), 1.0) }, Held::Calibration);
        assert!(undated.holds() && undated == Finding::Calibration { state: State::Undated }, "{undated:?}");
        let never = finding(&Pause { calibration: Calibrated::Never, ..pause(surface(), 1.0) }, Held::Calibration);
        assert!(never.holds() && never == Finding::Calibration { state: State::Never }, "{never:?}");
    }

    #[test]
    fn a_datum_is_for_one_day_and_a_calibration_for_half_a_year() {
        assert!(!finding(&pause(surface(), 20.0), Held::Datum).holds());
        assert!(finding(&pause(Datum::Gravity, 20.0), Held::Datum).holds(), "gravity's level does not age");
        let old =
            Pause { calibration: Calibrated::Ago(Seconds::new(200.0 * 24.0 * HOUR)), ..pause(Datum::Gravity, 1.0) };
        let state = State::Old { age_s: Seconds::new(200.0 * 24.0 * HOUR) };
        assert_eq!(finding(&old, Held::Calibration), Finding::Calibration { state });
    }

    #[test]
    fn a_clip_taken_off_asks_for_the_neutral_alone() {
        let off = Pause { clip_taken_off: true, ..pause(surface(), 1.0) };
        let redo: Vec<_> = off.judge().into_iter().filter(|f| !f.holds()).map(|f| f.about()).collect();
        assert_eq!(redo, [Held::Neutrals]);
    }

    #[test]
    fn another_sensor_has_neither_datum_nor_calibration() {
        let other = Pause { sensor_changed: true, ..pause(surface(), 1.0) };
        let redo: Vec<_> = other.judge().into_iter().filter(|f| !f.holds()).map(|f| f.about()).collect();
        assert_eq!(redo, [Held::Datum, Held::Calibration, Held::Neutrals]);
    }
}
