//! The description of a helicopter's head: what it is, and what is wanted of it. Kept as a TOML file.

use super::swash::Swash;
use crate::rotor::{Aileron, BladeName, Collective, Elevator};
use crate::rotor::{Deflection, Rotation, Rudder};
use crate::uncertainty::Target;
use crate::units::{Angle, MOST_BLADES, Millimetres};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How many blades: 2 or more, as many as there are letters for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "u8", into = "u8")]
#[schemars(extend("minimum" = 2, "maximum" = MOST_BLADES))]
pub struct BladeCount(u8);

impl TryFrom<u8> for BladeCount {
    type Error = String;
    fn try_from(blades: u8) -> Result<Self, Self::Error> {
        if (2..=MOST_BLADES).contains(&usize::from(blades)) {
            Ok(Self(blades))
        } else {
            Err(format!("{blades} blades: write 2 to {MOST_BLADES}"))
        }
    }
}

impl From<BladeCount> for u8 {
    fn from(count: BladeCount) -> Self {
        count.0
    }
}

impl BladeCount {
    /// The number.
    #[must_use]
    pub const fn get(self) -> u8 {
        self.0
    }

    /// The blades by name, the reference blade A first.
    pub fn names(self) -> impl Iterator<Item = BladeName> {
        (0..usize::from(self.0)).filter_map(BladeName::from_index)
    }
}

/// From the feathering axis to the ball on the pitch arm, millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "f64", into = "f64")]
#[schemars(extend("exclusiveMinimum" = 1, "exclusiveMaximum" = 200))]
pub(super) struct Arm(f64);

impl TryFrom<f64> for Arm {
    type Error = String;
    fn try_from(mm: f64) -> Result<Self, Self::Error> {
        if mm > 1.0 && mm < 200.0 { Ok(Self(mm)) } else { Err(format!("{mm} mm: not 1 to 200 mm")) }
    }
}

impl From<Arm> for f64 {
    fn from(arm: Arm) -> Self {
        arm.0
    }
}

/// Thread of the pitch links, with its pitch by the ISO 261 coarse series.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum LinkThread {
    /// M2, 0.40 mm a turn.
    M2,
    /// M2.5, 0.45 mm a turn.
    #[serde(rename = "M2.5")]
    M2_5,
    /// M3, 0.50 mm a turn.
    M3,
}

impl LinkThread {
    /// Advance in one full turn.
    #[must_use]
    pub const fn pitch(self) -> Millimetres {
        Millimetres::new(match self {
            Self::M2 => 0.40,
            Self::M2_5 => 0.45,
            Self::M3 => 0.50,
        })
    }
}

/// How finely a ball link can be turned before it is snapped on again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum LinkSeat {
    /// It snaps on from either face: every half-turn.
    #[serde(rename = "half turn")]
    HalfTurn,
    /// It must face one way: every full turn.
    #[serde(rename = "full turn")]
    FullTurn,
}

/// What a longer pitch link does to the blade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Lengthening {
    /// More pitch.
    Raises,
    /// Less pitch.
    Lowers,
}

/// The pitch links and the arms they move.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Link {
    #[serde(rename = "pitch_arm_mm")]
    arm: Arm,
    /// Its thread.
    pub thread: LinkThread,
    /// How finely it seats.
    pub seats: LinkSeat,
    /// Whether it has opposed threads, so that one turn moves it by two pitches.
    #[serde(default)]
    pub turnbuckle: bool,
    /// What a longer link does to the pitch, where it is known.
    pub lengthening: Option<Lengthening>,
    /// The blade's pitch at which the arm is square to its link.
    #[serde(default, rename = "square_at_deg", deserialize_with = "within_a_turn")]
    #[schemars(schema_with = "turn_schema")]
    pub square_at: Angle,
}

impl Link {
    /// From the feathering axis to the ball on the pitch arm.
    #[must_use]
    pub const fn pitch_arm(&self) -> Millimetres {
        Millimetres::new(self.arm.0)
    }
}

/// Which rudder direction gives positive pitch as read on a tail blade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum TailPositive {
    /// Rudder left.
    Left,
    /// Rudder right.
    Right,
}

/// The tail rotor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tail {
    /// Its blades.
    pub blades: BladeCount,
    /// Which rudder direction gives positive pitch, where it is known.
    pub positive: Option<TailPositive>,
    /// The number of the tail's servo, where sub-trims and servo arms are recorded by number.
    #[serde(default)]
    pub servo: Option<u8>,
}

impl Default for Tail {
    fn default() -> Self {
        Self { blades: BladeCount(2), positive: None, servo: None }
    }
}

/// What is wanted of each cell of the record. The model's own manual overrides every default here.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Targets {
    /// Each blade at mid stick. Default 0 ± 0.5 (common practice, no source).
    pub blade_zero: Target,
    /// Pitch difference between blades at one station, without its sign. Default at most 0.5 (common practice, no source).
    pub track_split: Target,
    /// Cyclic each way, where no direction has its own. Default at most 12 (common practice, no source).
    pub cyclic: Target,
    /// Tail each way, where no direction has its own. Default at most 45 (common practice, no source).
    pub tail: Target,
    /// The tail's pitch at stick centre, positive toward the side that holds the torque; only owed when wanted.
    pub tail_neutral: Option<Target>,
    /// Pitch difference between tail blades, without its sign. Default at most 0.4 (general practice of full-size tail
    /// rigging, from memory).
    pub tail_split: Target,
    /// Elevator up, if it differs.
    pub elevator_up: Option<Target>,
    /// Elevator down, if it differs.
    pub elevator_down: Option<Target>,
    /// Aileron left, if it differs.
    pub aileron_left: Option<Target>,
    /// Aileron right, if it differs.
    pub aileron_right: Option<Target>,
    /// Rudder left, if it differs.
    pub rudder_left: Option<Target>,
    /// Rudder right, if it differs.
    pub rudder_right: Option<Target>,
    /// Collective at the low end, as pitch with its sign; only recorded when wanted.
    pub collective_low: Option<Target>,
    /// Collective at the high end; only recorded when wanted.
    pub collective_high: Option<Target>,
    /// Lost motion. Default at most 0.3 (common practice, no source).
    pub slop: Target,
    /// Droop of a blade less that of blade A. Default at most 1 (common practice, no source).
    pub droop: Target,
    /// Bend of the spindle. Default at most 0.2 (common practice, no source).
    pub spindle: Target,
    /// How far the swashplate leans at stick centre, where it differs from at most 0.3 (common practice, no source).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub swash_level: Option<Target>,
    /// What the hanging cable does to the reading. Default at most 0.1 (common practice, no source).
    pub cable: Target,
}

impl Targets {
    /// How far the swashplate may lean at stick centre.
    #[must_use]
    pub fn swash_level(&self) -> Target {
        self.swash_level.unwrap_or(Target::AtMost(Angle::from_degrees(0.3)))
    }
}

impl Default for Targets {
    fn default() -> Self {
        let ceiling = |degrees| Target::AtMost(Angle::from_degrees(degrees));
        Self {
            blade_zero: Target::Band { target: Angle::ZERO, tolerance: Angle::from_degrees(0.5) },
            track_split: ceiling(0.5),
            cyclic: ceiling(12.0),
            tail: ceiling(45.0),
            tail_neutral: None,
            tail_split: ceiling(0.4),
            elevator_up: None,
            elevator_down: None,
            aileron_left: None,
            aileron_right: None,
            rudder_left: None,
            rudder_right: None,
            collective_low: None,
            collective_high: None,
            slop: ceiling(0.3),
            droop: ceiling(1.0),
            spindle: ceiling(0.2),
            swash_level: None,
            cable: ceiling(0.1),
        }
    }
}

/// A helicopter's head as its owner describes it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Head {
    /// What the owner calls it.
    pub name: String,
    /// Direction of the main rotor, seen from above.
    pub rotation: Rotation,
    /// Main blades.
    pub blades: BladeCount,
    /// Phase angle built into the control: positive where the blades answer later in the direction of rotation.
    #[serde(default, rename = "control_phase_deg", deserialize_with = "within_a_turn")]
    #[schemars(schema_with = "turn_schema")]
    pub control_phase: Angle,
    /// How far a blade may stand from its station without anyone noticing: half width of a uniform distribution.
    #[serde(default = "default_station_error", rename = "station_error_deg", deserialize_with = "station_error")]
    #[schemars(schema_with = "station_error_schema")]
    pub station_error: Angle,
    /// The pitch links.
    pub link: Link,
    /// The swashplate, where it was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub swash: Option<Swash>,
    /// The tail rotor.
    #[serde(default)]
    pub tail: Tail,
    /// What is wanted.
    #[serde(default)]
    pub targets: Targets,
}

fn default_station_error() -> Angle {
    Angle::from_degrees(5.0)
}

fn station_error<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Angle, D::Error> {
    let error = Angle::deserialize(deserializer)?;
    if (0.0..=30.0).contains(&error.degrees()) { Ok(error) } else { Err(serde::de::Error::custom("write 0 to 30")) }
}

/// A direction or an angle of an arm: more than a whole turn is a slip of the pen.
fn within_a_turn<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Angle, D::Error> {
    let angle = Angle::deserialize(deserializer)?;
    if angle.degrees().abs() <= 360.0 { Ok(angle) } else { Err(serde::de::Error::custom("write -360 to 360")) }
}

fn turn_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
    schemars::json_schema!({ "type": "number", "minimum": -360, "maximum": 360 })
}

fn station_error_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
    schemars::json_schema!({ "type": "number", "minimum": 0, "maximum": 30 })
}

/// Why a description cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum HeadError {
    /// The text is no description of a head.
    #[error("head description:\n{0}")]
    Description(String),
}

impl Head {
    /// Reads a description from the text of its TOML file.
    ///
    /// # Errors
    /// Points at the line that cannot be read, is unknown or makes no sense.
    pub fn from_toml(text: &str) -> Result<Self, HeadError> {
        toml::from_str(text).map_err(|error| HeadError::Description(error.to_string()))
    }

    /// The text of its TOML file.
    ///
    /// # Errors
    /// Never in fact: a description holds nothing that TOML cannot.
    pub fn to_toml(&self) -> Result<String, toml::ser::Error> {
        toml::to_string(self)
    }

    /// What is wanted of one axis direction; none for a neutral, a place between, or an end without a target.
    #[must_use]
    pub fn target(&self, deflection: Deflection) -> Option<Target> {
        let targets = &self.targets;
        match deflection {
            Deflection::Elevator(Elevator::Up) => Some(targets.elevator_up.unwrap_or(targets.cyclic)),
            Deflection::Elevator(Elevator::Down) => Some(targets.elevator_down.unwrap_or(targets.cyclic)),
            Deflection::Aileron(Aileron::Left) => Some(targets.aileron_left.unwrap_or(targets.cyclic)),
            Deflection::Aileron(Aileron::Right) => Some(targets.aileron_right.unwrap_or(targets.cyclic)),
            Deflection::Rudder(Rudder::Left) => Some(targets.rudder_left.unwrap_or(targets.tail)),
            Deflection::Rudder(Rudder::Right) => Some(targets.rudder_right.unwrap_or(targets.tail)),
            Deflection::Collective(Collective::Low) => targets.collective_low,
            Deflection::Collective(Collective::High) => targets.collective_high,
            Deflection::Collective(Collective::Mid) => Some(targets.blade_zero),
            Deflection::Collective(Collective::At(_))
            | Deflection::Elevator(Elevator::Neutral)
            | Deflection::Aileron(Aileron::Neutral)
            | Deflection::Rudder(Rudder::Neutral)
            | Deflection::Corner(_) => None,
        }
    }

    /// The text of a new description, with a comment on every line that says what to put there.
    #[must_use]
    pub fn template(name: &str) -> String {
        // A quoted string on one line: a JSON string is one of TOML too, but for DEL (TOML 1.0, basic strings).
        let name = serde_json::Value::String(name.to_owned()).to_string().replace('\u{7f}', "\\u007f");
        format!(include_str!("head_template.toml"), name = name, most_blades = MOST_BLADES)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn changed(from: &str, to: &str) -> String {
        let template = Head::template("Workshop trainer");
        assert!(template.contains(from), "the template has no '{from}'");
        template.replace(from, to)
    }

    fn refusal(from: &str, to: &str) -> String {
        Head::from_toml(&changed(from, to)).unwrap_err().to_string()
    }

    #[test]
    fn the_template_is_a_description_with_the_usual_targets() {
        let head = Head::from_toml(&Head::template("The \"old\" one")).unwrap();
        assert_eq!(head.name, "The \"old\" one");
        assert_eq!(head.targets, Targets::default());
        assert_eq!(head.blades.names().map(|b| b.to_string()).collect::<String>(), "AB");
        assert_eq!(head.target("elevator down".parse().unwrap()).unwrap().to_string(), "at most 12");
        assert_eq!(head.target("rudder left".parse().unwrap()).unwrap().to_string(), "at most 45");
        assert_eq!(head.target("collective mid".parse().unwrap()).unwrap().to_string(), "0 ± 0.5");
        assert_eq!(head.target("collective high".parse().unwrap()), None);
    }

    #[test]
    fn every_line_of_the_template_that_is_commented_out_may_be_used() {
        let text: String = Head::template("x")
            .lines()
            .map(|line| match line.strip_prefix("# ") {
                Some(field) if field.contains(" = ") => format!("{field}\n"),
                _ => format!("{line}\n"),
            })
            .collect();
        let head = Head::from_toml(&text).unwrap();
        assert_eq!(head.tail.positive, Some(TailPositive::Right));
        assert_eq!(head.target("rudder right".parse().unwrap()).unwrap().to_string(), "at most 25");
        assert_eq!(head.target("collective low".parse().unwrap()).unwrap().to_string(), "-10 ± 0.5");
    }

    #[test]
    fn an_unknown_field_is_refused_at_its_line() {
        let error = refusal("blades = 2\n\n# Phase", "blades = 2\nblade_weight = 3\n\n# Phase");
        assert!(
            error.contains("line 11") && error.contains("blade_weight") && error.contains("control_phase_deg"),
            "{error}"
        );
    }

    #[test]
    fn what_cannot_be_is_refused_with_what_to_write() {
        assert!(refusal("blades = 2\n\n# Phase", "blades = 1\n\n# Phase").contains("write 2 to 8"));
        assert!(refusal("blades = 2\n\n# Phase", "blades = 9\n\n# Phase").contains("write 2 to 8"));
        assert!(refusal("\"M2\"\n", "\"M7\"\n").contains("M2.5"));
        assert!(refusal("pitch_arm_mm = 12.0", "pitch_arm_mm = 0").contains("0 mm: not 1 to 200 mm"));
        assert!(refusal("\"at most 45\"", "\"45\"").contains("no target: 45"));
        assert!(refusal("rotation = \"clockwise\"", "rotation = \"left\"").contains("anticlockwise"));
        assert!(refusal("station_error_deg = 5.0", "station_error_deg = -1").contains("write 0 to 30"));
        for field in ["control_phase_deg", "square_at_deg"] {
            let refused = refusal(&format!("{field} = 0.0"), &format!("{field} = 1e19"));
            assert!(refused.contains("write -360 to 360"), "{refused}");
        }
    }

    #[test]
    fn link_threads_have_the_pitch_of_the_coarse_series() {
        // ISO 261, coarse pitch.
        for (thread, pitch) in [(LinkThread::M2, 0.40), (LinkThread::M2_5, 0.45), (LinkThread::M3, 0.50)] {
            assert_eq!(thread.pitch(), Millimetres::new(pitch));
        }
    }

    #[test]
    fn the_example_of_the_workshop_can_be_read() {
        for text in
            [include_str!("../../examples/head-trainer.toml"), include_str!("../../examples/head-three-blade.toml")]
        {
            let head = Head::from_toml(text).unwrap();
            assert_eq!(Head::from_toml(&toml::to_string(&head).unwrap()).unwrap(), head);
        }
    }
}
