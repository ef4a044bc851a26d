//! The stream's own clock: unwrapped, zero at the first good sample, never thrown by a repeat or a restart.
//!
//! Time comes from the sensor's clock where the format carries one, else from its counter and the nominal rate, else, live,
//! from the arrival of the bytes unless the person said the rate, and in a recording from the nominal rate. Counter and clock are believed only where
//! they agree: a step back by a little is an old line that came again, a step that no reading can have made is a
//! sensor that started anew, and the clock then goes on by one period.
//!
//! A checksum of one byte lets a damaged line through once in 256 times, more often where two equal digits were lost.
//! So a frame whose counter and clock contradict each other is held until the next one: if that one goes on from the
//! frames before, the held one was damaged; if it goes on from the held one, the sensor has started anew. Two doubtful
//! frames in a row are believed: then it is the stream that has changed, not a line.

use super::arrivals::Arrivals;
use super::codec::Received;
use crate::units::Seconds;

/// How far an old line may lie behind, in samples and in microseconds.
const OLD_SAMPLES: i16 = 64;
const OLD_MICROS: i64 = 1_000_000;
/// A step ahead beyond this needs counter and clock to agree.
const LONG_STEP_MICROS: i64 = 10_000_000;
/// So many steps must have shown the period before a frame is doubted by it.
const STEPS_TO_DOUBT: u32 = 16;
/// How far counter and clock may be apart: so many periods, and so much of the step.
const APART_PERIODS: f64 = 0.6;
const APART_SHARE: f64 = 0.02;
/// The period of a stream of which nothing is known yet.
const UNKNOWN_PERIOD_MICROS: f64 = 10_000.0;
/// No sensor of this kind sends more samples a second.
const HIGHEST_RATE_HZ: f64 = 10_000.0;

/// Where one frame stands on the stream's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tick {
    pub(super) clock: Seconds,
    pub(super) lost_before: u32,
}

/// What is to be done with a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Credit {
    /// Counter and clock agree.
    Believe,
    /// They do not: it is held until the next frame.
    Hold,
    /// This frame is believed, the one held before it was damaged.
    HeldWasDamaged,
    /// The one held before it is believed as well, and comes first.
    HeldFirst(Received),
}

/// What the difference of two frames means.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Step {
    Ahead { micros: f64, lost: u32 },
    Behind { micros: f64 },
    Anew,
}

#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Marks {
    seq: Option<u16>,
    micros: Option<u64>,
}

impl Marks {
    const fn of(frame: &Received) -> Self {
        Self { seq: frame.seq, micros: frame.micros }
    }
}

#[derive(Debug)]
pub(super) struct StreamClock {
    /// After how many microseconds the sensor's clock wraps.
    wraps: Option<u64>,
    nominal_micros: Option<f64>,
    /// Whether arrivals tell the time where the stream does not, whatever the nominal rate.
    by_arrival: bool,
    /// The period as the stream shows it, a running mean.
    shown_micros: Option<f64>,
    /// How many single steps have shown it.
    shown_steps: u32,
    last: Option<Marks>,
    /// A frame in doubt.
    held: Option<Received>,
    /// Microseconds since the first good sample.
    at: f64,
    arrivals: Arrivals,
    /// Whether the line was broken since the last frame.
    broken: bool,
    pub(super) restarts: u64,
}

impl StreamClock {
    pub(super) fn new(wraps: Option<u64>, nominal_micros: Option<f64>) -> Self {
        Self {
            wraps,
            nominal_micros,
            by_arrival: nominal_micros.is_none(),
            shown_micros: None,
            shown_steps: 0,
            last: None,
            held: None,
            at: 0.0,
            arrivals: Arrivals::new(nominal_micros.unwrap_or(UNKNOWN_PERIOD_MICROS)),
            broken: false,
            restarts: 0,
        }
    }

    /// A clock of a live stream: its bytes come when they were sent, which is better than a rate that is only nominal.
    pub(super) const fn by_arrival(mut self) -> Self {
        self.by_arrival = true;
        self
    }

    /// The line was opened again.
    pub(super) const fn rejoin(&mut self) {
        self.broken = true;
        self.held = None;
    }

    /// Whether the next frame is to be believed.
    #[inline]
    pub(super) fn credit(&mut self, frame: &Received) -> Credit {
        let Some(last) = self.last.filter(|_| !self.broken) else { return Credit::Believe };
        let now = Marks::of(frame);
        match self.held.take() {
            Some(held) if self.agree(Marks::of(&held), now) => Credit::HeldFirst(held),
            Some(_) if self.agree(last, now) => Credit::HeldWasDamaged,
            Some(held) => Credit::HeldFirst(held),
            // A long silence may well be one, but a single line is no proof of it.
            None if self.agree(last, now) && !self.is_long(last, now) => Credit::Believe,
            None => {
                self.held = Some(*frame);
                Credit::Hold
            }
        }
    }

    #[inline]
    fn is_long(&self, last: Marks, now: Marks) -> bool {
        let micros = last.micros.zip(now.micros).map(|(last, now)| self.signed_difference(last, now));
        let known = self.shown_steps >= STEPS_TO_DOUBT && now.seq.is_some();
        known && micros.is_some_and(|micros| micros > LONG_STEP_MICROS)
    }

    /// Whether the stream ends with a frame in doubt.
    pub(super) const fn ends_in_doubt(&mut self) -> bool {
        self.held.take().is_some()
    }

    /// Whether the clock went on by about as many periods as samples were counted.
    #[inline]
    fn agree(&self, last: Marks, now: Marks) -> bool {
        let counted = last.seq.zip(now.seq).map(|(last, now)| now.wrapping_sub(last));
        let timed = last.micros.zip(now.micros).map(|(last, now)| self.signed_difference(last, now));
        let (Some(samples), Some(micros)) = (counted, timed) else { return true };
        if self.shown_steps < STEPS_TO_DOUBT {
            return true;
        }
        if micros > LONG_STEP_MICROS {
            return self.long_step(samples, micros as f64) != Step::Anew;
        }
        // Far behind nothing is an old line any more.
        if micros < -OLD_MICROS || (samples as i16) < -OLD_SAMPLES {
            return false;
        }
        let (period, samples) = (self.period(), f64::from(samples as i16));
        let apart = (micros as f64 - samples * period).abs();
        apart <= (APART_PERIODS + APART_SHARE * samples.abs()) * period
    }

    /// Places the next frame. `arrival` is when its bytes came, on any steady clock.
    #[inline]
    pub(super) fn tick(&mut self, frame: &Received, arrival: Seconds) -> Tick {
        let marks = Marks::of(frame);
        let Some(last) = self.last else {
            self.last = Some(marks);
            self.arrivals.step(arrival);
            return Tick { clock: Seconds::new(0.0), lost_before: 0 };
        };
        let mut step = self.step(last, marks, arrival);
        // Across a broken line no old line comes again: what lies behind has started anew.
        if std::mem::take(&mut self.broken) && matches!(step, Step::Behind { .. }) {
            step = Step::Anew;
        }
        match step {
            Step::Behind { micros } => {
                return Tick { clock: Seconds::new((self.at + micros).max(0.0) / 1e6), lost_before: 0 };
            }
            Step::Ahead { micros, .. } => self.at += micros,
            Step::Anew => {
                self.at += self.period();
                self.restarts += 1;
            }
        }
        self.last = Some(marks);
        let lost_before = if let Step::Ahead { lost, .. } = step { lost } else { 0 };
        Tick { clock: Seconds::new(self.at / 1e6), lost_before }
    }

    #[inline]
    fn step(&mut self, last: Marks, now: Marks, arrival: Seconds) -> Step {
        let counted = last.seq.zip(now.seq).map(|(last, now)| now.wrapping_sub(last));
        let timed = last.micros.zip(now.micros).map(|(last, now)| self.signed_difference(last, now));
        match (counted, timed) {
            (Some(samples), Some(micros)) => self.step_of_both(samples, micros),
            (None, Some(micros)) => self.step_of_clock(micros, last.micros <= now.micros),
            (Some(samples), None) => self.step_of_counter(samples),
            (None, None) => {
                let nominal = self.nominal_micros.filter(|_| !self.by_arrival);
                Step::Ahead { micros: nominal.unwrap_or_else(|| self.arrivals.step(arrival)), lost: 0 }
            }
        }
    }

    /// The way from one clock value to another, the short way round where the clock wraps.
    #[inline]
    fn signed_difference(&self, last: u64, now: u64) -> i64 {
        let plain = i64::try_from(now).unwrap_or(i64::MAX).saturating_sub(i64::try_from(last).unwrap_or(i64::MAX));
        let Some(wraps) = self.wraps.and_then(|wraps| i64::try_from(wraps).ok()).filter(|wraps| *wraps > 0) else {
            return plain;
        };
        // Most steps are short and need no division.
        if (0..=wraps / 2).contains(&plain) {
            return plain;
        }
        let forward = plain.rem_euclid(wraps);
        if forward > wraps / 2 { forward - wraps } else { forward }
    }

    #[inline]
    fn step_of_both(&mut self, samples: u16, micros: i64) -> Step {
        let lost = u32::from(samples.saturating_sub(1));
        let signed_samples = samples as i16;
        match micros {
            0 if samples == 0 => Step::Ahead { micros: 0.0, lost: 0 },
            // A clock that stands still while the counter goes on: time then comes from the counter.
            0 if (1..=OLD_SAMPLES).contains(&signed_samples) => {
                Step::Ahead { micros: f64::from(samples) * self.period(), lost }
            }
            _ if (-OLD_MICROS..0).contains(&micros) && (-OLD_SAMPLES..=0).contains(&signed_samples) => {
                Step::Behind { micros: micros as f64 }
            }
            _ if (1..=LONG_STEP_MICROS).contains(&micros) => {
                let micros = micros as f64;
                if f64::from(lost) > micros * 1e-6 * HIGHEST_RATE_HZ + 1.0 {
                    return Step::Anew;
                }
                if samples == 1 && micros < 1e6 {
                    let shown = self.shown_micros.get_or_insert(micros);
                    *shown += (micros - *shown) / 64.0;
                    self.shown_steps = self.shown_steps.saturating_add(1);
                }
                Step::Ahead { micros, lost }
            }
            _ if micros > LONG_STEP_MICROS => self.long_step(samples, micros as f64),
            _ => Step::Anew,
        }
    }

    /// A long silence, unless the counter says otherwise: the clock must have made as many periods as samples
    /// were counted, whole turns of the counter apart, to half a percent and three samples.
    fn long_step(&self, samples: u16, micros: f64) -> Step {
        let periods = micros / self.period();
        let turns = ((periods - f64::from(samples)) / 65_536.0).round().max(0.0);
        let counted = f64::from(samples) + turns * 65_536.0;
        if (periods - counted).abs() > 0.005 * periods + 3.0 {
            return Step::Anew;
        }
        // A cast from float to integer saturates.
        Step::Ahead { micros, lost: (counted - 1.0) as u32 }
    }

    fn step_of_clock(&mut self, micros: i64, rising: bool) -> Step {
        match micros {
            0 => Step::Ahead { micros: 0.0, lost: 0 },
            _ if (-OLD_MICROS..0).contains(&micros) => Step::Behind { micros: micros as f64 },
            _ if micros > 0 && (rising || micros <= LONG_STEP_MICROS) => {
                let micros = micros as f64;
                if micros < 1e6 {
                    let shown = self.shown_micros.get_or_insert(micros);
                    *shown += (micros - *shown) / 64.0;
                }
                Step::Ahead { micros, lost: 0 }
            }
            _ => Step::Anew,
        }
    }

    fn step_of_counter(&self, samples: u16) -> Step {
        let signed_samples = samples as i16;
        let micros = f64::from(samples) * self.period();
        if (-OLD_SAMPLES..0).contains(&signed_samples) {
            Step::Behind { micros: f64::from(signed_samples) * self.period() }
        } else if micros <= LONG_STEP_MICROS as f64 {
            Step::Ahead { micros, lost: u32::from(samples.saturating_sub(1)) }
        } else {
            Step::Anew
        }
    }

    /// One period in microseconds: as shown by the stream, else as the profile says, else a hundredth of a second.
    fn period(&self) -> f64 {
        self.shown_micros.or(self.nominal_micros).unwrap_or(UNKNOWN_PERIOD_MICROS)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PERIOD: u64 = 5000;

    fn clock() -> StreamClock {
        StreamClock::new(Some(1 << 32), Some(PERIOD as f64))
    }

    fn frame(seq: u64, micros: u64) -> Received {
        let (seq, micros) = (Some((seq % 65_536) as u16), Some(micros % (1 << 32)));
        Received { seq, micros, counts: [0.0; 3], celsius: None }
    }

    /// Seconds and losses of frames given as (counter, microseconds).
    fn ticks(clock: &mut StreamClock, frames: &[(u64, u64)]) -> Vec<(f64, u32)> {
        let tick = |&(seq, micros): &(u64, u64)| clock.tick(&frame(seq, micros), Seconds::default());
        frames.iter().map(tick).map(|tick| (tick.clock.value(), tick.lost_before)).collect()
    }

    #[test]
    fn time_is_zero_at_the_first_sample_and_goes_on_past_both_wraps() {
        let start = (1 << 32) - 10_000;
        let seen = ticks(
            &mut clock(),
            &[(65_534, start), (65_535, start + 5000), (65_536, start + 10_000), (65_538, start + 20_000)],
        );
        assert_eq!(seen, [(0.0, 0), (0.005, 0), (0.01, 0), (0.02, 1)]);
    }

    #[test]
    fn hours_pass_without_a_seam() {
        let mut clock = clock();
        let last = (0..2_000_000).map(|n| clock.tick(&frame(n, 77 + n * PERIOD), Seconds::default())).last().unwrap();
        assert_eq!((last.clock.value(), last.lost_before), (1_999_999.0 * 0.005, 0));
        assert_eq!(clock.restarts, 0);
    }

    #[test]
    fn a_line_that_comes_twice_keeps_its_time_and_loses_nothing() {
        let seen = ticks(&mut clock(), &[(7, 100), (8, 5100), (8, 5100), (9, 10_100)]);
        assert_eq!(seen, [(0.0, 0), (0.005, 0), (0.005, 0), (0.01, 0)]);
    }

    #[test]
    fn an_old_line_that_comes_again_stands_at_its_own_time() {
        let seen = ticks(&mut clock(), &[(7, 100), (8, 5100), (9, 10_100), (7, 100), (10, 15_100)]);
        assert_eq!(seen, [(0.0, 0), (0.005, 0), (0.01, 0), (0.0, 0), (0.015, 0)]);
        // Across the counter's wrap as well.
        let seen = ticks(&mut clock(), &[(65_535, 100), (65_536, 5100), (65_535, 100), (65_537, 10_100)]);
        assert_eq!(seen, [(0.0, 0), (0.005, 0), (0.0, 0), (0.01, 0)]);
    }

    #[test]
    fn a_restarted_sensor_costs_one_period_and_no_samples() {
        for running_for in [30, 1500, 2200, 4000] {
            let (seq, micros) = (running_for * 200, running_for * 1_000_000);
            let mut clock = clock();
            let seen = ticks(
                &mut clock,
                &[(seq, micros), (seq + 1, micros + PERIOD), (0, 812), (1, 812 + PERIOD), (3, 812 + 3 * PERIOD)],
            );
            assert_eq!(seen, [(0.0, 0), (0.005, 0), (0.01, 0), (0.015, 0), (0.025, 1)], "after {running_for} s");
            assert_eq!(clock.restarts, 1);
        }
    }

    /// What becomes of frames given as (counter, microseconds) after a steady beginning.
    fn credits(frames: &[(u64, u64)]) -> Vec<Credit> {
        let mut clock = clock();
        let mut steady: Vec<(u64, u64)> = (0..100).map(|n| (n, n * PERIOD)).collect();
        steady.extend(frames);
        let credits = steady.iter().map(|&(seq, micros)| {
            let credit = clock.credit(&frame(seq, micros));
            if credit != Credit::Hold {
                clock.tick(&frame(seq, micros), Seconds::default());
            }
            credit
        });
        credits.skip(100).collect()
    }

    #[test]
    fn a_line_damaged_behind_a_right_checksum_is_found_by_its_counter_or_clock() {
        // Two equal digits lost in the clock, then in the counter.
        assert_eq!(credits(&[(100, 5000), (101, 101 * PERIOD)]), [Credit::Hold, Credit::HeldWasDamaged]);
        assert_eq!(credits(&[(7, 100 * PERIOD), (101, 101 * PERIOD)]), [Credit::Hold, Credit::HeldWasDamaged]);
    }

    #[test]
    fn a_restart_is_held_for_one_frame_and_lost_lines_are_not() {
        let restarted = credits(&[(0, 812), (1, 812 + PERIOD)]);
        assert_eq!(restarted, [Credit::Hold, Credit::HeldFirst(frame(0, 812))]);
        assert_eq!(credits(&[(109, 109 * PERIOD), (110, 110 * PERIOD + 900)]), [Credit::Believe; 2]);
        assert_eq!(credits(&[(99, 99 * PERIOD), (98, 98 * PERIOD), (100, 100 * PERIOD)]), [Credit::Believe; 3]);
    }

    #[test]
    fn a_long_silence_takes_two_frames_to_be_believed() {
        let late = 120_000;
        let silence = credits(&[(late, late * PERIOD), (late + 1, (late + 1) * PERIOD)]);
        assert_eq!(silence, [Credit::Hold, Credit::HeldFirst(frame(late, late * PERIOD))]);
        // The same step in one line alone, whose clock lost two equal digits: whole turns of the counter fit by chance.
        let by_chance = credits(&[(100, (100 + 5 * 65_536) * PERIOD), (101, 101 * PERIOD)]);
        assert_eq!(by_chance, [Credit::Hold, Credit::HeldWasDamaged]);
    }

    #[test]
    fn another_rate_is_believed_after_one_frame() {
        let slower: Vec<(u64, u64)> = (1..7).map(|n| (99 + n, 99 * PERIOD + n * 3 * PERIOD)).collect();
        let believed = credits(&slower).iter().filter(|credit| **credit != Credit::Hold).count();
        assert_eq!(believed, 3, "every second frame brings the one before it along");
    }

    #[test]
    fn a_long_gap_is_believed_where_counter_and_clock_agree() {
        let mut clock = clock();
        ticks(&mut clock, &[(0, 0), (1, PERIOD), (2, 2 * PERIOD)]);
        // Ten minutes at 200 Hz are 120,000 samples: the counter has gone round once.
        let seen = ticks(&mut clock, &[(120_002, 120_002 * PERIOD)]);
        assert_eq!(seen, [(600.01, 119_999)]);
        assert_eq!(clock.restarts, 0);
    }

    #[test]
    fn the_rate_may_be_another_than_the_profile_says() {
        let seen = ticks(&mut clock(), &[(0, 0), (1, 2500), (2, 5000), (8002, 20_005_000)]);
        assert_eq!(seen.last(), Some(&(20.005, 7999)));
    }

    #[test]
    fn without_a_clock_the_counter_tells_time_and_without_both_the_rate() {
        let bare = |seq| Received { seq, micros: None, counts: [0.0; 3], celsius: None };
        let mut counted = clock();
        let seen: Vec<_> = [5, 6, 9, 9, 8, 10].map(|seq| counted.tick(&bare(Some(seq)), Seconds::default())).into();
        let seconds: Vec<f64> = seen.iter().map(|tick| tick.clock.value()).collect();
        assert_eq!(seconds, [0.0, 0.005, 0.02, 0.02, 0.015, 0.025]);
        assert_eq!(seen.iter().map(|tick| tick.lost_before).sum::<u32>(), 2);

        let mut uncounted = clock();
        let last = (0..=200).map(|_| uncounted.tick(&bare(None), Seconds::default())).last().unwrap();
        assert!((last.clock.value() - 1.0).abs() < 1e-9);
    }

    /// The clock of lines without counter or clock, each with the moment of its arrival; 100 Hz is what the profile says.
    fn by_arrival(arrivals: impl IntoIterator<Item = f64>) -> Vec<f64> {
        let mut clock = StreamClock::new(None, Some(10_000.0)).by_arrival();
        let bare = Received { seq: None, micros: None, counts: [0.0; 3], celsius: None };
        arrivals.into_iter().map(|arrival| clock.tick(&bare, Seconds::new(arrival)).clock.value()).collect()
    }

    #[test]
    fn bunches_of_bytes_are_spread_over_the_time_they_took() {
        // 100 Hz, but the adapter hands over four lines every 40 ms.
        let seconds = by_arrival((0..2000).map(|n| f64::from(n / 4) * 0.04));
        assert!(seconds.windows(2).all(|pair| pair[1] > pair[0]), "time never stands still");
        let worst = seconds.windows(2).map(|pair| (pair[1] - pair[0] - 0.01).abs()).fold(0.0, f64::max);
        assert!(worst < 0.004, "{worst}");
        assert!((seconds[1999] - 19.96).abs() < 0.05, "{}", seconds[1999]);
    }

    #[test]
    fn arrivals_count_for_more_than_a_rate_that_is_only_nominal() {
        for rate in [20.0, 50.0, 200.0, 800.0] {
            let seconds = by_arrival((0..(20.0 * rate) as u32).map(|n| f64::from(n) / rate));
            let at = |second: f64| seconds[(second * rate) as usize];
            // From one second on it runs at the true rate.
            for from in [1.0, 3.0, 15.0] {
                assert!((at(from + 2.0) - at(from) - 2.0).abs() < 0.02, "{rate} Hz: {}", at(from + 2.0) - at(from));
            }
        }
    }

    #[test]
    fn what_waited_in_the_lines_buffer_does_not_bend_the_clock() {
        // 150 lines of the time before came at once when the port was opened.
        let seconds = by_arrival((0..150).map(|_| 0.0).chain((0..2000).map(|n| f64::from(n) * 0.01)));
        let after = |n: usize| seconds[150 + n];
        assert!((after(1900) - after(100) - 18.0).abs() < 0.05, "{}", after(1900) - after(100));
        let worst = seconds[160..].windows(2).map(|pair| (pair[1] - pair[0] - 0.01).abs()).fold(0.0, f64::max);
        assert!(worst < 0.003, "{worst}");
    }

    #[test]
    fn a_break_of_the_line_takes_the_time_it_took() {
        let seconds = by_arrival((0..500).map(|n| f64::from(n) * 0.02 + if n < 250 { 0.0 } else { 3.0 }));
        assert!((seconds[250] - seconds[249] - 3.02).abs() < 0.001);
        assert!((seconds[499] - seconds[260] - 239.0 * 0.02).abs() < 0.02, "it goes on at the rate it had");
    }
}
