//! Linear least squares: coefficients with standard errors.
//!
//! Minimises ‖y − X·c‖ by Householder QR of the design X with its columns scaled to length 1, which keeps the
//! accuracy that the data allow where columns differ by many powers of ten (Björck, *Numerical Methods for Least
//! Squares Problems*, SIAM 1996, 2.4 and 2.8). One step of refinement follows. With s² = ‖y − X·c‖²/(n − p), the
//! covariance of the coefficients is s²·(XᵀX)⁻¹. Checked against the NIST StRD linear regression sets.
//!
//! Weighted readings are the same problem with each row divided by its standard uncertainty.
//! Assumed: independent errors of equal size, and none in X.

use nalgebra::{DMatrix, DVector};

/// A fitted linear model.
#[derive(Debug, Clone)]
pub struct LinearFit {
    /// One coefficient for each column of the design.
    pub coefficients: DVector<f64>,
    /// (XᵀX)⁻¹: the covariance of the coefficients for errors of standard deviation 1.
    pub unit_covariance: DMatrix<f64>,
    /// What the model leaves of each observation.
    pub residuals: DVector<f64>,
    /// Observations less coefficients.
    pub degrees_of_freedom: usize,
    /// Ratio of the largest to the smallest singular value of the scaled design; 1 is best.
    pub condition: f64,
}

/// Why a linear model cannot be fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum LeastSquaresError {
    /// Fewer observations than unknowns.
    #[error("too few: {observations}")]
    TooFew {
        /// Rows of the design.
        observations: usize,
        /// Columns of the design.
        unknowns: usize,
    },
    /// Rows of the design and observations do not go together.
    #[error("other shape: {rows}")]
    Shape {
        /// Rows of the design.
        rows: usize,
        /// Observations.
        observations: usize,
    },
    /// A figure that is not finite.
    #[error("not finite")]
    NotFinite,
    /// Some combination of the unknowns leaves no trace in the observations.
    #[error("singular")]
    Singular,
}

/// Fits `observed ≈ design · coefficients`.
///
/// # Errors
/// Too few observations, figures that are not finite, or a design without full rank (condition over 10¹⁵).
pub fn least_squares(design: &DMatrix<f64>, observed: &DVector<f64>) -> Result<LinearFit, LeastSquaresError> {
    let (rows, columns) = design.shape();
    if rows != observed.len() {
        return Err(LeastSquaresError::Shape { rows, observations: observed.len() });
    }
    if rows < columns || columns == 0 {
        return Err(LeastSquaresError::TooFew { observations: rows, unknowns: columns });
    }
    if !design.iter().chain(observed).all(|v| v.is_finite()) {
        return Err(LeastSquaresError::NotFinite);
    }
    let lengths = column_lengths(design);
    let scaled = scale_columns(design, &lengths);
    let condition = condition(&scaled).ok_or(LeastSquaresError::Singular)?;
    let (q, r) = scaled.clone().qr().unpack();
    let solve = |rest: &DVector<f64>| r.solve_upper_triangular(&q.tr_mul(rest)).ok_or(LeastSquaresError::Singular);
    let first = solve(observed)?;
    let refined = &first + solve(&(observed - &scaled * &first))?;
    let coefficients = refined.component_div(&lengths);
    let inverse = r.solve_upper_triangular(&DMatrix::identity(columns, columns)).ok_or(LeastSquaresError::Singular)?;
    let unit_covariance = unscale(&(&inverse * inverse.transpose()), &lengths);
    let residuals = observed - design * &coefficients;
    Ok(LinearFit { coefficients, unit_covariance, residuals, degrees_of_freedom: rows - columns, condition })
}

impl LinearFit {
    /// Residual standard deviation s; `None` when no observation is left over.
    #[must_use]
    pub fn residual_sd(&self) -> Option<f64> {
        (self.degrees_of_freedom > 0).then(|| (self.residuals.norm_squared() / self.degrees_of_freedom as f64).sqrt())
    }

    /// Standard errors of the coefficients from the scatter of the residuals; `None` without one left over.
    #[must_use]
    pub fn standard_errors(&self) -> Option<DVector<f64>> {
        self.residual_sd().map(|sd| self.unit_covariance.diagonal().map(|variance| sd * variance.sqrt()))
    }
}

/// The covariance of unknowns seen through `jacobian` with errors of standard deviation 1, and the condition number.
///
/// Unlike a fit this never fails: a combination of unknowns that leaves no trace comes out with an enormous
/// variance instead, which is how such unknowns are recognised; so does everything when an entry is not finite.
#[must_use]
pub fn unit_covariance(jacobian: &DMatrix<f64>) -> (DMatrix<f64>, f64) {
    /// Under this share of the largest singular value nothing but rounding is left.
    const ROUNDING: f64 = 1e-15;
    let columns = jacobian.ncols();
    let nothing = || (DMatrix::from_element(columns, columns, f64::INFINITY), f64::INFINITY);
    if columns == 0 || !jacobian.iter().all(|v| v.is_finite()) {
        return nothing();
    }
    // Rows of zeros make the matrix at least square, so that directions without any equation are seen too.
    let padded = jacobian.clone().resize_vertically(jacobian.nrows().max(columns), 0.0);
    let lengths = column_lengths(&padded);
    let svd = scale_columns(&padded, &lengths).svd(false, true);
    let Some(v_t) = svd.v_t else { return nothing() };
    let largest = svd.singular_values.max();
    let weights = svd.singular_values.map(|s| 1.0 / s.max(ROUNDING * largest).max(f64::MIN_POSITIVE.sqrt()));
    let root = v_t.transpose() * DMatrix::from_diagonal(&weights);
    (unscale(&(&root * root.transpose()), &lengths), largest / svd.singular_values.min())
}

/// Lengths of the columns; a column of zeros counts as tiny.
fn column_lengths(matrix: &DMatrix<f64>) -> DVector<f64> {
    DVector::from_iterator(matrix.ncols(), matrix.column_iter().map(|c| c.norm().max(1e-30)))
}

fn scale_columns(matrix: &DMatrix<f64>, lengths: &DVector<f64>) -> DMatrix<f64> {
    DMatrix::from_fn(matrix.nrows(), matrix.ncols(), |i, j| matrix[(i, j)] / lengths[j])
}

fn unscale(covariance: &DMatrix<f64>, lengths: &DVector<f64>) -> DMatrix<f64> {
    DMatrix::from_fn(covariance.nrows(), covariance.ncols(), |i, j| covariance[(i, j)] / (lengths[i] * lengths[j]))
}

fn condition(scaled: &DMatrix<f64>) -> Option<f64> {
    let singular = scaled.clone().singular_values();
    let (largest, smallest) = (singular.max(), singular.min());
    (smallest > 1e-15 * largest).then(|| largest / smallest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    /// Digits of agreement, −log₁₀ of the relative error (of the absolute one where the certified value is zero).
    fn digits(found: f64, certified: f64) -> f64 {
        let error = (found - certified).abs();
        let relative = if certified == 0.0 { error } else { error / certified.abs() };
        if relative == 0.0 { 16.0 } else { -relative.log10() }
    }

    fn numbers(text: &str) -> Vec<Vec<f64>> {
        text.lines().skip(1).map(|line| line.split(',').map(|n| n.parse().unwrap()).collect()).collect()
    }

    fn certified(set: &Value, key: &str) -> Vec<f64> {
        set[key].as_array().unwrap().iter().map(|v| v.as_str().unwrap().parse().unwrap()).collect()
    }

    /// NIST StRD linear regression, the certified coefficients and standard errors to the digits that each set's
    /// own condition allows in double precision.
    #[test]
    fn agrees_with_the_certified_regressions_of_nist() {
        let sets: Value = serde_json::from_str(include_str!("../../tests/reference/strd_lls.json")).unwrap();
        let wanted = [
            ("Norris", include_str!("../../tests/reference/strd_lls_norris.csv"), 12.0, 12.0),
            ("Pontius", include_str!("../../tests/reference/strd_lls_pontius.csv"), 11.0, 11.0),
            ("NoInt1", include_str!("../../tests/reference/strd_lls_noint1.csv"), 14.0, 13.0),
            ("NoInt2", include_str!("../../tests/reference/strd_lls_noint2.csv"), 14.0, 13.0),
            ("Longley", include_str!("../../tests/reference/strd_lls_longley.csv"), 10.5, 11.5),
            ("Wampler1", include_str!("../../tests/reference/strd_lls_wampler1.csv"), 9.0, 9.0),
            ("Wampler2", include_str!("../../tests/reference/strd_lls_wampler2.csv"), 11.0, 12.0),
            ("Wampler3", include_str!("../../tests/reference/strd_lls_wampler3.csv"), 9.0, 12.0),
            ("Wampler4", include_str!("../../tests/reference/strd_lls_wampler4.csv"), 7.0, 12.0),
            ("Wampler5", include_str!("../../tests/reference/strd_lls_wampler5.csv"), 5.0, 12.0),
            ("Filip", include_str!("../../tests/reference/strd_lls_filip.csv"), 7.0, 7.0),
        ];
        for (name, text, least_coefficients, least_errors) in wanted {
            let set = &sets["sets"][name];
            let rows = numbers(text);
            let intercept = set["intercept"].as_bool().unwrap();
            let design_row = |x: &[f64]| -> Vec<f64> {
                match set["degree"].as_u64() {
                    Some(degree) => (i32::from(!intercept)..=degree as i32).map(|k| x[0].powi(k)).collect(),
                    None => std::iter::once(1.0).chain(x.iter().copied()).collect(),
                }
            };
            let design: Vec<Vec<f64>> = rows.iter().map(|row| design_row(&row[1..])).collect();
            let x = DMatrix::from_fn(rows.len(), design[0].len(), |i, j| design[i][j]);
            let y = DVector::from_iterator(rows.len(), rows.iter().map(|row| row[0]));
            let fit = least_squares(&x, &y).unwrap();
            let worst = |found: &DVector<f64>, wanted: &[f64]| {
                assert_eq!(found.len(), wanted.len(), "{name}");
                found.iter().zip(wanted).map(|(&f, &w)| digits(f, w)).fold(f64::INFINITY, f64::min)
            };
            let coefficients = worst(&fit.coefficients, &certified(set, "coef"));
            let errors = worst(&fit.standard_errors().unwrap(), &certified(set, "se"));
            let sd: f64 = set["residual_sd"].as_str().unwrap().parse().unwrap();
            let sd = digits(fit.residual_sd().unwrap(), sd);
            println!("{name:9} digits: coefficients {coefficients:4.1}, standard errors {errors:4.1}, sd {sd:4.1}");
            assert!(coefficients >= least_coefficients, "{name}: {coefficients:.1} digits of the coefficients");
            assert!(errors >= least_errors, "{name}: {errors:.1} digits of the standard errors");
            assert!(sd >= least_errors, "{name}: {sd:.1} digits of the residual standard deviation");
        }
    }

    #[test]
    fn what_cannot_be_fitted_is_said() {
        let y = DVector::from_vec(vec![1.0, 2.0, 3.0]);
        let twin = DMatrix::from_row_slice(3, 2, &[1.0, 2.0, 2.0, 4.0, 3.0, 6.0]);
        assert_eq!(least_squares(&twin, &y).err(), Some(LeastSquaresError::Singular));
        let wide = DMatrix::from_element(3, 4, 1.0);
        assert_eq!(least_squares(&wide, &y).err(), Some(LeastSquaresError::TooFew { observations: 3, unknowns: 4 }));
        let holed = DMatrix::from_row_slice(3, 1, &[1.0, f64::NAN, 1.0]);
        assert_eq!(least_squares(&holed, &y).err(), Some(LeastSquaresError::NotFinite));
        let short = DMatrix::from_element(2, 1, 1.0);
        assert!(matches!(least_squares(&short, &y), Err(LeastSquaresError::Shape { .. })));
    }

    #[test]
    fn without_an_observation_left_over_there_is_no_standard_error() {
        let x = DMatrix::from_row_slice(2, 2, &[1.0, 0.0, 1.0, 1.0]);
        let fit = least_squares(&x, &DVector::from_vec(vec![1.0, 3.0])).unwrap();
        assert_eq!(fit.residual_sd(), None);
        assert!((fit.coefficients[1] - 2.0).abs() < 1e-15);
    }

    #[test]
    fn unknowns_that_leave_no_trace_have_an_enormous_variance() {
        // Two unknowns seen only as a sum, a third seen well, a fourth not at all.
        let seen = DMatrix::from_row_slice(3, 4, &[1.0, 1.0, 0.0, 0.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0]);
        let (covariance, _) = unit_covariance(&seen);
        assert!(covariance[(0, 0)] > 1e20 && covariance[(1, 1)] > 1e20 && covariance[(3, 3)] > 1e20);
        assert!((covariance[(2, 2)] - 1.0).abs() < 1e-12);
        assert!(unit_covariance(&DMatrix::from_element(2, 2, f64::NAN)).0[(0, 0)].is_infinite());
    }
}
