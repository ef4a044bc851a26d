//! One axis direction, captured: the reading and all that is needed to judge it later.

use super::reading::Reading;
use super::subject::Subject;
use super::trade::FULL_PERCENT;
use crate::rotor::{Axis, Carrier, Clip, Datum};
use crate::units::{Celsius, Day, Moment, Percent, Sample};
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
    /// Gravity's level, as it holds where nobody has set a zero.
    #[must_use]
    pub const fn level() -> Self {
        Self {
            id: Uuid::nil(),
            set_at: Timestamp::UNIX_EPOCH,
            datum: Datum::Gravity,
            temperature: None,
            seat: None,
            carrier: None,
        }
    }

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

/// A doubt about a capture that a person can answer: it is right as it was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Answered {
    /// It moved the other way than foretold.
    OtherWay,
    /// It hardly moved.
    Unmoved,
    /// The neutral stands far from the others of its place.
    NeutralMoved,
    /// A servo buzzes.
    Buzzes,
    /// It is past where the linkage bound before.
    PastBind,
    /// A corner falls short of the sum of its parts, and nothing binds.
    FallsShort,
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
    /// The clip's seat: readings with one number were taken without moving the clip.
    pub seat: u32,
    /// Stick of the deflected axis, percent: on the collective its position from the low end (0) to the high end
    /// (100), on every other axis its way from the centre (0) to either end (100 up and right, −100 down and left).
    #[serde(rename = "stick_percent")]
    pub stick: Percent,
    /// The person said where the stick stood; else it is taken to stand at the end or centre that was named.
    #[serde(default)]
    pub stick_said: bool,
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
    /// What was asked and so answered; empty where nothing was, and in records of earlier versions, in which one answer stood for
    /// all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub answered: Vec<Answered>,
    /// Against which datum.
    pub datum: DatumRef,
    /// With which sensor.
    pub sensor: SensorIdentity,
}

impl Capture {
    /// Where the stick stood, as far as that is known: whoever backed off from a bind stands anywhere short of the end.
    #[must_use]
    pub fn known_stick(&self) -> Option<Percent> {
        let backed_off = self.limited_by == LimitedBy::Bind && !self.stick_said && !self.is_part_way();
        (!backed_off).then_some(self.stick)
    }

    /// Whether the person has said that it is right as it was read, asked about this.
    #[must_use]
    pub fn answers(&self, doubt: Answered) -> bool {
        self.accepted && (self.answered.is_empty() || self.answered.contains(&doubt))
    }

    /// Whether the stick stood only part of the way: then somebody has said so.
    fn is_part_way(&self) -> bool {
        self.subject.deflection().axis() != Axis::Collective && self.stick.value().abs() < FULL_PERCENT
    }

    /// Whether it stands for an end: the stick all the way over, or just short of a bind.
    pub(super) fn reaches_the_end(&self) -> bool {
        !self.is_part_way() || self.limited_by == LimitedBy::Bind
    }
}

/// The raw samples behind a capture, kept apart from it because they are large.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct RawSamples {
    /// Counts per g by the profile, before any calibration.
    pub counts_per_g: f64,
    /// The samples as they came.
    pub samples: Vec<Sample>,
}
