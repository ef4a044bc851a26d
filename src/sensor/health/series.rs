//! The record as the force along three axes at even intervals, and how its intervals lie.

use super::RestRecord;
use crate::stats::moments::{mean, standard_deviation};
use crate::stats::robust::median_of;
use crate::units::{Angle, Sample};
use nalgebra::Vector3;

/// Gaps of more samples are not bridged.
const LONGEST_GAP: u32 = 50;
/// How many times further from its neighbours' median a spike lies than nine samples in ten: eight standard deviations of noise, and
/// further than the crest of any vibration.
const SPIKE_BEYOND: f64 = 8.0 / 1.645;
const USUAL_SHARE: f64 = 0.9;
/// The least that makes a spike, g.
const LEAST_SPIKE_G: f64 = 0.002;

pub(super) struct Timing {
    pub rate: f64,
    pub jitter: f64,
}

impl Timing {
    pub(super) fn of(samples: &[Sample]) -> Self {
        let intervals = || {
            samples.windows(2).filter_map(|pair| match pair {
                [before, after] => Some((after.clock.value() - before.clock.value(), f64::from(after.lost_before))),
                _ => None,
            })
        };
        // A repeated frame takes no time; it is no interval.
        let (time, steps) = intervals()
            .filter(|(time, _)| *time > 0.0)
            .fold((0.0, 0.0), |(time, steps), (dt, lost)| (time + dt, steps + 1.0 + lost));
        let whole: Vec<f64> =
            intervals().filter(|(time, lost)| *time > 0.0 && *lost == 0.0).map(|(dt, _)| dt).collect();
        Self { rate: steps / time, jitter: standard_deviation(&whole).unwrap_or(0.0) }
    }
}

/// The force along the three axes at even intervals.
pub(super) struct Series {
    axes: [Vec<f64>; 3],
    pub spikes: usize,
}

impl Series {
    /// The longest part of the record without a large gap, small gaps bridged.
    pub(super) fn of(record: &RestRecord) -> Self {
        let breaks = |before: &Sample, after: &Sample| {
            after.lost_before <= LONGEST_GAP && after.clock > before.clock || after.clock == before.clock
        };
        let part = record.samples.chunk_by(breaks).max_by_key(|part| part.len()).unwrap_or_default();
        let mut axes: [Vec<f64>; 3] = Default::default();
        let mut last: Option<&Sample> = None;
        for sample in part {
            if last.is_some_and(|last| last.clock == sample.clock) {
                continue;
            }
            let force = record.calibration.apply(sample.counts).0;
            for (axis, value) in axes.iter_mut().zip(force) {
                let from = axis.last().copied().unwrap_or(value);
                let gap = f64::from(sample.lost_before);
                let lost = if last.is_some() { sample.lost_before } else { 0 };
                axis.extend((1..=lost).map(|i| from + (value - from) * f64::from(i) / (gap + 1.0)));
                axis.push(value);
            }
            last = Some(sample);
        }
        let spikes = take_out_spikes(&mut axes);
        Self { axes, spikes }
    }

    pub(super) const fn axes(&self) -> &[Vec<f64>; 3] {
        &self.axes
    }

    pub(super) fn centre(&self) -> Option<Vector3<f64>> {
        let [x, y, z] = &self.axes;
        let centre = Vector3::new(mean(x)?, mean(y)?, mean(z)?);
        (centre.norm().is_finite() && centre.norm() > 0.1).then_some(centre)
    }

    fn vectors(&self) -> impl Iterator<Item = Vector3<f64>> + '_ {
        let [x, y, z] = &self.axes;
        x.iter().zip(y).zip(z).map(|((&x, &y), &z)| Vector3::new(x, y, z))
    }

    /// Small angles in the direction `across`, radians.
    pub(super) fn along(&self, across: Vector3<f64>, gravity: f64) -> Vec<f64> {
        self.vectors().map(|force| force.dot(&across) / gravity).collect()
    }

    /// Means of the force over so many equal parts of the record.
    pub(super) fn parts(&self, parts: usize) -> Vec<Vector3<f64>> {
        let forces: Vec<Vector3<f64>> = self.vectors().collect();
        let length = (forces.len() / parts).max(1);
        forces.chunks_exact(length).map(|part| part.iter().sum::<Vector3<f64>>() / length as f64).collect()
    }

    /// The largest angle between the mean of a second and the mean of all.
    pub(super) fn wander(&self, centre: Vector3<f64>, rate: f64) -> Angle {
        let second = (rate.round() as usize).max(1);
        let forces: Vec<Vector3<f64>> = self.vectors().collect();
        let angles = forces.chunks_exact(second).map(|part| part.iter().sum::<Vector3<f64>>().angle(&centre));
        Angle::from_radians(angles.fold(0.0, f64::max))
    }
}

/// Puts the median of its neighbours in the place of every spike, on all three axes, and counts them.
fn take_out_spikes(axes: &mut [Vec<f64>; 3]) -> usize {
    let count = axes[0].len();
    let mut struck = vec![false; count];
    let neighbours: [Vec<f64>; 3] = std::array::from_fn(|axis| {
        let values = &axes[axis];
        (0..count)
            .map(|i| median_of(values[i.saturating_sub(2)..(i + 3).min(count)].iter().copied()).unwrap_or_default())
            .collect()
    });
    for (values, usual) in axes.iter().zip(&neighbours) {
        let mut off: Vec<f64> = values.iter().zip(usual).map(|(value, usual)| (value - usual).abs()).collect();
        off.sort_by(f64::total_cmp);
        let nine_in_ten = off.get((USUAL_SHARE * count as f64) as usize).copied().unwrap_or(0.0);
        let limit = (SPIKE_BEYOND * nine_in_ten).max(LEAST_SPIKE_G);
        for ((struck, value), usual) in struck.iter_mut().zip(values).zip(usual) {
            *struck |= (value - usual).abs() > limit;
        }
    }
    for (values, usual) in axes.iter_mut().zip(&neighbours) {
        for ((value, usual), _) in values.iter_mut().zip(usual).zip(&struck).filter(|(_, struck)| **struck) {
            *value = *usual;
        }
    }
    struck.iter().filter(|struck| **struck).count()
}
