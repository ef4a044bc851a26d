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

/// One judgement, in a plain sentence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// About what.
    pub about: Held,
    /// Whether it still holds.
    pub holds: bool,
    /// Why, and what to redo.
    pub sentence: String,
}

impl Pause {
    /// What still holds, and what to redo.
    #[must_use]
    pub fn judge(&self) -> Vec<Finding> {
        vec![self.datum(), self.calibration(), self.neutrals(), self.captures()]
    }

    /// Whether nothing has to be redone.
    #[must_use]
    pub fn can_go_on(&self) -> bool {
        self.judge().iter().all(|finding| finding.holds)
    }

    fn datum(&self) -> Finding {
        let about = Held::Datum;
        let (set, age) = (self.datum, self.datum_age);
        let kind = set.kind();
        if self.sensor_changed {
            return no(about, format!("The {kind} datum belongs to another sensor: set it again."));
        }
        let rides_on_the_model = !matches!(set.datum, Datum::Gravity | Datum::Reversal { .. });
        if self.model_moved && rides_on_the_model {
            return no(about, format!("The model was moved, and the {kind} datum was taken on it: set it again."));
        }
        if let Some(drift) = self.drift() {
            return no(about, format!("{drift} Set the {kind} datum again."));
        }
        // Gravity's level does not age; what is to be known of the calibration is said there.
        if age.value() > DATUM_FOR && set.datum != Datum::Gravity {
            return no(about, format!("The {kind} datum is {} old: set it again.", duration(age)));
        }
        yes(about, format!("The {kind} datum, {} old, still holds.", duration(age)))
    }

    fn calibration(&self) -> Finding {
        let about = Held::Calibration;
        if self.calibration == Calibrated::Never {
            return yes(about, "The sensor is not calibrated: differences against a datum go on as before.".to_owned());
        }
        if self.sensor_changed {
            return no(
                about,
                "The calibration belongs to another sensor: choose this one's, or calibrate it.".to_owned(),
            );
        }
        let Calibrated::Ago(age) = self.calibration else {
            return yes(
                about,
                "The calibration does not say when it was made: where that is more than half a year ago, calibrate the sensor again."
                    .to_owned(),
            );
        };
        if age.value() > CALIBRATION_FOR {
            return no(about, format!("The calibration is {} old: calibrate the sensor again.", duration(age)));
        }
        yes(about, format!("The calibration, {} old, still holds.", duration(age)))
    }

    fn neutrals(&self) -> Finding {
        let about = Held::Neutrals;
        let reason = if self.model_moved {
            "The model was moved"
        } else if self.clip_taken_off {
            "The clip was taken off"
        } else if self.sensor_changed {
            "Another sensor is used"
        } else if self.drift().is_some() {
            "The temperature changed"
        } else {
            return yes(about, "The neutrals read before the pause still hold.".to_owned());
        };
        no(
            about,
            format!(
                "{reason}: read the neutral again before the next limit, so that its travel is a clean difference."
            ),
        )
    }

    fn captures(&self) -> Finding {
        let text = "The captures in the record stay as they are: each was read against its own neutral and datum.";
        yes(Held::Captures, text.to_owned())
    }

    fn drift(&self) -> Option<String> {
        let change = self.temperature_change?;
        // Of a level blade, for 95 %.
        let level = crate::units::BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
        let effects = sensor::temperature_effects(level, sensor::Mounting::default(), change);
        let reach = effects.into_iter().fold(Angle::ZERO, Angle::hypot) * 2.0;
        (reach > Angle::from_degrees(DRIFT_LIMIT_DEGREES)).then(|| {
            format!(
                "The sensor is {:+.1} °C away from where it was, which may move it by {:.2}°.",
                change.value(),
                reach.degrees()
            )
        })
    }
}

const fn yes(about: Held, sentence: String) -> Finding {
    Finding { about, holds: true, sentence }
}

const fn no(about: Held, sentence: String) -> Finding {
    Finding { about, holds: false, sentence }
}

fn duration(age: Seconds) -> String {
    let seconds = age.value();
    match seconds {
        s if s < 5400.0 => format!("{:.0} minutes", s / 60.0),
        s if s < 48.0 * 3600.0 => format!("{:.0} hours", s / 3600.0),
        s => format!("{:.0} days", s / 86400.0),
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
        pause.judge().into_iter().find(|f| f.about == about).unwrap()
    }

    #[test]
    fn after_a_coffee_everything_still_holds() {
        let pause = pause(surface(), 0.5);
        assert!(pause.can_go_on());
        assert_eq!(finding(&pause, Held::Datum).sentence, "The surface datum, 30 minutes old, still holds.");
    }

    #[test]
    fn a_datum_taken_on_the_model_goes_when_the_model_is_moved_and_gravity_stays() {
        let moved = Pause { model_moved: true, ..pause(surface(), 0.5) };
        assert!(!finding(&moved, Held::Datum).holds);
        let level = Pause { model_moved: true, ..pause(Datum::Gravity, 0.5) };
        assert!(finding(&level, Held::Datum).holds);
        // Either way a travel needs a neutral of the model as it now stands.
        assert!(!finding(&level, Held::Neutrals).holds);
        assert!(finding(&level, Held::Captures).holds);
    }

    #[test]
    fn a_cold_morning_moves_the_sensor() {
        let cold = Pause { temperature_change: Some(Celsius::new(-10.0)), ..pause(Datum::Gravity, 8.0) };
        // ±1 mg/°C evenly likely: 10 mg, 0.57°, over √3, twice.
        assert_eq!(
            finding(&cold, Held::Datum).sentence,
            "The sensor is -10.0 °C away from where it was, which may move it by 0.66°. Set the gravity datum again."
        );
        assert!(finding(&Pause { temperature_change: None, ..cold }, Held::Datum).holds);
    }

    #[test]
    fn a_calibration_without_a_date_is_still_a_calibration() {
        let undated = finding(&Pause { calibration: Calibrated::Undated, ..pause(surface(), 1.0) }, Held::Calibration);
        assert!(undated.holds && undated.sentence.contains("does not say when"), "{undated:?}");
        let never = finding(&Pause { calibration: Calibrated::Never, ..pause(surface(), 1.0) }, Held::Calibration);
        assert!(never.holds && never.sentence.contains("not calibrated"), "{never:?}");
    }

    #[test]
    fn a_datum_is_for_one_day_and_a_calibration_for_half_a_year() {
        assert!(!finding(&pause(surface(), 20.0), Held::Datum).holds);
        assert!(finding(&pause(Datum::Gravity, 20.0), Held::Datum).holds, "gravity's level does not age");
        let old =
            Pause { calibration: Calibrated::Ago(Seconds::new(200.0 * 24.0 * HOUR)), ..pause(Datum::Gravity, 1.0) };
        assert_eq!(
            finding(&old, Held::Calibration).sentence,
            "The calibration is 200 days old: calibrate the sensor again."
        );
    }

    #[test]
    fn a_clip_taken_off_asks_for_the_neutral_alone() {
        let off = Pause { clip_taken_off: true, ..pause(surface(), 1.0) };
        let redo: Vec<_> = off.judge().into_iter().filter(|f| !f.holds).map(|f| f.about).collect();
        assert_eq!(redo, [Held::Neutrals]);
    }

    #[test]
    fn another_sensor_has_neither_datum_nor_calibration() {
        let other = Pause { sensor_changed: true, ..pause(surface(), 1.0) };
        let redo: Vec<_> = other.judge().into_iter().filter(|f| !f.holds).map(|f| f.about).collect();
        assert_eq!(redo, [Held::Datum, Held::Calibration, Held::Neutrals]);
    }
}
