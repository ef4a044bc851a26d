//! One axis direction, captured: the reading and all that is needed to judge it later.

use super::reading::Reading;
use super::subject::Subject;
use crate::rotor::{Carrier, Clip, Datum};
use crate::units::{Angle, Celsius, Day, Moment, Percent, Sample};
use jiff::Timestamp;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A datum as it was set: what zero means, and which setting of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DatumRef {
    /// Its id: two datums of one kind are still two.
    pub id: Uuid,
    /// When it was set.
    #[schemars(with = "Moment")]
    pub set_at: Timestamp,
    /// What zero means.
    #[serde(flatten)]
    pub datum: Datum,
    /// The sensor's temperature then, where it told.
    #[serde(default, rename = "temperature_c")]
    pub temperature: Option<Celsius>,
    /// The clip's seat then, where the datum was read on a blade.
    #[serde(default)]
    pub seat: Option<u32>,
    /// Whose sensor's zero it is, where several are read.
    #[serde(default)]
    pub carrier: Option<Carrier>,
}

impl DatumRef {
    /// Its kind in one word.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self.datum {
            Datum::Gravity => "gravity",
            Datum::Surface { .. } => "surface",
            Datum::Reversal { .. } => "reversal",
            Datum::Neutral { .. } => "neutral",
            Datum::Shaft { .. } => "shaft",
        }
    }

    /// Its kind with its figures, in a line.
    #[must_use]
    pub fn figures(&self) -> String {
        let u = |u: Angle| format!("(u {:.3}°)", u.degrees());
        match self.datum {
            Datum::Gravity => "gravity, by the calibration alone".to_owned(),
            Datum::Surface { up, heading, u: of, .. } => {
                format!("surface, reads {} along station {heading} {}", up.apparent_pitch(), u(of))
            }
            Datum::Reversal { instrument, slope, u: of } => {
                format!("reversal, sensor's own error {} {}, surface slope {slope}", instrument.chord, u(of))
            }
            Datum::Neutral { apparent, place, u: of } => {
                format!("neutral of blade {}, {apparent} {}", place.blade, u(of))
            }
            Datum::Shaft { tilt, u: of, .. } => {
                format!("shaft, leans {} to the nose and {} to the left {}", tilt.nose, tilt.left, u(of))
            }
        }
    }
}

/// Which sensor a capture was read with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SensorIdentity {
    /// Name of the profile.
    pub profile: String,
    /// Where the stream came from, as shown to the person.
    pub port: String,
    /// Name of the calibration; none when the sensor was used uncalibrated.
    pub calibration: Option<String>,
    /// The blade that carries it, where each has a sensor of its own; none where one clip goes from blade to blade.
    #[serde(default)]
    pub carrier: Option<Carrier>,
    /// The day that calibration was made, where it says so.
    #[serde(default)]
    #[schemars(with = "Option<Day>")]
    pub calibrated_on: Option<Date>,
}

/// What ended the travel of a control.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LimitedBy {
    /// The commanded end point.
    #[default]
    EndPoint,
    /// The linkage or swashplate binds here; the limit is set just short of it.
    Bind,
}

/// From which side the stick came to where it stands: lost motion shows between the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Approach {
    /// From below.
    Below,
    /// From above.
    Above,
}

/// One axis direction, captured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Capture {
    /// Its id, of the kind that sorts by time (UUID version 7).
    pub id: Uuid,
    /// When it was taken.
    #[schemars(with = "Moment")]
    pub taken_at: Timestamp,
    /// What was deflected, on which blade, where.
    #[serde(flatten)]
    pub subject: Subject,
    /// Which way the clip sat.
    pub clip: Clip,
    /// The clip's seat: readings with one number were taken without moving the clip. See [`Capture::keeps_its_seat`].
    pub seat: u32,
    /// Stick of the deflected axis, percent: on the collective its position from the low end (0) to the high end
    /// (100), on every other axis its way from the centre (0) to either end (100 up and right, −100 down and left).
    #[serde(rename = "stick_percent")]
    pub stick: Percent,
    /// What limited the travel.
    pub limited_by: LimitedBy,
    /// From which side the stick came, where the person said so.
    pub approach: Option<Approach>,
    /// What was read.
    #[serde(flatten)]
    pub reading: Reading,
    /// The person was asked about it, and said that it is right as it was read.
    #[serde(default)]
    pub accepted: bool,
    /// Against which datum.
    pub datum: DatumRef,
    /// With which sensor.
    pub sensor: SensorIdentity,
}

/// The raw samples behind a capture, kept apart from it because they are large.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct RawSamples {
    /// Counts per g by the profile, before any calibration.
    pub counts_per_g: f64,
    /// The samples as they came.
    pub samples: Vec<Sample>,
}

impl Capture {
    /// Whether the clip of this capture can sit for another reading as it sits: the blade and the clip's way are the same.
    #[must_use]
    pub fn keeps_its_seat(&self, subject: Subject, clip: Clip) -> bool {
        self.subject.blade() == subject.blade()
            && self.subject.station().is_some() == subject.station().is_some()
            && self.clip == clip
    }

    /// The seat of the next reading with the sensor of `carrier`, after these captures: that of its newest one where the
    /// clip was left alone, else a number that no seat has had; 1 for the first.
    #[must_use]
    pub fn next_seat(
        before: &[&Self],
        carrier: Option<Carrier>,
        subject: Subject,
        clip: Clip,
        seated_again: bool,
    ) -> u32 {
        let newest = before.iter().rev().find(|capture| capture.sensor.carrier == carrier);
        match newest.filter(|newest| newest.keeps_its_seat(subject, clip) && !seated_again) {
            Some(newest) => newest.seat,
            None => before.iter().map(|capture| capture.seat).max().unwrap_or(0) + 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotor::Spot;

    fn first() -> Capture {
        serde_json::from_value(serde_json::json!({
            "id": Uuid::nil(), "taken_at": "2026-11-25T10:00:00Z",
            "axis": "elevator", "direction": "up", "blade": "A", "station_deg": 90.0,
            "clip": "forward", "seat": 4, "stick_percent": 100.0, "limited_by": "end_point", "approach": null,
            "angle_deg": 8.0, "apparent_pitch_deg": 8.0, "span_inclination_deg": 0.0,
            "up_g": {"span": 0.0, "chord": 0.139, "normal": 0.990}, "budget": [],
            "samples": 100, "effective_samples": 90.0, "dropped_samples": 0, "damaged_frames": 0, "lost_samples": 0,
            "settled_at_s": 1.0, "finished_at_s": 2.0, "steady": true, "ended_by": "want", "observability": 1.0,
            "temperature_c": null,
            "datum": {"id": Uuid::nil(), "set_at": "2026-11-25T09:00:00Z", "kind": "gravity"},
            "sensor": {"profile": "sentence", "port": "bench", "calibration": null},
        }))
        .unwrap()
    }

    #[test]
    fn the_seat_changes_with_the_blade_the_clips_way_and_at_the_persons_word() {
        let first = first();
        let subject = |on: &str| {
            let spot = Spot::Main("90".parse().unwrap());
            Subject::new("elevator down".parse().unwrap(), on.parse().unwrap(), spot).unwrap()
        };
        let next = |subject, clip, again| Capture::next_seat(&[&first], None, subject, clip, again);
        assert_eq!(Capture::next_seat(&[], None, subject("A"), Clip::Forward, false), 1);
        assert_eq!(next(subject("A"), Clip::Forward, false), first.seat);
        assert_eq!(next(subject("B"), Clip::Forward, false), first.seat + 1);
        assert_eq!(next(subject("A"), Clip::Reversed, false), first.seat + 1);
        assert_eq!(next(subject("A"), Clip::Forward, true), first.seat + 1);
        // Blade A of the tail is another blade.
        let tail = Subject::new(
            "rudder left".parse().unwrap(),
            "A".parse().unwrap(),
            Spot::Tail(crate::rotor::LeadingEdge::Up),
        );
        assert_eq!(next(tail.unwrap(), Clip::Forward, false), first.seat + 1);
    }

    #[test]
    fn a_sensor_that_stays_on_its_blade_keeps_its_seat_while_others_are_read() {
        let subject = |on: &str| {
            let spot = Spot::Main("90".parse().unwrap());
            Subject::new("elevator down".parse().unwrap(), on.parse().unwrap(), spot).unwrap()
        };
        let with = |on: &str, seat| {
            let sensor = SensorIdentity { carrier: Some(on.parse().unwrap()), ..first().sensor };
            Capture { subject: subject(on), seat, sensor, ..first() }
        };
        let before = [with("A", 1), with("B", 2)];
        let next = |carrier: &str, on: &str, again| {
            Capture::next_seat(
                &[&before[0], &before[1]],
                Some(carrier.parse().unwrap()),
                subject(on),
                Clip::Forward,
                again,
            )
        };
        assert_eq!((next("A", "A", false), next("B", "B", false)), (1, 2));
        // Put on again, it sits as none has sat before.
        assert_eq!((next("A", "A", true), next("A", "B", false)), (3, 3));
    }
}
