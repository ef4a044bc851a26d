//! Calibration and rotor solution against scipy's `least_squares` on the same data: time for one, and how far off.

use super::line::Line;
use super::{Size, Told, peer};
use clinoblade::rotor::{RotorReading, Unknown, solve};
use clinoblade::sensor::poses::{Pose, guided};
use clinoblade::sensor::{Calibration, JUDGED_POSES, Label, tumble};
use clinoblade::units::Angle;
use serde_json::{Value, json};
use std::time::Instant;
use support::rotor::{Dice, Head, head};

/// Counts per g of the sensors, and the standard deviation of a pose's mean in counts: 0.2 mg.
const PER_G: f64 = 16_384.0;
const DOUBT: f64 = 3.3;
/// Standard deviation of one angle of a rotor's reading, degrees.
const READ_DEGREES: f64 = 0.05;

pub fn measure(size: Size, told: &mut Told) {
    let scipy = peer::python(&["numpy", "scipy.optimize"]);
    let cases = size.or(400, 40);
    let lines = [
        ("calibration of 12 poses", "mg", calibrations(cases, scipy.as_deref())),
        ("rotor of 2 to 5 blades", "°", rotors(cases, scipy.as_deref())),
    ];
    for (what, unit, Compared { ours, theirs }) in lines {
        let time = |solved: &Solved| format!("{:.1} µs", 1e6 * solved.seconds);
        let off = |solved: &Solved| format!("off by {:.5} {unit} rms", solved.off);
        let line = |figure: String| Line::new("solve", what, figure);
        match theirs {
            Some(theirs) => {
                let faster = theirs.seconds / ours.seconds;
                told.tell(&line(time(&ours)).against(format!("scipy: {}", time(&theirs)), faster));
                told.tell(&line(off(&ours)).against(format!("scipy: {}", off(&theirs)), ours.off / theirs.off));
            }
            None => {
                told.tell(&line(time(&ours)).without("not measured: no scipy"));
                told.tell(&line(off(&ours)).without("not measured: no scipy"));
            }
        }
    }
}

/// Seconds for one case, and the root mean square of what it is off by.
struct Solved {
    seconds: f64,
    off: f64,
}

struct Compared {
    ours: Solved,
    theirs: Option<Solved>,
}

/// A sensor whose errors are known: counts = per g · (M · force + offset), M upper triangular, so that a tumble can show all of
/// it.
struct Sensor {
    matrix: [[f64; 3]; 3],
    offset: [f64; 3],
}

impl Sensor {
    fn drawn(dice: &mut Dice) -> Self {
        let mut matrix = [[0.0; 3]; 3];
        for (i, row) in matrix.iter_mut().enumerate() {
            for value in row.iter_mut().skip(i + 1) {
                *value = 0.02 * dice.roll();
            }
            row[i] = 1.0 + 0.05 * dice.roll();
        }
        Self { matrix, offset: std::array::from_fn(|_| 0.06 * dice.roll()) }
    }

    fn counts(&self, force: [f64; 3]) -> [f64; 3] {
        let along = |row: [f64; 3]| row.iter().zip(force).map(|(a, b)| a * b).sum::<f64>();
        std::array::from_fn(|axis| PER_G * (along(self.matrix[axis]) + self.offset[axis]))
    }

    /// How far off a calibration is over a sphere of directions, mean square in mg².
    fn square_off(&self, apply: impl Fn([f64; 3]) -> [f64; 3]) -> f64 {
        let directions: Vec<[f64; 3]> = guided(26).iter().map(|facing| facing.unit()).collect();
        let square = |&force: &[f64; 3]| {
            let found = apply(self.counts(force));
            found.iter().zip(force).map(|(a, b)| (1e3 * (a - b)).powi(2)).sum::<f64>()
        };
        directions.iter().map(square).sum::<f64>() / directions.len() as f64
    }
}

fn calibrations(cases: usize, scipy: Option<&str>) -> Compared {
    let mut dice = Dice(3);
    let sensors: Vec<Sensor> = (0..cases).map(|_| Sensor::drawn(&mut dice)).collect();
    let facings = guided(JUDGED_POSES);
    let mut rest = |sensor: &Sensor, force: [f64; 3]| {
        let mean = sensor.counts(force).map(|count| count + DOUBT * dice.normal());
        let covariance = std::array::from_fn(|i| std::array::from_fn(|j| if i == j { DOUBT * DOUBT } else { 0.0 }));
        Pose { mean, covariance }
    };
    let poses: Vec<Vec<Pose>> =
        sensors.iter().map(|sensor| facings.iter().map(|facing| rest(sensor, facing.unit())).collect()).collect();
    let begun = Instant::now();
    let found: Vec<Calibration> =
        poses.iter().map(|poses| tumble(poses, Label::default()).expect("a calibration")).collect();
    let seconds = begun.elapsed().as_secs_f64() / cases as f64;
    let squares = sensors.iter().zip(&found).map(|(sensor, found)| sensor.square_off(|counts| found.apply(counts).0));
    let ours = Solved { seconds, off: root_mean(squares) };
    let theirs = scipy.map(|python| {
        let means: Vec<Vec<[f64; 3]>> =
            poses.iter().map(|poses| poses.iter().map(|pose| pose.mean).collect()).collect();
        let answer = peer::ask(python, "solve.py", &json!({ "what": "calibration", "cases": means }));
        let squares = sensors.iter().enumerate().map(|(case, sensor)| {
            let (matrix, offset) = (&answer["found"][case]["matrix"], &answer["found"][case]["offset"]);
            sensor.square_off(|counts| {
                let along = |i: usize| (0..3).map(|j| number(&matrix[i][j]) * (counts[j] - number(&offset[j]))).sum();
                std::array::from_fn(along)
            })
        });
        Solved { seconds: number(&answer["seconds"]) / cases as f64, off: root_mean(squares) }
    });
    Compared { ours, theirs }
}

fn rotors(cases: usize, scipy: Option<&str>) -> Compared {
    let mut dice = Dice(4);
    let heads: Vec<Head> = (0..cases).map(|case| head(&mut dice, 2 + case % 4, true)).collect();
    let mut survey = |head: &Head| {
        let mut readings = head.survey(&mut dice, true);
        for reading in &mut readings {
            reading.apparent += Angle::from_degrees(READ_DEGREES * dice.normal());
            reading.span += Angle::from_degrees(READ_DEGREES * dice.normal());
        }
        readings
    };
    let surveys: Vec<Vec<RotorReading>> = heads.iter().map(&mut survey).collect();
    let begun = Instant::now();
    let found: Vec<_> = surveys
        .iter()
        .zip(&heads)
        .map(|(readings, head)| solve(readings, head.rotation).expect("a solution").estimates)
        .collect();
    let seconds = begun.elapsed().as_secs_f64() / cases as f64;
    let off = |head: &Head, unknown: Unknown, degrees: f64| (degrees - head.truth(unknown, true)).powi(2);
    let squares = heads.iter().zip(&found).flat_map(|(head, estimates)| {
        estimates.iter().map(move |(unknown, estimate)| off(head, *unknown, estimate.value.degrees()))
    });
    let ours = Solved { seconds, off: root_mean(squares) };
    let theirs = scipy.map(|python| {
        let asked: Vec<Value> = surveys.iter().zip(&heads).map(|(readings, head)| as_json(readings, head)).collect();
        let answer = peer::ask(python, "solve.py", &json!({ "what": "rotor", "cases": asked }));
        let squares = heads.iter().zip(&found).enumerate().flat_map(|(case, (head, estimates))| {
            let theirs = &answer["found"][case];
            estimates.iter().map(move |(unknown, _)| off(head, *unknown, number(&theirs[unknown.to_string()])))
        });
        Solved { seconds: number(&answer["seconds"]) / cases as f64, off: root_mean(squares) }
    });
    Compared { ours, theirs }
}

fn as_json(readings: &[RotorReading], head: &Head) -> Value {
    let rows: Vec<Value> = readings
        .iter()
        .map(|reading| {
            json!({
                "blade": reading.blade.index(),
                "station": reading.station.azimuth().degrees(),
                "reversed": reading.clip == clinoblade::rotor::Clip::Reversed,
                "apparent": reading.apparent.degrees(),
                "span": reading.span.degrees(),
            })
        })
        .collect();
    json!({ "anticlockwise": head.rotation.is_anticlockwise(), "blades": head.blades.len(), "readings": rows })
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn root_mean(squares: impl Iterator<Item = f64>) -> f64 {
    let (count, sum) = squares.fold((0.0, 0.0), |(count, sum), square| (count + 1.0, sum + square));
    (sum / count).sqrt()
}
