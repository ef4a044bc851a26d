//! Squared magnitudes of the discrete Fourier transform of a real record.
//!
//! The transform is built here once, for the types it is used with; the rooms above call it without building it again.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

/// Plans and buffers that are kept from transform to transform.
#[derive(Default)]
pub struct PowerTransform {
    planner: Option<RealFftPlanner<f64>>,
    input: Vec<f64>,
    output: Vec<Complex64>,
    scratch: Vec<Complex64>,
}

impl PowerTransform {
    /// Room for a record of `size` values, all zero at first.
    pub fn record(&mut self, size: usize) -> &mut [f64] {
        self.input.clear();
        self.input.resize(size, 0.0);
        &mut self.input
    }

    /// Puts |X(k)|² of the record into `powers`, for k from 0 to half its size; the record is used up. The unit is the square
    /// of the record's. Empty when the record is.
    pub fn powers(&mut self, powers: &mut Vec<f64>) {
        powers.clear();
        let size = self.input.len();
        if size == 0 {
            return;
        }
        let plan = self.planner.get_or_insert_with(RealFftPlanner::new).plan_fft_forward(size);
        self.output.resize(size / 2 + 1, Complex64::default());
        self.scratch.resize(plan.get_scratch_len(), Complex64::default());
        if plan.process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch).is_ok() {
            powers.extend(self.output.iter().map(Complex64::norm_sqr));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// A cosine with k swings in n samples has the power (n/2)² in bin k and none elsewhere (the definition of the transform).
    #[test]
    fn a_cosine_stands_in_its_own_bin() {
        let mut transform = PowerTransform::default();
        let mut powers = Vec::new();
        for (size, swings) in [(32, 5), (100, 7), (64, 1)] {
            for (i, slot) in transform.record(size).iter_mut().enumerate() {
                *slot = (TAU * f64::from(swings) * i as f64 / size as f64).cos();
            }
            transform.powers(&mut powers);
            assert_eq!(powers.len(), size / 2 + 1);
            for (bin, power) in powers.iter().enumerate() {
                let expected = if bin == swings as usize { (size as f64 / 2.0).powi(2) } else { 0.0 };
                assert!((power - expected).abs() < 1e-9 * (size * size) as f64, "{size}, {bin}: {power}");
            }
        }
        transform.record(0);
        transform.powers(&mut powers);
        assert!(powers.is_empty());
    }
}
