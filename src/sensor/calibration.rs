//! From raw counts to a force in g, and how well that is known.
//!
//! Model: `f = M·(raw − b)`, b the offset in counts, M a 3×3 matrix in g per count. What may still be wrong with it
//! is described in g, whatever the sensor's counts: `δf = E·f − o`, three offsets o in g and nine figures of E
//! (its diagonal: relative scale errors; the rest: misalignments in radians). Twelve parameters, one covariance
//! matrix Σ, and everything that a budget asks follows from it:
//!
//! ```text
//! apparent pitch φ = atan2(c, n),   J = ∂φ/∂(o, E)
//! one angle:         u² = J·Σ·Jᵀ
//! a difference:      u² = (J₁ − J₂)·Σ·(J₁ − J₂)ᵀ      it shrinks, it does not vanish
//! ```
//!
//! [JCGM 100:2008, 5.2.2: correlated inputs]
//!
//! A tumble knows nothing of how the sensor's axes sit in its case. What that rotation does about the span is kept
//! apart ([`Calibration::u_case_rotation`]): it belongs to an angle against gravity alone, and drops out against a
//! datum taken with the same sensor, or in a reversal. What it does about the two other axes, which is of second
//! order, is part of every figure here.
//!
//! Assumed: the sensor is linear, and as warm as when it was calibrated ([`temperature_effects`] is for the rest).

use super::Force;
use crate::units::{Angle, AxisMap, BladeVector, Celsius, Gravities, Sample, SensorVector};
use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

/// How many parameters describe what may be wrong: three offsets and nine figures of E.
pub const PARAMETERS: usize = 12;

/// The covariance of the twelve parameters, in the order o_x, o_y, o_z (g), E_xx, E_xy, E_xz, E_yx … E_zz.
pub type Covariance = SMatrix<f64, PARAMETERS, PARAMETERS>;

/// Limits within which a cheap sensor lies before it is calibrated, evenly likely inside. [common practice, no source]
const PRIOR_OFFSET_G: f64 = 0.080;
const PRIOR_SCALE: f64 = 0.05;
const PRIOR_MISALIGNMENT_DEGREES: f64 = 2.0;

/// Change of offset with temperature of a low-cost chip, a limit, g per °C. [from memory]
const OFFSET_PER_CELSIUS: f64 = 0.001;

/// How much of the model was fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Model {
    /// Offsets, scales and the angles between the sensor's axes.
    Full,
    /// Offsets and scales only; the angles between the axes are taken as square, with their doubt in the budget.
    OffsetsAndScales,
    /// Everything, and how the axes sit in the case, from six known faces.
    Faces,
    /// Nothing: the counts per g of the sensor's description.
    Nominal,
}

/// Which axes of the sensor lie along the blade, and in which direction the rotor turns.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Mounting {
    /// The sensor's axes along chord and normal.
    pub axes: AxisMap,
    /// Whether the rotor turns anticlockwise seen from above.
    pub anticlockwise: bool,
}

impl Mounting {
    /// A force in the sensor's axes, in the axes of the clip.
    #[must_use]
    pub fn to_clip(self, force: SensorVector) -> BladeVector {
        self.axes.apply(force, self.anticlockwise)
    }

    /// The sensor's axes as columns: which sensor direction is span, chord and normal.
    fn columns(self) -> (Vector3<f64>, Vector3<f64>, Vector3<f64>) {
        let chord = Vector3::from(self.axes.chord().unit());
        let normal = Vector3::from(self.axes.normal().unit());
        let span = chord.cross(&normal) * if self.anticlockwise { 1.0 } else { -1.0 };
        (span, chord, normal)
    }
}

/// A sensor's calibration, with what is known about how good it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// Its name, as captures quote it.
    pub name: String,
    /// Label or serial number of the sensor it belongs to.
    pub sensor: String,
    /// The day it was made.
    pub made_on: Option<jiff::civil::Date>,
    /// The sensor's temperature then, where its stream carries one.
    pub temperature: Option<Celsius>,
    /// How it was found.
    pub model: Model,
    /// Offset b, in counts.
    pub offset: [f64; 3],
    /// Matrix M, in g per count, row by row.
    pub matrix: [[f64; 3]; 3],
    /// Covariance of what may still be wrong.
    pub covariance: Covariance,
    /// Standard uncertainty of how the sensor's axes sit in its case, about any axis; zero where it is known or
    /// already part of the covariance.
    pub case_rotation: Angle,
    /// Root mean square of what the fit left over.
    pub residual_rms: Gravities,
    /// Condition number of the fit; 1 is best, thousands are hopeless.
    pub condition: f64,
}

impl Calibration {
    /// What tells it from every other calibration, whatever both are called: its name and a checksum of what it says. A
    /// sensor that was never calibrated has none of its own.
    #[must_use]
    pub fn identity(&self) -> String {
        if !self.is_calibrated() {
            return self.name.clone();
        }
        let numbers = self.offset.iter().chain(self.matrix.iter().flatten()).chain(self.covariance.iter());
        let bytes: Vec<u8> = numbers.flat_map(|number| number.to_bits().to_le_bytes()).collect();
        let sum = crc::Crc::<u64>::new(&crc::CRC_64_XZ).checksum(&[self.sensor.as_bytes(), &bytes].concat());
        format!("{} #{sum:016x}", self.name)
    }

    /// A sensor as it comes: `counts_per_g` from its description, and limits of ±80 mg, ±5 % and 2° on what may be
    /// wrong with it, each evenly likely inside (u = limit/√3, JCGM 100:2008, 4.3.7).
    #[must_use]
    pub fn nominal(counts_per_g: f64) -> Self {
        let per_count = 1.0 / counts_per_g;
        Self {
            name: "nominal".into(),
            sensor: String::new(),
            made_on: None,
            temperature: None,
            model: Model::Nominal,
            offset: [0.0; 3],
            matrix: [[per_count, 0.0, 0.0], [0.0, per_count, 0.0], [0.0, 0.0, per_count]],
            covariance: prior(),
            case_rotation: Angle::ZERO,
            residual_rms: Gravities::new(0.0),
            condition: 1.0,
        }
    }

    /// Whether the sensor has been calibrated at all.
    #[must_use]
    pub fn is_calibrated(&self) -> bool {
        self.model != Model::Nominal
    }

    /// The force in the sensor's own axes that made these counts.
    #[must_use]
    pub fn apply(&self, counts: [f64; 3]) -> SensorVector {
        let [x, y, z] = [counts[0] - self.offset[0], counts[1] - self.offset[1], counts[2] - self.offset[2]];
        SensorVector(self.matrix.map(|row| row[0] * x + row[1] * y + row[2] * z))
    }

    /// One sample as a force in the axes of the clip. `saturated` is what the stream's profile says of its counts.
    #[must_use]
    pub fn force(&self, sample: &Sample, mounting: Mounting, saturated: bool) -> Force {
        Force {
            clock: sample.clock,
            up: mounting.to_clip(self.apply(sample.counts)),
            saturated,
            lost_before: sample.lost_before,
            temperature: sample.temperature,
        }
    }

    /// Standard uncertainty of an apparent pitch read while the vertical stood along `up` (axes of the clip).
    ///
    /// How the axes sit in the case, about the span, is not in it: see [`Self::u_case_rotation`].
    #[must_use]
    pub fn u_angle(&self, up: BladeVector, mounting: Mounting) -> Angle {
        self.u_combination(&[(1.0, up)], mounting)
    }

    /// Standard uncertainty of the difference of two apparent pitches read with this calibration.
    #[must_use]
    pub fn u_difference(&self, first: BladeVector, second: BladeVector, mounting: Mounting) -> Angle {
        self.u_combination(&[(1.0, first), (-1.0, second)], mounting)
    }

    /// Standard uncertainty of any weighted sum of apparent pitches read with this calibration: weights (½, ½) and
    /// clip axes for the error that a reversal finds.
    #[must_use]
    pub fn u_combination(&self, weighted: &[(f64, BladeVector)], mounting: Mounting) -> Angle {
        let parameters = weighted.iter().map(|&(weight, up)| pitch_sensitivity(up, mounting) * weight).sum();
        let turn: Vector3<f64> = weighted.iter().map(|&(weight, up)| turn_sensitivity(up) * weight).sum();
        self.u_of(parameters).hypot(self.case_rotation * turn.norm())
    }

    /// The effects on a weighted sum of apparent pitches of as many independent causes as there are, each off by one
    /// standard uncertainty: J·L with L·Lᵀ = Σ for the parameters, then the three turns of the axes in their case. The
    /// root of their squares is [`Self::u_combination`], and those of two sums subtract one by one, which is the
    /// exact uncertainty of their difference.
    #[must_use]
    pub fn effects(&self, weighted: &[(f64, BladeVector)], mounting: Mounting) -> Vec<Angle> {
        let parameters: SVector<f64, PARAMETERS> =
            weighted.iter().map(|&(weight, up)| pitch_sensitivity(up, mounting) * weight).sum();
        let turn: Vector3<f64> = weighted.iter().map(|&(weight, up)| turn_sensitivity(up) * weight).sum();
        let effects = parameters.transpose() * root(&self.covariance);
        let of_parameters = effects.iter().map(|&effect| Angle::from_radians(effect));
        of_parameters.chain(turn.iter().map(|&t| self.case_rotation * t)).collect()
    }

    /// Standard uncertainty of an angle against gravity alone from how the axes sit in the case about the span.
    /// Nothing of it is left in a difference, a reversal, or against a datum taken with the same sensor.
    #[must_use]
    pub const fn u_case_rotation(&self) -> Angle {
        self.case_rotation
    }

    /// Standard uncertainty of the length of a mean force: δ|f| = û·(E·f − o).
    #[must_use]
    pub fn u_gravity(&self, up: BladeVector, mounting: Mounting) -> Gravities {
        let (span, chord, normal) = mounting.columns();
        let force = span * up.span + chord * up.chord + normal * up.normal;
        Gravities::new(self.u_of(sensitivity(force / up.norm().max(f64::EPSILON), force)).radians())
    }

    fn u_of(&self, sensitivity: SVector<f64, PARAMETERS>) -> Angle {
        let variance = (sensitivity.transpose() * self.covariance * sensitivity)[0];
        Angle::from_radians(variance.max(0.0).sqrt())
    }
}

/// L with L·Lᵀ = Σ, one column an eigenvector: sound where some parameters are known exactly or tied to each other,
/// as those of a fit with fewer than twelve unknowns are.
fn root(covariance: &Covariance) -> Covariance {
    let causes = covariance.symmetric_eigen();
    causes.eigenvectors * Covariance::from_diagonal(&causes.eigenvalues.map(|variance| variance.max(0.0).sqrt()))
}

/// The covariance of a sensor that nobody has calibrated.
#[must_use]
pub fn prior() -> Covariance {
    let variance = |limit: f64| limit * limit / 3.0;
    Covariance::from_fn(|row, column| match (row == column, row) {
        (false, _) => 0.0,
        (true, 0..3) => variance(PRIOR_OFFSET_G),
        (true, 3 | 7 | 11) => variance(PRIOR_SCALE),
        (true, _) => variance(PRIOR_MISALIGNMENT_DEGREES.to_radians()),
    })
}

/// Standard uncertainty of how the axes of an ordinary sensor sit in its case: 2° either way, evenly likely.
#[must_use]
pub fn prior_case_rotation() -> Angle {
    Angle::from_degrees(PRIOR_MISALIGNMENT_DEGREES / 3f64.sqrt())
}

/// What a change of temperature since a datum (or, without one, since the calibration) does to an apparent pitch read
/// while the vertical stood along `up` (axes of the clip): one effect for the drift of each axis' offset. The drift per
/// degree is the same in every reading, so that of two readings equally warm nothing is left in their difference.
///
/// Taken as a limit: ±1 mg/°C along each axis, evenly likely inside, as the offset of a low-cost chip may drift.
#[must_use]
pub fn temperature_effects(up: BladeVector, mounting: Mounting, change: Celsius) -> [Angle; 3] {
    let per_degree = OFFSET_PER_CELSIUS / 3f64.sqrt();
    let gradient = pitch_gradient(up, mounting);
    [0, 1, 2].map(|axis| Angle::from_radians(-gradient[axis] * per_degree * change.value()))
}

/// Standard uncertainty of an offset after such a change of temperature.
pub(super) fn u_offset_drift(change: Celsius) -> Gravities {
    Gravities::new(OFFSET_PER_CELSIUS / 3f64.sqrt() * change.value().abs())
}

/// How apparent pitch answers to each parameter: `δφ = g·(E·f − o)` with g = (n·ĉ − c·n̂)/(c² + n²).
fn pitch_sensitivity(up: BladeVector, mounting: Mounting) -> SVector<f64, PARAMETERS> {
    let (span, chord, normal) = mounting.columns();
    let force = span * up.span + chord * up.chord + normal * up.normal;
    sensitivity(pitch_gradient(up, mounting), force)
}

/// How apparent pitch answers to a small force along each of the sensor's axes.
fn pitch_gradient(up: BladeVector, mounting: Mounting) -> Vector3<f64> {
    let (_, chord, normal) = mounting.columns();
    (chord * up.normal - normal * up.chord) / (up.chord * up.chord + up.normal * up.normal)
}

/// How apparent pitch answers to a small turn of the sensor's axes about chord and normal: f × g without its part
/// along the span, which is 1 wherever the blade points.
fn turn_sensitivity(up: BladeVector) -> Vector3<f64> {
    let across = up.chord * up.chord + up.normal * up.normal;
    Vector3::new(0.0, -up.span * up.chord / across, -up.span * up.normal / across)
}

fn sensitivity(gradient: Vector3<f64>, force: Vector3<f64>) -> SVector<f64, PARAMETERS> {
    let outer: Matrix3<f64> = gradient * force.transpose();
    SVector::from_fn(|i, _| if i < 3 { -gradient[i] } else { outer[((i - 3) / 3, (i - 3) % 3)] })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Seconds;
    use approx::assert_abs_diff_eq;

    fn up(pitch_degrees: f64, slope_degrees: f64) -> BladeVector {
        let (sp, cp) = pitch_degrees.to_radians().sin_cos();
        let (ss, cs) = slope_degrees.to_radians().sin_cos();
        BladeVector { span: ss, chord: cs * sp, normal: cs * cp }
    }

    /// Uniform in −1..1, a linear congruential generator: Knuth, MMIX constants.
    struct Dice(u64);
    impl Dice {
        fn roll(&mut self) -> f64 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
        }
    }

    /// The pitch that a sensor with the given errors reads: an independent path, no sensitivity in it.
    fn read(up: BladeVector, offset: &[f64; 3], error: &[f64; 9]) -> f64 {
        // Default map, clockwise: chord +x, normal +z, span = normal × chord = +y.
        let f = [up.chord, up.span, up.normal];
        let g: Vec<f64> = (0..3)
            .map(|i| f[i] + error[3 * i] * f[0] + error[3 * i + 1] * f[1] + error[3 * i + 2] * f[2] - offset[i])
            .collect();
        g[0].atan2(g[2])
    }

    #[test]
    fn two_calibrations_of_one_name_are_two_and_a_bare_sensor_has_none_of_its_own() {
        let spring = Calibration { name: "clip".into(), model: Model::Full, ..Calibration::nominal(16384.0) };
        let autumn = Calibration { offset: [1.0, 0.0, 0.0], ..spring.clone() };
        let other = Calibration { sensor: "another sensor".into(), ..spring.clone() };
        assert_eq!(spring.identity(), spring.clone().identity());
        assert_ne!(spring.identity(), autumn.identity());
        assert_ne!(spring.identity(), other.identity());
        assert!(spring.identity().starts_with("clip #"));
        assert_eq!(Calibration::nominal(16384.0).identity(), "nominal");
    }

    #[test]
    fn effects_are_the_root_of_the_variance_and_subtract_like_errors() {
        let mut calibration = Calibration::nominal(16384.0);
        calibration.case_rotation = Angle::from_degrees(1.1);
        // A scale that goes with an offset, as a fit on few poses leaves it.
        calibration.covariance[(0, 3)] = 0.5 * (calibration.covariance[(0, 0)] * calibration.covariance[(3, 3)]).sqrt();
        calibration.covariance[(3, 0)] = calibration.covariance[(0, 3)];
        let up = |degrees: f64| {
            let (chord, normal) = degrees.to_radians().sin_cos();
            BladeVector { span: 0.05, chord, normal }
        };
        let mounting = Mounting::default();
        let length = |effects: &[Angle]| effects.iter().fold(Angle::ZERO, |sum, &e| sum.hypot(e)).degrees();
        let one = calibration.effects(&[(1.0, up(12.0))], mounting);
        let other = calibration.effects(&[(1.0, up(-1.0))], mounting);
        assert!((length(&one) - calibration.u_angle(up(12.0), mounting).degrees()).abs() < 1e-12);
        let difference: Vec<Angle> = one.iter().zip(&other).map(|(&a, &b)| a - b).collect();
        assert!((length(&difference) - calibration.u_difference(up(12.0), up(-1.0), mounting).degrees()).abs() < 1e-12);
    }

    #[test]
    fn counts_become_g_and_land_on_the_blades_axes() {
        let calibration = Calibration { offset: [100.0, 0.0, -200.0], ..Calibration::nominal(16384.0) };
        let sample = Sample {
            clock: Seconds::new(1.0),
            counts: [100.0 + 1638.4, 0.0, -200.0 + 16384.0],
            lost_before: 2,
            temperature: None,
        };
        let force = calibration.force(&sample, Mounting::default(), true);
        assert_abs_diff_eq!(force.up.chord, 0.1, epsilon = 1e-12);
        assert_abs_diff_eq!(force.up.normal, 1.0, epsilon = 1e-12);
        assert!(force.saturated);
        assert_eq!((force.lost_before, force.clock), (2, Seconds::new(1.0)));
    }

    #[test]
    fn an_uncalibrated_sensors_offset_alone_doubts_a_level_angle_by_80_mg() {
        // 80 mg about level is 4.58°, evenly likely inside; scale does nothing at level, misalignment adds 2°/√3.
        let u = Calibration::nominal(256.0).u_angle(up(0.0, 0.0), Mounting::default()).degrees();
        assert_abs_diff_eq!(u, (0.08f64.to_degrees() / 3f64.sqrt()).hypot(2.0 / 3f64.sqrt()), epsilon = 1e-12);
    }

    #[test]
    fn uncalibrated_a_12_degree_travel_can_be_degrees_wrong_and_an_equal_reading_cannot() {
        let nominal = Calibration::nominal(256.0);
        let travel = nominal.u_difference(up(12.0, 1.0), up(0.0, 1.0), Mounting::default()).degrees();
        assert!((0.4..1.5).contains(&travel), "{travel}");
        assert_abs_diff_eq!(
            nominal.u_difference(up(3.0, 1.0), up(3.0, 1.0), Mounting::default()).degrees(),
            0.0,
            epsilon = 1e-12
        );
    }

    #[test]
    fn what_a_budget_is_told_is_what_errors_drawn_at_random_do() {
        let mut dice = Dice(20_261_125);
        let (first, second) = (up(12.0, 6.0), up(-2.0, 5.0));
        // A tenth of the prior, so that the first order of the budget is what is being tested.
        let scale = 0.1;
        let (true_first, true_second) = (read(first, &[0.0; 3], &[0.0; 9]), read(second, &[0.0; 3], &[0.0; 9]));
        let mut squares = [0.0; 2];
        let draws = 200_000;
        for _ in 0..draws {
            let offset: [f64; 3] = std::array::from_fn(|_| scale * 0.08 * dice.roll());
            let error: [f64; 9] =
                std::array::from_fn(|i| scale * if i % 4 == 0 { 0.05 } else { 2f64.to_radians() } * dice.roll());
            let (one, two) = (read(first, &offset, &error), read(second, &offset, &error));
            let (d_one, d_two) = (one - true_first, two - true_second);
            squares[0] += d_one * d_one;
            squares[1] += (d_one - d_two).powi(2);
        }
        let drawn = squares.map(|s: f64| (s / f64::from(draws)).sqrt() / scale);
        let nominal = Calibration::nominal(256.0);
        let mounting = Mounting::default();
        let told = [nominal.u_angle(first, mounting), nominal.u_difference(first, second, mounting)];
        for (drawn, told) in drawn.iter().zip(told) {
            assert!((drawn / told.radians() - 1.0).abs() < 0.01, "drawn {drawn}, told {}", told.radians());
        }
    }

    #[test]
    fn the_mounting_changes_which_axis_counts() {
        let mut calibration = Calibration::nominal(256.0);
        calibration.covariance = Covariance::zeros();
        calibration.covariance[(1, 1)] = 1e-6;
        // Offset of y alone: nothing with the chord along x, everything with the chord along −y.
        let along_y =
            Mounting { axes: AxisMap::new("-y".parse().unwrap(), "z".parse().unwrap()).unwrap(), anticlockwise: true };
        assert_abs_diff_eq!(calibration.u_angle(up(0.0, 0.0), Mounting::default()).radians(), 0.0);
        assert_abs_diff_eq!(calibration.u_angle(up(0.0, 0.0), along_y).radians(), 1e-3, epsilon = 1e-15);
    }

    #[test]
    fn ten_degrees_of_warming_doubt_an_angle_by_a_third_of_a_degree() {
        let effects = temperature_effects(up(0.0, 0.0), Mounting::default(), Celsius::new(-10.0));
        let standard = effects.iter().fold(Angle::ZERO, |sum, &effect| sum.hypot(effect));
        assert_abs_diff_eq!(standard.degrees(), 0.331, epsilon = 0.001);
    }
}
