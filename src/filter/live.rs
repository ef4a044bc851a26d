//! The live value: calm while the blade is at rest, without lag while it moves.
//!
//! The 1€ filter (Casiez, Roussel, Vogel, CHI 2012, pp. 2527–2530) on the unwrapped angle: a first-order low pass
//! whose cut-off grows with the speed, fc = fc_min + β·|dx̂|; the speed is taken from the last *filtered* value, as in
//! the paper, and low-passed itself. Times in seconds, cut-offs in hertz, angles within in radians. It is for the eye;
//! no recorded figure comes from it.

use crate::units::{Angle, Hertz, Seconds};
use std::f64::consts::TAU;

/// How the live value is smoothed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiveSettings {
    /// Cut-off at rest: lower is calmer.
    pub least_cutoff: Hertz,
    /// How much the cut-off opens, in hertz for each radian per second: more is quicker.
    pub opening: f64,
    /// Cut-off of the speed itself.
    pub speed_cutoff: Hertz,
}

impl Default for LiveSettings {
    /// 0.5 Hz at rest, opening by 40 Hz at one radian per second (0.7 Hz for each degree per second).
    fn default() -> Self {
        Self { least_cutoff: Hertz::new(0.5), opening: 40.0, speed_cutoff: Hertz::new(1.0) }
    }
}

#[derive(Debug, Clone, Copy)]
struct State {
    clock: f64,
    raw: f64,
    value: f64,
    speed: f64,
}

/// Smooths an angle as it comes.
#[derive(Debug, Clone)]
pub struct Live {
    settings: LiveSettings,
    state: Option<State>,
}

impl Live {
    /// A filter that has seen nothing yet.
    #[must_use]
    pub const fn new(settings: LiveSettings) -> Self {
        Self { settings, state: None }
    }

    /// Takes the next angle and gives the smoothed one, within ±180°.
    ///
    /// An angle that is not finite is passed over; one that is no later than the last changes nothing.
    pub fn push(&mut self, clock: Seconds, angle: Angle) -> Angle {
        let (clock, angle) = (clock.value(), angle.radians());
        if !clock.is_finite() || !angle.is_finite() {
            return self.value();
        }
        let Some(last) = self.state else {
            self.state = Some(State { clock, raw: angle, value: angle, speed: 0.0 });
            return self.value();
        };
        let step = clock - last.clock;
        if step <= 0.0 {
            return self.value();
        }
        // Unwrapped: the shorter way round from the last raw angle.
        let raw = last.raw + Angle::from_radians(angle - last.raw).wrapped().radians();
        let share = |cutoff: f64| 1.0 / (1.0 + 1.0 / (TAU * cutoff * step));
        let slope = (raw - last.value) / step;
        let speed = last.speed + share(self.settings.speed_cutoff.value()) * (slope - last.speed);
        let cutoff = self.settings.least_cutoff.value() + self.settings.opening * speed.abs();
        let value = last.value + share(cutoff) * (raw - last.value);
        self.state = Some(State { clock, raw, value, speed });
        self.value()
    }

    /// The smoothed angle so far, zero before the first.
    #[must_use]
    pub fn value(&self) -> Angle {
        self.state.map_or(Angle::ZERO, |state| Angle::from_radians(state.value).wrapped())
    }

    /// The smoothed speed in radians per second, leading edge up positive.
    #[must_use]
    pub fn speed(&self) -> f64 {
        self.state.map_or(0.0, |state| state.speed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    /// Outputs of two independent implementations of the paper's equations; see `tests/reference`.
    const REFERENCE: &str = include_str!("../../tests/reference/filters_one_euro.json");

    fn numbers(value: &Value) -> Vec<f64> {
        value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
    }

    #[test]
    fn agrees_with_independent_implementations_of_the_paper() {
        let reference: Value = serde_json::from_str(REFERENCE).unwrap();
        let input = numbers(&reference["input"]);
        let irregular = numbers(&reference["time_irregular"]);
        let mut checked = 0;
        for case in reference["cases"].as_array().unwrap().iter().filter(|case| case["variant"] == "filtered") {
            let number = |key: &str| case[key].as_f64().unwrap();
            let mut live = Live::new(LiveSettings {
                least_cutoff: Hertz::new(number("mincutoff")),
                opening: number("beta"),
                speed_cutoff: Hertz::new(number("dcutoff")),
            });
            for (k, (&x, y)) in input.iter().zip(numbers(&case["y"])).enumerate() {
                let clock = if case["time"] == "irregular" { irregular[k] } else { k as f64 / 120.0 };
                let got = live.push(Seconds::new(clock), Angle::from_radians(x)).radians();
                assert!((got - y).abs() < 1e-11, "{k}: {got} against {y}");
                checked += 1;
            }
        }
        assert_eq!(checked, 8 * 60);
    }

    #[test]
    fn passes_through_half_a_turn_without_a_jump() {
        let mut live = Live::new(LiveSettings::default());
        let mut last = 178.0;
        for k in 0..400 {
            let angle = Angle::from_degrees(178.0 + 0.01 * f64::from(k)).wrapped();
            let shown = live.push(Seconds::new(0.005 * f64::from(k)), angle).degrees().rem_euclid(360.0);
            assert!((shown - last).abs() < 0.02, "{last} to {shown}");
            last = shown;
        }
        assert!(last > 181.0);
    }

    #[test]
    fn what_is_no_number_changes_nothing() {
        let mut live = Live::new(LiveSettings::default());
        live.push(Seconds::new(0.0), Angle::from_degrees(5.0));
        live.push(Seconds::new(f64::NAN), Angle::from_degrees(7.0));
        live.push(Seconds::new(1.0), Angle::from_degrees(f64::NAN));
        live.push(Seconds::new(-1.0), Angle::from_degrees(90.0));
        assert!((live.value().degrees() - 5.0).abs() < 1e-12);
    }
}
