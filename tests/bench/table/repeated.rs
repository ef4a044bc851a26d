//! How long something takes, when nothing else is in its way.

use std::time::Instant;

/// Seconds that one round of each took, the least of so many. They take turns, so that all meet the same machine; whatever else
/// runs on it only makes a round longer.
pub fn least<const N: usize>(rounds: usize, mut each: [&mut dyn FnMut(); N]) -> [f64; N] {
    let mut least = [f64::INFINITY; N];
    for _ in 0..rounds {
        for (round, least) in each.iter_mut().zip(&mut least) {
            let begun = Instant::now();
            round();
            *least = least.min(begun.elapsed().as_secs_f64());
        }
    }
    least
}

/// Seconds on a processor that all threads of a process have used so far, those that have ended too, to a hundredth.
pub fn processor_seconds(process: &str) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).expect("the process");
    // The name, in brackets, may hold anything; user and system time are the 12th and 13th field behind it, in hundredths.
    let fields = stat.rsplit(')').next().unwrap_or_default().split_whitespace();
    fields.skip(11).take(2).map(|ticks| ticks.parse::<f64>().expect("ticks")).sum::<f64>() / 100.0
}
