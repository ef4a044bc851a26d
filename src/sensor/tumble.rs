//! Calibration by tumbling: resting poses in any orientation, gravity the only reference.
//!
//! At rest the force is 1 g long whichever way it points. With `f = K·(raw − b)`, K upper triangular, the fit minimises
//! Σ(‖K·(raw − b)‖ − 1)² over the poses, each divided by how well its mean is known, by damped Gauss–Newton (method:
//! Frosio, Pedersini, Borghese, IEEE Trans. Instrum. Meas. 58 (2009) 2034–2041, from memory). One pose is one equation
//! and there are nine unknowns: the full model takes nine poses, and twelve make it sound. With six to eight the angles between the
//! axes are held to the limits of an ordinary sensor, which leaves offsets and scales, and the doubt of those angles
//! in the budget.
//!
//! The covariance follows from the fit and is made larger, never smaller, by what the poses scatter beyond their
//! noise. It is carried over to offsets and relative errors in g (see [`super::Calibration`]).
//!
//! Whether the model describes the sensor at all is asked of what the full model leaves: χ² on n − 9 degrees of freedom, each pose
//! good to 0.25 mg. Where it leaves more than one sound sensor in a thousand would, either one pose was not at rest (without
//! it the others fit), and it is named, or the sensor bends: the axis is named whose bending would explain most of it.
//!
//! Left out: how the axes sit in the case (no tumble shows it; [`super::faces`] does), and a sensor that bends alike along
//! all its axes in every attitude.

use super::calibration::{Covariance, PARAMETERS};
use super::poses::{Facing, Pose, coverage, odd_shapes};
use super::{Calibration, Model, prior_case_rotation};
use crate::stats::gauss_newton::{GaussNewtonError, Minimum, gauss_newton};
use crate::stats::least_squares::{least_squares, unit_covariance};
use crate::units::{Celsius, Gravities};
use nalgebra::{DMatrix, DVector, Matrix3, SMatrix, Vector3};

/// Fewest poses for anything at all, and for the full model.
pub const FEWEST_POSES: usize = 6;
/// Fewest poses for the full model.
pub const FULL_POSES: usize = 9;
/// Fewest poses that show whether the full model describes the sensor: three more than its unknowns.
pub const JUDGED_POSES: usize = 12;
/// Poses of a guided tumble: three more again, which show whether one axis answers oddly to another.
pub const GUIDED_POSES: usize = 15;

/// A pose is never known better than this, however long it rests: tables creak. g. [common practice, no source]
const LEAST_DOUBT_G: f64 = 0.000_25;
/// Above this the poses do not span the sphere: by simulation, a sensor with 2 mg of noise is then known to about
/// half a degree.
pub const LARGEST_CONDITION: f64 = 150.0;
/// A fit of offsets and scales alone that leaves more than this is no fit, g.
const LARGEST_RESIDUAL_G: f64 = 0.010;
/// Unknowns of the full model.
const PARAMETERS_OF_A_TUMBLE: usize = 9;
/// Poses from which on a fit is either proven or not: more would tell no more.
const LAST_POSES: usize = GUIDED_POSES + 4;
/// So many standard deviations of an odd answer to another axis are suspicious, and so many are one (of six, each in
/// either sense, one in a thousand).
const SUSPICIOUS: f64 = 2.3;
const ODD: f64 = 3.4;
/// Standard deviations of a normal distribution beyond which one in a thousand lies, and one in twenty.
const ONE_IN_A_THOUSAND: f64 = 3.090;
const ONE_IN_TWENTY: f64 = 1.645;
/// Limit of the lean of two axes against each other, of both together, evenly likely inside: √2 · 2°/√3.
const PRIOR_LEAN: f64 = 0.028_5;

/// Whose calibration it is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Label {
    /// Name of the calibration.
    pub name: String,
    /// Label or serial number of the sensor.
    pub sensor: String,
    /// The day.
    pub made_on: Option<jiff::civil::Date>,
    /// The sensor's temperature.
    pub temperature: Option<Celsius>,
}

/// Why poses give no calibration.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PosesError {
    /// Not enough of them.
    #[error("few poses: {have}")]
    TooFew {
        /// Poses at hand.
        have: usize,
        /// The pose that would help most.
        next: Facing,
    },
    /// They do not span the sphere.
    #[error("sphere unseen: {condition:.0}")]
    Narrow {
        /// Condition number of the fit.
        condition: f64,
        /// The pose that would help most.
        next: Facing,
    },
    /// One of them does not fit the rest.
    #[error("poses disagree: {pose}")]
    Disagree {
        /// The pose that fits worst, counted from 1.
        pose: usize,
        /// Root mean square of the residuals.
        residual: Gravities,
    },
    /// Offsets, scales and the angles between the axes do not describe the sensor.
    #[error("sensor bends: {axis}")]
    Bends {
        /// The axis whose bending would explain most of it.
        axis: char,
        /// Root mean square of the residuals.
        residual: Gravities,
        /// Poses at hand.
        have: usize,
        /// The pose that would help most.
        next: Facing,
    },
    /// They fit, but too few are left to show that the model describes the sensor.
    #[error("unproven by {have}")]
    Unproven {
        /// Poses at hand.
        have: usize,
        /// The pose that would help most.
        next: Facing,
    },
    /// A face that is not where it was said to be.
    #[error("wrong face: {0:?}")]
    WrongFace(Facing),
    /// A mean is not a number.
    #[error("not a number")]
    NotNumbers,
    /// Two opposite sides show the same counts.
    #[error("sides alike")]
    SameCounts,
    /// The counts stand at zero.
    #[error("no gravity")]
    NoGravity,
}

/// The nine unknowns, in units of one g of raw counts.
#[derive(Debug, Clone, Copy)]
struct Ellipsoid {
    k: Matrix3<f64>,
    b: Vector3<f64>,
}

/// Where the entries of upper triangular K stand: scales first, then the leans.
const ENTRIES: [(usize, usize); 6] = [(0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2)];

impl Ellipsoid {
    fn from_parameters(x: &DVector<f64>) -> Self {
        let mut k = Matrix3::zeros();
        for (index, &(i, j)) in ENTRIES.iter().enumerate() {
            k[(i, j)] = x[index];
        }
        Self { k, b: Vector3::new(x[6], x[7], x[8]) }
    }

    /// ‖K·(raw − b)‖ − 1 and its derivatives.
    fn residual(&self, raw: &Vector3<f64>) -> (f64, [f64; 9]) {
        let from_centre = raw - self.b;
        let force = self.k * from_centre;
        let along = force / force.norm();
        let by_offset = -self.k.tr_mul(&along);
        let mut derivatives = [0.0; 9];
        for (slot, (i, j)) in derivatives.iter_mut().zip(ENTRIES) {
            *slot = along[i] * from_centre[j];
        }
        derivatives[6..].copy_from_slice(by_offset.as_slice());
        (force.norm() - 1.0, derivatives)
    }
}

/// Fits a calibration to resting poses.
///
/// # Errors
/// Too few poses, poses that leave part of the sphere unseen (with the one that would help), or poses that disagree.
pub fn tumble(poses: &[Pose], label: Label) -> Result<Calibration, PosesError> {
    let size = mean_length(poses)?;
    let raws: Vec<Vector3<f64>> = poses.iter().map(|p| Vector3::from(p.mean) / size).collect();
    let start = sphere(&raws);
    let directions: Vec<[f64; 3]> = raws.iter().map(|raw| (raw - start.b).into()).collect();
    let next = coverage(&directions).next;
    if poses.len() < FEWEST_POSES {
        return Err(PosesError::TooFew { have: poses.len(), next });
    }
    let weights: Vec<f64> = poses.iter().zip(&raws).map(|(p, raw)| 1.0 / doubt(p, raw - start.b, size)).collect();
    let is_full = poses.len() >= FULL_POSES;
    let fit = fit(&raws, &weights, start, !is_full).map_err(|error| match error {
        GaussNewtonError::NotFinite => PosesError::NotNumbers,
        GaussNewtonError::Unsettled => PosesError::Narrow { condition: f64::INFINITY, next },
    })?;
    let found = Ellipsoid::from_parameters(&fit.parameters);
    let (spread, _) = unit_covariance(&fit.jacobian);
    let condition = condition(&fit.jacobian, poses.len(), is_full);
    if condition.is_nan() || condition > LARGEST_CONDITION {
        return Err(PosesError::Narrow { condition, next });
    }
    let rests: Vec<f64> = raws.iter().map(|raw| found.residual(raw).0).collect();
    let residual = Gravities::new((rests.iter().map(|r| r * r).sum::<f64>() / rests.len() as f64).sqrt());
    if is_full && left(&fit) > ONE_IN_A_THOUSAND {
        return Err(match disturbed(&raws, &weights, start) {
            Some(pose) => PosesError::Disagree { pose: pose + 1, residual },
            None => {
                PosesError::Bends { axis: bent_axis(&fit, &found, &raws, &weights), residual, have: poses.len(), next }
            }
        });
    }
    if poses.len() >= JUDGED_POSES {
        let (axis, oddness) = odd_axis(&fit, &found, &raws, &weights);
        if oddness > ODD {
            return Err(PosesError::Bends { axis, residual, have: poses.len(), next });
        }
        if oddness > SUSPICIOUS && (GUIDED_POSES..LAST_POSES).contains(&poses.len()) {
            return Err(PosesError::Unproven { have: poses.len(), next });
        }
    }
    if !is_full && residual.value() > LARGEST_RESIDUAL_G {
        let worst = (0..rests.len()).max_by(|&a, &b| rests[a].abs().total_cmp(&rests[b].abs()));
        return Err(PosesError::Disagree { pose: worst.unwrap_or(0) + 1, residual });
    }
    let model = if is_full { Model::Full } else { Model::OffsetsAndScales };
    Ok(Calibration {
        name: label.name,
        sensor: label.sensor,
        made_on: label.made_on,
        temperature: label.temperature,
        model,
        offset: (found.b * size).into(),
        matrix: std::array::from_fn(|i| std::array::from_fn(|j| found.k[(i, j)] / size)),
        covariance: in_g(&found, &(spread * scatter(&fit))),
        case_rotation: prior_case_rotation(),
        residual_rms: residual,
        condition,
    })
}

/// Mean length of the raw vectors: about one g in counts.
fn mean_length(poses: &[Pose]) -> Result<f64, PosesError> {
    let size = poses.iter().map(|p| Vector3::from(p.mean).norm()).sum::<f64>() / poses.len().max(1) as f64;
    if poses.is_empty() || (size.is_finite() && size > 0.0) {
        Ok(size)
    } else {
        Err(if !size.is_finite() { PosesError::NotNumbers } else { PosesError::NoGravity })
    }
}

/// The sphere through the poses, a linear problem: ‖raw‖² = 2·b·raw + (ρ² − ‖b‖²). Where the poses do not show its
/// centre, a sphere of the mean size about zero.
fn sphere(raws: &[Vector3<f64>]) -> Ellipsoid {
    let plain = Ellipsoid { k: Matrix3::identity(), b: Vector3::zeros() };
    let design = DMatrix::from_fn(raws.len(), 4, |i, j| if j < 3 { 2.0 * raws[i][j] } else { 1.0 });
    let squares = DVector::from_iterator(raws.len(), raws.iter().map(Vector3::norm_squared));
    let Ok(found) = least_squares(&design, &squares) else { return plain };
    let b = Vector3::new(found.coefficients[0], found.coefficients[1], found.coefficients[2]);
    let radius = (found.coefficients[3] + b.norm_squared()).sqrt();
    // Poses to one side only give a wild centre: no sensor is off by half a g.
    if radius.is_finite() && radius > 0.5 && b.norm() < 0.5 {
        Ellipsoid { k: Matrix3::identity() / radius, b }
    } else {
        plain
    }
}

/// Standard uncertainty of a pose's length, in g.
fn doubt(pose: &Pose, direction: Vector3<f64>, size: f64) -> f64 {
    let along = direction / direction.norm();
    let covariance = Matrix3::from_fn(|i, j| pose.covariance[i][j]);
    let variance = (along.transpose() * covariance * along)[0].max(0.0);
    (variance.sqrt() / size).hypot(LEAST_DOUBT_G)
}

fn fit(
    raws: &[Vector3<f64>],
    weights: &[f64],
    start: Ellipsoid,
    hold_leans: bool,
) -> Result<Minimum, GaussNewtonError> {
    let held = if hold_leans { 3 } else { 0 };
    let first = DVector::from_iterator(9, ENTRIES.iter().map(|&(i, j)| start.k[(i, j)]).chain(start.b.iter().copied()));
    gauss_newton(first, |x| {
        let model = Ellipsoid::from_parameters(x);
        let mut residuals = DVector::zeros(raws.len() + held);
        let mut jacobian = DMatrix::zeros(raws.len() + held, 9);
        for (row, (raw, weight)) in raws.iter().zip(weights).enumerate() {
            let (residual, derivatives) = model.residual(raw);
            residuals[row] = residual * weight;
            for (column, derivative) in derivatives.iter().enumerate() {
                jacobian[(row, column)] = derivative * weight;
            }
        }
        for lean in 0..held {
            residuals[raws.len() + lean] = x[3 + lean] / PRIOR_LEAN;
            jacobian[(raws.len() + lean, 3 + lean)] = 1.0 / PRIOR_LEAN;
        }
        (residuals, jacobian)
    })
}

/// Condition number of what the poses alone were asked for: without the angles that were held.
fn condition(jacobian: &DMatrix<f64>, poses: usize, is_full: bool) -> f64 {
    let seen = jacobian.rows(0, poses).into_owned();
    unit_covariance(&if is_full { seen } else { seen.remove_columns(3, 3) }).1
}

/// By what factor the poses scatter beyond their noise (variance), at least 1.
fn scatter(fit: &Minimum) -> f64 {
    let (rows, unknowns) = fit.jacobian.shape();
    if rows > unknowns { (fit.residuals.norm_squared() / (rows - unknowns) as f64).max(1.0) } else { 1.0 }
}

/// How much a fit leaves beyond the noise of its poses: its χ² as so many standard deviations of a normal distribution (Wilson,
/// Hilferty 1931); none where it leaves nothing free.
fn left(fit: &Minimum) -> f64 {
    let (rows, unknowns) = fit.jacobian.shape();
    let freedom = rows.saturating_sub(unknowns) as f64;
    if freedom < 1.0 {
        return f64::NEG_INFINITY;
    }
    let ninth = 2.0 / (9.0 * freedom);
    ((fit.residuals.norm_squared() / freedom).cbrt() - 1.0 + ninth) / ninth.sqrt()
}

/// The one pose without which the others fit, where there are enough of them to tell.
fn disturbed(raws: &[Vector3<f64>], weights: &[f64], start: Ellipsoid) -> Option<usize> {
    let without = |pose: usize| {
        let (mut raws, mut weights) = (raws.to_vec(), weights.to_vec());
        raws.remove(pose);
        weights.remove(pose);
        let left = left(&fit(&raws, &weights, start, false).ok()?);
        (left < ONE_IN_TWENTY).then_some((pose, left))
    };
    let best = (0..raws.len()).filter(|_| raws.len() > JUDGED_POSES).filter_map(without);
    best.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(pose, _)| pose)
}

/// What bends a force along one axis: its own square, cube and end, and the squares and the product of the others.
fn bends(along: f64, other: f64, third: f64) -> [f64; 8] {
    let beyond = |force: f64| (force - 0.9).max(0.0);
    [
        along * along,
        along.powi(3),
        beyond(along),
        beyond(-along),
        other * other,
        third * third,
        other * other.abs(),
        third * third.abs(),
    ]
}

/// The axis whose bending, added to the fit, would explain most of what it leaves: of one more unknown with the derivatives q,
/// what the others cannot stand for of it, (q·r)²/(q·q).
fn bent_axis(fit: &Minimum, found: &Ellipsoid, raws: &[Vector3<f64>], weights: &[f64]) -> char {
    let forces: Vec<Vector3<f64>> = raws.iter().map(|raw| found.k * (raw - found.b)).collect();
    let explained = |axis: usize| {
        let of = |force: &Vector3<f64>| bends(force[axis], force[(axis + 1) % 3], force[(axis + 2) % 3]);
        let shapes = forces.first().map_or(0, |force| of(force).len());
        let by_shape = |shape: usize| {
            let column =
                std::iter::zip(&forces, weights).map(|(force, weight)| weight * force[axis] * of(force)[shape]);
            let column = DVector::from_iterator(raws.len(), column);
            let alone = least_squares(&fit.jacobian, &column).map_or(column.clone(), |held| held.residuals);
            let size = alone.norm_squared();
            if size > 1e-9 * column.norm_squared() { alone.dot(&fit.residuals).powi(2) / size } else { 0.0 }
        };
        (0..shapes).map(by_shape).fold(0.0, f64::max)
    };
    let most = (0..3).max_by(|&a, &b| explained(a).total_cmp(&explained(b)));
    ['x', 'y', 'z'][most.unwrap_or(0)]
}

/// The axis that seems to answer oddly to another, and by how many standard deviations: of one more unknown with the derivatives
/// q, what the others cannot stand for of it, q·r/‖q‖, against what is left of the residuals r beside it where that is more than
/// the poses claim.
fn odd_axis(fit: &Minimum, found: &Ellipsoid, raws: &[Vector3<f64>], weights: &[f64]) -> (char, f64) {
    let shapes: Vec<[f64; 6]> = std::iter::zip(raws, weights)
        .map(|(raw, weight)| odd_shapes(&(found.k * (raw - found.b))).map(|shape| shape * weight))
        .collect();
    let oddness = |shape: usize| {
        let column = DVector::from_iterator(raws.len(), shapes.iter().map(|shapes| shapes[shape]));
        let alone = least_squares(&fit.jacobian, &column).map_or(column.clone(), |held| held.residuals);
        let size = alone.norm();
        if size <= 1e-3 * column.norm() {
            return 0.0;
        }
        let shown = alone.dot(&fit.residuals) / size;
        let freedom = raws.len().saturating_sub(PARAMETERS_OF_A_TUMBLE + 1).max(1) as f64;
        let beside = ((fit.residuals.norm_squared() - shown * shown) / freedom).max(1.0);
        shown.abs() / beside.sqrt()
    };
    let most =
        (0..6).map(|shape| (shape, oddness(shape))).fold((0, 0.0), |most, one| if one.1 > most.1 { one } else { most });
    (['x', 'x', 'y', 'y', 'z', 'z'][most.0], most.1)
}

/// Carries the covariance of K and b over to offsets and relative errors in g: with f = K·(raw − b), errors δK and δb
/// make δf = δK·K⁻¹·f − K·δb.
fn in_g(found: &Ellipsoid, spread: &DMatrix<f64>) -> Covariance {
    let inverse = found.k.try_inverse().unwrap_or_else(Matrix3::identity);
    let mut carry = SMatrix::<f64, PARAMETERS, 9>::zeros();
    for (column, (i, j)) in ENTRIES.into_iter().enumerate() {
        for k in 0..3 {
            carry[(3 + 3 * i + k, column)] = inverse[(j, k)];
        }
    }
    for j in 0..3 {
        for i in 0..3 {
            carry[(i, 6 + j)] = found.k[(i, j)];
        }
    }
    let spread = SMatrix::<f64, 9, 9>::from_fn(|i, j| spread[(i, j)]);
    let covariance = carry * spread * carry.transpose();
    (covariance + covariance.transpose()) * 0.5
}

#[cfg(test)]
#[path = "tumble_tests.rs"]
mod tests;
