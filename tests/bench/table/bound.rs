//! How well a level can be known at best.

/// Time constants of 1, 2, 4 … samples, as the simulated sensor has them.
const OCTAVES: usize = 14;
const UNKNOWNS: usize = OCTAVES + 1;

/// The variance of the best linear unbiased estimate of a level from `samples` of it under white noise and 1/f noise, each
/// octave of which has the standard deviation `flicker`: generalised least squares (Aitken 1935), carried out sample by
/// sample with the octaves as states (Kalman 1960). Without flicker it is white²/samples.
pub fn of_level(white: f64, flicker: f64, samples: usize) -> f64 {
    let keep: [f64; UNKNOWNS] = std::array::from_fn(|i| match i {
        0 => 1.0,
        octave => (-1.0 / f64::from(1_u32 << (octave - 1))).exp(),
    });
    let mut covariance = [[0.0; UNKNOWNS]; UNKNOWNS];
    for (i, row) in covariance.iter_mut().enumerate() {
        // Of the level nothing is known; the octaves have always been.
        row[i] = if i == 0 { 1e4 * (white * white + flicker * flicker) } else { flicker * flicker };
    }
    for _ in 0..samples {
        for i in 0..UNKNOWNS {
            for j in 0..UNKNOWNS {
                covariance[i][j] *= keep[i] * keep[j];
            }
            if i > 0 {
                covariance[i][i] += flicker * flicker * (1.0 - keep[i] * keep[i]);
            }
        }
        let seen: [f64; UNKNOWNS] = covariance.map(|row| row.iter().sum());
        let spread = seen.iter().sum::<f64>() + white * white;
        for i in 0..UNKNOWNS {
            for j in 0..UNKNOWNS {
                covariance[i][j] -= seen[i] * seen[j] / spread;
            }
        }
    }
    covariance[0][0]
}
