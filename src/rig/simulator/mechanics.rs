//! From sticks and hands to how blades, clip and case stand at this moment.

use super::{Hands, Rig, Stop};
use crate::attitude::{Felt, bent_spindle, body, felt, main_blade, table, tail_blade};
use crate::geometry::{Turn, UP, Vector};
use crate::linkage::{Demand, Plate};
use crate::units::Seconds;
use crate::vocabulary::{Edge, Rotation, Seat, Stick};
use std::f64::consts::{PI, TAU};

/// A state with hum, buzz, tremor and handling in it, or the truth beneath.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum With {
    Shaking,
    Truth,
}

impl Rig {
    pub(super) const fn rotation(&self) -> Rotation {
        self.scenario.head.rotation
    }

    /// What a stick asks of the mixer, by end points and trim, before any stop.
    fn asked(&self, stick: Stick) -> f64 {
        let (lowest, highest) = stick.range();
        let percent = self.sticks[stick.index()].servo(self.now).clamp(lowest, highest);
        let share = (percent - stick.centre()) / (highest - stick.centre());
        let (positive, negative) = stick.ends();
        let end = if share < 0.0 { negative } else { positive };
        share * self.endpoints[end.index()] + self.trims[stick.index()]
    }

    /// What reaches the linkage: what is asked, held at the stops.
    fn demand(&self) -> Demand {
        let mut demand = Demand::default();
        for &stick in Stick::ALL {
            *demand.on(stick) = self.asked(stick);
        }
        for stop in &self.binds {
            let held = stop.demand * (1.0 + self.give(stop));
            let on = demand.on(stop.end.stick());
            if *on * stop.end.sign() > held {
                *on = stop.end.sign() * held;
            }
        }
        demand
    }

    /// How far a stop has given way, as a share.
    fn give(&self, stop: &Stop) -> f64 {
        let servos = &self.scenario.servos;
        let held = stop.since.map_or(0.0, |since| self.now - since);
        servos.bind_creep_percent.value() / 100.0 * (1.0 - (-held / servos.creep_time_s.value()).exp())
    }

    pub(super) fn is_bound(&self, stop: &Stop) -> bool {
        self.asked(stop.end.stick()) * stop.end.sign() > stop.demand
    }

    /// Hum, buzz and tremor at this moment, radians of pitch.
    fn shake(&self, rotor: Rotor, with: With) -> f64 {
        if with == With::Truth {
            return 0.0;
        }
        let servos = &self.scenario.servos;
        let bound = self.binds.iter().any(|stop| rotor.is_moved_by(stop.end.stick()) && stop.since.is_some());
        let size = servos.buzz_deg.radians() + if bound { servos.bind_buzz_deg.radians() } else { 0.0 };
        // A hand shakes a stick that it holds away from its centre.
        let held = self.held.filter(|&stick| rotor.is_moved_by(stick));
        let away = held.is_some_and(|stick| (self.sticks[stick.index()].at(self.now) - stick.centre()).abs() > 0.5);
        let tremor = if away { self.tremor.at(Seconds::new(self.now)).radians() } else { 0.0 };
        size * self.swing + tremor
    }

    pub(super) fn azimuth(&self, blade: usize) -> f64 {
        self.station.at(self.now) + TAU * blade as f64 / self.scenario.head.blades as f64
    }

    pub(super) fn droop(&self, blade: usize) -> f64 {
        self.scenario.blades.droop_deg.get(blade).copied().unwrap_or_default().radians()
    }

    /// Where the linkage drives a main blade to, lost motion apart.
    fn driven(&self, plate: Plate, blade: usize) -> f64 {
        self.linkage.pitch(plate, self.azimuth(blade), self.acting_length(blade))
    }

    fn tail_driven(&self, demand: Demand, blade: usize) -> f64 {
        self.tail_linkage.pitch(demand.rudder) + self.scenario.tail.blade_error_deg[blade].radians()
    }

    pub(super) fn plate(&self) -> Plate {
        self.linkage.plate(self.demand(), &self.adjustment)
    }

    /// Lets lost motion and stops follow what has changed.
    pub(super) fn settle(&mut self) {
        for i in 0..self.binds.len() {
            let bound = self.is_bound(&self.binds[i]);
            let since = self.binds[i].since;
            self.binds[i].since = bound.then(|| since.unwrap_or(self.now));
        }
        let plate = self.plate();
        for blade in 0..self.play.len() {
            let driven = self.driven(plate, blade);
            self.play[blade].drive(driven);
        }
        let demand = self.demand();
        for blade in 0..2 {
            let driven = self.tail_driven(demand, blade);
            self.tail_play[blade].drive(driven);
        }
    }

    fn body(&self) -> Turn {
        body(self.tilt[0].at(self.now), self.tilt[1].at(self.now))
    }

    pub(super) fn pitch(&self, blade: usize, with: With) -> f64 {
        self.play[blade].follow(self.driven(self.plate(), blade)) + self.shake(Rotor::Main, with)
    }

    pub(super) fn tail_pitch(&self, blade: usize, with: With) -> f64 {
        self.tail_play[blade].follow(self.tail_driven(self.demand(), blade)) + self.shake(Rotor::Tail, with)
    }

    pub(super) fn main_axes(&self, blade: usize, with: With) -> Turn {
        self.body().then(self.against_the_shaft(blade, with))
    }

    /// Axes of a main blade in the body.
    pub(super) fn against_the_shaft(&self, blade: usize, with: With) -> Turn {
        let toward = self.azimuth(0) + self.bent_toward();
        let axes = main_blade(self.rotation(), self.azimuth(blade), self.droop(blade), self.pitch(blade, with));
        bent_spindle(self.rotation(), toward, self.bend()).then(axes)
    }

    /// How far the spindle tilts the grips as it sits now, radians: half round is the other way.
    pub(super) fn bend(&self) -> f64 {
        let bend = self.scenario.head.spindle_bend_deg.radians();
        if self.spindle_quarters >= 2 { -bend } else { bend }
    }

    /// Which way [`bend`](Self::bend) lifts the grips as it sits now, radians from blade A: a spindle that is turned in its grips by
    /// a quarter brings what lay across into the plane of flapping.
    pub(super) fn bent_toward(&self) -> f64 {
        let quarters = f64::from(self.spindle_quarters % 2);
        self.scenario.head.spindle_bend_azimuth_deg.radians() - quarters * TAU / 4.0
    }

    /// How far the tip of a main blade is up against the disc, by its droop and by the bend of the spindle, radians.
    fn tip_up(&self, blade: usize) -> f64 {
        let of_a = self.azimuth(blade) - self.azimuth(0);
        self.droop(blade) + self.bend() * (self.bent_toward() - of_a).cos()
    }

    /// How much longer a blade's link acts, mm. A blade whose tip goes up lifts the ball of its arm, which stands so far out along
    /// the span; its link holds the ball where it was, as a shorter one would.
    fn acting_length(&self, blade: usize) -> f64 {
        let head = &self.scenario.head;
        let lifted = head.link_span_mm.value() * self.tip_up(blade).sin();
        self.longer[blade] - head.link_lengthening.sign() * lifted
    }

    pub(super) fn tail_axes(&self, blade: usize, with: With) -> Turn {
        let edge = self.tail_edge(blade);
        let level_error = self.scenario.tail.level_error_deg.radians();
        let pitch = self.tail_pitch(blade, with);
        self.body().then(tail_blade(self.rotation(), self.body().up(), edge, level_error, pitch))
    }

    pub(super) const fn tail_edge(&self, blade: usize) -> Edge {
        if blade == 0 { self.tail_edge_of_a } else { opposite(self.tail_edge_of_a) }
    }

    /// The vertical along span, chord and normal of the clip; nothing where no clip holds the sensor.
    pub(super) fn clip_feels(&self, with: With) -> Option<Felt> {
        let table_slopes = &self.scenario.table;
        let held = match self.seat {
            Seat::Main(blade) => self.main_axes(blade.index(), with),
            Seat::Tail(blade) => self.tail_axes(blade.index(), with),
            Seat::Table => {
                table(self.rotation(), table_slopes.slope_deg.radians(), table_slopes.span_slope_deg.radians())
            }
            Seat::Face(_) | Seat::Pose { .. } => return None,
        };
        Some(felt(self.fit.on(held, self.rotation()), self.rotation()))
    }

    /// The vertical along the axes of the sensor's case.
    pub(super) fn case_feels(&self, with: With) -> Vector {
        let still = match (self.clip_feels(with), self.seat) {
            (Some(felt), _) => felt.in_case(self.scenario.sensor.axes, self.rotation()),
            (None, Seat::Face(axis)) => axis.unit(),
            (None, Seat::Pose { roll_deg, pitch_deg }) => {
                Turn::about_x(roll_deg.to_radians()).then(Turn::about_y(pitch_deg.to_radians())).up()
            }
            (None, _) => UP,
        };
        if with == With::Truth { still } else { self.handled(still) }
    }

    /// Hands on the clip turn it this way and that.
    fn handled(&self, still: Vector) -> Vector {
        let Hands { from, to, strength } = self.hands_on;
        if self.now >= to || to <= from {
            return still;
        }
        let share = (self.now - from) / (to - from);
        let size = strength * (PI * share).sin().powi(2);
        let first = Turn::about_x(size * (TAU * 1.7 * self.now).sin());
        first.then(Turn::about_y(size * (TAU * 2.3 * self.now + 1.0).sin())).seen_from(still)
    }
}

/// Which rotor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Rotor {
    Main,
    Tail,
}

impl Rotor {
    fn is_moved_by(self, stick: Stick) -> bool {
        (self == Self::Tail) == (stick == Stick::Rudder)
    }
}

pub(super) const fn opposite(edge: Edge) -> Edge {
    match edge {
        Edge::Up => Edge::Down,
        Edge::Down => Edge::Up,
    }
}
