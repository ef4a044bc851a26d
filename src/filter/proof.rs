//! What counts as still, for how long it must last, and what coarse counts can hide.

use super::stillness::Window;

/// A stretch with nothing before it that moved must last so long.
const PROOF_FROM_START: f64 = 0.352;
/// How long a stick may pause before it moves on.
const PAUSE: f64 = 0.25;
/// The softest hand: the jerk with which a movement begins and ends, in radians per second cubed (40 °/s³).
const SOFT_JERK: f64 = 0.698;
/// Share of still stretches of which the test of stillness says so: the 99 % point of χ² on three degrees of freedom.
const UNREST_LIMIT: f64 = 11.34;
/// How long an overshoot may rest at a wrong angle.
pub const OVERSHOOT_REST: f64 = 0.3;

/// The longest window that is still: longer ones that fail by chance are passed over, three in a row are motion.
pub fn longest_still(windows: &[Window]) -> Option<usize> {
    let mut longest = None;
    let mut restless = 0;
    for (place, window) in windows.iter().enumerate() {
        if window.unrest() <= unrest_limit(window) {
            longest = Some(place);
            restless = 0;
        } else {
            restless += 1;
            if restless == 3 {
                break;
            }
        }
    }
    longest
}

/// The limit of the statistic of stillness for this window: F on 3 and ν degrees of freedom, close to χ² for many.
pub fn unrest_limit(window: &Window) -> f64 {
    let freedom = (window.samples as f64 - 4.0).max(2.0);
    UNREST_LIMIT * (1.0 + 5.5 / freedom + 18.0 / (freedom * freedom))
}

/// How long the blade must have been still: longer than an overshoot's rest with its soft ends.
///
/// A hand's movement leaves and reaches a rest as J·τ³. Noise σ at n samples a second hides it as long as
/// Σ(Jτ³)²/σ² < 2.5², which is τ = (44 σ²/J²n)^(1/7) at either end.
pub fn proof(window: &Window, from_start: bool) -> f64 {
    let rate = window.samples as f64 / window.length.max(1e-3);
    let hidden = (44.0 * window.sigma.powi(2) / (SOFT_JERK * SOFT_JERK * rate)).powf(1.0 / 7.0);
    if from_start { (PAUSE + 1.3 * hidden).max(PROOF_FROM_START) } else { OVERSHOOT_REST + 2.1 * hidden }
}

/// Standard uncertainty that rounding to `count` leaves in a mean when the noise has standard deviation `sigma`, which
/// includes what rounding added to it.
pub fn hidden_by_rounding(count: f64, sigma: f64) -> f64 {
    let square = (sigma * sigma - count * count / 12.0).max(0.0);
    let amplitude =
        count / std::f64::consts::PI * (-2.0 * std::f64::consts::PI.powi(2) * square / (count * count)).exp();
    (amplitude * std::f64::consts::FRAC_1_SQRT_2).min(count / 12_f64.sqrt())
}
