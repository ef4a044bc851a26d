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
//! A rest after a movement is also asked whether it is the end of a settling (see `tail`): what a settling that shows
//! before it would leave in the mean is taken out, and added to `repeat` in full.
//!
//! **How it fails.** A creep slower than the bound passes for rest, and so, rarely, does one near 0.1 °/s. A blade that swings so slowly that half a
//! second at its turning point looks level within the noise does too.

use super::candidate::{Candidate, Look};
use super::gate::{Gate, GateVerdict};
use super::line::LineFinder;
use super::proof::{longest_still, proof, unrest_limit};
use super::reading::{Dropped, EndedBy, Progress, SteadyReading, SteadySettings, Vibration};
use super::stillness::{Window, trailing_windows};
use super::stretch::{Moment, Stretch};
use crate::sensor::Force;
use crate::units::{Angle, Seconds};

/// The shortest stretch of which anything is said.
pub const SHORTEST: f64 = 0.15;
/// So long before a rest its history is kept, in seconds: a settling shows in it.
pub const HISTORY: f64 = 6.0;
/// Each trailing window is so much longer than the one before.
const GROWTH: f64 = 1.05;

/// Takes forces one by one until it has a steady angle. Times in seconds of the stream's own clock.
pub struct SteadyReader {
    settings: SteadySettings,
    gate: Gate,
    /// The samples since the last motion, and of which of them a rest may be made.
    stretch: Stretch,
    extent: Extent,
    /// The trailing windows of the last look; kept for their room.
    windows: Vec<Window>,
    lines: Lines,
    looks: Looks,
    motion: Motion,
    progress: Progress,
    /// The strongest vibration of the last judged stretch.
    vibration: Option<Vibration>,
    /// The best reading so far.
    kept: Option<Candidate>,
    /// Samples that the stream's counter says were lost.
    lost: u64,
}

/// Which samples may be part of a rest.
#[derive(Debug, Clone, Copy)]
struct Extent {
    /// Time of the first sample of this reading, from which its time limit counts.
    begun: Option<f64>,
    /// Whether everything since that sample is in the stretch, so that no motion can have come before it.
    whole: bool,
    /// Time before which samples are history alone.
    reach: f64,
}

/// The vibration lines of the newest samples: finding them costs much, so they are kept for a while.
struct Lines {
    finder: LineFinder,
    /// In hertz, strongest first.
    frequencies: Vec<f64>,
    /// Length of the window in which they were found, in seconds.
    length: f64,
    /// Time at which they were found.
    found_at: f64,
}

/// When the stretch is looked at: a look costs as much as many samples.
#[derive(Debug, Clone, Copy)]
struct Looks {
    /// Time from which the next look is worth it.
    next: f64,
    /// Time at which a stretch was last judged as a reading.
    judged_at: f64,
    /// Whether nothing more will come, so that what there is must do.
    at_end: bool,
}

/// What says between two looks that the blade has begun to move.
#[derive(Debug, Clone, Copy, Default)]
struct Motion {
    /// Samples in a row of which the gate says so.
    jolts: u8,
    /// Samples in a row that lie outside the watch.
    astray: u8,
    /// Where a resting blade's samples lie, if it rests.
    watch: Option<Watch>,
}

/// Where the next samples should lie, so that a sudden motion is seen at once.
#[derive(Debug, Clone, Copy)]
struct Watch {
    /// Direction of the force in the plane of pitch about which the tilt is measured, in radians.
    reference: f64,
    /// Tilt of the rest, in g.
    level: f64,
    /// How far a sample of it may lie from there, in g.
    limit: f64,
}

impl Default for Extent {
    fn default() -> Self {
        Self { begun: None, whole: true, reach: f64::NEG_INFINITY }
    }
}

impl Default for Lines {
    fn default() -> Self {
        Self { finder: LineFinder::default(), frequencies: Vec::new(), length: 0.0, found_at: f64::NEG_INFINITY }
    }
}

impl Default for Looks {
    fn default() -> Self {
        Self { next: f64::NEG_INFINITY, judged_at: f64::NEG_INFINITY, at_end: false }
    }
}

impl SteadyReader {
    /// A reader that has seen nothing yet.
    #[must_use]
    pub fn new(settings: SteadySettings) -> Self {
        Self {
            gate: Gate::new(settings.count, settings.full_scale),
            settings,
            stretch: Stretch::default(),
            extent: Extent::default(),
            windows: Vec::new(),
            lines: Lines::default(),
            looks: Looks::default(),
            motion: Motion::default(),
            progress: Progress::Moving,
            vibration: None,
            kept: None,
            lost: 0,
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
            GateVerdict::Dropped => {
                // Samples that are not fit to be used do not stop the clock of the reading.
                self.end_in_time(clock);
                return self.progress;
            }
            GateVerdict::Restarted => {
                self.extent.begun = None;
                self.begin_anew();
            }
            GateVerdict::Moving => {
                self.motion.jolts = self.motion.jolts.saturating_add(1);
                if self.motion.jolts >= 2 {
                    self.begin_anew();
                }
            }
            GateVerdict::Pass => self.motion.jolts = 0,
        }
        self.extent.begun.get_or_insert(clock);
        let moment = Moment { clock, force: force.up };
        if self.stretch.push(moment) {
            self.extent.whole = false;
        }
        if self.has_left(moment) {
            self.progress = Progress::Moving;
            self.vibration = None;
            self.looks.next = clock;
        }
        if clock >= self.looks.next {
            self.look(clock);
        }
        self.end_in_time(clock);
        self.progress
    }

    /// Ends the reading once its time is up.
    fn end_in_time(&mut self, clock: f64) {
        if matches!(self.progress, Progress::Done(_)) || !clock.is_finite() {
            return;
        }
        let begun = *self.extent.begun.get_or_insert(clock);
        if clock - begun >= self.settings.within.value() {
            self.progress = Progress::Done(EndedBy::Time);
        }
    }

    /// The samples that were not fit to be used.
    #[must_use]
    pub const fn dropped(&self) -> Dropped {
        self.gate.dropped()
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
            self.looks.at_end = true;
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
            asked: self.settings,
        })
    }

    fn begin_anew(&mut self) {
        self.stretch.clear();
        self.extent.reach = f64::NEG_INFINITY;
        self.extent.whole = self.extent.begun.is_none();
        self.motion.watch = None;
        self.lines.frequencies.clear();
        self.vibration = None;
        self.progress = Progress::Moving;
        self.looks.next = f64::NEG_INFINITY;
    }

    /// Three samples in a row far from where the stretch lies are the beginning of a motion.
    fn has_left(&mut self, moment: Moment) -> bool {
        let Some(watch) = self.motion.watch else { return false };
        let away = (moment.tilt_from(watch.reference) - watch.level).abs() > watch.limit;
        self.motion.astray = if away { self.motion.astray + 1 } else { 0 };
        if self.motion.astray >= 3 {
            self.motion.astray = 0;
            self.motion.watch = None;
            return true;
        }
        false
    }

    /// Fits the trailing windows and decides.
    fn look(&mut self, now: f64) {
        let span = self.stretch.length().min(now - self.extent.reach);
        if span < SHORTEST {
            self.looks.next = now - span + SHORTEST;
            return;
        }
        let Some(axes) = self.stretch.recent_axes(SHORTEST * 2.0) else { return };
        let sigma_floor = self.settings.count.map_or(1e-9, |count| 0.1 * count.value() / axes.radius);
        self.look_for_lines(now, axes.reference);
        let reach = self.extent.reach;
        trailing_windows(
            self.stretch.backward(axes.reference, axes.radius).take_while(|(clock, _)| *clock >= reach),
            &self.lines.frequencies,
            SHORTEST,
            GROWTH,
            sigma_floor,
            &mut self.windows,
        );
        let Some(place) = longest_still(&self.windows) else {
            self.progress = Progress::Moving;
            self.vibration = None;
            self.motion.watch = None;
            // A slow sensor has sent too few samples to say anything yet: they are not forgotten.
            if !self.windows.is_empty() {
                self.forget_before(now, 2.0 * SHORTEST);
            }
            self.looks.next = now + SHORTEST;
            return;
        };
        let still = self.windows[place];
        let from_start = self.extent.whole && still.samples == self.stretch.len();
        self.motion.watch = Some(Watch {
            reference: axes.reference,
            level: still.level * axes.radius,
            limit: axes.radius * (6.0 * still.sigma + self.buzz(&still)),
        });
        let look = Look {
            settings: &self.settings,
            stretch: &self.stretch,
            windows: &self.windows,
            lines: &self.lines.frequencies,
            radius: axes.radius,
        };
        let mut repeat = look.plain_repeat(&still);
        let mut pitch = Angle::from_radians(axes.reference + still.level).wrapped();
        self.looks.next = now + pause(&look, &still, from_start);
        // A blade may move before the wanted uncertainty is reached; so a rest is judged now and then on its way.
        let due = look.may_be_proven(&still, from_start) && now - self.looks.judged_at > 0.3 * still.length;
        let mut ended = None;
        if self.looks.at_end || due || look.may_be_enough(&still, from_start) {
            self.looks.judged_at = now;
            let mut candidate = look.judge(now, place, from_start);
            ended = look.is_good_enough(&candidate);
            // Costly, so asked last: only of what would end the reading, or stand at its end.
            if candidate.steady && (ended.is_some() || self.looks.at_end) {
                candidate.steady = !look.is_held(&candidate);
            }
            repeat = candidate.repeat;
            self.vibration = candidate.vibration;
            pitch = candidate.mean.force.apparent_pitch();
            if candidate.steady {
                self.keep(candidate);
            } else {
                ended = None;
            }
        }
        self.progress = match ended {
            Some(ended) => Progress::Done(ended),
            None => Progress::Settling {
                since: Seconds::new(now - still.length),
                repeat: Angle::from_radians(repeat),
                pitch,
                vibration: self.vibration,
            },
        };
        // What chance made a little restless may turn out still with more samples; what moved will not.
        if self.windows.last().is_some_and(|all| all.unrest() > 3.0 * unrest_limit(all)) {
            self.forget_before(now, 1.3 * still.length + 2.0 * SHORTEST);
        }
    }

    /// Keeps the better of two readings of one rest, and the later of two rests.
    fn keep(&mut self, new: Candidate) {
        let better = self.kept.is_none_or(|old| {
            let apart = (new.mean.force.apparent_pitch() - old.mean.force.apparent_pitch()).wrapped().radians().abs();
            new.repeat <= old.repeat || apart > 3.0 * new.repeat.hypot(old.repeat)
        });
        if better {
            self.kept = Some(new);
        }
    }

    /// What is older than `length` seconds is no part of a rest any more; a while longer it is kept as its history.
    fn forget_before(&mut self, now: f64, length: f64) {
        if length < self.stretch.length() {
            self.extent.whole = false;
            self.extent.reach = self.extent.reach.max(now - length);
            self.stretch.keep_trailing(length + HISTORY);
        }
    }

    fn buzz(&self, still: &Window) -> f64 {
        // The lines' amplitudes are not kept for each window; what they can add at most is bounded by the scatter.
        if self.lines.frequencies.is_empty() { 0.0 } else { 20.0 * still.sigma }
    }

    fn look_for_lines(&mut self, now: f64, reference: f64) {
        let length = match self.progress {
            Progress::Settling { since, .. } => (now - since.value()).max(2.0 * SHORTEST),
            _ => 2.0 * SHORTEST,
        };
        let length = length.min(self.stretch.length().min(now - self.extent.reach));
        let ratio = length / self.lines.length;
        if (0.8..1.2).contains(&ratio) && now - self.lines.found_at < 0.2 * length.max(0.5) {
            return;
        }
        let (times, mut signal) = self.stretch.trailing(reference, length);
        self.lines.frequencies = self.lines.finder.find(&times, &mut signal);
        self.lines.length = length;
        self.lines.found_at = now;
    }

    /// The last third of a second, or what there is, when no stretch was still.
    fn best_available(&self) -> Option<Candidate> {
        let samples = self.stretch.samples_within(2.0 * SHORTEST);
        let newest = self.stretch.newest()?;
        let mean = self.stretch.mean(samples, &[]);
        let window = self.windows.first().copied();
        let length = self.stretch.length().min(2.0 * SHORTEST);
        let drift = window.map_or(0.0, |window| window.slope * length / 2.0);
        let repeat = mean.u_pitch.hypot(drift).hypot(if samples < 2 { 1.0 } else { 0.0 });
        Some(Candidate {
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

/// How long to wait until the next look is worth its time.
fn pause(look: &Look<'_>, still: &Window, from_start: bool) -> f64 {
    let wanted = look.settings.want.radians() / 2.0;
    let needed = still.length * (look.plain_repeat(still) / wanted).powi(2);
    let longest = needed.max(proof(still, from_start)).max(look.length_for_slope(still, from_start));
    let least = (0.03 * still.length).max(0.006);
    (0.3 * (longest - still.length)).min((0.12 * still.length).max(0.1)).max(least)
}

const NOTHING: Window =
    Window { samples: 0, length: 0.0, level: 0.0, sigma: 0.0, slope: 0.0, u_slope: 0.0, shapes: [0.0; 3] };
