//! The proof of the judgement: faults that a person would want to know of, against how often the record finds them, and heads that
//! are right, against how often it stays quiet.
//!
//! `cargo test --test pure judgement -- --nocapture` prints the table. `CLINOBLADE_TABLE_HEADS` draws more heads or fewer, and
//! `CLINOBLADE_TABLE_SEED` others, which are held to the same shares within what chance may do; `CLINOBLADE_TABLE_CLASS` takes the
//! classes whose names hold it.

use std::collections::BTreeMap;
use support::coverage::Tally;
use support::judgement::{Class, FAULTS, Outcome, RIGHT, Shown, What, counted, outcomes, worlds};

/// The draw that is held to the share without allowance for chance: its seed, and how many heads go through every class.
const MEASURED_ON: (u64, usize) = (1, 50);
/// The share that is asked for, percent.
const ASKED: f64 = 98.0;

/// The class whose values are held against the truth.
const AS_DRAWN: &str = "as drawn";
/// The same for the plate: a tilt that is far from nothing has a size whose error is as good as normal.
const TILTED: &str = "plate tilted by sub-trims";
/// How many kinds of values there are.
const KINDS: usize = 6;

fn told<T: std::str::FromStr>(variable: &str) -> Option<T> {
    std::env::var(variable).ok().and_then(|text| text.parse().ok())
}

/// How far a share may fall by chance alone where other heads are drawn: three standard deviations, percent.
fn chance(share: f64, seed: u64, heads: usize) -> f64 {
    if (seed, heads) == MEASURED_ON { 0.0 } else { 3.0 * (share * (100.0 - share) / heads as f64).sqrt() }
}

fn share(outcomes: &[Outcome], of: impl Fn(&Outcome) -> bool) -> f64 {
    100.0 * outcomes.iter().filter(|outcome| of(outcome)).count() as f64 / outcomes.len() as f64
}

fn listed<T: Ord + Clone + std::fmt::Display>(of: impl Iterator<Item = T>, most: usize) -> String {
    let said: Vec<String> = counted(of).iter().take(most).map(|(what, count)| format!("{what} {count}")).collect();
    said.join(", ")
}

/// One class: both shares, and what the cells said.
fn row(class: &Class, found: &[Outcome], shares: [f64; 2], said: &str) {
    println!("{:<34} {:>5} {:>8.0} % {:>6.0} %   {said}", class.name, found.len(), shares[0], shares[1]);
}

/// The first head that is not as asked, with its cells.
fn example(found: &[Outcome], is_short: impl Fn(&Outcome) -> bool) {
    if let Some((head, outcome)) = found.iter().enumerate().find(|(_, outcome)| is_short(outcome)) {
        println!("    such as head {head}: {}", outcome.cells.join("; "));
    }
}

#[test]
fn faults_are_found_and_right_heads_are_left_in_peace() {
    let heads = told("CLINOBLADE_TABLE_HEADS").unwrap_or(MEASURED_ON.1);
    let only: String = told("CLINOBLADE_TABLE_CLASS").unwrap_or_default();
    let seed = told("CLINOBLADE_TABLE_SEED").unwrap_or(MEASURED_ON.0);
    let worlds = worlds(seed, heads);
    let (mut short, mut shown) = (Vec::new(), Vec::new());
    let hold = |short: &mut Vec<String>, class: &Class, reached: f64| {
        let asked = ASKED - chance(ASKED, seed, heads);
        if reached < asked {
            short.push(format!("{}: {reached:.0} % of {asked:.0} %", class.name));
        }
    };
    println!("{:<34} heads not green   found   the cell that is to show it", "fault");
    for class in FAULTS.iter().filter(|class| class.name.contains(&only)) {
        let found = outcomes(class, &worlds, false);
        let not_green = share(&found, |outcome| !outcome.is_green);
        let in_its_cell = share(&found, Outcome::is_found);
        row(class, &found, [not_green, in_its_cell], &listed(found.iter().map(|o| o.shown), 8));
        let missed = |outcome: &Outcome| !outcome.is_found();
        example(&found, |outcome| missed(outcome) && (outcome.is_green || not_green == 100.0));
        hold(&mut short, class, not_green.min(in_its_cell));
        if class.name == TILTED {
            let values = found.into_iter().flat_map(|outcome| outcome.values);
            shown.extend(values.filter(|one| one.what == What::SwashLevel));
        }
    }
    println!("{:<34} heads  in peace   green   what is said against it", "right");
    for class in RIGHT.iter().filter(|class| class.name.contains(&only)) {
        let found = outcomes(class, &worlds, true);
        let quiet = share(&found, |outcome| outcome.against.is_empty());
        let green = share(&found, |outcome| outcome.is_green);
        row(class, &found, [quiet, green], &listed(found.iter().flat_map(|o| o.against.clone()), 8));
        example(&found, |outcome| !outcome.against.is_empty());
        hold(&mut short, class, quiet);
        if class.name == AS_DRAWN {
            let values = found.into_iter().flat_map(|outcome| outcome.values);
            shown.extend(values.filter(|one| one.what != What::SwashLevel));
        }
    }
    let kinds = cover(&shown, &mut short);
    assert!(kinds == KINDS || !only.is_empty(), "{kinds} kinds of values were shown");
    assert!(short.is_empty(), "{short:#?}");
}

/// What makes these values uncertain, with its part of all their variances in percent.
fn mostly_from<'a>(values: impl Iterator<Item = &'a Shown>) -> String {
    let mut variances: BTreeMap<String, f64> = BTreeMap::new();
    for share in values.flat_map(|one| one.budget.shares()) {
        *variances.entry(format!("{:?}", share.component)).or_default() += share.standard.degrees().powi(2);
    }
    let whole: f64 = variances.values().sum();
    let mut parts: Vec<(String, f64)> = variances.into_iter().collect();
    parts.sort_by(|one, other| other.1.total_cmp(&one.1));
    let said: Vec<String> =
        parts.iter().take(4).map(|(of, part)| format!("{of} {:.0} %", 100.0 * part / whole)).collect();
    said.join(", ")
}

/// Value ± U holds the truth 95 times in a hundred, with errors as large as u says: as closely as so many values tell.
///
/// Gives how many kinds there are.
fn cover(shown: &[Shown], short: &mut Vec<String>) -> usize {
    let mut tallies: BTreeMap<What, Tally> = BTreeMap::new();
    for one in shown {
        tallies.entry(one.what).or_default().add(one.error, &one.budget);
    }
    println!("{:<34} values    inside  rms/u   median U   mostly from", "value");
    for (what, tally) in &tallies {
        let (share, ratio) = (tally.share(), tally.rms_ratio());
        println!(
            "{:<34} {:>6} {share:>7.1} % {ratio:>6.2} {:>8.2}°   {}",
            what.name(),
            tally.of,
            tally.median_expanded(),
            mostly_from(shown.iter().filter(|one| one.what == *what))
        );
        // Three standard deviations of a sample of so many.
        let (of_share, of_ratio) = (3.0 * tally.chance(), 3.0 / (2.0 * tally.of as f64).sqrt());
        let covers = (93.0 - of_share..=97.0 + of_share).contains(&share);
        let as_large = (0.9 - of_ratio..=1.1 + of_ratio).contains(&ratio);
        if !(covers && as_large) {
            short.push(format!("{}: {share:.1} % inside, rms/u {ratio:.2}", what.name()));
        }
    }
    tallies.len()
}
