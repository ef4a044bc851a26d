//! What a simulated bench holds: the head, the sensor, the clip, the hand on the sticks, and what happens when.
//!
//! A scenario is a TOML text. Every field has a default, and the default of every error is zero: an empty text is a
//! perfect clockwise two-blade head with a perfect sensor, sending the `sentence` profile at 200 Hz.

use super::vocabulary::{Blade, End, Lengthening, Mount, Rotation, words};
use super::{RigError, check};
use crate::stream::Profile as SensorProfile;
use crate::units::{Angle, AxisMap, Celsius, Gravities, Hertz, Millimetres, Percent, Seconds};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A whole simulated bench.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Scenario {
    /// What everything drawn at random is drawn from: the same seed gives the same bytes.
    pub seed: u64,
    /// The main rotor's head.
    pub head: Head,
    /// What each main blade has of its own.
    pub blades: Blades,
    /// The servos.
    pub servos: Servos,
    /// The tail rotor.
    pub tail: Tail,
    /// Where linkages stop.
    #[serde(rename = "bind")]
    pub binds: Vec<Bind>,
    /// The sensor.
    pub sensor: Sensor,
    /// The clip.
    pub clip: Clip,
    /// The hand on the sticks.
    pub operator: Operator,
    /// The reference surface on the bench.
    pub table: Table,
    /// The line.
    pub stream: StreamSettings,
    /// What happens by itself, and when.
    pub timeline: Vec<Event>,
}

/// The main rotor's head and its linkage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Head {
    /// Direction of rotation from above.
    pub rotation: Rotation,
    /// How many blades, 2 to [`MOST_BLADES`](crate::units::MOST_BLADES).
    pub blades: usize,
    /// Where blade A stands at the start, degrees from the boom in the direction of rotation.
    pub station_deg: Angle,
    /// How far the shaft leans toward the nose, degrees.
    pub nose_deg: Angle,
    /// How far the shaft leans to the left, degrees.
    pub left_deg: Angle,
    /// Pitch of every blade at full collective with an exact linkage (and its negative at the low end), degrees.
    pub collective_deg: Angle,
    /// Cyclic pitch at full stick with an exact linkage, degrees; the three servos' arcs raise or lower the plate a
    /// little with it, so that one direction comes out larger than the other.
    pub cyclic_deg: Angle,
    /// Pitch arm, feather axis to link ball.
    pub pitch_arm_mm: Millimetres,
    /// Blade pitch at which the pitch arm is square to its link, degrees.
    pub arm_square_at_deg: Angle,
    /// How far the pitch link stands ahead of its blade, degrees.
    pub link_lead_deg: Angle,
    /// How far the mixer turns the swashplate's tilt in the direction of rotation, degrees.
    pub mixing_phase_deg: Angle,
    /// Pitch of the pitch link's thread.
    pub link_thread_mm: Millimetres,
    /// Whether the pitch link has opposed threads (one turn then moves it by two thread pitches).
    pub link_opposed: bool,
    /// What a longer pitch link does to the pitch.
    pub link_lengthening: Lengthening,
    /// How far out along the span the ball of a blade's pitch arm stands: a blade that tilts up by δ turns by this over the pitch arm
    /// times δ, against the link (delta three).
    pub link_span_mm: Millimetres,
    /// How far a bent spindle tilts the grips against the disc, degrees; it turns with the head.
    pub spindle_bend_deg: Angle,
    /// Which way it lifts them, counted from blade A in the direction of rotation, degrees: 0 lifts the tip of blade A, 90 its
    /// leading edge. Turned in its grips by so many degrees, it is bent toward as many less.
    pub spindle_bend_azimuth_deg: Angle,
    /// Lost motion at the blade: reading approached from above less reading approached from below, degrees.
    pub slop_deg: Angle,
    /// Servo arm.
    pub servo_arm_mm: Millimetres,
    /// Circle of the servo links on the swashplate.
    pub plate_servo_radius_mm: Millimetres,
    /// Circle of the pitch links on the swashplate.
    pub plate_link_radius_mm: Millimetres,
}

impl Default for Head {
    fn default() -> Self {
        Self {
            rotation: Rotation::Clockwise,
            blades: 2,
            station_deg: Angle::ZERO,
            nose_deg: Angle::ZERO,
            left_deg: Angle::ZERO,
            collective_deg: Angle::from_degrees(11.0),
            cyclic_deg: Angle::from_degrees(11.0),
            pitch_arm_mm: Millimetres::new(20.0),
            arm_square_at_deg: Angle::ZERO,
            link_lead_deg: Angle::from_degrees(90.0),
            mixing_phase_deg: Angle::ZERO,
            link_thread_mm: Millimetres::new(0.45),
            link_opposed: false,
            link_lengthening: Lengthening::Raises,
            link_span_mm: Millimetres::new(0.0),
            spindle_bend_deg: Angle::ZERO,
            spindle_bend_azimuth_deg: Angle::ZERO,
            slop_deg: Angle::ZERO,
            servo_arm_mm: Millimetres::new(15.0),
            plate_servo_radius_mm: Millimetres::new(25.0),
            plate_link_radius_mm: Millimetres::new(15.0),
        }
    }
}

/// What each main blade has of its own, in the order A, B, …; a list may be short, the rest is zero.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Blades {
    /// Pitch that each link is off by at the start, degrees; the links can be turned by command.
    pub link_error_deg: Vec<Angle>,
    /// Inclination of each span against the disc, tip up positive: a drooping blade has a negative one, degrees.
    pub droop_deg: Vec<Angle>,
}

/// The three swashplate servos, at the nose, left aft and right aft, and how servos behave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Servos {
    /// How far each arm stands off square at centre, its rod made to fit, degrees.
    pub arm_offset_deg: [Angle; 3],
    /// Sub-trim of each servo, degrees of its arm.
    pub sub_trim_deg: [Angle; 3],
    /// Share of every move that is made late.
    pub creep_percent: Percent,
    /// Time constant with which the late share follows.
    pub creep_time_s: Seconds,
    /// Amplitude of a servo's hum at the blade, at all times, degrees.
    pub buzz_deg: Angle,
    /// Mean frequency of hum and buzz.
    pub buzz_hz: Hertz,
    /// Standard deviation by which that frequency strays.
    pub buzz_wander_hz: Hertz,
    /// Amplitude of the buzz at the blade while a servo pushes against a stop, degrees.
    pub bind_buzz_deg: Angle,
    /// Share by which a linkage held against its stop gives way in the end.
    pub bind_creep_percent: Percent,
}

impl Default for Servos {
    fn default() -> Self {
        Self {
            arm_offset_deg: [Angle::ZERO; 3],
            sub_trim_deg: [Angle::ZERO; 3],
            creep_percent: Percent::new(0.0),
            creep_time_s: Seconds::new(0.6),
            buzz_deg: Angle::ZERO,
            buzz_hz: Hertz::new(33.0),
            buzz_wander_hz: Hertz::new(0.0),
            bind_buzz_deg: Angle::from_degrees(0.15),
            bind_creep_percent: Percent::new(0.0),
        }
    }
}

/// The tail rotor: two blades on a shaft that lies across, a slider, one servo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Tail {
    /// Pitch added at full stick with an exact linkage, degrees.
    pub travel_deg: Angle,
    /// Pitch at stick centre, degrees. Positive pushes the nose against the main rotor's torque.
    pub neutral_deg: Angle,
    /// Pitch that each of the two blades is off by, degrees.
    pub blade_error_deg: [Angle; 2],
    /// Pitch arm of a tail blade.
    pub pitch_arm_mm: Millimetres,
    /// Arm of the tail servo, reduced to the slider.
    pub servo_arm_mm: Millimetres,
    /// Lost motion at the blade, degrees.
    pub slop_deg: Angle,
    /// How far off level the span is left when a tail blade is turned leading edge up or down by eye, degrees.
    pub level_error_deg: Angle,
}

impl Default for Tail {
    fn default() -> Self {
        Self {
            travel_deg: Angle::from_degrees(30.0),
            neutral_deg: Angle::ZERO,
            blade_error_deg: [Angle::ZERO; 2],
            pitch_arm_mm: Millimetres::new(9.0),
            servo_arm_mm: Millimetres::new(10.0),
            slop_deg: Angle::ZERO,
            level_error_deg: Angle::ZERO,
        }
    }
}

/// A place where a linkage stops short of its end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bind {
    /// Which end of which stick, such as `elevator down`.
    pub at: End,
    /// Travel from neutral, on an exact blade, at which it stops, degrees.
    pub travel_deg: Angle,
}

/// The accelerometer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Sensor {
    /// Which of its axes lie along the blade's chord and normal.
    pub axes: AxisMap,
    /// Counts for 1 g.
    pub counts_per_g: f64,
    /// Where its range ends, either way; beyond it stands at the end.
    pub range_g: Gravities,
    /// Offset of each axis, thousandths of a g.
    pub offset_mg: [f64; 3],
    /// Excess of each axis' scale.
    pub scale_percent: [Percent; 3],
    /// Lean of the axes against each other (y toward x, z toward x, z toward y), degrees.
    pub cross_axis_deg: [Angle; 3],
    /// Turn of the chip in its case about the case's x, y and z, degrees.
    pub misalignment_deg: [Angle; 3],
    /// Change of each offset, thousandths of a g per °C from the reference temperature.
    pub tempco_mg_per_c: [f64; 3],
    /// The temperature at which the offsets are as stated.
    pub reference_celsius: Celsius,
    /// Its temperature at the start.
    pub celsius: Celsius,
    /// White noise, millionths of a g per root hertz.
    pub noise_density_ug_rthz: f64,
    /// Flicker (1/f) noise: standard deviation that each of its 14 octaves adds, thousandths of a g.
    pub flicker_mg: f64,
    /// Share of samples that are spikes.
    pub spike_percent: Percent,
    /// Size of a spike at most.
    pub spike_g: Gravities,
}

impl Default for Sensor {
    fn default() -> Self {
        Self {
            axes: AxisMap::default(),
            counts_per_g: 16384.0,
            range_g: Gravities::new(2.0),
            offset_mg: [0.0; 3],
            scale_percent: [Percent::new(0.0); 3],
            cross_axis_deg: [Angle::ZERO; 3],
            misalignment_deg: [Angle::ZERO; 3],
            tempco_mg_per_c: [0.0; 3],
            reference_celsius: Celsius::new(25.0),
            celsius: Celsius::new(25.0),
            noise_density_ug_rthz: 0.0,
            flicker_mg: 0.0,
            spike_percent: Percent::new(0.0),
            spike_g: Gravities::new(0.5),
        }
    }
}

/// The clip that holds the sensor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Clip {
    /// The main blade it sits on at the start.
    pub blade: Blade,
    /// Which way it sits at the start.
    pub mount: Mount,
    /// What the clip adds to the pitch of a blade when forward, degrees.
    pub chord_offset_deg: Angle,
    /// What the clip adds to the span's inclination when forward, degrees.
    pub span_offset_deg: Angle,
    /// How far the clip is turned from square to the span, degrees.
    pub yaw_deg: Angle,
    /// Standard deviation of the chord offset that every seating draws anew, degrees.
    pub reseat_deg: Angle,
    /// Standard deviation of the yaw that every seating draws anew, degrees.
    pub reseat_yaw_deg: Angle,
    /// What the hanging cable adds to the pitch, degrees; nothing while it is lifted.
    pub cable_pull_deg: Angle,
}

impl Default for Clip {
    fn default() -> Self {
        Self {
            blade: Blade::A,
            mount: Mount::Forward,
            chord_offset_deg: Angle::ZERO,
            span_offset_deg: Angle::ZERO,
            yaw_deg: Angle::ZERO,
            reseat_deg: Angle::ZERO,
            reseat_yaw_deg: Angle::ZERO,
            cable_pull_deg: Angle::ZERO,
        }
    }
}

/// The hand on the sticks. Moves with a duration show all of this; moves without one are made at once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Operator {
    /// How far a move goes past its end before it comes back, as a share of the move.
    pub overshoot_percent: Percent,
    /// How long it rests there.
    pub overshoot_rest_s: Seconds,
    /// Amplitude of the hand's tremor at the blade while a stick is held away from its centre, degrees.
    pub tremor_deg: Angle,
}

impl Default for Operator {
    fn default() -> Self {
        Self { overshoot_percent: Percent::new(0.0), overshoot_rest_s: Seconds::new(0.2), tremor_deg: Angle::ZERO }
    }
}

/// The reference surface on the bench.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Table {
    /// Slope along the chord of a clip lying forward on it, leading edge up positive, degrees.
    pub slope_deg: Angle,
    /// Slope along its span, outward up positive, degrees.
    pub span_slope_deg: Angle,
    /// Standard deviation of the pitch that every laying down draws anew, degrees; none: as on a blade.
    pub seating_deg: Option<Angle>,
}

/// How samples go out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct StreamSettings {
    /// The form of a line.
    pub profile: Profile,
    /// Samples a second.
    pub rate_hz: Hertz,
    /// How far the sensor's rate is off, in percent.
    pub rate_error_percent: Percent,
    /// Standard deviation of the moment of a sample, thousandths of a second.
    pub jitter_ms: f64,
    /// Line speed: the lines of a second must fit.
    pub baud: u32,
    /// Whether the temperature is sent.
    pub temperature: bool,
    /// Counter of the first sample after power is first applied.
    pub first_seq: u16,
    /// Microsecond clock of the first sample after power is first applied.
    pub first_micros: u32,
    /// Silence after power is applied.
    pub boot_s: Seconds,
    /// Share of lines that are damaged.
    pub damage_percent: Percent,
    /// Share of lines that are lost.
    pub loss_percent: Percent,
    /// Share of lines that are sent twice.
    pub repeat_percent: Percent,
}

impl StreamSettings {
    /// The stream of a sensor of this kind, at the rate and line speed that such a one usually has.
    #[must_use]
    pub fn as_usual(self, profile: Profile) -> Self {
        let Some(usual) = SensorProfile::built_in(profile.word()) else { return self };
        // How often a slave is asked is not how often it samples.
        let rate = usual.rate().filter(|_| profile != Profile::Modbus);
        Self { profile, rate_hz: rate.unwrap_or(self.rate_hz), baud: usual.baud(), ..self }
    }
}

impl Default for StreamSettings {
    fn default() -> Self {
        Self {
            profile: Profile::Sentence,
            rate_hz: Hertz::new(200.0),
            rate_error_percent: Percent::new(0.0),
            jitter_ms: 0.0,
            baud: 115_200,
            temperature: false,
            first_seq: 0,
            first_micros: 0,
            boot_s: Seconds::new(0.0),
            damage_percent: Percent::new(0.0),
            loss_percent: Percent::new(0.0),
            repeat_percent: Percent::new(0.0),
        }
    }
}

words! {
    /// The form of a line on the wire.
    Profile, "simulated profile", {
        /// `$PCLIN,seq,micros,x,y,z[,celsius]*hh` with whole counts.
        Sentence = "sentence",
        /// `x,y,z` in g.
        Columns = "columns",
        /// `x:… y:… z:…` in g.
        Labelled = "labelled",
        /// Pitch and roll in NMEA 0183 `XDR` sentences.
        Xdr = "xdr",
        /// Binary frames with whole counts.
        Frame = "frame",
        /// Registers of a Modbus RTU slave, in mg: on a line it answers when it is asked, elsewhere each sample is an answer.
        Modbus = "modbus",
    }
}

impl Profile {
    /// Bytes on the line for each sample, in the shortest case; none where nothing is sent unasked.
    pub(super) const fn shortest(self) -> f64 {
        match self {
            Self::Sentence | Self::Columns | Self::Labelled => 24.0,
            Self::Xdr => 44.0,
            Self::Frame => 18.0,
            Self::Modbus => 0.0,
        }
    }
}

/// One thing that happens by itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Event {
    /// When, on the rig's own clock.
    pub at_s: Seconds,
    /// The command, as it would be typed.
    pub command: String,
}

impl FromStr for Scenario {
    type Err = RigError;

    fn from_str(text: &str) -> Result<Self, RigError> {
        let scenario: Self = toml::from_str(text).map_err(|error| RigError::Scenario(error.to_string()))?;
        check::scenario(&scenario)?;
        Ok(scenario)
    }
}
