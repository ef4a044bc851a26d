//! The simulated accelerometer: from the force along its case's axes to counts.
//!
//! ```text
//! counts = round( counts_per_g · ( (1 + scale)·lean·turn·f + offset + tempco·(T − T₀) + noise ) ), cut at the range
//! ```

use super::geometry::{Turn, Vector, dot};
use super::noise::{NoiseSettings, SensorNoise};
use super::scenario::Sensor;
use crate::units::{Gravities, Hertz, SensorVector};

/// The chip with its noise so far.
#[derive(Debug, Clone)]
pub(crate) struct Chip {
    turn: Turn,
    /// Rows: how much of each true axis every axis of the chip feels.
    gain: [Vector; 3],
    noise: SensorNoise,
}

impl Chip {
    /// A chip at a sample rate: white noise fills the band up to half of it.
    pub(crate) fn new(sensor: &Sensor, rate: Hertz, seed: u64) -> Self {
        let [about_x, about_y, about_z] = sensor.misalignment_deg.map(|a| a.radians());
        let [y_to_x, z_to_x, z_to_y] = sensor.cross_axis_deg.map(|a| a.sin());
        let lean = [
            [1.0, 0.0, 0.0],
            [y_to_x, (1.0 - y_to_x * y_to_x).max(0.0).sqrt(), 0.0],
            [z_to_x, z_to_y, (1.0 - z_to_x * z_to_x - z_to_y * z_to_y).max(0.0).sqrt()],
        ];
        let mut gain = lean;
        for (row, scale) in gain.iter_mut().zip(sensor.scale_percent) {
            *row = row.map(|x| x * (1.0 + scale.value() / 100.0));
        }
        let settings = NoiseSettings {
            white: NoiseSettings::white_from_density(1e-6 * sensor.noise_density_ug_rthz, rate),
            flicker: Gravities::new(1e-3 * sensor.flicker_mg),
            spikes: sensor.spike_percent.value() / 100.0,
            spike_size: sensor.spike_g,
        };
        Self {
            turn: Turn::about_z(about_z).then(Turn::about_y(about_y)).then(Turn::about_x(about_x)),
            gain,
            noise: SensorNoise::new(settings, seed),
        }
    }

    /// Counts for a force in g along the case's axes, at a temperature.
    pub(crate) fn counts(&mut self, force: Vector, celsius: f64, sensor: &Sensor) -> [f64; 3] {
        let felt = self.turn.seen_from(force);
        let warm = celsius - sensor.reference_celsius.value();
        let [x, y, z] = self.gain.map(|row| dot(row, felt));
        let [dx, dy, dz] = [0, 1, 2].map(|i| 1e-3 * (sensor.offset_mg[i] + warm * sensor.tempco_mg_per_c[i]));
        let shown = self.noise.on(SensorVector([x + dx, y + dy, z + dz]));
        let end = sensor.range_g.value() * sensor.counts_per_g;
        shown.0.map(|g| (g * sensor.counts_per_g).round().clamp(-end, end - 1.0))
    }
}
