//! The pictures of a setup.

use super::plot::{Axis, Line, Plot, Scale, Stroke};
use crate::record::{CellHistory, CollectiveSurvey, Head};
use crate::rotor::{BladeName, Clip, RotorReading, RotorSolution, Station};
use crate::units::{Angle, Seconds};
use crate::words::sheet;

fn axis(label: &str) -> Axis {
    Axis { label: label.to_owned(), scale: Scale::Linear }
}

/// Pitch against azimuth: every blade as read, and as fitted where all is known. `name` says what a blade is called.
#[must_use]
pub fn azimuth(readings: &[RotorReading], solution: &RotorSolution, name: impl Fn(BladeName) -> String) -> Plot {
    let told = solution.unobservable().is_empty();
    let mut lines = Vec::new();
    for blade in solution.blades.iter().map(|b| b.blade) {
        for clip in [Clip::Forward, Clip::Reversed] {
            let of_blade = readings.iter().filter(|r| r.blade == blade && r.clip == clip);
            let points: Vec<(f64, f64)> = of_blade.map(|r| (f64::from(r.station), r.apparent.degrees())).collect();
            if points.is_empty() {
                continue;
            }
            let turned = if clip == Clip::Reversed { ", reversed" } else { "" };
            let name = format!("blade {}{turned}", name(blade));
            lines.push(Line { name: format!("{name}, read"), points, stroke: Stroke::Points });
            if told {
                let fitted = |at: f64| {
                    Station::from_degrees(at).map_or(f64::NAN, |at| solution.foretell(blade, at, clip).0.degrees())
                };
                let points = (0..=120).map(|k| 3.0 * f64::from(k)).map(|at| (at, fitted(at))).collect();
                lines.push(Line { name: format!("{name}, fitted"), points, stroke: Stroke::Dashed });
            }
        }
    }
    Plot { title: sheet::ROUND_THE_TURN.to_owned(), x: axis(sheet::AZIMUTH), y: axis("apparent pitch, degrees"), lines }
}

/// The Allan deviation of the angle against averaging time, both as they are, beside what white noise of this density
/// (degrees per √Hz, one-sided) alone would do, σ(τ) = density/√(2τ); with a floor where one is known.
#[must_use]
pub fn allan(curve: &[(Seconds, Angle)], density: f64, floor: Option<Angle>) -> Plot {
    let along = |deviation: &dyn Fn(f64) -> f64| -> Vec<(f64, f64)> {
        curve.iter().map(|(time, _)| (time.value(), deviation(time.value()))).collect()
    };
    let line = |name: &str, stroke, points| Line { name: name.to_owned(), points, stroke };
    let measured = curve.iter().map(|(time, deviation)| (time.value(), deviation.degrees())).collect();
    let white = along(&|time| density / (2.0 * time).sqrt());
    let mut lines = vec![line("measured", Stroke::Solid, measured), line("white noise alone", Stroke::Dashed, white)];
    if let Some(floor) = floor.map(Angle::degrees) {
        lines.push(line(&format!("floor {floor:.4}°"), Stroke::Dashed, along(&|_| floor)));
    }
    let axis = |label: &str| Axis { label: label.to_owned(), scale: Scale::Logarithmic };
    Plot { title: sheet::ALLAN.to_owned(), x: axis("averaging time, s"), y: axis("Allan deviation, °"), lines }
}

/// A cell over the setups of a head: its values, their mean and the limits within which they have varied.
#[must_use]
pub fn history(cell: &CellHistory) -> Plot {
    let line = |name: &str, points: Vec<(f64, f64)>, stroke| Line { name: name.to_owned(), points, stroke };
    let values: Vec<(f64, f64)> = cell.values.iter().map(|v| (f64::from(v.setup), v.angle.degrees())).collect();
    let level = |at: f64| values.iter().map(|(setup, _)| (*setup, at)).collect::<Vec<_>>();
    let mut lines = vec![line("values", values.clone(), Stroke::Points)];
    if let Some(chart) = &cell.chart {
        lines.push(line("mean", level(chart.limits.centre), Stroke::Solid));
        lines.push(line("upper limit", level(chart.limits.high), Stroke::Dashed));
        lines.push(line("lower limit", level(chart.limits.low), Stroke::Dashed));
    }
    Plot { title: format!("{} over time", cell.cell), x: axis("setup"), y: axis("degrees"), lines }
}

/// The collective against its stick: as captured, the curve through it, and the straight line between its ends.
#[must_use]
pub fn collective(survey: &CollectiveSurvey, head: &Head) -> Plot {
    let line = |name: &str, points: Vec<(f64, f64)>, stroke| Line { name: name.to_owned(), points, stroke };
    let curve = survey.drawn();
    let ends: Vec<(f64, f64)> = curve.first().into_iter().chain(curve.last()).copied().collect();
    let captured = survey.points().map(|(stick, pair)| (stick, pair.moved.degrees())).chain([(50.0, 0.0)]);
    let mut captured: Vec<(f64, f64)> = captured.collect();
    captured.sort_by(|a, b| a.0.total_cmp(&b.0));
    Plot {
        title: sheet::collective(&head.name, survey.travel.blade),
        x: axis("stick, %"),
        y: axis(sheet::FROM_MID_STICK),
        lines: vec![
            line("straight", ends, Stroke::Dashed),
            line("curve", curve, Stroke::Solid),
            line("captured", captured, Stroke::Points),
        ],
    }
}
