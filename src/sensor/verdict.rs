//! What the figures of a resting record mean, in plain sentences.
//!
//! The limits go with what the tool is for: a limit record with tolerances of some tenths of a degree. [common
//! practice, no source]

use super::health::Health;
use crate::units::Seconds;
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

/// One sentence of a verdict.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// How good it is.
    pub grade: Grade,
    /// What it is.
    pub text: String,
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
const UNCALIBRATED_OFF: f64 = 0.25;
/// Degrees.
const NOISY_MEAN: (f64, f64) = (0.05, 0.30);
const HIGH_FLOOR: (f64, f64) = (0.05, 0.30);
const SHAKES: f64 = 0.05;

/// The sentences, worst first where it matters.
pub(super) fn findings(health: &Health) -> Vec<Finding> {
    let mut said = vec![at_rest(health)];
    said.extend(axes(health));
    said.push(line(health));
    said.push(rate(health));
    said.extend(spikes(health));
    said.push(gravity(health));
    if !health.frozen {
        said.push(noise(health));
        said.push(floor(health));
    }
    said.extend(vibration(health));
    said
}

fn finding(grade: Grade, text: impl Into<String>) -> Finding {
    Finding { grade, text: text.into() }
}

fn at_rest(health: &Health) -> Finding {
    let wander = health.wander_deg.degrees();
    if health.moved {
        let text = format!(
            "The sensor was moved during the record, by {wander:.1}°: noise and floor say nothing. Let it lie and check again."
        );
        finding(Grade::Poor, text)
    } else {
        finding(Grade::Good, format!("It lay still for {:.0}, to {wander:.3}°.", health.length_s))
    }
}

fn axes(health: &Health) -> Vec<Finding> {
    let mut said = Vec::new();
    if health.frozen {
        said.push(finding(
            Grade::Poor,
            "Every sample is the same: the sensor is frozen, or its counts are too coarse to show its noise. Tap it: does anything change?",
        ));
    }
    for (axis, _) in health.stuck.named().into_iter().filter(|(_, stuck)| **stuck) {
        said.push(finding(
            Grade::Poor,
            format!("Axis {axis} is stuck at one count while the others move: power the sensor off and on; if it stays, it is broken."),
        ));
    }
    for (axis, count) in health.saturated.named().into_iter().filter(|(_, count)| **count > 0) {
        let share = 100.0 * *count as f64 / health.samples as f64;
        said.push(finding(
            Grade::Poor,
            format!("Axis {axis} stands at the end of its range in {share:.1} % of the samples: set the sensor to a larger range."),
        ));
    }
    said
}

fn line(health: &Health) -> Finding {
    let (lost, damaged) = (health.lost_samples, health.damaged_frames);
    let sent = health.good_frames + lost.max(damaged);
    let mut text = if lost + damaged == 0 {
        format!("Nothing was lost or damaged in {sent} frames.")
    } else {
        let share = 100.0 * lost.max(damaged) as f64 / sent as f64;
        format!(
            "Of {sent} frames {damaged} came damaged and {lost} samples are missing ({share:.2} %): try a shorter cable, or another plug."
        )
    };
    let mut grade = Grade::by(lost.max(damaged) as f64 / sent.max(1) as f64, FEW_LOST, MANY_LOST);
    if health.restarts > 0 {
        text += &format!(" The sensor began anew {} times: its supply fails.", health.restarts);
        grade = Grade::Poor;
    }
    if health.sensor_faults > 0 {
        let faults = match health.sensor_faults {
            1 => "a fault".to_owned(),
            several => format!("{several} faults"),
        };
        text += &format!(" The sensor reported {faults} of its accelerometer: see to its wires and its supply.");
        grade = Grade::Poor;
    }
    finding(grade, text)
}

fn rate(health: &Health) -> Finding {
    let rate = health.rate_hz.value();
    if !health.rate_is_measured {
        return finding(
            Grade::Good,
            format!("Its stream carries no clock: {rate:.1} samples a second is what its description says."),
        );
    }
    let jitter = health.jitter_s.value();
    let uneven = jitter * rate;
    let evenness = format!("{:.2} ms", 1e3 * jitter);
    match health.nominal_rate_hz.map(|nominal| nominal.value()).filter(|n| (rate / n - 1.0).abs() > OFF_RATE) {
        Some(nominal) => finding(
            Grade::Usable,
            format!("It sends {rate:.1} samples a second instead of {nominal:.0}, each within {evenness}."),
        ),
        None if uneven > UNEVEN => finding(
            Grade::Usable,
            format!("It sends {rate:.1} samples a second, unevenly: the interval strays by {evenness}."),
        ),
        None => finding(Grade::Good, format!("It sends {rate:.1} samples a second, each within {evenness}.")),
    }
}

fn spikes(health: &Health) -> Option<Finding> {
    let share = health.spikes as f64 / health.samples as f64;
    let text = || {
        format!(
            "{} samples stray far from their neighbours ({:.2} %): bad contact, or a radio nearby.",
            health.spikes,
            100.0 * share
        )
    };
    (share > FEW_SPIKES).then(|| finding(Grade::by(share, FEW_SPIKES, MANY_SPIKES), text()))
}

fn gravity(health: &Health) -> Finding {
    let (gravity, off) = (health.gravity_g.value(), (health.gravity_g.value() - 1.0).abs());
    let said = format!("Gravity reads {gravity:.4} g");
    match (health.calibrated, off) {
        (true, off) if off > CALIBRATED_OFF.0 => finding(
            Grade::by(off, CALIBRATED_OFF.0, CALIBRATED_OFF.1),
            format!("{said} with this calibration, {:.0} mg off: calibrate the sensor again.", 1e3 * off),
        ),
        (true, _) => finding(Grade::Good, format!("{said} with this calibration.")),
        (false, off) if off > UNCALIBRATED_OFF => finding(
            Grade::Poor,
            format!("{said}: no sensor is off by so much. Check the profile and its counts per g."),
        ),
        (false, _) => finding(
            Grade::Usable,
            format!(
                "{said}, as an uncalibrated sensor may: calibrate it (sensor calibrate tumble), and angles against gravity become trustworthy."
            ),
        ),
    }
}

fn noise(health: &Health) -> Finding {
    let mean = 2.0 * health.u_after(Seconds::new(1.0)).degrees();
    let grade = Grade::by(mean, NOISY_MEAN.0, NOISY_MEAN.1);
    finding(
        grade,
        format!(
            "A single sample scatters by {:.3}°; held still for a second, an angle is good to ± {mean:.3}°.",
            health.noise_deg.degrees()
        ),
    )
}

fn floor(health: &Health) -> Finding {
    match health.floor {
        Some(floor) => {
            let (least, time) = (floor.deviation_deg.degrees(), floor.averaging_s.value());
            finding(
                Grade::by(2.0 * least, HIGH_FLOOR.0, HIGH_FLOOR.1),
                format!("Waiting longer than {time:.1} s makes no angle better: its floor is {least:.4}°."),
            )
        }
        None => {
            let least = health.allan.iter().map(|point| point.deviation_deg.degrees()).fold(f64::INFINITY, f64::min);
            finding(
                Grade::Good,
                format!("Its floor lies below {least:.4}°: {:.0} s are too short to show it.", health.length_s.value()),
            )
        }
    }
}

fn vibration(health: &Health) -> Option<Finding> {
    let line = health.vibration?;
    let angle = line.amplitude_deg.degrees();
    Some(finding(
        Grade::by(angle, SHAKES, f64::INFINITY),
        format!(
            "Something shakes it at {:.1} Hz, by {:.1} mg and {angle:.3}°: a servo that hunts, or a fan on the bench?",
            line.frequency_hz.value(),
            1e3 * line.amplitude_g.value()
        ),
    ))
}
