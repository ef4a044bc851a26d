//! The truth of this moment.

use super::Rig;
use super::mechanics::With;
use crate::attitude::{Felt, felt};
use crate::linkage::{Adjustment, Demand};
use crate::truth::{BladeTruth, ClipTruth, ShaftTilt, Sticks, Swash, TailTruth, Truth};
use crate::units::{Angle, Celsius, Percent, SensorVector};
use crate::vocabulary::{Blade, Stick};
use std::f64::consts::TAU;

impl Rig {
    /// How everything really stands at this moment.
    #[must_use]
    pub fn truth(&self) -> Truth {
        let stick = |stick: Stick| Percent::new(self.sticks[stick.index()].at(self.now));
        Truth {
            now_s: self.now(),
            rotation: self.rotation(),
            station_deg: within_a_turn(self.azimuth(0)),
            shaft_tilt: ShaftTilt {
                nose_deg: Angle::from_radians(self.tilt[0].at(self.now)),
                left_deg: Angle::from_radians(self.tilt[1].at(self.now)),
            },
            sticks: Sticks {
                elevator: stick(Stick::Elevator),
                aileron: stick(Stick::Aileron),
                rudder: stick(Stick::Rudder),
                collective: stick(Stick::Collective),
            },
            swash: self.swash(),
            spindle_bend_deg: Angle::from_radians(self.bend()),
            spindle_bent_toward_deg: within_a_turn(self.bent_toward()),
            blades: (0..self.play.len()).filter_map(|i| self.blade_truth(i)).collect(),
            tail: (0..2).filter_map(|i| self.tail_truth(i)).collect(),
            clip: self.clip_truth(),
            binding: self.binds.iter().filter(|stop| self.is_bound(stop)).map(|stop| stop.end).collect(),
            celsius: Celsius::new(self.celsius.at(self.now)),
            moving: !self.is_still(),
            plugged: self.plugged,
        }
    }

    fn is_still(&self) -> bool {
        self.sticks.iter().all(|stick| stick.is_still(self.now, 0.01))
            && self.station.is_still(self.now, 0.0)
            && self.tilt.iter().all(|tilt| tilt.is_still(self.now, 0.0))
            && self.now >= self.hands_on.to
    }

    /// First harmonic of an exact blade's pitch round the turn.
    fn swash(&self) -> Swash {
        const PLACES: u32 = 72;
        let plate = self.plate();
        let (mut mean, mut cos, mut sin) = (0.0, 0.0, 0.0);
        for place in 0..PLACES {
            let azimuth = TAU * f64::from(place) / f64::from(PLACES);
            let share = self.linkage.pitch(plate, azimuth, 0.0) / f64::from(PLACES);
            mean += share;
            cos += 2.0 * share * azimuth.cos();
            sin += 2.0 * share * azimuth.sin();
        }
        let [collective_deg, cos_deg, sin_deg] = [mean, cos, sin].map(Angle::from_radians);
        Swash { collective_deg, cos_deg, sin_deg }
    }

    fn blade_truth(&self, index: usize) -> Option<BladeTruth> {
        let felt = |axes| felt(axes, self.rotation());
        let apparent = felt(self.main_axes(index, With::Truth));
        let own = felt(self.against_the_shaft(index, With::Truth));
        let flat = self.linkage.plate(Demand::default(), &Adjustment::default());
        Some(BladeTruth {
            blade: Blade::nth(index)?,
            station_deg: within_a_turn(self.azimuth(index)),
            pitch_deg: Angle::from_radians(own.pitch()),
            apparent_deg: Angle::from_radians(apparent.pitch()),
            span_deg: Angle::from_radians(apparent.span_slope()),
            droop_deg: Angle::from_radians(own.span_slope()),
            link_error_deg: Angle::from_radians(self.linkage.pitch(flat, 0.0, self.longer[index])),
        })
    }

    fn tail_truth(&self, index: usize) -> Option<TailTruth> {
        let felt = felt(self.tail_axes(index, With::Truth), self.rotation());
        Some(TailTruth {
            blade: Blade::nth(index)?,
            leading_edge: self.tail_edge(index),
            pitch_deg: Angle::from_radians(self.tail_pitch(index, With::Truth)),
            apparent_deg: Angle::from_radians(felt.tail_pitch()),
            span_deg: Angle::from_radians(felt.span_slope()),
        })
    }

    fn clip_truth(&self) -> ClipTruth {
        let felt = self.case_feels(With::Truth);
        let [x, _, z] = felt;
        let reads = self.clip_feels(With::Truth).map_or_else(|| x.atan2(z), Felt::pitch);
        ClipTruth {
            on: self.seat.to_string(),
            mount: self.fit.mount,
            chord_offset_deg: Angle::from_radians(self.fit.chord_offset),
            span_offset_deg: Angle::from_radians(self.fit.span_offset),
            yaw_deg: Angle::from_radians(self.fit.yaw),
            reads_deg: Angle::from_radians(reads),
            case_g: SensorVector(felt),
        }
    }
}

fn within_a_turn(azimuth: f64) -> Angle {
    let turned = azimuth.rem_euclid(TAU);
    Angle::from_radians(if turned >= TAU { 0.0 } else { turned })
}
