//! The stream clock, frame by frame.

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
fn credits(frames: &[(u64, u64)]) -> Vec<FrameTrust> {
    let mut clock = clock();
    let mut steady: Vec<(u64, u64)> = (0..100).map(|n| (n, n * PERIOD)).collect();
    steady.extend(frames);
    let credits = steady.iter().map(|&(seq, micros)| {
        let credit = clock.trust(&frame(seq, micros));
        if credit != FrameTrust::Hold {
            clock.tick(&frame(seq, micros), Seconds::default());
        }
        credit
    });
    credits.skip(100).collect()
}

#[test]
fn a_line_damaged_behind_a_right_checksum_is_found_by_its_counter_or_clock() {
    // Two equal digits lost in the clock, then in the counter.
    assert_eq!(credits(&[(100, 5000), (101, 101 * PERIOD)]), [FrameTrust::Hold, FrameTrust::HeldWasDamaged]);
    assert_eq!(credits(&[(7, 100 * PERIOD), (101, 101 * PERIOD)]), [FrameTrust::Hold, FrameTrust::HeldWasDamaged]);
}

#[test]
fn a_restart_is_held_for_one_frame_and_lost_lines_are_not() {
    let restarted = credits(&[(0, 812), (1, 812 + PERIOD)]);
    assert_eq!(restarted, [FrameTrust::Hold, FrameTrust::HeldFirst(frame(0, 812))]);
    assert_eq!(credits(&[(109, 109 * PERIOD), (110, 110 * PERIOD + 900)]), [FrameTrust::Believe; 2]);
    assert_eq!(credits(&[(99, 99 * PERIOD), (98, 98 * PERIOD), (100, 100 * PERIOD)]), [FrameTrust::Believe; 3]);
}

#[test]
fn a_long_silence_takes_two_frames_to_be_believed() {
    let late = 120_000;
    let silence = credits(&[(late, late * PERIOD), (late + 1, (late + 1) * PERIOD)]);
    assert_eq!(silence, [FrameTrust::Hold, FrameTrust::HeldFirst(frame(late, late * PERIOD))]);
    // The same step in one line alone, whose clock lost two equal digits: whole turns of the counter fit by chance.
    let by_chance = credits(&[(100, (100 + 5 * 65_536) * PERIOD), (101, 101 * PERIOD)]);
    assert_eq!(by_chance, [FrameTrust::Hold, FrameTrust::HeldWasDamaged]);
}

#[test]
fn another_rate_is_believed_after_one_frame() {
    let slower: Vec<(u64, u64)> = (1..7).map(|n| (99 + n, 99 * PERIOD + n * 3 * PERIOD)).collect();
    let believed = credits(&slower).iter().filter(|credit| **credit != FrameTrust::Hold).count();
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
