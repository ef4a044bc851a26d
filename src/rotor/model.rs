//! What a blade at a station reads on a helicopter that leans: the equations of the rotor solution.
//!
//! With v the vertical in body axes (any length), s, t its parts along span and turn, and β the flap:
//!
//! ```text
//! p = cosβ·s + sinβ·v_k      q = cosβ·v_k − sinβ·s      h = √(t² + q²)
//! φ = c + θ1c·cosψ + θ1s·sinψ + atan2(t, q) ± δ         ε = atan2(p, h) ± σ
//! ```
//!
//! with + for a clip that sits forward and − for a reversed one, δ the clip's offset about the span, σ the one
//! about the chord. The derivatives follow line by line. Exact at any lean, droop and pitch.

use super::{BladeName, BodyVector, Clip, Rotation, RotorReading, Station};
use crate::units::Angle;
use std::fmt;

/// One unknown of the rotor solution; written with the name it has in documents.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unknown {
    /// Lean of the shaft toward the nose.
    Nose,
    /// Lean of the shaft toward the left.
    Left,
    /// Swashplate tilt, the part with cosψ.
    Cos,
    /// Swashplate tilt, the part with sinψ.
    Sin,
    /// The clip's offset about the span.
    ClipOffset,
    /// The clip's offset about the chord.
    ClipSpanOffset,
    /// Collective of one blade.
    Collective(BladeName),
    /// Flap of one blade at rest, tip up positive.
    Droop(BladeName),
}

impl fmt::Display for Unknown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Nose => f.write_str("nose_deg"),
            Self::Left => f.write_str("left_deg"),
            Self::Cos => f.write_str("cos_deg"),
            Self::Sin => f.write_str("sin_deg"),
            Self::ClipOffset => f.write_str("clip_offset_deg"),
            Self::ClipSpanOffset => f.write_str("clip_span_offset_deg"),
            Self::Collective(blade) => write!(f, "collective_deg[{}]", blade.index() + 1),
            Self::Droop(blade) => write!(f, "droop_deg[{}]", blade.index() + 1),
        }
    }
}

/// Which unknowns a set of readings has, in their order.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Layout {
    pub(super) unknowns: Vec<Unknown>,
    pub(super) blades: Vec<BladeName>,
    pub(super) rotation: Rotation,
}

/// The place of a reading: all that the model needs to foretell it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spotted {
    pub(super) blade: BladeName,
    pub(super) station: Station,
    pub(super) clip: Clip,
}

impl From<&RotorReading> for Spotted {
    fn from(reading: &RotorReading) -> Self {
        Self { blade: reading.blade, station: reading.station, clip: reading.clip }
    }
}

/// What the model foretells, radians, with the derivatives by every unknown.
pub(super) struct Foretold {
    pub(super) apparent: f64,
    pub(super) span: f64,
    pub(super) by_apparent: Vec<f64>,
    pub(super) by_span: Vec<f64>,
}

impl Layout {
    /// The clip's offsets are unknowns only where some readings are forward and some reversed.
    pub(super) fn of(readings: &[RotorReading], rotation: Rotation) -> Self {
        let mut blades: Vec<BladeName> = readings.iter().map(|r| r.blade).collect();
        blades.sort_unstable();
        blades.dedup();
        let mut unknowns = vec![Unknown::Nose, Unknown::Left, Unknown::Cos, Unknown::Sin];
        let has = |clip| readings.iter().any(|r| r.clip == clip);
        if has(Clip::Forward) && has(Clip::Reversed) {
            unknowns.extend([Unknown::ClipOffset, Unknown::ClipSpanOffset]);
        }
        unknowns.extend(blades.iter().flat_map(|&b| [Unknown::Collective(b), Unknown::Droop(b)]));
        Self { unknowns, blades, rotation }
    }

    /// Where an unknown stands.
    pub(super) fn place(&self, unknown: Unknown) -> Option<usize> {
        self.unknowns.iter().position(|&u| u == unknown)
    }

    fn value(&self, values: &[f64], unknown: Unknown) -> f64 {
        self.place(unknown).and_then(|place| values.get(place)).copied().unwrap_or(0.0)
    }

    /// What a reading there would be with the given values of the unknowns, radians.
    pub(super) fn foretell(&self, values: &[f64], at: Spotted) -> Foretold {
        let of = |unknown| self.value(values, unknown);
        let (sin, cos) = (at.station.azimuth().sin(), at.station.azimuth().cos());
        let clip = at.clip.sign();

        // The vertical with its part along the shaft set to 1: its length drops out of both angles.
        let (nose, left) = (of(Unknown::Nose).tan(), of(Unknown::Left).tan());
        let hub = |nose, left| BodyVector { nose, left, shaft: 1.0 }.at(at.station, self.rotation);
        let v = hub(-nose, -left);
        let by_nose = hub(-(1.0 + nose * nose), 0.0);
        let by_left = hub(0.0, -(1.0 + left * left));

        let (sin_flap, cos_flap) = of(Unknown::Droop(at.blade)).sin_cos();
        let (s, t) = (v.span, v.turn);
        let (p, q) = (cos_flap * s + sin_flap, cos_flap - sin_flap * s);
        let h = t.hypot(q);
        let lean = Slope { p, q, t, h };

        let apparent = of(Unknown::Collective(at.blade))
            + of(Unknown::Cos) * cos
            + of(Unknown::Sin) * sin
            + t.atan2(q)
            + clip * of(Unknown::ClipOffset);
        let span = p.atan2(h) + clip * of(Unknown::ClipSpanOffset);

        let through_vertical = |by: super::HubVector| lean.by(cos_flap * by.span, -sin_flap * by.span, by.turn);
        let derivative = |unknown: &Unknown| match *unknown {
            Unknown::Nose => through_vertical(by_nose),
            Unknown::Left => through_vertical(by_left),
            Unknown::Cos => (cos, 0.0),
            Unknown::Sin => (sin, 0.0),
            Unknown::ClipOffset => (clip, 0.0),
            Unknown::ClipSpanOffset => (0.0, clip),
            Unknown::Collective(blade) => (if blade == at.blade { 1.0 } else { 0.0 }, 0.0),
            Unknown::Droop(blade) if blade == at.blade => lean.by(q, -p, 0.0),
            Unknown::Droop(_) => (0.0, 0.0),
        };
        let (by_apparent, by_span) = self.unknowns.iter().map(derivative).unzip();
        Foretold { apparent, span, by_apparent, by_span }
    }
}

/// The vertical in the axes of a flapped, unfeathered blade.
struct Slope {
    p: f64,
    q: f64,
    t: f64,
    h: f64,
}

impl Slope {
    /// Changes of atan2(t, q) and atan2(p, h) when p, q and t change by so much.
    fn by(&self, dp: f64, dq: f64, dt: f64) -> (f64, f64) {
        let Self { p, q, t, h } = *self;
        let dh = (t * dt + q * dq) / h;
        ((q * dt - t * dq) / (h * h), (h * dp - p * dh) / (p * p + h * h))
    }
}

/// The difference of two directions, radians, brought within half a turn.
pub(super) fn wrapped(radians: f64) -> f64 {
    Angle::from_radians(radians).wrapped().radians()
}
