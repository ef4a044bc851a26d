//! Whether the sensor that has come back on a port is the one that went away: what it shows at rest is held against what was
//! shown before. Its gravity says it against a calibration in any attitude, and without one where the sensor lies as it lay;
//! its noise says it wherever it lies. What neither tells is not doubted.

use crate::units::{Celsius, SensorVector};
use crate::{Instrument, Taken, angle_between};

/// So many rests are remembered, each in an attitude of its own.
const REMEMBERED: usize = 24;
/// Rests closer together than this are one attitude, degrees.
const SAME_DEGREES: f64 = 1.0;
/// Without a calibration gravity is compared no further apart than this, degrees.
const COMPARED_DEGREES: f64 = 6.0;
/// What the gravity of one sensor differs by from rest to rest, g: slow noise, a table that creaks, what a calibration leaves.
const LEAST_OFF: f64 = 0.004;
/// The same without a calibration, and for each radian in between: offsets of 80 mg and scales of 5 % look otherwise there.
const LEAST_OFF_UNCALIBRATED: f64 = 0.008;
const OFF_BY_RADIAN: f64 = 0.2;
/// So many standard uncertainties of what an offset drifts with temperature are allowed.
const DRIFTS: f64 = 3.0;
/// An offset drifts by so much for a degree, standard uncertainty, g [common practice, no source].
const DRIFT_PER_CELSIUS: f64 = 0.001 / 1.732;
/// Where the temperature is not known: it may have changed by so much.
const UNKNOWN_CHANGE: f64 = 10.0;
/// Noise of one sensor is within this factor of itself.
const NOISE_FACTOR: f64 = 2.0;
/// Fewer samples say nothing of noise.
const FEWEST_SAMPLES: usize = 60;

/// What a sensor shows at rest.
#[derive(Debug, Clone, Copy)]
struct Shown {
    /// Mean force, g, by the calibration at hand.
    up: SensorVector,
    /// Standard deviation of its noise over all axes, g; none where something buzzes or the rest was too short.
    noise: Option<f64>,
    temperature: Option<Celsius>,
}

/// Whether it is the same one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Likeness {
    /// As far as can be told.
    Same,
    /// Another one.
    Another,
    /// What it shows cannot be compared with anything yet.
    Unknown,
}

/// The rests of one sensor.
#[derive(Debug, Default)]
pub(super) struct Memory {
    rests: Vec<Shown>,
}

impl Memory {
    /// Compares a rest with those before the sensor went away.
    pub fn likeness(&self, taken: &Taken, instrument: &Instrument) -> Likeness {
        let Some(now) = Shown::of(taken, instrument) else { return Likeness::Unknown };
        if self.rests.is_empty() {
            return Likeness::Same;
        }
        if self.is_louder_or_quieter(now) {
            return Likeness::Another;
        }
        let calibrated = instrument.calibration_name().is_some();
        let nearest = self.rests.iter().map(|rest| (angle_between(rest.up, now.up), rest));
        let Some((apart, rest)) = nearest.min_by(|one, other| one.0.radians().total_cmp(&other.0.radians())) else {
            return Likeness::Unknown;
        };
        if !calibrated && apart.degrees() > COMPARED_DEGREES {
            return Likeness::Unknown;
        }
        let change = rest.temperature.zip(now.temperature).map_or(UNKNOWN_CHANGE, |(was, is)| (is - was).value().abs());
        let least = if calibrated { LEAST_OFF } else { LEAST_OFF_UNCALIBRATED + OFF_BY_RADIAN * apart.radians() };
        let off = (now.up.norm() - rest.up.norm()).abs();
        if off > least + DRIFTS * DRIFT_PER_CELSIUS * change { Likeness::Another } else { Likeness::Same }
    }

    fn is_louder_or_quieter(&self, now: Shown) -> bool {
        let mut before: Vec<f64> = self.rests.iter().filter_map(|rest| rest.noise).collect();
        before.sort_by(f64::total_cmp);
        match (before.get(before.len() / 2), now.noise) {
            (Some(before), Some(now)) => now > before * NOISE_FACTOR || now < before / NOISE_FACTOR,
            _ => false,
        }
    }

    /// Remembers a rest of the sensor that is there.
    pub fn add(&mut self, taken: &Taken, instrument: &Instrument) {
        let Some(now) = Shown::of(taken, instrument) else { return };
        self.rests.retain(|rest| angle_between(rest.up, now.up).degrees() > SAME_DEGREES);
        if self.rests.len() >= REMEMBERED {
            self.rests.remove(0);
        }
        self.rests.push(now);
    }

    /// Another sensor is there.
    pub fn forget(&mut self) {
        self.rests.clear();
    }
}

impl Shown {
    fn of(taken: &Taken, instrument: &Instrument) -> Option<Self> {
        let steady = &taken.steady;
        let still = || {
            taken
                .samples
                .iter()
                .filter(|sample| sample.clock >= steady.settled_at && sample.clock <= steady.finished_at)
        };
        let forces: Vec<[f64; 3]> = still().map(|sample| instrument.calibration.apply(sample.counts).0).collect();
        let mean = |axis: usize| forces.iter().map(|force| force[axis]).sum::<f64>() / forces.len() as f64;
        let up = SensorVector([mean(0), mean(1), mean(2)]);
        if !up.norm().is_finite() {
            return None;
        }
        let enough = forces.len() >= FEWEST_SAMPLES && steady.vibration.is_none();
        // From one sample to the next nothing else moves: the median forgives a spike.
        let mut steps: Vec<f64> = forces
            .windows(2)
            .map(|pair| std::iter::zip(pair[0], pair[1]).map(|(one, other)| (one - other).powi(2)).sum::<f64>())
            .collect();
        steps.sort_by(f64::total_cmp);
        let noise = steps.get(steps.len() / 2).copied().filter(|middle| enough && *middle > 0.0).map(f64::sqrt);
        Some(Self { up, noise, temperature: taken.temperature })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::filter::SteadySettings;
    use crate::rig::noise::Random;
    use crate::rig::{Rig, Scenario};
    use crate::rotor::Rotation;
    use crate::sensor::{Calibration, Model};
    use crate::stream::{Profile, SampleDecoder};
    use crate::units::{Angle, Seconds};
    use crate::{RestFinder, Seen};

    fn instrument(calibrated: bool) -> Instrument {
        let nominal = Calibration::nominal(16_384.0);
        let calibration = Calibration { name: "bench".into(), model: Model::Faces, ..nominal };
        Instrument::new(Profile::sentence(), calibrated.then_some(calibration), Rotation::Clockwise)
    }

    /// A rest of such a sensor in this attitude (roll, pitch).
    fn rest(sensor: &str, seed: u64, [roll, pitch]: [f64; 2]) -> Taken {
        let text = format!(
            "seed = {seed}\nstream.temperature = true\n[sensor]\n{sensor}\n[[timeline]]\nat_s = 0.0\ncommand = \"clip pose {roll} {pitch}\"\n"
        );
        let mut rig = Rig::new(text.parse::<Scenario>().unwrap()).unwrap();
        let mut bytes = Vec::new();
        rig.advance(Seconds::new(4.0), &mut bytes);
        let (samples, counters) = SampleDecoder::all(&Profile::sentence(), &bytes);
        let settings = SteadySettings { want: Angle::from_degrees(0.02), ..SteadySettings::default() };
        let mut finder = RestFinder::new(instrument(false), settings);
        for sample in &samples {
            if let Seen::Rest(rest) = finder.push(sample, counters) {
                return rest.taken;
            }
        }
        finder.end().unwrap().taken
    }

    const QUIET: &str = "noise_density_ug_rthz = 150.0\n";
    const ATTITUDES: [[f64; 2]; 3] = [[0.0, 0.0], [0.0, 9.0], [0.0, -11.0]];

    /// A sensor as cheap ones come: offsets within 80 mg, scales within 5 %.
    fn drawn(random: &mut Random) -> String {
        let mut three = |most: f64| [0, 1, 2].map(|_| random.between(-most, most));
        format!("{QUIET}offset_mg = {:?}\nscale_percent = {:?}\n", three(80.0), three(5.0))
    }

    fn memory(sensor: &str, seed: u64, instrument: &Instrument) -> Memory {
        let mut memory = Memory::default();
        for (at, attitude) in ATTITUDES.into_iter().enumerate() {
            memory.add(&rest(sensor, seed + at as u64, attitude), instrument);
        }
        memory
    }

    #[test]
    fn the_same_sensor_is_the_same_six_kelvin_warmer_and_a_little_aside() {
        let mut random = Random::new(11);
        for seed in 0..12 {
            let sensor = drawn(&mut random) + "tempco_mg_per_c = [0.5, -0.5, 0.5]\n";
            for (calibrated, sensor) in [(false, sensor.as_str()), (true, QUIET)] {
                let instrument = instrument(calibrated);
                let before = memory(sensor, 100 * seed, &instrument);
                for (aside, celsius) in [(0.0, 25.0), (0.0, 31.0), (2.0, 19.0)] {
                    let again = rest(&format!("{sensor}celsius = {celsius:.1}\n"), 1000 + seed, [0.0, 9.0 + aside]);
                    let likeness = before.likeness(&again, &instrument);
                    assert_eq!(likeness, Likeness::Same, "calibrated: {calibrated}, {aside}°, {celsius} °C: {sensor}");
                }
            }
        }
    }

    #[test]
    fn another_sensor_is_known_by_its_gravity_or_its_noise() {
        let mut random = Random::new(12);
        let (mut seen, mut same, mut of) = ([0, 0], [0, 0], 0);
        for seed in 0..40 {
            of += 1;
            let (one, other) = (drawn(&mut random), drawn(&mut random));
            for (calibrated, one) in [(0, one.as_str()), (1, QUIET)] {
                let instrument = instrument(calibrated == 1);
                let before = memory(one, 100 * seed, &instrument);
                match before.likeness(&rest(&other, 1000 + seed, [0.0, 9.0]), &instrument) {
                    Likeness::Another => seen[calibrated] += 1,
                    Likeness::Same => same[calibrated] += 1,
                    Likeness::Unknown => {}
                }
            }
        }
        println!(
            "of {of} exchanged: uncalibrated {} seen, {} taken for the same; calibrated {}, {}",
            seen[0], same[0], seen[1], same[1]
        );
        // Two of them can weigh alike.
        assert!(
            same[0] * 4 <= of && same[1] * 4 <= of && seen[1] * 4 >= of * 3 && seen[0] * 2 >= of,
            "{seen:?} {same:?}"
        );
        let instrument = instrument(true);
        let before = memory(QUIET, 1, &instrument);
        let louder = rest("noise_density_ug_rthz = 500.0\n", 9, [20.0, 20.0]);
        assert_eq!(before.likeness(&louder, &instrument), Likeness::Another);
    }
}
