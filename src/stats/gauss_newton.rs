//! Nonlinear least squares by damped Gauss–Newton steps.
//!
//! Minimises ‖r(x)‖². Each step solves the linear problem `min ‖J·h + r‖² + λ·‖D·h‖²`, D the lengths of the columns
//! of the Jacobian J, by QR of J with √λ·D set beneath it; λ shrinks tenfold when the step lowers the sum and
//! grows tenfold when it does not (Levenberg 1944; Marquardt 1963; Björck, *Numerical Methods for Least Squares
//! Problems*, SIAM 1996, 9.2.2). Near the answer it is the undamped, fast Gauss–Newton iteration.
//!
//! It fails where the start is so far off that the sum has another valley: the caller brings a good start.

use nalgebra::{DMatrix, DVector};

const MOST_STEPS: usize = 200;
const FIRST_DAMPING: f64 = 1e-4;
const LEAST_DAMPING: f64 = 1e-15;
const MOST_DAMPING: f64 = 1e12;

/// Where the sum of squares is least.
#[derive(Debug, Clone)]
pub struct Minimum {
    /// The unknowns.
    pub parameters: DVector<f64>,
    /// The residuals there.
    pub residuals: DVector<f64>,
    /// Their derivatives by the unknowns there.
    pub jacobian: DMatrix<f64>,
    /// Steps that were tried.
    pub steps: usize,
}

/// Why no minimum was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum GaussNewtonError {
    /// Residuals or derivatives at the start are not finite numbers.
    #[error("not finite")]
    NotFinite,
    /// The steps do not settle.
    #[error("not settled")]
    Unsettled,
}

/// Finds the unknowns with the least sum of squares, from `start`. `system` gives residuals and Jacobian.
///
/// # Errors
/// When the start is not finite or the steps do not settle.
pub fn gauss_newton(
    start: DVector<f64>,
    system: impl Fn(&DVector<f64>) -> (DVector<f64>, DMatrix<f64>),
) -> Result<Minimum, GaussNewtonError> {
    let (residuals, jacobian) = system(&start);
    let mut at = Minimum { parameters: start, residuals, jacobian, steps: 0 };
    if !is_finite(&at.residuals, &at.jacobian) {
        return Err(GaussNewtonError::NotFinite);
    }
    let mut damping = FIRST_DAMPING;
    while at.steps < MOST_STEPS && damping < MOST_DAMPING {
        at.steps += 1;
        let lengths = column_lengths(&at.jacobian);
        let Some(step) = damped_step(&at, &lengths, damping) else {
            damping *= 10.0;
            continue;
        };
        let settled = has_settled(&at, &step, &lengths, damping);
        let parameters = &at.parameters + &step;
        let (residuals, jacobian) = system(&parameters);
        let lower = residuals.norm_squared() <= at.residuals.norm_squared() && is_finite(&residuals, &jacobian);
        if lower {
            at = Minimum { parameters, residuals, jacobian, steps: at.steps };
            damping = (damping / 10.0).max(LEAST_DAMPING);
        } else {
            damping *= 10.0;
        }
        if settled {
            return Ok(at);
        }
    }
    Err(GaussNewtonError::Unsettled)
}

fn is_finite(residuals: &DVector<f64>, jacobian: &DMatrix<f64>) -> bool {
    residuals.iter().chain(jacobian.iter()).all(|value| value.is_finite())
}

/// Lengths of the columns, none under a hundred-millionth of the longest, so that an unknown without a trace stays put.
fn column_lengths(jacobian: &DMatrix<f64>) -> DVector<f64> {
    let lengths = DVector::from_iterator(jacobian.ncols(), jacobian.column_iter().map(|column| column.norm()));
    let least = (1e-8 * lengths.max()).max(f64::MIN_POSITIVE);
    lengths.map(|length| length.max(least))
}

fn damped_step(at: &Minimum, lengths: &DVector<f64>, damping: f64) -> Option<DVector<f64>> {
    let (rows, columns) = at.jacobian.shape();
    let mut augmented = at.jacobian.clone().resize_vertically(rows + columns, 0.0);
    for j in 0..columns {
        augmented[(rows + j, j)] = damping.sqrt() * lengths[j];
    }
    let target = -at.residuals.clone().resize_vertically(rows + columns, 0.0);
    let (q, r) = augmented.qr().unpack();
    r.solve_upper_triangular(&q.tr_mul(&target)).filter(|step| step.iter().all(|value| value.is_finite()))
}

/// Whether a step changes the residuals by no more than a trillionth of them, or the unknowns by rounding alone: equations that are
/// weighed by their covariance carry that of its root along. A step that is damped is short for another reason.
fn has_settled(at: &Minimum, step: &DVector<f64>, lengths: &DVector<f64>, damping: f64) -> bool {
    let moved = step.component_mul(lengths).norm();
    let rounding = if damping < 1.0 { 1e-11 } else { 4.0 * f64::EPSILON };
    (&at.jacobian * step).norm() <= 1e-12 * at.residuals.norm()
        || moved <= rounding * at.parameters.component_mul(lengths).norm()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// y = a·exp(b·x), with the exact answer known.
    fn decay(x: &DVector<f64>, readings: &[(f64, f64)]) -> (DVector<f64>, DMatrix<f64>) {
        let residuals =
            DVector::from_iterator(readings.len(), readings.iter().map(|r| x[0] * (x[1] * r.0).exp() - r.1));
        let jacobian = DMatrix::from_fn(readings.len(), 2, |i, j| {
            let e = (x[1] * readings[i].0).exp();
            if j == 0 { e } else { x[0] * readings[i].0 * e }
        });
        (residuals, jacobian)
    }

    fn readings() -> Vec<(f64, f64)> {
        (0..9).map(|i| f64::from(i) / 4.0).map(|x| (x, 3.0 * (-1.5 * x).exp())).collect()
    }

    #[test]
    fn finds_the_exact_answer_from_a_poor_start() {
        let readings = readings();
        let found = gauss_newton(DVector::from_vec(vec![1.0, 0.0]), |x| decay(x, &readings)).unwrap();
        assert!((found.parameters[0] - 3.0).abs() < 1e-13, "{}", found.parameters);
        assert!((found.parameters[1] + 1.5).abs() < 1e-13, "{}", found.parameters);
    }

    #[test]
    fn at_a_minimum_with_residuals_the_gradient_vanishes() {
        let mut readings = readings();
        for (i, reading) in readings.iter_mut().enumerate() {
            reading.1 += if i % 2 == 0 { 0.1 } else { -0.07 };
        }
        let found = gauss_newton(DVector::from_vec(vec![1.0, 0.0]), |x| decay(x, &readings)).unwrap();
        let gradient = found.jacobian.tr_mul(&found.residuals);
        assert!(found.residuals.norm() > 0.1);
        assert!(gradient.norm() < 1e-10, "{gradient}");
    }

    #[test]
    fn readings_that_are_no_numbers_are_refused() {
        let readings = [(0.0, f64::NAN), (1.0, 1.0)];
        let found = gauss_newton(DVector::from_vec(vec![1.0, 0.0]), |x| decay(x, &readings));
        assert_eq!(found.err(), Some(GaussNewtonError::NotFinite));
    }

    #[test]
    fn an_unknown_without_a_trace_stays_where_it_started() {
        let found = gauss_newton(DVector::from_vec(vec![0.0, 7.0]), |x| {
            (DVector::from_vec(vec![x[0] - 2.0, x[0] - 2.0]), DMatrix::from_row_slice(2, 2, &[1.0, 0.0, 1.0, 0.0]))
        })
        .unwrap();
        assert!((found.parameters[0] - 2.0).abs() < 1e-12);
        assert!((found.parameters[1] - 7.0).abs() < 1e-6);
    }
}
