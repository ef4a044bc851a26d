//! How everything really stands: what a reading is compared with.

use super::vocabulary::{Blade, Edge, End, Mount, Rotation};
use crate::units::{Angle, Celsius, Percent, Seconds, SensorVector};
use serde::Serialize;

/// The truth at one moment. Hum, buzz, tremor and everything of the sensor are left out: it is what an endless
/// reading with a perfect sensor would give.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// The rig's own time.
    pub now_s: Seconds,
    /// Direction of rotation.
    pub rotation: Rotation,
    /// Where blade A stands, 0° to 360° from the boom in the direction of rotation.
    pub station_deg: Angle,
    /// How the shaft leans.
    pub shaft_tilt: ShaftTilt,
    /// Where the sticks stand.
    pub sticks: Sticks,
    /// What the swashplate asks of an exact blade round the turn.
    pub swash: Swash,
    /// How far a bent spindle tilts the grips, as it sits now: turned half round, the other way.
    pub spindle_bend_deg: Angle,
    /// Which way it lifts them, from blade A in the direction of rotation.
    pub spindle_bent_toward_deg: Angle,
    /// The main blades in order.
    pub blades: Vec<BladeTruth>,
    /// The tail blades in order.
    pub tail: Vec<TailTruth>,
    /// The clip.
    pub clip: ClipTruth,
    /// Which linkages stand against a stop.
    pub binding: Vec<End>,
    /// The sensor's temperature.
    pub celsius: Celsius,
    /// Whether a stick, the head or a hand is still moving, or a servo creeping by more than 0.01 % of its travel.
    pub moving: bool,
    /// Whether the sensor's cable is in.
    pub plugged: bool,
}

/// How the main shaft leans.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ShaftTilt {
    /// Toward the nose.
    pub nose_deg: Angle,
    /// To the left.
    pub left_deg: Angle,
}

/// Where the sticks stand.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Sticks {
    /// −100 full down to +100 full up.
    pub elevator: Percent,
    /// −100 full left to +100 full right.
    pub aileron: Percent,
    /// −100 full left to +100 full right.
    pub rudder: Percent,
    /// 0 low to 100 high.
    pub collective: Percent,
}

/// θ(ψ) = collective + cos·cosψ + sin·sinψ, fitted to an exact blade round the turn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Swash {
    /// Mean pitch.
    pub collective_deg: Angle,
    /// θ1c.
    pub cos_deg: Angle,
    /// θ1s.
    pub sin_deg: Angle,
}

/// One main blade.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BladeTruth {
    /// Which.
    pub blade: Blade,
    /// Where it stands.
    pub station_deg: Angle,
    /// Its pitch against the plane square to the shaft, leading edge up positive; what a bent spindle does is in it.
    pub pitch_deg: Angle,
    /// Its pitch against the vertical, as gravity shows it to a perfect instrument.
    pub apparent_deg: Angle,
    /// Inclination of its span against the horizontal, tip up positive.
    pub span_deg: Angle,
    /// Inclination of its span against the disc, tip up positive; what a bent spindle does is in it.
    pub droop_deg: Angle,
    /// What it adds to an exact blade's pitch at neutral sticks.
    pub link_error_deg: Angle,
}

/// One tail blade.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TailTruth {
    /// Which.
    pub blade: Blade,
    /// Where its leading edge points now.
    pub leading_edge: Edge,
    /// Its pitch out of the disc; positive pushes the nose against the main rotor's torque.
    pub pitch_deg: Angle,
    /// The same as gravity shows it to a perfect instrument: with the model's roll in it.
    pub apparent_deg: Angle,
    /// Inclination of its span against the horizontal.
    pub span_deg: Angle,
}

/// The clip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClipTruth {
    /// What it holds, as in the command: `A`, `tail B`, `table`, `face +x`, `pose 30 0`.
    pub on: String,
    /// Which way it sits.
    pub mount: Mount,
    /// What this seating adds to the pitch when forward.
    pub chord_offset_deg: Angle,
    /// What it adds to the span's inclination when forward.
    pub span_offset_deg: Angle,
    /// How far it is turned from square to the span.
    pub yaw_deg: Angle,
    /// atan2(chord, normal) of a perfect sensor in this clip, sign not turned; without a clip atan2(x, z).
    pub reads_deg: Angle,
    /// What a perfect sensor feels along the case's x, y and z, in g.
    pub case_g: SensorVector,
}
