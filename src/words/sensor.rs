//! What a sensor is like: its health, its calibration, how it sits in its clip, and why one of these cannot be told.

use super::{Face, Say};
use clinoblade_sensor::health::{Drift, HealthError, SHORTEST_RECORD};
use clinoblade_sensor::orient::{Gesture, OrientError};
use clinoblade_sensor::poses::Facing;
use clinoblade_sensor::reseat::{FEWEST_SEATINGS, TooFewSeatings};
use clinoblade_sensor::verdict::{Finding, Grade, Sign};
use clinoblade_sensor::{
    CalibrationError, FEWEST_POSES, Flaw, GUIDED_POSES, JUDGED_POSES, LARGEST_CONDITION, Model, PosesError, SensorFault,
};

/// Above this a condition number says no more than that something is unseen.
const HOPELESS_CONDITION: f64 = 1e6;

impl Say for Grade {
    fn say(&self, _: Face) -> String {
        match self {
            Self::Good => "The sensor is in good health.",
            Self::Usable => "The sensor is usable.",
            Self::Poor => "Do not measure with this sensor as it is.",
        }
        .to_owned()
    }
}

impl Say for Finding {
    fn say(&self, face: Face) -> String {
        self.sign.say(face)
    }
}

impl Say for Sign {
    fn say(&self, face: Face) -> String {
        let percent = |share: f64, decimals: usize| format!("{:.decimals$} %", 100.0 * share);
        match *self {
            Self::Moved { wander_deg } => format!(
                "The sensor moved by {:.1}° during the record, so noise and floor mean nothing. Let it lie still and check again.",
                wander_deg.degrees()
            ),
            Self::Still { length_s, wander_deg } => {
                format!("It lay still for {length_s:.0}, to within {:.3}°.", wander_deg.degrees())
            }
            Self::Drifts(Drift { change_deg, warmed_c: Some(warmed) }) => format!(
                "It drifts: {:.2}° while its temperature changed by {:+.1} °C. Let it come to the room's temperature, or switch it on ten minutes \
                 before you measure; then set the zero.",
                change_deg.degrees(),
                warmed.value()
            ),
            Self::Drifts(Drift { change_deg, warmed_c: None }) => format!(
                "It drifts steadily, by {:.2}° during the record: it is still warming up, or what it lies on gives way. Check again in ten \
                 minutes.",
                change_deg.degrees()
            ),
            Self::Frozen => "Every sample is the same: the sensor is frozen, or its counts are too coarse to show its noise. Tap it; if \
                             nothing changes, power it off and on."
                .to_owned(),
            Self::Stuck { axis } => format!(
                "Axis {axis} is stuck at one count while the others move. Power the sensor off and on; if it stays, it is broken."
            ),
            Self::EndOfRange { axis, share } => format!(
                "Axis {axis} is at the end of its range in {} of the samples. Set the sensor to a larger range.",
                percent(share, 1)
            ),
            Self::Losses { frames, damaged: 0, lost: 0 } => format!("Nothing was lost or damaged in {frames} frames."),
            Self::Losses { frames, damaged, lost } => format!(
                "Of {frames} frames, {damaged} were damaged and {lost} samples are missing ({}). Try a shorter cable or another plug.",
                percent(lost.max(damaged) as f64 / frames.max(1) as f64, 2)
            ),
            Self::Restarts { times } => {
                format!("The sensor restarted {}. Check its supply.", if times == 1 { "once".to_owned() } else { format!("{times} times") })
            }
            Self::Faults { times } => format!(
                "The sensor reported {} of its accelerometer. Check its wires and its supply.",
                if times == 1 { "a fault".to_owned() } else { format!("{times} faults") }
            ),
            Self::NoClock { rate_hz } => format!(
                "The stream carries no clock: {:.1} samples a second is what the profile says.",
                rate_hz.value()
            ),
            Self::Rate { rate_hz, jitter_s } => format!(
                "It sends {:.1} samples a second, each within {:.2} ms.",
                rate_hz.value(),
                1e3 * jitter_s.value()
            ),
            Self::OffRate { rate_hz, nominal_hz, jitter_s } => format!(
                "It sends {:.1} samples a second instead of {:.0}, each within {:.2} ms.",
                rate_hz.value(),
                nominal_hz.value(),
                1e3 * jitter_s.value()
            ),
            Self::Uneven { rate_hz, jitter_s } => format!(
                "It sends {:.1} samples a second, unevenly: the interval varies by {:.2} ms.",
                rate_hz.value(),
                1e3 * jitter_s.value()
            ),
            Self::Spikes { samples, share } => format!(
                "{samples} samples stray far from their neighbours ({}): a bad contact, or a radio nearby.",
                percent(share, 2)
            ),
            Self::Gravity { gravity_g } => {
                format!("Gravity reads {:.4} g with this calibration.", gravity_g.value())
            }
            Self::GravityOff { gravity_g, off_g } => format!(
                "Gravity reads {:.4} g with this calibration, {:.0} mg off. Calibrate the sensor again{}.",
                gravity_g.value(),
                1e3 * off_g.value(),
                face.command(": `clinoblade sensor calibrate tumble --out NAME.toml`", "")
            ),
            Self::WrongScale { gravity_g } => format!(
                "Gravity reads {:.4} g: no sensor is off by that much. Check the profile and its counts per g.",
                gravity_g.value()
            ),
            Self::Uncalibrated { gravity_g } => format!(
                "Gravity reads {:.4} g, which is usual without a calibration. Calibrate the sensor to trust angles against gravity{}.",
                gravity_g.value(),
                face.command(": `clinoblade sensor calibrate tumble --out NAME.toml`", "")
            ),
            Self::Noise { sample_deg, second_deg } => format!(
                "A single sample scatters by {:.3}°; held still for a second, an angle is good to ± {:.3}°.",
                sample_deg.degrees(),
                second_deg.degrees()
            ),
            Self::Floor(floor) => format!(
                "Waiting longer than {:.1} s makes no angle better: the floor is {:.4}°.",
                floor.averaging_s.value(),
                floor.deviation_deg.degrees()
            ),
            Self::NoFloor { below_deg, length_s } => format!(
                "The floor is below {:.4}°: {length_s:.0} are too short to show it.",
                below_deg.degrees()
            ),
            Self::Shaken(shaking) => format!(
                "Something shakes it at {:.1} Hz, by {:.1} mg and {:.3}°: a hunting servo, or a fan on the bench?",
                shaking.frequency_hz.value(),
                1e3 * shaking.amplitude_g.value(),
                shaking.amplitude_deg.degrees()
            ),
        }
    }
}

impl Say for HealthError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::TooShort(length) => format!(
                "{length:.1} at rest is too short. Let the sensor lie for at least {SHORTEST_RECORD:.0}, better a minute{}.",
                face.command(": `clinoblade sensor check --for 60`", "")
            ),
            Self::Dead => SensorFault::Dead.say(face),
            Self::NoGravity => format!(
                "The sensor's counts show no gravity. Check its profile{} and its counts per g{}.",
                face.command(" (--profile)", ""),
                face.command(" (--counts-per-g)", "")
            ),
        }
    }
}

/// Which way up, in the sensor's axes; stands within a sentence.
impl Say for Facing {
    fn say(&self, _: Face) -> String {
        let axes = std::iter::zip(['x', 'y', 'z'], self.signs()).filter(|(_, sign)| *sign != 0);
        let names: Vec<String> =
            axes.map(|(axis, sign)| format!("{}{axis}", if sign > 0 { '+' } else { '-' })).collect();
        match names.as_slice() {
            [face] => format!("{face} straight up"),
            [one, two] => format!("the edge between {one} and {two} up"),
            _ => format!("the corner between {} up", names.join(", ")),
        }
    }
}

impl Say for PosesError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::TooFew { have, next } => format!(
                "{have} rests are too few. Rest the sensor in at least {FEWEST_POSES} positions, better {GUIDED_POSES}; next: {}.",
                next.say(face)
            ),
            Self::Narrow { condition, next } => {
                let condition = if *condition < HOPELESS_CONDITION {
                    format!(" (condition {condition:.0}, {LARGEST_CONDITION:.0} at most)")
                } else {
                    String::new()
                };
                format!(
                    "The rests leave part of the sphere unseen{condition}. Rest the sensor with {} as well.",
                    next.say(face)
                )
            }
            Self::Disagree { pose, residual } => format!(
                "The rests disagree by {:.1} mg; rest {pose} fits worst. If the sensor was moved or touched then, take that rest again.",
                residual.value() * 1e3
            ),
            Self::Bends { axis, residual, next, .. } => format!(
                "The rests disagree by {:.1} mg in a way that offsets, scales and the angles between the axes do not explain, most of all along \
                 axis {axis}: it clips or bends, or the sensor was touched. Next: {}.",
                residual.value() * 1e3,
                next.say(face)
            ),
            Self::Unproven { have, next } if *have >= JUDGED_POSES => format!(
                "{have} rests leave open whether one axis answers to another; two more will show it. Next: {}.",
                next.say(face)
            ),
            Self::Unproven { have, next } => format!(
                "{have} rests do not show whether the calibration is right; {JUDGED_POSES} do. Next: {}.",
                next.say(face)
            ),
            Self::WrongFace(facing) => {
                format!("{} was wanted, but the sensor shows another side. Lay it down again.", facing.say(face))
            }
            Self::NotNumbers => "The sensor's counts are not numbers. Check its profile and its wires.".to_owned(),
            Self::SameCounts => {
                "Two opposite sides show the same counts. Check that the sensor is not stuck.".to_owned()
            }
            Self::NoGravity => "The sensor's counts are all zero: it shows no gravity. Power it off and on.".to_owned(),
        }
    }
}

impl Say for Gesture {
    fn say(&self, _: Face) -> String {
        self.to_string()
    }
}

impl Say for OrientError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::TooLittle { gesture, turned } => {
                format!("{gesture}: you turned it by only {:.0}°. Raise it by 30° or more.", turned.degrees())
            }
            Self::Between { gesture, off } => format!(
                "{gesture}: it moved {:.0}° off the nearest of the sensor's axes. Raise one edge only, straight up. If it stays so, the \
                 sensor sits askew in its clip: set it square.",
                off.degrees()
            ),
            Self::SameWay(gesture) => {
                format!("{gesture}: it moved the same way as with the gesture before. Raise the other edge.")
            }
            Self::Map(error) => error.say(face),
        }
    }
}

impl Say for TooFewSeatings {
    fn say(&self, _: Face) -> String {
        format!(
            "{} seatings on a blade are too few. Put the clip on each blade at least {FEWEST_SEATINGS} times, better eight.",
            self.have
        )
    }
}

/// What a calibration holds; stands within a sentence.
impl Say for Model {
    fn say(&self, _: Face) -> String {
        match self {
            Self::Full => "offsets, scales and the angles between the axes",
            Self::OffsetsAndScales => {
                "offsets and scales only, for travels; twelve rests or more also give the angles between the axes"
            }
            Self::Faces => "offsets, scales, the angles between the axes and how they sit in the case",
            Self::Nominal => "nothing",
        }
        .to_owned()
    }
}

impl Say for Flaw {
    fn say(&self, _: Face) -> String {
        match self {
            Self::Empty => "it is empty",
            Self::NotFinite => "not every figure is a finite number",
            Self::AxesAlike => "it does not tell the three axes apart",
            Self::NotSymmetric => "it is not symmetric",
            Self::NegativeVariance => "it gives some angle a negative variance",
            Self::Negative => "it is negative or not a number",
            Self::UnderOne => "it is under 1",
            Self::NoHalfTurn => "it is not between 0 and 180",
        }
        .to_owned()
    }
}

impl Say for CalibrationError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Document(reason) => format!("This is not a calibration file: {}", reason.trim_end()),
            Self::Figure { field, flaw } => format!(
                "The calibration's {field} cannot be right: {}. Calibrate the sensor again{}.",
                flaw.say(face),
                face.command(": `clinoblade sensor calibrate tumble --out NAME.toml`", "")
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clinoblade_sensor::health::{Floor, Shaking};
    use clinoblade_units::{Angle, AxisMapError, Celsius, Gravities, Hertz, Seconds};

    fn lines<T: Say>(face: Face, all: &[T]) -> String {
        all.iter().map(|one| one.say(face)).collect::<Vec<_>>().join("\n")
    }

    fn degrees(value: f64) -> Angle {
        Angle::from_degrees(value)
    }

    #[test]
    fn every_sign_of_a_sensors_health_is_said() {
        let (rate_hz, jitter_s) = (Hertz::new(199.96), Seconds::new(0.000_02));
        let signs = [
            Sign::Moved { wander_deg: degrees(1.24) },
            Sign::Still { length_s: Seconds::new(30.0), wander_deg: degrees(0.004) },
            Sign::Drifts(Drift { change_deg: degrees(0.31), warmed_c: Some(Celsius::new(6.04)) }),
            Sign::Drifts(Drift { change_deg: degrees(0.31), warmed_c: None }),
            Sign::Frozen,
            Sign::Stuck { axis: 'y' },
            Sign::EndOfRange { axis: 'z', share: 0.25 },
            Sign::Losses { frames: 6000, damaged: 0, lost: 0 },
            Sign::Losses { frames: 6000, damaged: 62, lost: 124 },
            Sign::Restarts { times: 1 },
            Sign::Restarts { times: 3 },
            Sign::Faults { times: 1 },
            Sign::Faults { times: 4 },
            Sign::NoClock { rate_hz },
            Sign::Rate { rate_hz, jitter_s },
            Sign::OffRate { rate_hz, nominal_hz: Hertz::new(400.0), jitter_s },
            Sign::Uneven { rate_hz, jitter_s: Seconds::new(0.002) },
            Sign::Spikes { samples: 60, share: 0.005 },
            Sign::Gravity { gravity_g: Gravities::new(1.0002) },
            Sign::GravityOff { gravity_g: Gravities::new(1.012), off_g: Gravities::new(0.012) },
            Sign::WrongScale { gravity_g: Gravities::new(4.01) },
            Sign::Uncalibrated { gravity_g: Gravities::new(1.051) },
            Sign::Noise { sample_deg: degrees(0.0859), second_deg: degrees(0.01216) },
            Sign::Floor(Floor { deviation_deg: degrees(0.0162), averaging_s: Seconds::new(4.2) }),
            Sign::NoFloor { below_deg: degrees(0.0012), length_s: Seconds::new(30.0) },
            Sign::Shaken(Shaking {
                frequency_hz: Hertz::new(23.7),
                amplitude_g: Gravities::new(0.0035),
                amplitude_deg: degrees(0.2),
            }),
        ];
        insta::assert_snapshot!(lines(Face::Terminal, &signs));
        let differ = signs.iter().filter(|sign| sign.say(Face::Page) != sign.say(Face::Terminal)).copied();
        insta::assert_snapshot!(lines(Face::Page, &differ.collect::<Vec<_>>()));
        insta::assert_snapshot!(lines(Face::Terminal, &[Grade::Good, Grade::Usable, Grade::Poor]));
    }

    #[test]
    fn every_refusal_of_a_sensor_says_what_to_do() {
        let edge = Facing::nearest([1.0, 0.0, -1.0]);
        let said = [
            lines(
                Face::Terminal,
                &[HealthError::TooShort(Seconds::new(1.0)), HealthError::NoGravity, HealthError::Dead],
            ),
            lines(Face::Page, &[HealthError::TooShort(Seconds::new(1.0)), HealthError::NoGravity]),
            lines(
                Face::Terminal,
                &[
                    PosesError::TooFew { have: 5, next: Facing::nearest([1.0, -1.0, 1.0]) },
                    PosesError::Narrow { condition: 420.0, next: edge },
                    PosesError::Narrow { condition: f64::INFINITY, next: Facing::nearest([0.0, -1.0, 0.0]) },
                    PosesError::Disagree { pose: 5, residual: Gravities::new(0.031) },
                    PosesError::Bends { axis: 'y', residual: Gravities::new(0.004_2), have: 14, next: edge },
                    PosesError::Unproven { have: 9, next: edge },
                    PosesError::Unproven { have: 12, next: edge },
                    PosesError::WrongFace(Facing::nearest([0.0, 0.0, 1.0])),
                    PosesError::NotNumbers,
                    PosesError::SameCounts,
                    PosesError::NoGravity,
                ],
            ),
            lines(
                Face::Terminal,
                &[
                    OrientError::TooLittle { gesture: Gesture::LeadingEdgeUp, turned: degrees(8.0) },
                    OrientError::Between { gesture: Gesture::AsClipped, off: degrees(41.0) },
                    OrientError::SameWay(Gesture::TipUp),
                    OrientError::Map(AxisMapError::SameAxis('x')),
                ],
            ),
            lines(Face::Terminal, &[TooFewSeatings { have: 2 }]),
            lines(Face::Terminal, &[Model::Full, Model::OffsetsAndScales, Model::Faces, Model::Nominal]),
            lines(
                Face::Terminal,
                &[
                    Flaw::Empty,
                    Flaw::NotFinite,
                    Flaw::AxesAlike,
                    Flaw::NotSymmetric,
                    Flaw::NegativeVariance,
                    Flaw::Negative,
                    Flaw::UnderOne,
                    Flaw::NoHalfTurn,
                ]
                .map(|flaw| CalibrationError::Figure { field: "covariance", flaw }),
            ),
            lines(
                Face::Page,
                &[
                    CalibrationError::Figure { field: "condition", flaw: Flaw::UnderOne },
                    CalibrationError::Document("missing field `model`\n".to_owned()),
                ],
            ),
        ];
        insta::assert_snapshot!(said.join("\n\n"));
    }
}
