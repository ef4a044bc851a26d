//! How often the truth lies within ±U: `cargo bench --bench coverage -- --setups 2000 --seed 1`.
//!
//! Prints one line a kind of value. Each must hold 93 to 97 of a hundred true values; the last column shows what would be
//! left if every component that is assumed and not measured were half as large.

#[path = "../coverage_kit/mod.rs"]
mod coverage_kit;

use coverage_kit::{Kind, Shown, halved, setup, tally};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

const HELP: &str = "usage: cargo bench --bench coverage -- [--setups N] [--seed S]";

fn main() {
    let (setups, seed) = asked();
    let begun = Instant::now();
    let shown = simulate(setups, seed);
    println!("{setups} setups from seed {seed}, {:.0} s", begun.elapsed().as_secs_f64());
    println!(
        "{:<14} {:>6} {:>8} {:>13} {:>9} {:>9} {:>8} {:>14}",
        "", "values", "inside", "by chance", "median U", "rms", "rms/u", "assumed halved"
    );
    let less = tally(&shown, halved);
    let mut held = true;
    for (kind, found) in tally(&shown, Clone::clone) {
        held &= (93.0..=97.0).contains(&found.share());
        println!(
            "{:<14} {:>6} {:>6.2} % {:>6.2}±{:.2} % {:>8.3}° {:>8.3}° {:>8.3} {:>12.2} %",
            kind.name(),
            found.of,
            found.share(),
            95.0,
            1.96 * found.chance(),
            found.median_expanded(),
            found.rms(),
            found.rms_ratio(),
            less[&kind].share(),
        );
    }
    assert!(tally(&shown, Clone::clone).len() == Kind::ALL.len(), "not every kind of value was shown");
    println!("{}", if held { "every kind holds 93 to 97 %" } else { "NOT every kind holds 93 to 97 %" });
    std::process::exit(i32::from(!held));
}

fn asked() -> (u64, u64) {
    let (mut setups, mut seed) = (2000, 1);
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        let place = match argument.as_str() {
            "--setups" => &mut setups,
            "--seed" => &mut seed,
            // What cargo itself adds.
            "--bench" => continue,
            _ => stop(),
        };
        *place = arguments.next().and_then(|text| text.parse().ok()).unwrap_or_else(|| stop());
    }
    if setups == 0 { stop() } else { (setups, seed) }
}

fn stop() -> ! {
    eprintln!("{HELP}");
    std::process::exit(2)
}

/// All setups, on as many threads as there are cores.
fn simulate(setups: u64, seed: u64) -> Vec<Shown> {
    let (next, all) = (AtomicU64::new(0), Mutex::new(Vec::new()));
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if number >= setups {
                        return;
                    }
                    let shown = setup(seed.wrapping_mul(1_000_003).wrapping_add(number));
                    if let Ok(mut all) = all.lock() {
                        all.extend(shown);
                    }
                    if number % 200 == 199 {
                        eprintln!("{} of {setups}", number + 1);
                    }
                }
            });
        }
    });
    all.into_inner().unwrap_or_default()
}
