//! How often the truth lies within ±U: `cargo bench --bench coverage -- --setups 2000 --seed 1`.
//!
//! Prints one line a kind of value. Each must hold 93 to 97 of a hundred true values, with errors as large as their standard
//! uncertainties say (rms/u within 0.9 to 1.1). The last column shows what would be left if every component that is assumed
//! and not measured were half as large: every kind must show that. Else the exit code is 1.

use std::time::Instant;
use support::coverage::{Kind, LEAST_SHARE, Tally, halved, many, setup, tally};

const HELP: &str = "usage: cargo bench --bench coverage -- [--setups N] [--seed S]";

/// Setups at a time, after which it says how far it is.
const PORTION: u64 = 200;

fn main() {
    let (setups, seed) = asked();
    let begun = Instant::now();
    let first = (seed % 1_000_000_000) * 1_000_003;
    let mut shown = Vec::new();
    for done in (0..setups).step_by(PORTION as usize) {
        let portion = PORTION.min(setups - done);
        shown.extend(many(first + done..first + done + portion, setup));
        eprintln!("{} of {setups} setups", done + portion);
    }
    println!("{setups} setups from seed {seed}, {:.0} s", begun.elapsed().as_secs_f64());
    println!("              values   inside (95 by chance)  median U      rms   rms/u  assumed halved");
    let (found, less) = (tally(&shown, Clone::clone), tally(&shown, halved));
    for (kind, tally) in &found {
        println!(
            "{:<13} {:>6} {:>7.2} %     (±{:.2} %) {:>9.3}° {:>7.3}° {:>7.3} {:>13.2} %",
            kind.name(),
            tally.of,
            tally.share(),
            1.96 * tally.chance(),
            tally.median_expanded(),
            tally.rms(),
            tally.rms_ratio(),
            less[kind].share(),
        );
    }
    assert_eq!(found.len(), Kind::COUNT, "not every kind of value was shown");
    let holds =
        |tally: &Tally| (LEAST_SHARE..=97.0).contains(&tally.share()) && (0.9..1.1).contains(&tally.rms_ratio());
    let held = found.values().all(holds);
    let shaken = found.iter().all(|(kind, tally)| kind.is_shaken_by(tally, &less[kind]));
    println!("{}very kind holds 93 to 97 % with errors as large as u says", if held { "E" } else { "NOT e" });
    println!("{}very kind shows that what is assumed was halved", if shaken { "E" } else { "NOT e" });
    std::process::exit(i32::from(!(held && shaken)));
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
