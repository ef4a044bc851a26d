//! One steady angle: when the blade has been still for long enough, and the mean of that stretch.
//!
//! Forces in g, times in seconds of the stream's own clock, angles as angles (radians within).
//!
//! **What is averaged.** The force *vectors* of the still stretch, level and vibration lines fitted jointly, then the
//! angle of the mean: averaging angles is biased and breaks at ±180°. 0.3 s of a 20–50 Hz buzz would leave some
//! hundredths of a degree in a plain mean.
//!
//! **When it is still.** Stillness is a claim that drift is negligible, not a failure to prove motion. At growing
//! intervals every trailing window is fitted with level, slope, bend and twist (see `stillness`). The still stretch is
//! the longest one of which no trailing window shows a shape beyond its noise. A reading is taken from it when
//!
//! - it has lasted longer than an overshoot may rest (0.3 s) and the soft ends of such a rest, which noise hides;
//! - its slope and two standard uncertainties of it stay under a bound that goes with the wanted uncertainty;
//! - it holds at least 32 samples and ten correlation times.
//!
//! **How uncertain it is.** `repeat` is s/√n_eff with Student's factor at 95.45 % over 2 (JCGM 100:2008, G.3), so that
//! twice `repeat` holds its share; n_eff from the autocorrelation of the stretch where that is significant, never above
//! n, and never below the sensor's floor where it is known. Where the noise does not blur the counts, what the rounding
//! can hide is added: an error of amplitude q/π·exp(−2π²σ²/q²) for one count q and noise σ (Widrow and Kollár 2008,
//! Quantization Noise, chapter 11), at most q/√12.
//!
//! **How it fails.** A creep slower than the bound passes for rest. A blade that swings so slowly that half a
//! second at its turning point looks level within the noise does too.

use super::gate::{Gate, Passage};
use super::line::LineFinder;
use super::proof::{OVERSHOOT_REST, hidden_by_rounding, longest_still, proof, unrest_limit};
use super::reading::{EndedBy, Progress, SteadyReading, SteadySettings, Vibration};
use super::stillness::{Window, trailing_windows};
use super::stretch::{Mean, Moment, Stretch};
use crate::sensor::Force;
use crate::stats::student;
use crate::units::{Angle, Seconds};

/// The shortest stretch of which anything is said.
const SHORTEST: f64 = 0.15;
/// Each trailing window is so much longer than the one before.
const GROWTH: f64 = 1.05;
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
const DRIFT_FROM_START: f64 = 4.4;
/// A slope of more than so many standard uncertainties is waited out.
const DRIFT_SIGNIFICANT: f64 = 1.0;
/// A drift of half the wanted uncertainty in the time of an overshoot's rest does not matter at all.
const HARMLESS_DRIFT: f64 = 0.5 / OVERSHOOT_REST;
/// Stopping as soon as the scatter seems small enough favours scatters that are too small by chance.
const STOPPING: f64 = 1.04;
/// Two standard deviations of a normal distribution.
const TWO_SIGMA_SHARE: f64 = 0.954_499_736_103_642;

/// Takes forces one by one until it has a steady angle.
pub struct SteadyReader {
    settings: SteadySettings,
    gate: Gate,
    finder: LineFinder,
    stretch: Stretch,
    windows: Vec<Window>,
    lines: Vec<f64>,
    lines_length: f64,
    lines_at: f64,
    begun: Option<f64>,
    /// Whether everything since the first sample is in the stretch.
    whole: bool,
    next_look: f64,
    jolts: u8,
    astray: u8,
    watch: Option<Watch>,
    progress: Progress,
    kept: Option<Kept>,
    lost: u64,
    at_end: bool,
}

/// Where the next samples should lie, so that a sudden motion is seen at once.
#[derive(Debug, Clone, Copy)]
struct Watch {
    reference: f64,
    level: f64,
    limit: f64,
}

/// A still stretch that may become the reading.
#[derive(Debug, Clone, Copy)]
struct Kept {
    mean: Mean,
    window: Window,
    repeat: f64,
    span_repeat: f64,
    undithered: f64,
    effective: f64,
    finished: f64,
    steady: bool,
    vibration: Option<Vibration>,
}

impl SteadyReader {
    /// A reader that has seen nothing yet.
    #[must_use]
    pub fn new(settings: SteadySettings) -> Self {
        Self {
            gate: Gate::new(settings.count, settings.full_scale),
            settings,
            finder: LineFinder::new(),
            stretch: Stretch::default(),
            windows: Vec::new(),
            lines: Vec::new(),
            lines_length: 0.0,
            lines_at: f64::NEG_INFINITY,
            begun: None,
            whole: true,
            next_look: f64::NEG_INFINITY,
            jolts: 0,
            astray: 0,
            watch: None,
            progress: Progress::Moving,
            kept: None,
            lost: 0,
            at_end: false,
        }
    }

    /// Takes the next sample and says how far the reading has come. After `Done` nothing changes any more.
    pub fn push(&mut self, force: &Force) -> Progress {
        if matches!(self.progress, Progress::Done(_)) {
            return self.progress;
        }
        self.lost += u64::from(force.lost_before);
        let clock = force.clock.value();
        match self.gate.push(force) {
            Passage::Dropped => return self.progress,
            Passage::Restarted => {
                self.begun = None;
                self.begin_anew();
            }
            Passage::Moving => {
                self.jolts = self.jolts.saturating_add(1);
                if self.jolts >= 2 {
                    self.begin_anew();
                }
            }
            Passage::Pass => self.jolts = 0,
        }
        let begun = *self.begun.get_or_insert(clock);
        let moment = Moment { clock, force: force.up };
        if self.stretch.push(moment) {
            self.whole = false;
        }
        if self.has_left(moment) {
            self.progress = Progress::Moving;
            self.next_look = clock;
        }
        if clock >= self.next_look {
            self.look(clock);
        }
        if !matches!(self.progress, Progress::Done(_)) && clock - begun >= self.settings.within.value() {
            self.progress = Progress::Done(EndedBy::Time);
        }
        self.progress
    }

    /// How far the reading has come.
    #[must_use]
    pub const fn progress(&self) -> Progress {
        self.progress
    }

    /// The reading; `None` if not one fit sample came.
    ///
    /// `ended_by` says what ended it if it did not end by itself.
    #[must_use]
    pub fn finish(mut self, ended_by: EndedBy) -> Option<SteadyReading> {
        let ended_by = if let Progress::Done(own) = self.progress { own } else { ended_by };
        if !matches!(ended_by, EndedBy::Want | EndedBy::Floor) {
            let now = self.stretch.newest()?.clock;
            self.at_end = true;
            self.look(now);
        }
        let kept = match self.kept {
            Some(kept) => kept,
            None => self.best_available()?,
        };
        Some(SteadyReading {
            mean: kept.mean.force,
            repeat: Angle::from_radians(kept.repeat),
            span_repeat: Angle::from_radians(kept.span_repeat),
            undithered: Angle::from_radians(kept.undithered),
            samples: kept.window.samples as u64,
            effective_samples: kept.effective,
            dropped: self.gate.dropped(),
            lost_samples: self.lost,
            settled_at: Seconds::new(kept.finished - kept.window.length),
            finished_at: Seconds::new(kept.finished),
            steady: kept.steady,
            stuck: self.gate.is_stuck(),
            ended_by,
            vibration: kept.vibration,
        })
    }

    fn begin_anew(&mut self) {
        self.stretch.clear();
        self.whole = self.begun.is_none();
        self.watch = None;
        self.lines.clear();
        self.progress = Progress::Moving;
        self.next_look = f64::NEG_INFINITY;
    }

    /// Three samples in a row far from where the stretch lies are the beginning of a motion.
    fn has_left(&mut self, moment: Moment) -> bool {
        let Some(watch) = self.watch else { return false };
        let away = (moment.tilt_from(watch.reference) - watch.level).abs() > watch.limit;
        self.astray = if away { self.astray + 1 } else { 0 };
        if self.astray >= 3 {
            self.astray = 0;
            self.watch = None;
            return true;
        }
        false
    }

    /// Fits the trailing windows and decides.
    fn look(&mut self, now: f64) {
        let span = self.stretch.length();
        if span < SHORTEST {
            self.next_look = now - span + SHORTEST;
            return;
        }
        let Some(axes) = self.stretch.recent_axes(SHORTEST * 2.0) else { return };
        let sigma_floor = self.settings.count.map_or(1e-9, |count| 0.1 * count.value() / axes.radius);
        self.look_for_lines(now, axes.reference);
        trailing_windows(
            self.stretch.backward(axes.reference, axes.radius),
            &self.lines,
            SHORTEST,
            GROWTH,
            sigma_floor,
            &mut self.windows,
        );
        let Some(place) = longest_still(&self.windows) else {
            self.progress = Progress::Moving;
            self.watch = None;
            self.forget_before(2.0 * SHORTEST);
            self.next_look = now + SHORTEST;
            return;
        };
        let still = self.windows[place];
        let from_start = self.whole && still.samples == self.stretch.len();
        self.watch = Some(Watch {
            reference: axes.reference,
            level: still.level * axes.radius,
            limit: axes.radius * (6.0 * still.sigma + self.buzz(&still)),
        });
        let mut kept = self.judge(now, place, from_start, axes.radius);
        // Costly, so asked last: only of what would end the reading, or stand at its end.
        if kept.steady && (self.is_good_enough(&kept).is_some() || self.at_end) {
            kept.steady = !self.is_held(&kept);
        }
        self.progress = Progress::Settling {
            since: Seconds::new(now - still.length),
            repeat: Angle::from_radians(kept.repeat),
            pitch: kept.mean.force.apparent_pitch(),
        };
        if kept.steady {
            self.keep(kept);
            if let Some(ended) = self.is_good_enough(&kept) {
                self.progress = Progress::Done(ended);
            }
        }
        self.next_look = now + self.pause(&kept, &still, from_start);
        // What chance made a little restless may turn out still with more samples; what moved will not.
        if self.windows.last().is_some_and(|all| all.unrest() > 3.0 * unrest_limit(all)) {
            self.forget_before(1.3 * still.length + 2.0 * SHORTEST);
        }
    }

    /// Keeps the better of two readings of one rest, and the later of two rests.
    fn keep(&mut self, new: Kept) {
        let better = self.kept.is_none_or(|old| {
            let apart = (new.mean.force.apparent_pitch() - old.mean.force.apparent_pitch()).wrapped().radians().abs();
            new.repeat <= old.repeat || apart > 3.0 * new.repeat.hypot(old.repeat)
        });
        if better {
            self.kept = Some(new);
        }
    }

    fn forget_before(&mut self, length: f64) {
        if self.stretch.keep_trailing(length) {
            self.whole = false;
        }
    }

    fn buzz(&self, still: &Window) -> f64 {
        // The lines' amplitudes are not kept for each window; what they can add at most is bounded by the scatter.
        if self.lines.is_empty() { 0.0 } else { 20.0 * still.sigma }
    }

    fn look_for_lines(&mut self, now: f64, reference: f64) {
        let length = match self.progress {
            Progress::Settling { since, .. } => (now - since.value()).max(2.0 * SHORTEST),
            _ => 2.0 * SHORTEST,
        };
        let length = length.min(self.stretch.length());
        let ratio = length / self.lines_length;
        if (0.8..1.2).contains(&ratio) && now - self.lines_at < 0.2 * length.max(0.5) {
            return;
        }
        let (times, mut signal) = self.stretch.trailing(reference, length);
        self.lines = self.finder.find(&times, &mut signal);
        self.lines_length = length;
        self.lines_at = now;
    }

    /// What the still stretch at this place would give as a reading; its beginning is cut while it looks like the end of
    /// a movement.
    fn judge(&self, now: f64, place: usize, from_start: bool, radius: f64) -> Kept {
        let (still, mean) = self.without_its_ragged_beginning(place, from_start, radius);
        let from_start = from_start && still.samples == self.windows[place].samples;
        let inflation = mean.inflation;
        let freedom = (still.samples as f64 / inflation - 1.0 - 2.0 * self.lines.len() as f64).max(1.0);
        let student = student::coverage_factor(TWO_SIGMA_SHARE, freedom).map_or(7.0, |factor| factor / 2.0);
        let random = STOPPING * student * mean.u_pitch * inflation.sqrt();
        let undithered =
            self.settings.count.map_or(0.0, |count| hidden_by_rounding(count.value() / radius, mean.sigma_pitch));
        let floor = self.settings.floor.map_or(0.0, Angle::radians);
        let slope = still.slope.abs();
        let drift = if slope > 2.0 * still.u_slope * inflation.sqrt() { slope * OVERSHOOT_REST } else { 0.0 };
        let creep = if from_start { 0.0 } else { self.hidden_creep(&still, radius).1 };
        let repeat = random.max(floor).hypot(undithered).hypot(drift).hypot(creep);
        let quiet = mean.arriving <= EDGE_SIGNIFICANT && mean.leaving <= EDGE_SIGNIFICANT;
        let steady = quiet && self.is_proven(&still, from_start, inflation);
        Kept {
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
    fn without_its_ragged_beginning(&self, place: usize, from_start: bool, radius: f64) -> (Window, Mean) {
        let whole = self.windows[place];
        let hidden = if from_start { 0.0 } else { self.hidden_creep(&whole, radius).0 };
        let mut chosen = place;
        while chosen > 0 && self.windows[chosen - 1].length >= (whole.length - hidden).max(SHORTEST) {
            chosen -= 1;
        }
        let mean_of = |place: usize| self.stretch.mean(self.windows[place].samples, &self.lines);
        let mut mean = mean_of(chosen);
        while chosen > 0 && mean.arriving > EDGE_SIGNIFICANT && self.windows[chosen - 1].length >= 0.5 * whole.length {
            chosen -= 1;
            mean = mean_of(chosen);
        }
        if mean.inflation > 1.0 && !from_start {
            // A hand that shook and let go: the quieter end of the stretch, if there is one.
            for shorter in (0..chosen).rev().step_by(3) {
                let quiet = mean_of(shorter);
                if quiet.inflation <= 1.0 && quiet.sigma_pitch < QUIETER * mean.sigma_pitch {
                    return (self.windows[shorter], quiet);
                }
            }
        }
        (self.windows[chosen], mean)
    }

    /// How long the end of a creep can hide in the noise at the beginning of a window.
    ///
    /// A creep of slope r shows when Σ(r·τ)²/σ² over its last τ seconds is large: τ = (27 σ²/r²n)^⅓ at n samples a second
    /// for three standard deviations. The slope is taken from just before the window. Half of that time is hidden on average;
    /// what as much again would shift the mean of a window of length T by, r·τ²/2T, is the second figure.
    fn hidden_creep(&self, window: &Window, radius: f64) -> (f64, f64) {
        let slope = self.stretch.slope_before(window.length, 2.0 * SHORTEST) / radius;
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

    fn is_good_enough(&self, kept: &Kept) -> Option<EndedBy> {
        let wanted = self.settings.want.radians() / 2.0;
        if kept.repeat <= wanted {
            return Some(EndedBy::Want);
        }
        // What no waiting shrinks is the floor and the rounding; the rest may be a half of it before waiting is in vain.
        let floor = self.settings.floor.map_or(0.0, Angle::radians).hypot(kept.undithered);
        (floor > wanted && kept.repeat <= 1.12 * floor).then_some(EndedBy::Floor)
    }

    /// Whether a hand's tremor shows in it.
    fn is_held(&self, kept: &Kept) -> bool {
        kept.window.length < TREMBLING_PROOF
            && self.stretch.trembling(kept.window.samples, &self.lines, &kept.mean) > TREMOR_SIGNIFICANT
    }

    /// How long to wait until the next look is worth its time.
    fn pause(&self, kept: &Kept, still: &Window, from_start: bool) -> f64 {
        let wanted = self.settings.want.radians() / 2.0;
        let needed = still.length * (kept.repeat / wanted).powi(2);
        let missing = (needed - still.length).max(proof(still, from_start) - still.length);
        let least = (0.025 * still.length).max(0.006);
        (0.3 * missing).min((0.12 * still.length).max(0.1)).max(least)
    }

    /// The last third of a second, or what there is, when no stretch was still.
    fn best_available(&self) -> Option<Kept> {
        let samples = self.stretch.samples_within(2.0 * SHORTEST);
        let newest = self.stretch.newest()?;
        let mean = self.stretch.mean(samples, &[]);
        let window = self.windows.first().copied();
        let length = self.stretch.length().min(2.0 * SHORTEST);
        let drift = window.map_or(0.0, |window| window.slope * length / 2.0);
        let repeat = mean.u_pitch.hypot(drift).hypot(if samples < 2 { 1.0 } else { 0.0 });
        Some(Kept {
            mean,
            window: Window { samples, length, ..window.unwrap_or(NOTHING) },
            repeat,
            span_repeat: mean.u_span,
            undithered: 0.0,
            effective: samples as f64 / mean.inflation,
            finished: newest.clock,
            steady: false,
            vibration: None,
        })
    }
}

const NOTHING: Window =
    Window { samples: 0, length: 0.0, level: 0.0, sigma: 0.0, slope: 0.0, u_slope: 0.0, shapes: [0.0; 3] };
