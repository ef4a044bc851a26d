//! Whether a still stretch is a rest, and what reading it would give.
//!
//! The longest still stretch is cut at its beginning by whatever may still be movement there: the ragged end of a
//! hand's movement, the hidden end of a creep, the tail of a settling, a tremor that has died away. What is left must be
//! proven: long enough, level enough, with enough samples, and no part of a straight creep that began before it.

use super::proof::{OVERSHOOT_REST, hidden_by_rounding, proof, unrest_limit};
use super::reading::{EndedBy, SteadySettings, Vibration};
use super::steady::SHORTEST;
use super::stillness::Window;
use super::stretch::{Mean, Stretch};
use super::tail::{Tail, tail_of};
use crate::stats::student;
use crate::units::{Angle, BladeVector};

const FEWEST_SAMPLES: usize = 32;
/// A stretch that swings slowly, as under a hand, must last so long.
const SWINGING_PROOF: f64 = 1.5;
/// One in which the tremor of a hand stands out, so long: nobody holds a stick for longer, and many swings average out.
const TREMBLING_PROOF: f64 = 4.0;
/// A swing in the band of a hand's tremor that stands out by more (χ² on two degrees of freedom, 0.5 %) is one.
const TREMOR_SIGNIFICANT: f64 = 10.6;
/// An end of a stretch that looks like movement by more standard deviations is not believed.
const EDGE_SIGNIFICANT: f64 = 2.0;
/// The end of a stretch is quieter than the whole if its scatter is less than this share of it.
const QUIETER: f64 = 0.85;
/// To be taken as a reading it must be calmer: the 90 % point, as a share of the 99 % point.
const CALM_SHARE: f64 = 0.55;
/// Slope plus two standard uncertainties must stay under this many wanted uncertainties a second.
const DRIFT_AFTER_MOTION: f64 = 4.0;
const DRIFT_FROM_START: f64 = 5.0;
/// A slope of more than so many standard uncertainties is waited out.
const DRIFT_SIGNIFICANT: f64 = 1.0;
/// A drift of half the wanted uncertainty in the time of an overshoot's rest does not matter at all.
const HARMLESS_DRIFT: f64 = 0.5 / OVERSHOOT_REST;
/// Stopping as soon as the scatter seems small enough favours scatters that are too small by chance.
const STOPPING: f64 = 1.04;
/// What is left of a settling may be this share of the wanted uncertainty, at the end and in the mean.
const STILL_SETTLING: f64 = 0.3;
const TAIL_SHARE: f64 = 0.3;
/// Two standard deviations of a normal distribution.
const TWO_SIGMA_SHARE: f64 = 0.954_499_736_103_642;
/// Stretches up to so many times longer are asked whether they run straight on a slope.
const CREEP_REACH: f64 = 2.5;
/// They do when the slope stands out by more standard deviations than the first and the bends by fewer than the second.
const CREEP_SHOWS: f64 = 3.2;
const CREEP_BENDS: f64 = 3.0;
/// Whether judging is worth its cost: the plain uncertainty of the mean may be so many times too large.
const NEARLY: f64 = 1.05;

/// A still stretch that may become the reading.
#[derive(Debug, Clone, Copy)]
pub struct Candidate {
    pub mean: Mean,
    pub window: Window,
    pub repeat: f64,
    pub span_repeat: f64,
    pub undithered: f64,
    pub effective: f64,
    pub finished: f64,
    pub steady: bool,
    pub vibration: Option<Vibration>,
}

/// What one look has found, ready to be judged. Windows in radians from the shortest to the longest.
pub struct Look<'a> {
    pub settings: &'a SteadySettings,
    pub stretch: &'a Stretch,
    pub windows: &'a [Window],
    pub lines: &'a [f64],
    /// Length of the force in the plane of pitch, in g.
    pub radius: f64,
}

impl Look<'_> {
    /// Whether the window could be a rest that ends the reading: a cheap look at what cutting it only makes worse.
    pub fn may_be_enough(&self, still: &Window, from_start: bool) -> bool {
        self.plain_repeat(still) <= NEARLY * self.settings.want.radians() / 2.0 && self.may_be_proven(still, from_start)
    }

    /// Whether the window could be proven a rest.
    pub fn may_be_proven(&self, still: &Window, from_start: bool) -> bool {
        2.0 * still.u_slope <= self.drift_bound(from_start)
            && still.length >= proof(still, from_start)
            && still.samples >= FEWEST_SAMPLES
    }

    /// Standard uncertainty of the window's mean if nothing but white noise were in it.
    pub fn plain_repeat(&self, still: &Window) -> f64 {
        still.sigma / (still.samples as f64).sqrt()
    }

    /// How long the window must become until its slope can be known well enough.
    pub fn length_for_slope(&self, still: &Window, from_start: bool) -> f64 {
        still.length * (2.5 * still.u_slope / self.drift_bound(from_start)).powf(2.0 / 3.0)
    }

    fn drift_bound(&self, from_start: bool) -> f64 {
        let share = if from_start { DRIFT_FROM_START } else { DRIFT_AFTER_MOTION };
        share.max(HARMLESS_DRIFT) * self.settings.want.radians()
    }

    /// What the still stretch at this place would give as a reading; its beginning is cut while it looks like the end of
    /// a movement.
    pub fn judge(&self, now: f64, place: usize, from_start: bool) -> Candidate {
        let radius = self.radius;
        let (still, mut mean, tail) = self.without_its_ragged_beginning(place, from_start);
        let from_start = from_start && still.samples == self.windows[place].samples;
        let held = self.stretch.held(still.samples, &mean, self.settings.count);
        let inflation = mean.inflation.max(held);
        let freedom = (still.samples as f64 / inflation - 1.0 - 2.0 * self.lines.len() as f64).max(1.0);
        let student = student::coverage_factor(TWO_SIGMA_SHARE, freedom).map_or(7.0, |factor| factor / 2.0);
        let random = STOPPING * student * mean.u_pitch * inflation.sqrt();
        let undithered =
            self.settings.count.map_or(0.0, |count| hidden_by_rounding(count.value() / radius, mean.sigma_pitch));
        let floor = self.settings.floor.map_or(0.0, Angle::radians);
        let slope = still.slope.abs();
        let drift = if slope > 2.0 * still.u_slope * inflation.sqrt() { slope * OVERSHOOT_REST } else { 0.0 };
        let creep = if from_start { 0.0 } else { self.hidden_creep(&still).1 };
        let settling = tail.map_or(0.0, |tail| tail.in_mean_of(still.length));
        let settled = tail.is_none_or(|tail| tail.left.abs() < STILL_SETTLING * self.settings.want.radians());
        let repeat = random.max(floor).hypot(undithered).hypot(drift).hypot(creep).hypot(settling);
        mean.force = pitched_down(mean.force, settling);
        let quiet = settled && mean.arriving <= EDGE_SIGNIFICANT && mean.leaving <= EDGE_SIGNIFICANT;
        let steady = quiet && self.is_proven(&still, from_start, inflation) && !self.may_go_on_creeping(&still);
        Candidate {
            mean,
            window: still,
            repeat,
            span_repeat: student * mean.u_span * inflation.sqrt(),
            undithered,
            effective: still.samples as f64 / inflation,
            finished: now,
            steady,
            vibration: mean.vibration,
        }
    }

    /// The window at this place, cut at its beginning by what may still be movement there.
    fn without_its_ragged_beginning(&self, place: usize, from_start: bool) -> (Window, Mean, Option<Tail>) {
        let whole = self.windows[place];
        let hidden = if from_start { 0.0 } else { self.hidden_creep(&whole).0 };
        let mut chosen = place;
        while chosen > 0 && self.windows[chosen - 1].length >= (whole.length - hidden).max(SHORTEST) {
            chosen -= 1;
        }
        let mean_of = |place: usize| self.stretch.mean(self.windows[place].samples, self.lines);
        let mut mean = mean_of(chosen);
        let tail = if from_start { None } else { self.tail(&whole, &mean) };
        if let Some(tail) = tail {
            let before = chosen;
            while chosen > 0
                && tail.in_mean_of(self.windows[chosen].length).abs() > TAIL_SHARE * self.settings.want.radians()
            {
                chosen -= 1;
            }
            if chosen != before {
                mean = mean_of(chosen);
            }
        }
        while chosen > 0 && mean.arriving > EDGE_SIGNIFICANT && self.windows[chosen - 1].length >= 0.5 * whole.length {
            chosen -= 1;
            mean = mean_of(chosen);
        }
        if mean.inflation > 1.0 && !from_start {
            // A hand that shook and let go: the quieter end of the stretch, if there is one.
            for shorter in (0..chosen).rev().step_by(3) {
                let quiet = mean_of(shorter);
                if quiet.inflation <= 1.0 && quiet.sigma_pitch < QUIETER * mean.sigma_pitch {
                    return (self.windows[shorter], quiet, tail);
                }
            }
        }
        (self.windows[chosen], mean, tail)
    }

    /// The settling of which this window may be the end.
    fn tail(&self, window: &Window, mean: &Mean) -> Option<Tail> {
        let points = self.stretch.backward_without(mean);
        tail_of(points, window.length, mean.sigma_pitch)
    }

    /// How long the end of a creep can hide in the noise at the beginning of a window.
    ///
    /// A creep of slope r shows when Σ(r·τ)²/σ² over its last τ seconds is large: τ = (27 σ²/r²n)^⅓ at n samples a second
    /// for three standard deviations. The slope is taken from just before the window. Half of that time is hidden on average;
    /// what as much again would shift the mean of a window of length T by, r·τ²/2T, is the second figure.
    fn hidden_creep(&self, window: &Window) -> (f64, f64) {
        let slope = self.stretch.slope_before(window.length, 2.0 * SHORTEST) / self.radius;
        let rate = window.samples as f64 / window.length.max(1e-3);
        if slope == 0.0 {
            return (0.0, 0.0);
        }
        let hidden = (27.0 * window.sigma.powi(2) / (slope * slope * rate)).cbrt();
        let cut = (0.6 * hidden).min(0.25 * window.length);
        (cut, slope.abs() * cut * cut / (2.0 * window.length))
    }

    fn is_proven(&self, still: &Window, from_start: bool, inflation: f64) -> bool {
        let want = self.settings.want.radians();
        let u_slope = still.u_slope * inflation.sqrt();
        let bound = want * if from_start { DRIFT_FROM_START } else { DRIFT_AFTER_MOTION };
        let slope = still.slope.abs();
        let drift = slope + 2.0 * u_slope;
        let small = drift <= want * HARMLESS_DRIFT || (drift <= bound && slope <= DRIFT_SIGNIFICANT * u_slope);
        let unswinging = inflation <= 1.0 || still.length >= SWINGING_PROOF;
        small
            && still.unrest() <= CALM_SHARE * unrest_limit(still)
            && unswinging
            && still.length >= proof(still, from_start)
            && still.samples >= FEWEST_SAMPLES
            && still.samples as f64 >= 10.0 * inflation
    }

    /// Whether a longer stretch runs straight on a slope: a creep of which the still stretch may be a part.
    fn may_go_on_creeping(&self, still: &Window) -> bool {
        self.windows
            .iter()
            .filter(|window| window.samples > still.samples && window.length <= CREEP_REACH * still.length)
            .any(|window| {
                let [slope, bend, twist] = window.shapes;
                slope.abs() > CREEP_SHOWS && bend.hypot(twist) < CREEP_BENDS
            })
    }

    pub fn is_good_enough(&self, candidate: &Candidate) -> Option<EndedBy> {
        if candidate.window.length < self.settings.at_least.value() {
            return None;
        }
        let wanted = self.settings.want.radians() / 2.0;
        if candidate.repeat <= wanted {
            return Some(EndedBy::Want);
        }
        // What no waiting shrinks is the floor and the rounding; the rest may be a half of it before waiting is in vain.
        let floor = self.settings.floor.map_or(0.0, Angle::radians).hypot(candidate.undithered);
        (floor > wanted && candidate.repeat <= 1.12 * floor).then_some(EndedBy::Floor)
    }

    /// Whether a hand's tremor shows in it.
    pub fn is_held(&self, candidate: &Candidate) -> bool {
        candidate.window.length < TREMBLING_PROOF
            && self.stretch.trembling(candidate.window.samples, &candidate.mean) > TREMOR_SIGNIFICANT
    }
}

/// A force turned about the span so that its apparent pitch is smaller by `angle` radians.
fn pitched_down(force: BladeVector, angle: f64) -> BladeVector {
    let (sin, cos) = angle.sin_cos();
    BladeVector {
        span: force.span,
        chord: force.chord * cos - force.normal * sin,
        normal: force.normal * cos + force.chord * sin,
    }
}
