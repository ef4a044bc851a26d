//! Value ± U holds the truth 95 times in a hundred: a small part of what `cargo bench --bench coverage` simulates.

use support::coverage::{Kind, Shown, halved, many, setup, studied_setup, tally};

/// The share asked for, percent, and how far chance may carry a small sample beyond it: three standard deviations.
const ASKED: std::ops::RangeInclusive<f64> = 93.0..=97.0;
const BY_CHANCE: f64 = 3.0;
/// Root mean square of error over standard uncertainty: 1 where the uncertainty is that of the errors. The least of the samples
/// has 400 of them, so that chance moves it by 1/√(2·400) = 0.035.
const RATIO: std::ops::Range<f64> = 0.9..1.1;

#[test]
fn the_truth_lies_within_u_95_times_in_a_hundred_and_no_longer_when_what_is_assumed_is_halved() {
    let shown = many(0..300, setup);
    let found = tally(&shown, Clone::clone);
    assert_eq!(found.len(), Kind::COUNT, "not every kind of value was shown");
    for (kind, tally) in &found {
        let slack = BY_CHANCE * tally.chance();
        println!("{}: {:.1} % of {}, rms/u {:.2}", kind.name(), tally.share(), tally.of, tally.rms_ratio());
        assert!(
            (ASKED.start() - slack..=ASKED.end() + slack).contains(&tally.share()),
            "{}: {:.1} %",
            kind.name(),
            tally.share()
        );
        assert!(RATIO.contains(&tally.rms_ratio()), "{}: rms(error/u) {:.2}", kind.name(), tally.rms_ratio());
    }
    let less = tally(&shown, halved);
    for (kind, usual) in &found {
        let less = &less[kind];
        let (share, ratio) = (less.share(), less.rms_ratio());
        println!("{}, what is assumed halved: {share:.1} %, rms/u {ratio:.2}", kind.name());
        assert!(kind.is_shaken_by(usual, less), "{}: {share:.1} %, {ratio:.2}", kind.name());
    }
}

#[test]
fn a_clip_that_seats_twice_as_badly_widens_an_absolute_angle_and_leaves_a_travel() {
    let usual = many(0..40, |seed| studied_setup(seed, 1.0));
    let worse = many(0..40, |seed| studied_setup(seed, 2.0));
    let grown = |kind| median_expanded(&worse, kind) / median_expanded(&usual, kind);
    let (angle, travel) = (grown(Kind::Angle), grown(Kind::Travel));
    println!("U grows {angle:.2} times in an angle, {travel:.3} times in a travel");
    assert!(angle > 1.5, "{angle}");
    assert!((travel - 1.0).abs() < 0.02, "{travel}");
    // And it is no more than what the clip does.
    let share = tally(&worse, Clone::clone)[&Kind::Angle].share();
    assert!((90.0..99.5).contains(&share), "{share}");
}

fn median_expanded(shown: &[Shown], kind: Kind) -> f64 {
    tally(shown, Clone::clone)[&kind].median_expanded()
}
