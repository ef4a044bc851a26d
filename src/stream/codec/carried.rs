//! What a frame carries: the direction of the vertical, and perhaps clock, counter and temperature.
//!
//! An accelerometer sends the force along its three axes. An inclinometer sends angles only: they are turned into the
//! vector that points up, of length 1, and the rest of the program sees a sensor like any other. What that vector
//! cannot say is in [`Direction::limits`].

use super::columns::micros;
use super::{Field, Frame, NumberKind, Received};

/// How a sensor tells where up is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction<T> {
    /// The force along x, y and z.
    Force([T; 3]),
    /// How far the x and the y axis stand above the horizontal, each by itself, within ±90°.
    Inclinations([T; 2]),
    /// Pitch (the x axis above the horizontal, within ±90°) and roll about the x axis (within ±180°), as rotations one
    /// after the other.
    Attitude([T; 2]),
    /// One angle about the y axis, all the way round: 0 with z up, 90° with x up.
    Tilt(T),
}

/// Two inclinations of a sensor that stands on its edge may together exceed what geometry allows by their noise.
const EXCESS: f64 = 1.02;

impl<T> Direction<T> {
    /// Its values, in their order.
    pub fn values(&self) -> &[T] {
        match self {
            Self::Force(values) => values,
            Self::Inclinations(values) | Self::Attitude(values) => values,
            Self::Tilt(value) => std::slice::from_ref(value),
        }
    }

    /// The three axes: the force, or the vector up made of angles in degrees; none where an angle is out of its range.
    pub(super) fn axes(&self, told: impl Fn(usize) -> Option<f64>) -> Option<[f64; 3]> {
        let degrees = |at: usize, most: f64| told(at).filter(|angle| angle.abs() <= most).map(f64::to_radians);
        match self {
            Self::Force(_) => Some([told(0)?, told(1)?, told(2)?]),
            Self::Inclinations(_) => {
                let (x, y) = (degrees(0, 90.0)?.sin(), degrees(1, 90.0)?.sin());
                let level = x * x + y * y;
                let z = (1.0 - level).max(0.0).sqrt();
                let length = level.max(1.0).sqrt();
                (level <= EXCESS).then_some([x / length, y / length, z])
            }
            Self::Attitude(_) => {
                let (pitch, roll) = (degrees(0, 90.0)?, degrees(1, 180.0)?);
                Some([pitch.sin(), pitch.cos() * roll.sin(), pitch.cos() * roll.cos()])
            }
            Self::Tilt(_) => {
                let angle = degrees(0, 360.0)?;
                Some([angle.sin(), 0.0, angle.cos()])
            }
        }
    }

    /// What a sensor would tell of these axes: the force, or angles in degrees. The inverse of [`Direction::axes`] as far as
    /// there is one.
    pub(super) fn told(&self, axes: [f64; 3]) -> Vec<f64> {
        let [x, y, z] = axes;
        let length = (x * x + y * y + z * z).sqrt().max(f64::MIN_POSITIVE);
        let above = |axis: f64| (axis / length).clamp(-1.0, 1.0).asin().to_degrees();
        match self {
            Self::Force(_) => axes.to_vec(),
            Self::Inclinations(_) => vec![above(x), above(y)],
            Self::Attitude(_) => vec![above(x), y.atan2(z).to_degrees()],
            Self::Tilt(_) => vec![x.atan2(z).to_degrees()],
        }
    }

    /// What such a sensor cannot show; nothing for a force.
    #[must_use]
    pub const fn limits(&self) -> &'static [Limit] {
        match self {
            Self::Force(_) => &[],
            Self::Inclinations(_) => &[Limit::AlwaysOneG, Limit::Filtered, Limit::UpIsTaken],
            Self::Attitude(_) => &[Limit::AlwaysOneG, Limit::Filtered, Limit::RollIsLost],
            Self::Tilt(_) => &[Limit::AlwaysOneG, Limit::Filtered, Limit::BlindAcross],
        }
    }
}

/// What a sensor of angles cannot show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit {
    /// Gravity is 1 g always: shaking, a wrong scale and an offset do not show.
    AlwaysOneG,
    /// The angles come filtered by the sensor itself.
    Filtered,
    /// Two inclinations do not say which side is up: +z is taken.
    UpIsTaken,
    /// Near a pitch of 90° the roll has no meaning.
    RollIsLost,
    /// One angle shows nothing of the slope across.
    BlindAcross,
}

/// What a binary frame carries, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carried {
    /// Where up is.
    pub direction: Direction<Field>,
    /// The sensor's clock.
    pub time: Option<Field>,
    /// How many microseconds one unit of the clock is.
    pub micros_per_tick: u32,
    /// A counter that goes up by one a sample.
    pub counter: Option<Field>,
    /// The temperature in °C.
    pub temperature: Option<Field>,
}

impl Carried {
    /// All fields.
    pub fn fields(&self) -> impl Iterator<Item = &Field> {
        let others = [&self.time, &self.counter, &self.temperature];
        self.direction.values().iter().chain(others.into_iter().flatten())
    }

    /// After how many microseconds the clock begins anew.
    #[must_use]
    pub fn wraps(&self) -> Option<u64> {
        match self.time?.kind {
            NumberKind::Unsigned(width) => Some(u64::from(self.micros_per_tick) << (8 * u32::from(width.min(4)))),
            _ => None,
        }
    }

    /// What a whole frame says; none where a value is out of its range.
    pub(super) fn read(&self, frame: &[u8], narrow: &mut NarrowCounter) -> Option<Received> {
        let values = self.direction.values();
        let counts = self.direction.axes(|at| values.get(at)?.read(frame))?;
        let optional = |field: &Option<Field>| match field {
            Some(field) => field.read(frame).map(Some),
            None => Some(None),
        };
        let micros = match optional(&self.time)? {
            Some(time) => Some(micros(time, self.micros_per_tick)?),
            None => None,
        };
        let celsius = optional(&self.temperature)?;
        let seq = match (&self.counter, optional(&self.counter)?) {
            (Some(field), Some(count)) => Some(narrow.widened(count, field.kind)?),
            _ => None,
        };
        Some(Received { seq, micros, counts, celsius })
    }

    pub(super) fn write(&self, frame: &Frame, bytes: &mut [u8]) {
        for (field, value) in self.direction.values().iter().zip(self.direction.told(frame.counts)) {
            field.write(value, bytes);
        }
        if let Some(field) = &self.time {
            let ticks = f64::from(frame.micros) / f64::from(self.micros_per_tick.max(1));
            // A whole clock begins anew where its bytes end.
            let turn = self.wraps().map(|wraps| wraps as f64 / f64::from(self.micros_per_tick.max(1)));
            field.write(turn.map_or(ticks, |turn| ticks.floor() % turn), bytes);
        }
        if let Some(field) = &self.counter {
            let turn = 2f64.powi(8 * i32::try_from(field.kind.width()).unwrap_or(2));
            field.write(f64::from(frame.seq) % turn, bytes);
        }
        if let (Some(field), Some(celsius)) = (&self.temperature, frame.celsius) {
            field.write(celsius, bytes);
        }
    }
}

/// Goes on counting where a counter of one byte begins anew.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct NarrowCounter {
    last: u16,
}

impl NarrowCounter {
    fn widened(&mut self, count: f64, kind: NumberKind) -> Option<u16> {
        let count = super::columns::counter(count)?;
        self.last = if kind.width() == 1 {
            let step = (count as u8).wrapping_sub(self.last as u8);
            // A step back by a little is an old frame that came again.
            self.last.wrapping_add(i16::from(step as i8) as u16)
        } else {
            count
        };
        Some(self.last)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(one: [f64; 3], other: [f64; 3]) -> bool {
        one.iter().zip(other).all(|(a, b)| (a - b).abs() < 1e-9)
    }

    /// Geometry by rotation matrices written out by hand: R_x(roll) then R_y(pitch), applied to the vertical.
    #[test]
    fn angles_make_the_vector_that_points_up() {
        let attitude = Direction::Attitude([(), ()]);
        let told = |angles: [f64; 2]| move |at: usize| angles.get(at).copied();
        let half = 0.5;
        let root3 = 3f64.sqrt() / 2.0;
        assert!(close(attitude.axes(told([0.0, 0.0])).unwrap(), [0.0, 0.0, 1.0]));
        assert!(close(attitude.axes(told([30.0, 0.0])).unwrap(), [half, 0.0, root3]));
        assert!(close(attitude.axes(told([0.0, 30.0])).unwrap(), [0.0, half, root3]));
        assert!(close(attitude.axes(told([30.0, 60.0])).unwrap(), [half, root3 * root3, root3 * half]));
        assert!(close(attitude.axes(told([0.0, 180.0])).unwrap(), [0.0, 0.0, -1.0]));
        let inclined = Direction::Inclinations([(), ()]);
        assert!(close(inclined.axes(told([30.0, 0.0])).unwrap(), [half, 0.0, root3]));
        assert!(close(inclined.axes(told([30.0, 30.0])).unwrap(), [half, half, half.sqrt()]));
        assert_eq!(inclined.axes(told([80.0, 80.0])), None, "no attitude stands so");
        assert_eq!(attitude.axes(told([91.0, 0.0])), None);
        assert_eq!(attitude.axes(told([f64::NAN, 0.0])), None);
        let tilt = Direction::Tilt(());
        assert!(close(tilt.axes(|_| Some(270.0)).unwrap(), [-1.0, 0.0, 0.0]));
    }

    #[test]
    fn every_attitude_within_the_limits_comes_back() {
        for x in -8..=8 {
            for y in -8..=8 {
                let (x, y) = (f64::from(x) / 12.0, f64::from(y) / 12.0);
                let up = [x, y, (1.0 - x * x - y * y).sqrt()];
                for direction in [Direction::Attitude([(), ()]), Direction::Inclinations([(), ()])] {
                    let angles = direction.told(up);
                    assert!(close(direction.axes(|at| angles.get(at).copied()).unwrap(), up), "{direction:?} {up:?}");
                }
            }
        }
    }

    #[test]
    fn a_counter_of_one_byte_goes_on() {
        let mut narrow = NarrowCounter::default();
        let kind = NumberKind::Unsigned(1);
        let counted: Vec<u16> =
            [254.0, 255.0, 0.0, 1.0, 1.0, 0.0, 2.0].iter().map(|n| narrow.widened(*n, kind).unwrap()).collect();
        let steps: Vec<u16> = counted.windows(2).map(|pair| pair[1].wrapping_sub(pair[0])).collect();
        assert_eq!(steps, [1, 1, 1, 0, 65_535, 2]);
    }
}
