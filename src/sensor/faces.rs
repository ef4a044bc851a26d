//! Calibration by faces: the case laid on each of its six sides, which also shows how the axes sit in it.
//!
//! With U⁺ and U⁻ the means with the +x, +y, +z side and the opposite one up (one column a side),
//! `b_i = (U⁺_ii + U⁻_ii)/2` and `f = (D/2)⁻¹·(raw − b)`, D = U⁺ − U⁻. (Ferraris, Grimaldi, Parvis, *Procedure for
//! effortless in-field calibration of three-axial rate gyros and accelerometers*, Sensors and Materials 7 (1995)
//! 311–330.)
//!
//! Every side must lie square to the vertical: how well is the caller's to say, and the doubt of the angles is
//! that over √2. A table out of level enters the same way.

use super::Covariance;
use super::poses::{Facing, Pose};
use super::{Calibration, Label, Model, PosesError};
use crate::units::{Angle, Gravities};
use nalgebra::{Matrix3, Vector3};

/// The means with one axis of the case up and down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Opposites {
    /// The axis' positive side up.
    pub up: Pose,
    /// Its negative side up.
    pub down: Pose,
}

/// Fits a calibration to the six sides of the case, `sides` in the order x, y, z. `u_square` is the standard uncertainty
/// with which a side lies square to the vertical (0.25° on a bench levelled by eye. [common practice, no source])
///
/// # Errors
/// When a side shows another axis than the one announced, or the counts are no numbers.
pub fn faces(sides: [Opposites; 3], u_square: Angle, label: Label) -> Result<Calibration, PosesError> {
    let column = |axis: usize| (Vector3::from(sides[axis].up.mean) - Vector3::from(sides[axis].down.mean)) / 2.0;
    let half = Matrix3::from_columns(&[column(0), column(1), column(2)]);
    if !half.iter().all(|v| v.is_finite()) {
        return Err(PosesError::NotNumbers);
    }
    check_sides(&half)?;
    let offset = Vector3::from_fn(|i, _| (sides[i].up.mean[i] + sides[i].down.mean[i]) / 2.0);
    let matrix = half.try_inverse().ok_or(PosesError::SameCounts)?;
    let lengths = sides.iter().flat_map(|s| [s.up, s.down]).map(|p| (matrix * (Vector3::from(p.mean) - offset)).norm());
    let residual = (lengths.map(|l| (l - 1.0).powi(2)).sum::<f64>() / 6.0).sqrt();
    let singular = matrix.singular_values();
    Ok(Calibration {
        name: label.name,
        sensor: label.sensor,
        made_on: label.made_on,
        temperature: label.temperature,
        model: Model::Faces,
        offset: offset.into(),
        matrix: std::array::from_fn(|i| std::array::from_fn(|j| matrix[(i, j)])),
        covariance: covariance(&sides, &matrix, u_square),
        case_rotation: Angle::ZERO,
        residual_rms: Gravities::new(residual),
        condition: singular.max() / singular.min(),
    })
}

/// Each side's own axis must carry the most of its force, upward.
fn check_sides(half: &Matrix3<f64>) -> Result<(), PosesError> {
    for (axis, column) in half.column_iter().enumerate() {
        if column[axis] <= 0.8 * column.norm() {
            return Err(Facing::of_face(axis, true).map_or(PosesError::SameCounts, PosesError::WrongFace));
        }
    }
    Ok(())
}

/// Offsets carry noise; of E, column i follows from the two poses of side i: −(δa⁺ − δa⁻)/2, δa their errors in g.
fn covariance(sides: &[Opposites; 3], matrix: &Matrix3<f64>, u_square: Angle) -> Covariance {
    let mut result = Covariance::zeros();
    let noise = |pose: &Pose| matrix * Matrix3::from_fn(|i, j| pose.covariance[i][j]) * matrix.transpose();
    for (axis, side) in sides.iter().enumerate() {
        let both = (noise(&side.up) + noise(&side.down)) / 4.0;
        result[(axis, axis)] = both[(axis, axis)];
        for i in 0..3 {
            for j in 0..3 {
                result[(3 + 3 * i + axis, 3 + 3 * j + axis)] = both[(i, j)];
            }
            if i != axis {
                result[(3 + 3 * i + axis, 3 + 3 * i + axis)] += u_square.radians().powi(2) / 2.0;
            }
        }
    }
    result
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn numbers(value: &Value) -> Vec<f64> {
        value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
    }

    fn reference() -> (Value, [Opposites; 3]) {
        let all: Value = serde_json::from_str(include_str!("../../tests/reference/calibration.json")).unwrap();
        let example = all["ferraris_six_pose"].clone();
        let pose = |name: &str| {
            let pose = &example["poses"][name];
            let n = pose["n"].as_f64().unwrap();
            let sd = numbers(&pose["sd"]);
            let covariance =
                std::array::from_fn(|i| std::array::from_fn(|j| if i == j { sd[i] * sd[i] / n } else { 0.0 }));
            Pose { mean: numbers(&pose["mean"]).try_into().unwrap(), covariance }
        };
        let sides =
            ["x", "y", "z"].map(|axis| Opposites { up: pose(&format!("{axis}_p")), down: pose(&format!("{axis}_a")) });
        (example, sides)
    }

    fn fitted() -> Calibration {
        faces(reference().1, Angle::from_degrees(0.25), Label::default()).unwrap()
    }

    /// The imucal package (MIT) on its own example session, method of Ferraris: offsets b and R⁻¹·K⁻¹.
    #[test]
    fn agrees_with_an_independent_program_on_measured_data() {
        let (example, _) = reference();
        let result = &example["imucal_result"];
        let found = fitted();
        for (found, wanted) in found.offset.iter().zip(numbers(&result["b_a"])) {
            assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
        }
        let scales = numbers(&result["K_a_diag"]);
        let rotation = Matrix3::from_fn(|i, j| result["R_a"][i][j].as_f64().unwrap());
        let wanted =
            (Matrix3::from_diagonal(&Vector3::new(scales[0], scales[1], scales[2])) * rotation).try_inverse().unwrap()
                / example["gravity"].as_f64().unwrap();
        for i in 0..3 {
            for j in 0..3 {
                assert!((found.matrix[i][j] - wanted[(i, j)]).abs() < 1e-12, "{i} {j}");
            }
        }
    }

    #[test]
    fn every_side_comes_out_straight_up_within_its_doubt() {
        let (_, sides) = reference();
        let found = fitted();
        let off_square = sides.iter().enumerate().flat_map(|(axis, side)| {
            let up = found.apply(side.up.mean).0;
            (0..3).filter(move |&i| i != axis).map(move |i| up[i].asin().to_degrees())
        });
        // The session was held by hand on a bench: its sides agree to half a degree.
        for angle in off_square {
            assert!(angle.abs() < 1.0, "{angle}");
        }
        assert_eq!(found.case_rotation, Angle::ZERO);
        assert!(found.residual_rms.value() < 0.01);
    }

    #[test]
    fn squareness_doubts_an_angle_by_itself_over_root_two() {
        let found = fitted();
        let level = crate::units::BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
        let u = found.u_angle(level, super::super::Mounting::default()).degrees();
        assert!((u - 0.25 / 2f64.sqrt()).abs() < 0.01, "{u}");
    }

    #[test]
    fn sides_in_the_wrong_order_are_noticed() {
        let (_, [x, y, z]) = reference();
        let turned = Opposites { up: z.down, down: z.up };
        for sides in [[y, x, z], [x, y, turned]] {
            let refused = faces(sides, Angle::ZERO, Label::default()).unwrap_err();
            assert!(matches!(refused, PosesError::WrongFace(_)), "{refused}");
        }
    }
}
