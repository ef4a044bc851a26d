//! A day of stream at 400 Hz with one line in a hundred damaged: `cargo bench --bench soak_stream -- --hours 24 --seed 1`.
//!
//! Prints what was sent, what was counted, and the memory in use on the way. The exit code is 1 where a count is not exact
//! or the memory has grown by 4 MiB since the first tenth.

use std::time::Instant;
use support::soak::soak;

const HELP: &str = "usage: cargo bench --bench soak_stream -- [--hours N] [--seed S]";
const GROWTH_KIB: i64 = 4096;

#[tokio::main(flavor = "current_thread")]
async fn main() {
    let (hours, seed) = asked();
    let begun = Instant::now();
    let soaked = soak(hours, seed).await;
    println!("{hours} h of stream from seed {seed}, read in {:.0} s", begun.elapsed().as_secs_f64());
    println!("sent      {:?}", soaked.sent);
    println!("counted   {:?}", soaked.counters);
    println!("last clock {:.4} s", soaked.last_clock);
    let memory: Vec<String> =
        soaked.memory.iter().map(|kib| kib.map_or_else(|| "?".to_owned(), |kib| kib.to_string())).collect();
    println!("memory in KiB at each tenth: {}", memory.join(" "));
    let flat = soaked.growth().is_none_or(|growth| growth < GROWTH_KIB);
    println!(
        "counts {}, memory {}",
        if soaked.is_exact() { "exact" } else { "WRONG" },
        if flat { "flat" } else { "GROWS" }
    );
    if !(soaked.is_exact() && flat) {
        std::process::exit(1);
    }
}

fn asked() -> (f64, u64) {
    let (mut hours, mut seed) = (24.0, 1);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let number = match word.as_str() {
            // Given by cargo itself.
            "--bench" => continue,
            "--hours" | "--seed" => words.next().and_then(|text| text.parse::<f64>().ok()),
            _ => None,
        };
        match (word.as_str(), number) {
            ("--hours", Some(number)) if number > 0.0 => hours = number,
            ("--seed", Some(number)) if number >= 0.0 => seed = number as u64,
            _ => {
                eprintln!("{HELP}");
                std::process::exit(2);
            }
        }
    }
    (hours, seed)
}
