//! What the figures of a resting record mean: one finding a sign, each with its grade.
//!
//! The limits go with what the tool is for: a limit record with tolerances of some tenths of a degree. [common
//! practice, no source]

use super::health::{Drift, Floor, Health, Shaking};
use crate::units::{Angle, Gravities, Hertz, Seconds};
use serde::Serialize;

/// How good something is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Grade {
    /// As it should be.
    Good,
    /// Usable, and worth mending.
    Usable,
    /// Not to be measured with until it is mended.
    Poor,
}

impl Grade {
    /// Good below the first limit, poor above the second.
    fn by(value: f64, usable_from: f64, poor_from: f64) -> Self {
        match value {
            v if v > poor_from => Self::Poor,
            v if v > usable_from => Self::Usable,
            _ => Self::Good,
        }
    }
}

/// One thing that a resting record shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Finding {
    /// How good it is.
    pub grade: Grade,
    /// What it is.
    #[serde(flatten)]
    pub sign: Sign,
}

/// What a resting record shows, with its figures. A share is a part of 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Sign {
    /// The sensor was moved by so much.
    Moved {
        /// The largest turn of a second's mean.
        wander_deg: Angle,
    },
    /// It lay still for so long, to within so much.
    Still {
        /// Length of the record.
        length_s: Seconds,
        /// The largest turn of a second's mean.
        wander_deg: Angle,
    },
    /// What it shows changes steadily, with its temperature or with time.
    Drifts(Drift),
    /// Every sample is the same.
    Frozen,
    /// This axis repeats one count while the others move.
    Stuck {
        /// Its letter.
        axis: char,
    },
    /// This axis is at the end of its range.
    EndOfRange {
        /// Its letter.
        axis: char,
        /// In this share of the samples.
        share: f64,
    },
    /// What was lost on the line, if anything.
    Losses {
        /// Frames sent, as far as that can be told.
        frames: u64,
        /// Those that came damaged.
        damaged: u64,
        /// Samples that are missing by the stream's own counter.
        lost: u64,
    },
    /// The sensor began anew.
    Restarts {
        /// How often.
        times: u64,
    },
    /// The sensor reported faults of its accelerometer.
    Faults {
        /// How many.
        times: u64,
    },
    /// The stream carries no clock: the rate is the profile's.
    NoClock {
        /// Samples a second by the profile.
        rate_hz: Hertz,
    },
    /// It sends at an even rate.
    Rate {
        /// Samples a second.
        rate_hz: Hertz,
        /// Standard deviation of the interval.
        jitter_s: Seconds,
    },
    /// It sends at another rate than its profile states.
    OffRate {
        /// Samples a second.
        rate_hz: Hertz,
        /// What the profile states.
        nominal_hz: Hertz,
        /// Standard deviation of the interval.
        jitter_s: Seconds,
    },
    /// It sends unevenly.
    Uneven {
        /// Samples a second.
        rate_hz: Hertz,
        /// Standard deviation of the interval.
        jitter_s: Seconds,
    },
    /// Single samples stray far from their neighbours.
    Spikes {
        /// How many.
        samples: usize,
        /// Their share.
        share: f64,
    },
    /// Gravity reads 1 g, as it must with a good calibration.
    Gravity {
        /// Length of the mean force.
        gravity_g: Gravities,
    },
    /// Gravity is off 1 g although the sensor is calibrated.
    GravityOff {
        /// Length of the mean force.
        gravity_g: Gravities,
        /// How far off.
        off_g: Gravities,
    },
    /// Gravity is off 1 g by more than any sensor: the counts per g are wrong.
    WrongScale {
        /// Length of the mean force.
        gravity_g: Gravities,
    },
    /// Gravity is off 1 g as it may be without a calibration.
    Uncalibrated {
        /// Length of the mean force.
        gravity_g: Gravities,
    },
    /// The noise of one sample, and what is left of it after a second.
    Noise {
        /// Standard deviation of a single angle.
        sample_deg: Angle,
        /// ± of the mean of a second, for about 95 %.
        second_deg: Angle,
    },
    /// Averaging for longer brings nothing.
    Floor(Floor),
    /// The record is too short to show such a floor.
    NoFloor {
        /// The floor lies below this.
        below_deg: Angle,
        /// Length of the record.
        length_s: Seconds,
    },
    /// Something shakes the sensor.
    Shaken(Shaking),
}

impl Health {
    /// The worst of its findings.
    #[must_use]
    pub fn grade(&self) -> Grade {
        self.findings.iter().map(|finding| finding.grade).max().unwrap_or(Grade::Good)
    }
}

/// Share of samples.
const FEW_LOST: f64 = 0.0;
const MANY_LOST: f64 = 0.02;
const FEW_SPIKES: f64 = 0.000_5;
const MANY_SPIKES: f64 = 0.02;
/// Share of an interval, and of the rate.
const UNEVEN: f64 = 0.2;
const OFF_RATE: f64 = 0.05;
/// g off 1.
const CALIBRATED_OFF: (f64, f64) = (0.005, 0.030);
const UNCALIBRATED_OFF: f64 = 0.20;
/// Degrees.
const NOISY_MEAN: (f64, f64) = (0.05, 0.30);
const HIGH_FLOOR: (f64, f64) = (0.05, 0.30);
const SHAKES: f64 = 0.05;
const DRIFTS: (f64, f64) = (0.05, 0.50);

/// What the record shows, in the order in which a person looks at a sensor; what is poor comes first.
pub(super) fn findings(health: &Health) -> Vec<Finding> {
    let mut found = vec![at_rest(health)];
    found.extend(
        health
            .drift
            .map(|drift| finding(Grade::by(drift.change_deg.degrees(), DRIFTS.0, DRIFTS.1), Sign::Drifts(drift))),
    );
    found.extend(axes(health));
    found.extend(line(health));
    found.push(rate(health));
    found.extend(spikes(health));
    // An axis at its end shows no gravity.
    if health.saturated.named().iter().all(|(_, samples)| **samples == 0) {
        found.push(gravity(health));
    }
    // A frozen sensor has no noise, and of a moved one neither figure means anything.
    if !health.frozen && !health.moved {
        found.push(noise(health));
        found.push(floor(health));
    }
    found.extend(vibration(health));
    // First what makes the rest worthless.
    found.sort_by_key(|finding| finding.grade != Grade::Poor);
    found
}

const fn finding(grade: Grade, sign: Sign) -> Finding {
    Finding { grade, sign }
}

const fn at_rest(health: &Health) -> Finding {
    let (length_s, wander_deg) = (health.length_s, health.wander_deg);
    if health.moved {
        finding(Grade::Poor, Sign::Moved { wander_deg })
    } else {
        finding(Grade::Good, Sign::Still { length_s, wander_deg })
    }
}

fn axes(health: &Health) -> impl Iterator<Item = Finding> {
    let stuck = health.stuck.named().into_iter().filter(|(_, stuck)| **stuck);
    let saturated = health.saturated.named().into_iter().filter(|(_, count)| **count > 0);
    let at_the_end =
        saturated.map(|(axis, count)| Sign::EndOfRange { axis, share: *count as f64 / health.samples as f64 });
    let signs = health.frozen.then_some(Sign::Frozen).into_iter();
    let signs = signs.chain(stuck.map(|(axis, _)| Sign::Stuck { axis })).chain(at_the_end);
    signs.map(|sign| finding(Grade::Poor, sign))
}

fn line(health: &Health) -> impl Iterator<Item = Finding> {
    let (lost, damaged) = (health.lost_samples, health.damaged_frames);
    let frames = health.good_frames + lost.max(damaged);
    let grade = Grade::by(lost.max(damaged) as f64 / frames.max(1) as f64, FEW_LOST, MANY_LOST);
    let restarts = (health.restarts > 0).then_some(Sign::Restarts { times: health.restarts });
    let faults = (health.sensor_faults > 0).then_some(Sign::Faults { times: health.sensor_faults });
    let losses = finding(grade, Sign::Losses { frames, damaged, lost });
    std::iter::once(losses).chain(restarts.into_iter().chain(faults).map(|sign| finding(Grade::Poor, sign)))
}

fn rate(health: &Health) -> Finding {
    let (rate_hz, jitter_s) = (health.rate_hz, health.jitter_s);
    let rate = rate_hz.value();
    let off = health.nominal_rate_hz.filter(|nominal| (rate / nominal.value() - 1.0).abs() > OFF_RATE);
    match off {
        _ if !health.rate_is_measured => finding(Grade::Good, Sign::NoClock { rate_hz }),
        Some(nominal_hz) => finding(Grade::Usable, Sign::OffRate { rate_hz, nominal_hz, jitter_s }),
        None if jitter_s.value() * rate > UNEVEN => finding(Grade::Usable, Sign::Uneven { rate_hz, jitter_s }),
        None => finding(Grade::Good, Sign::Rate { rate_hz, jitter_s }),
    }
}

fn spikes(health: &Health) -> Option<Finding> {
    let share = health.spikes as f64 / health.samples as f64;
    let sign = Sign::Spikes { samples: health.spikes, share };
    (share > FEW_SPIKES).then(|| finding(Grade::by(share, FEW_SPIKES, MANY_SPIKES), sign))
}

fn gravity(health: &Health) -> Finding {
    let gravity_g = health.gravity_g;
    let off = (gravity_g.value() - 1.0).abs();
    match health.calibrated {
        true if off > CALIBRATED_OFF.0 => finding(
            Grade::by(off, CALIBRATED_OFF.0, CALIBRATED_OFF.1),
            Sign::GravityOff { gravity_g, off_g: Gravities::new(off) },
        ),
        true => finding(Grade::Good, Sign::Gravity { gravity_g }),
        false if off > UNCALIBRATED_OFF => finding(Grade::Poor, Sign::WrongScale { gravity_g }),
        false => finding(Grade::Usable, Sign::Uncalibrated { gravity_g }),
    }
}

fn noise(health: &Health) -> Finding {
    let second_deg = health.u_after(Seconds::new(1.0)) * 2.0;
    let grade = Grade::by(second_deg.degrees(), NOISY_MEAN.0, NOISY_MEAN.1);
    finding(grade, Sign::Noise { sample_deg: health.noise_deg, second_deg })
}

fn floor(health: &Health) -> Finding {
    if let Some(floor) = health.floor {
        let grade = Grade::by(2.0 * floor.deviation_deg.degrees(), HIGH_FLOOR.0, HIGH_FLOOR.1);
        return finding(grade, Sign::Floor(floor));
    }
    let least = health.allan.iter().map(|point| point.deviation_deg.degrees()).fold(f64::INFINITY, f64::min);
    finding(Grade::Good, Sign::NoFloor { below_deg: Angle::from_degrees(least), length_s: health.length_s })
}

fn vibration(health: &Health) -> Option<Finding> {
    let shaking = health.vibration?;
    Some(finding(Grade::by(shaking.amplitude_deg.degrees(), SHAKES, f64::INFINITY), Sign::Shaken(shaking)))
}
