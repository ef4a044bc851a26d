//! Heads whose truth is known, read by rotation matrices: no formula of the rotor solution stands here.

use clinoblade::rotor::{BladeName, Clip, Rotation, RotorReading, Station, Unknown};
use clinoblade::units::Angle;
use nalgebra::{Rotation3, Unit, Vector3};

/// A linear congruential generator (Knuth, MMIX constants).
pub struct Dice(pub u64);

impl Dice {
    /// Uniform in −1..1.
    pub fn roll(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }

    pub fn below(&mut self, n: usize) -> usize {
        ((self.roll() + 1.0) / 2.0 * n as f64) as usize % n
    }

    /// Normal, by the polar method.
    pub fn normal(&mut self) -> f64 {
        loop {
            let (a, b) = (self.roll(), self.roll());
            let s = a * a + b * b;
            if s > 0.0 && s < 1.0 {
                return a * (-2.0 * s.ln() / s).sqrt();
            }
        }
    }
}

/// A head whose truth is known, degrees.
#[derive(Clone, Debug)]
pub struct Head {
    pub rotation: Rotation,
    pub pitched: f64,
    pub rolled: f64,
    pub cos: f64,
    pub sin: f64,
    pub clip_offset: f64,
    pub clip_span_offset: f64,
    pub blades: Vec<(f64, f64)>,
}

fn turned(about: Vector3<f64>, degrees: f64, vector: Vector3<f64>) -> Vector3<f64> {
    Rotation3::from_axis_angle(&Unit::new_normalize(about), degrees.to_radians()) * vector
}

impl Head {
    pub fn drawn(dice: &mut Dice, blades: usize) -> Self {
        Self {
            rotation: if dice.roll() > 0.0 { Rotation::Clockwise } else { Rotation::Anticlockwise },
            pitched: 7.0 * dice.roll(),
            rolled: 7.0 * dice.roll(),
            cos: 8.0 * dice.roll(),
            sin: 8.0 * dice.roll(),
            clip_offset: 3.0 * dice.roll(),
            clip_span_offset: 2.0 * dice.roll(),
            blades: (0..blades).map(|_| (12.0 * dice.roll(), 6.0 * dice.roll())).collect(),
        }
    }

    /// The vertical in body axes (x nose, y left, z shaft): the model turned about its own axes, one after the other.
    pub fn up(&self) -> Vector3<f64> {
        turned(Vector3::x(), self.rolled, turned(Vector3::y(), self.pitched, Vector3::z()))
    }

    /// The lean by its definition, in degrees.
    pub fn lean(&self) -> (f64, f64) {
        let up = self.up();
        ((-up.x).atan2(up.z).to_degrees(), (-up.y).atan2(up.z).to_degrees())
    }

    /// Apparent pitch and span slope in degrees, clip turned.
    pub fn read(&self, blade: usize, azimuth: f64, clip: Clip) -> (f64, f64) {
        let (collective, flap) = self.blades[blade];
        // Over the boom: span aft, leading edge to the right on an anticlockwise rotor, to the left on a clockwise one.
        let sense = if self.rotation == Rotation::Anticlockwise { 1.0 } else { -1.0 };
        let place = |v| turned(Vector3::z(), sense * azimuth, v);
        let (span, edge, normal) = (place(-Vector3::x()), place(Vector3::new(0.0, -sense, 0.0)), Vector3::z());
        // Flap: span toward the shaft. Feather: leading edge toward the normal.
        let hinge = span.cross(&normal);
        let (span, normal) = (turned(hinge, flap, span), turned(hinge, flap, normal));
        let (sin, cos) = azimuth.to_radians().sin_cos();
        let pitch = collective + self.cos * cos + self.sin * sin;
        let axis = edge.cross(&normal);
        let (edge, normal) = (turned(axis, pitch, edge), turned(axis, pitch, normal));
        // The sensor: end for end where reversed, its chord then lifted by the clip's offset.
        let way = if clip == Clip::Forward { 1.0 } else { -1.0 };
        let axis = (edge * way).cross(&normal);
        let (chord, out) = (turned(axis, self.clip_offset, edge * way), turned(axis, self.clip_offset, normal));
        let up = self.up();
        let own = up.dot(&chord).atan2(up.dot(&out)).to_degrees();
        (own * way, up.dot(&span).asin().to_degrees() + way * self.clip_span_offset)
    }

    pub fn reading(&self, blade: usize, azimuth: f64, clip: Clip) -> RotorReading {
        let (apparent, span) = self.read(blade, azimuth, clip);
        RotorReading {
            blade: BladeName::from_index(blade).unwrap(),
            station: Station::from_degrees(azimuth).unwrap(),
            clip,
            apparent: Angle::from_degrees(apparent),
            span: Angle::from_degrees(span),
            u: None,
        }
    }

    pub fn truth(&self, unknown: Unknown, clip_was_turned: bool) -> f64 {
        let (nose, left) = self.lean();
        match unknown {
            Unknown::Nose => nose,
            Unknown::Left => left,
            Unknown::Cos => self.cos,
            Unknown::Sin => self.sin,
            Unknown::ClipOffset => self.clip_offset,
            Unknown::ClipSpanOffset => self.clip_span_offset,
            Unknown::Collective(b) => self.blades[b.index()].0 + if clip_was_turned { 0.0 } else { self.clip_offset },
            Unknown::Droop(b) => self.blades[b.index()].1 + if clip_was_turned { 0.0 } else { self.clip_span_offset },
        }
    }

    /// Readings that observe everything: every blade at some stations, some of them with the clip turned.
    pub fn survey(&self, dice: &mut Dice, turn_clip: bool) -> Vec<RotorReading> {
        const SETS: [&[f64]; 4] = [
            &[0.0, 90.0, 180.0, 270.0],
            &[0.0, 120.0, 240.0],
            &[0.0, 90.0, 180.0],
            &[15.0, 100.0, 190.0, 290.0, 340.0],
        ];
        let stations = SETS[dice.below(SETS.len())];
        let mut readings = Vec::new();
        for blade in 0..self.blades.len() {
            for &azimuth in stations {
                readings.push(self.reading(blade, azimuth, Clip::Forward));
                if turn_clip {
                    readings.push(self.reading(blade, azimuth, Clip::Reversed));
                }
            }
        }
        readings
    }
}

/// With forward clips only the clip's own offsets are part of collective and droop; an offset of the span is then added
/// to the slope rather than turned, so it is left out of those heads.
pub fn head(dice: &mut Dice, blades: usize, turn_clip: bool) -> Head {
    let drawn = Head::drawn(dice, blades);
    if turn_clip { drawn } else { Head { clip_span_offset: 0.0, ..drawn } }
}
