//! Least squares of a few terms over many samples, in one pass: sums that grow sample by sample, then one factorisation.
//!
//! Minimises Σ(y − x·c)², x the terms of a sample and y its value; several values share their terms. With XᵀX = L·Lᵀ
//! (Cholesky) and z = L⁻¹·Xᵀy, each zᵢ is what term i contributes beyond the terms before it, with the standard deviation
//! of the noise of one sample; Σzᵢ² is what all of them explain of Σy², and L·Lᵀ·c = Xᵀy gives the coefficients (Seber and
//! Lee 2003, Linear Regression Analysis, chapters 3 and 11). Half the digits of a QR of X, which are plenty for terms of
//! about one size, and no sample is kept; for ill-conditioned designs there is [`super::least_squares`].
//!
//! The first terms may be swings: cosine and sine of a frequency. At half the sample rate one of the two vanishes, up to
//! rounding, and its coefficient would be anything at all. So each of a pair is held against the size of both: one that adds
//! too little of its own is left out, with the coefficient zero.

use std::f64::consts::TAU;

/// What a cosine or a sine must add of its own, as a share of the squares of both: with less its amplitude would be more
/// than 22 times as uncertain as that of a swing in the middle of the band.
const LEAST_OF_SWING: f64 = 1e-3;
/// What another term must add of its own, as a share of its squares: with less nothing but rounding is left.
const LEAST_OF_TERM: f64 = 1e-12;

/// The sums of the normal equations of `TERMS` terms for `VALUES` values.
#[derive(Debug, Clone, Copy)]
pub struct NormalEquations<const TERMS: usize, const VALUES: usize> {
    /// XᵀX, its lower half.
    gram: [[f64; TERMS]; TERMS],
    /// Xᵀy of each value.
    right: [[f64; TERMS]; VALUES],
    /// Σy² of each value.
    squares: [f64; VALUES],
}

/// The terms of a sample at the time `t`, in seconds: cosine and sine of each frequency, in hertz, then the others.
#[must_use]
pub fn swings_and<const TERMS: usize>(frequencies: &[f64], t: f64, others: &[f64]) -> [f64; TERMS] {
    let mut row = [0.0; TERMS];
    let (swings, rest) = row.split_at_mut(TERMS - others.len());
    for (pair, frequency) in swings.chunks_exact_mut(2).zip(frequencies) {
        let (sin, cos) = (TAU * frequency * t).sin_cos();
        pair.copy_from_slice(&[cos, sin]);
    }
    rest.copy_from_slice(others);
    row
}

impl<const TERMS: usize, const VALUES: usize> Default for NormalEquations<TERMS, VALUES> {
    fn default() -> Self {
        Self { gram: [[0.0; TERMS]; TERMS], right: [[0.0; TERMS]; VALUES], squares: [0.0; VALUES] }
    }
}

impl<const TERMS: usize, const VALUES: usize> NormalEquations<TERMS, VALUES> {
    /// Takes a sample.
    pub fn add(&mut self, terms: [f64; TERMS], values: [f64; VALUES]) {
        for i in 0..TERMS {
            for j in 0..=i {
                self.gram[i][j] += terms[i] * terms[j];
            }
        }
        for (k, value) in values.into_iter().enumerate() {
            for (sum, term) in self.right[k].iter_mut().zip(terms) {
                *sum += term * value;
            }
            self.squares[k] += value * value;
        }
    }

    /// Takes the samples of another.
    pub fn add_all(&mut self, other: &Self) {
        let add = |sums: &mut [f64], others: &[f64]| sums.iter_mut().zip(others).for_each(|(sum, other)| *sum += other);
        add(self.gram.as_flattened_mut(), other.gram.as_flattened());
        add(self.right.as_flattened_mut(), other.right.as_flattened());
        add(&mut self.squares, &other.squares);
    }

    /// Σ of the product of two terms over the samples; `i` is no less than `j`.
    #[must_use]
    pub const fn sum(&self, i: usize, j: usize) -> f64 {
        self.gram[i][j]
    }

    /// Σ of the product of a term and a value.
    #[must_use]
    pub const fn sum_with(&self, term: usize, value: usize) -> f64 {
        self.right[value][term]
    }

    /// Solves them; the first `swings` pairs of terms are cosine and sine of a frequency.
    ///
    /// `None` where another term adds nothing of its own: the samples are too few or too much alike.
    #[must_use]
    pub fn solve(&self, swings: usize) -> Option<Solution<TERMS, VALUES>> {
        let mut factor = self.gram;
        for i in 0..TERMS {
            for j in 0..i {
                let inner: f64 = (0..j).map(|k| factor[i][k] * factor[j][k]).sum();
                factor[i][j] = (factor[i][j] - inner) / factor[j][j];
            }
            let inner: f64 = factor[i][..i].iter().map(|value| value * value).sum();
            let own = self.gram[i][i] - inner;
            let first = i - i % 2;
            factor[i][i] = if i < 2 * swings {
                let both = self.gram[first][first] + self.gram[first + 1][first + 1];
                // What is divided by infinity is zero, here and in all that follows.
                if own > LEAST_OF_SWING * both { own.sqrt() } else { f64::INFINITY }
            } else if own > LEAST_OF_TERM * self.gram[i][i] {
                own.sqrt()
            } else {
                return None;
            };
        }
        let forward = |right: &[f64; TERMS]| {
            let mut z = *right;
            for i in 0..TERMS {
                let inner: f64 = (0..i).map(|k| factor[i][k] * z[k]).sum();
                z[i] = (z[i] - inner) / factor[i][i];
            }
            z
        };
        Some(Solution { factor, z: self.right.each_ref().map(forward), squares: self.squares })
    }
}

/// Solved normal equations.
#[derive(Debug, Clone, Copy)]
pub struct Solution<const TERMS: usize, const VALUES: usize> {
    factor: [[f64; TERMS]; TERMS],
    z: [[f64; TERMS]; VALUES],
    squares: [f64; VALUES],
}

impl<const TERMS: usize, const VALUES: usize> Solution<TERMS, VALUES> {
    /// What each term contributes to each value beyond the terms before it, with the standard deviation of its noise.
    #[must_use]
    pub const fn contributions(&self) -> &[[f64; TERMS]; VALUES] {
        &self.z
    }

    /// The root of the squares that a term adds beyond those before it: its contribution over this is its coefficient were
    /// there none behind it, and one over this the standard uncertainty of that for noise of standard deviation 1.
    #[must_use]
    pub const fn own(&self, term: usize) -> f64 {
        self.factor[term][term]
    }

    /// The coefficients of each value.
    #[must_use]
    pub fn coefficients(&self) -> [[f64; TERMS]; VALUES] {
        self.z.map(|mut c| {
            for i in (0..TERMS).rev() {
                let inner: f64 = (i + 1..TERMS).map(|k| self.factor[k][i] * c[k]).sum();
                c[i] = (c[i] - inner) / self.factor[i][i];
            }
            c
        })
    }

    /// What the terms explain of the sum of squares of each value.
    #[must_use]
    pub fn explained(&self) -> [f64; VALUES] {
        self.z.map(|z| z.iter().map(|own| own * own).sum())
    }

    /// What they leave of it.
    #[must_use]
    pub fn left(&self) -> [f64; VALUES] {
        let explained = self.explained();
        std::array::from_fn(|k| (self.squares[k] - explained[k]).max(0.0))
    }

    /// The variance of what is foretold for a sample with these terms, for noise of standard deviation 1.
    #[must_use]
    pub fn variance_at(&self, terms: [f64; TERMS]) -> f64 {
        let mut w = terms;
        for i in 0..TERMS {
            let inner: f64 = (0..i).map(|k| self.factor[i][k] * w[k]).sum();
            w[i] = (w[i] - inner) / self.factor[i][i];
        }
        w.iter().map(|part| part * part).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::super::least_squares::least_squares;
    use super::*;
    use nalgebra::{DMatrix, DVector};

    fn random() -> impl FnMut() -> f64 {
        let mut random = crate::rig::noise::Random::new(3);
        move || random.normal()
    }

    /// The same as a QR of the design, in every figure.
    #[test]
    fn agrees_with_least_squares_by_qr() {
        let mut normal = random();
        let rows: Vec<([f64; 5], [f64; 2])> = (0..40)
            .map(|i| {
                let t = f64::from(i) * 0.01 - 0.2;
                (swings_and(&[21.0], t, &[1.0, t, t * t]), [2.0 + normal(), t - 3.0 * t * t + 0.1 * normal()])
            })
            .collect();
        let mut sums = NormalEquations::<5, 2>::default();
        let mut others = sums;
        let (some, rest) = rows.split_at(13);
        some.iter().for_each(|(terms, values)| sums.add(*terms, *values));
        rest.iter().for_each(|(terms, values)| others.add(*terms, *values));
        sums.add_all(&others);
        let solved = sums.solve(1).unwrap();
        let design = DMatrix::from_fn(40, 5, |i, j| rows[i].0[j]);
        for k in 0..2 {
            let fit = least_squares(&design, &DVector::from_fn(40, |i, _| rows[i].1[k])).unwrap();
            for (ours, theirs) in solved.coefficients()[k].iter().zip(&fit.coefficients) {
                assert!((ours - theirs).abs() < 1e-9, "{ours} {theirs}");
            }
            assert!((solved.left()[k] / fit.residuals.norm_squared() - 1.0).abs() < 1e-9);
            assert!((solved.own(4).powi(-2) / fit.unit_covariance[(4, 4)] - 1.0).abs() < 1e-9);
            let at = DVector::from_column_slice(&rows[7].0);
            assert!(
                (solved.variance_at(rows[7].0) / (at.transpose() * &fit.unit_covariance * &at)[0] - 1.0).abs() < 1e-9
            );
        }
    }

    /// cos(πk) alternates, sin(πk) is zero but for rounding: an amplitude is found only of what the samples show.
    #[test]
    fn a_swing_at_half_the_sample_rate_has_no_sine() {
        let mut normal = random();
        for rate in [50.0, 104.0, 200.0, 400.0] {
            let mut sums = NormalEquations::<3, 1>::default();
            for k in 0..150 {
                let alternating = if k % 2 == 0 { 1.0 } else { -1.0 };
                let value = 0.7 + 0.3 * alternating + 0.01 * normal();
                sums.add(swings_and(&[rate / 2.0], f64::from(k) / rate, &[1.0]), [value]);
            }
            let [[cos, sin, level]] = sums.solve(1).unwrap().coefficients();
            assert_eq!(sin, 0.0, "{rate}");
            assert!((cos - 0.3).abs() < 0.01 && (level - 0.7).abs() < 0.01, "{cos} {level}");
        }
    }

    #[test]
    fn what_nothing_tells_apart_is_not_solved() {
        let mut sums = NormalEquations::<2, 1>::default();
        assert!(sums.solve(0).is_none(), "no samples");
        (0..10).for_each(|_| sums.add([1.0, 3.0], [2.0]));
        assert!(sums.solve(0).is_none(), "all at one place");
        sums.add([1.0, 4.0], [3.0]);
        assert!((sums.solve(0).unwrap().coefficients()[0][1] - 1.0).abs() < 1e-9);
    }
}
