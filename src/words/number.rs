//! Numbers for people: how many digits an angle and its uncertainty are given, on every face alike.

use clinoblade_uncertainty::Target;
use clinoblade_units::Angle;

/// Decimals at which an expanded uncertainty has at most two significant digits (JCGM 100:2008, 7.2.6), two at most for an
/// angle in degrees: no blade is read more finely.
fn decimals(degrees: f64) -> usize {
    let size = degrees.abs();
    if !size.is_finite() || size <= 0.0 {
        return 2;
    }
    // 0.996 to two digits is 1.0: the place is that of the rounded number.
    let exponent = size.log10().floor();
    let rounded = (size / 10f64.powf(exponent - 1.0)).round() * 10f64.powf(exponent - 1.0);
    (1.0 - rounded.log10().floor()).clamp(0.0, 2.0) as usize
}

/// An uncertainty at this many decimals: rounded to the nearest, and up where rounding down takes off more than 5 %.
fn rounded_uncertainty(degrees: f64, decimals: usize) -> f64 {
    let scale = 10f64.powi(decimals as i32);
    let nearest = (degrees * scale).round() / scale;
    if nearest < degrees * 0.95 { (degrees * scale).ceil() / scale } else { nearest }
}

/// A true minus sign, and none before a zero.
fn with_true_minus(text: &str) -> String {
    let zero = text.trim_start_matches(['-', '+']).bytes().all(|byte| matches!(byte, b'0' | b'.'));
    if zero { text.trim_start_matches(['-', '+']).to_owned() } else { text.replace('-', "\u{2212}") }
}

/// A signed number of so many decimals: `+1.25`, `−0.30`, `0.00`.
#[must_use]
pub fn signed(value: f64, decimals: usize) -> String {
    with_true_minus(&format!("{value:+.decimals$}"))
}

/// A signed angle of so many decimals, with its unit: `+11.9°`.
#[must_use]
pub fn angle(angle: Angle, decimals: usize) -> String {
    format!("{}°", signed(angle.degrees(), decimals))
}

/// What is wanted of a value, with its unit: `−10 ± 0.5°`, `at most 12°`.
#[must_use]
pub fn wanted(target: Target) -> String {
    format!("{}°", with_true_minus(&target.to_string()))
}

/// A value with its expanded uncertainty, both to the same place: `+11.86° ± 0.14°`.
#[must_use]
pub fn with_uncertainty(value: Angle, expanded: Angle) -> String {
    format!("{} {}", angle(value, decimals(expanded.degrees())), plus_minus(expanded))
}

/// An expanded uncertainty alone: `± 0.14°`.
#[must_use]
pub fn plus_minus(expanded: Angle) -> String {
    let decimals = decimals(expanded.degrees());
    format!("± {:.decimals$}°", rounded_uncertainty(expanded.degrees(), decimals))
}

/// A size with its expanded uncertainty, without a sign: `11.86° ± 0.14°`.
#[must_use]
pub fn size(value: Angle, expanded: Angle) -> String {
    with_uncertainty(value.abs(), expanded).trim_start_matches('+').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(value: f64, u: f64) -> String {
        with_uncertainty(Angle::from_degrees(value), Angle::from_degrees(u))
    }

    #[test]
    fn value_and_uncertainty_end_at_one_place_with_two_digits_at_most() {
        // JCGM 100:2008, 7.2.6: at most two significant digits; the value to the same place.
        assert_eq!(said(11.8561, 0.1432), "+11.86° ± 0.14°");
        assert_eq!(said(-1.24, 2.34), "\u{2212}1.2° ± 2.3°");
        assert_eq!(said(12.0, 23.4), "+12° ± 23°");
        assert_eq!(said(12.04, 0.996), "+12.0° ± 1.0°");
    }

    #[test]
    fn an_uncertainty_is_rounded_up_where_rounding_down_takes_off_more_than_a_twentieth() {
        assert_eq!(said(0.0, 0.024), "0.00° ± 0.03°");
        assert_eq!(said(0.0, 0.104), "0.00° ± 0.10°");
        assert_eq!(said(0.0, 0.004), "0.00° ± 0.01°");
    }

    #[test]
    fn a_zero_has_no_sign_and_a_minus_is_a_true_one() {
        assert_eq!(angle(Angle::from_degrees(-0.001), 2), "0.00°");
        assert_eq!(angle(Angle::from_degrees(-3.0), 1), "\u{2212}3.0°");
        assert_eq!(signed(4.0, 0), "+4");
    }
}
