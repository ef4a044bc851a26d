//! Does a true value lie within ±U of the value that is shown, 95 times in a hundred?
//!
//! Each setup is a head, a sensor and a person drawn at random; every reading goes the whole way, from the simulated
//! sensor's bytes through decoder, calibration, filter and datum into the record. The truth is the simulated head's, which
//! builds its vectors from rotation matrices of its own.
//!
//! What is drawn, beside the head itself:
//!
//! | what | how |
//! | --- | --- |
//! | sensor | offsets ±80 mg, scales ±5 %, axes ±0.7° from square and ±1.9° in the case, uniform; 100 to 300 µg/√Hz |
//! | calibration | a tumble of twelve rests, made from that sensor's own bytes |
//! | datum | a reversal on a surface up to 3° out of level, on which the clip lies to 0.05° |
//! | clip | 1° off along chord and span; at every seat anew 0.1° off, and 1.2° from square to the span |
//! | person | stands the blade ±5° from its station, uniform, anew at every turn of the head |
//! | model | shaft ±2° out of level each way, swashplate tilted by half a degree, blades drooping up to 3° |
//! | warmth | 1 °C since the datum, a tenth between two captures; offsets drift by up to 1 mg/°C along each axis |
//!
//! Left out, because no budget claims it: lost motion, a stick that is not where it is said to be, servos that creep.

mod bench;
mod world;

pub use bench::{Bench, checked};

use clinoblade::record::{CellName, Head, LimitRecord};
use clinoblade::rotor::{Axis, BladeName, Deflection};
use clinoblade::stats::robust::median_of;
use clinoblade::uncertainty::{Budget, Contribution};
use clinoblade::units::Angle;
use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// What a value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// One blade's angle against the datum, as it stands.
    Angle,
    /// A blade at mid stick, at its station.
    Zero,
    /// Two blades at one station.
    Split,
    /// A cyclic limit: elevator and aileron, from neutral.
    Travel,
    /// An end point of the tail.
    Limit,
    /// A tail blade as it stands at an end point.
    TailPitch,
}

impl Kind {
    /// How many there are.
    pub const COUNT: usize = 6;

    pub const fn name(self) -> &'static str {
        match self {
            Self::Angle => "angle",
            Self::Zero => "zero",
            Self::Split => "track split",
            Self::Travel => "cyclic travel",
            Self::Limit => "tail limit",
            Self::TailPitch => "tail pitch",
        }
    }

    /// Whether the kind shows that what its budgets assume was halved: fewer true values inside, errors that outgrow u,
    /// and a share below what is asked for.
    ///
    /// The last is not asked of a tail limit. It is the difference of two readings on one seat, leading edge and stand of the
    /// model: the clip and the model's roll (assumed, and the largest components of either reading) are the same error in both
    /// and drop out. More than half of what is left is measured (calibration, repeat), the rest is skew alone: halving that
    /// cannot take it far. Nor of a cyclic travel, which is such a difference too: the mean of what its station costs is taken out,
    /// and only the spread of that is assumed.
    pub fn is_shaken_by(self, usual: &Tally, halved: &Tally) -> bool {
        let grown = halved.rms_ratio() > 1.15 * usual.rms_ratio() && halved.share() < usual.share() - 2.0;
        grown && (matches!(self, Self::Travel | Self::Limit) || halved.share() < LEAST_SHARE - 3.0 * halved.chance())
    }
}

/// The least share of true values inside ±U that is asked for, percent.
pub const LEAST_SHARE: f64 = 93.0;

/// One value shown, and how far it is off.
#[derive(Debug, Clone)]
pub struct Shown {
    pub kind: Kind,
    pub error: Angle,
    pub budget: Budget,
}

/// One setup from the first rest of the calibration to the record.
pub fn setup(seed: u64) -> Vec<Shown> {
    job(Bench::new(seed, world::scenario(seed)))
}

/// The same with a clip that seats `times` as badly as usual, and a re-seat study that shows it.
pub fn studied_setup(seed: u64, times: f64) -> Vec<Shown> {
    let mut world = world::scenario(seed);
    world.clip.reseat_deg = world.clip.reseat_deg * times;
    let mut bench = Bench::new(seed, world);
    bench.study_the_clip(8);
    job(bench)
}

fn job(mut bench: Bench) -> Vec<Shown> {
    bench.job();
    let mut shown = bench.angles();
    shown.extend(cells(&bench, &bench.record()));
    shown
}

/// Many setups, shared out among the cores; in the order of their seeds.
pub fn many(seeds: std::ops::Range<u64>, setup: impl Fn(u64) -> Vec<Shown> + Sync) -> Vec<Shown> {
    let (next, all) = (AtomicU64::new(seeds.start), Mutex::new(BTreeMap::new()));
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if !seeds.contains(&seed) {
                        return;
                    }
                    let shown = setup(seed);
                    all.lock().unwrap().insert(seed, shown);
                }
            });
        }
    });
    all.into_inner().unwrap().into_values().flatten().collect()
}

/// Every cell of the record against the truth.
fn cells(bench: &Bench, record: &LimitRecord) -> Vec<Shown> {
    let mut shown = Vec::new();
    for cell in &record.cells {
        let Some(value) = &cell.value else { continue };
        assert!(cell.question.is_none(), "{}: {:?}", cell.name, cell.question);
        let (kind, truth) = match cell.name {
            CellName::Zero(blade) => (Kind::Zero, bench.collective(blade)),
            CellName::Track(blade) => {
                (Kind::Split, bench.pitch_at_station(blade) - bench.pitch_at_station(BladeName::A))
            }
            CellName::Limit(end) if end.axis() == Axis::Rudder => (Kind::Limit, bench.travel(end)),
            CellName::Limit(end) => (Kind::Travel, bench.travel(end)),
            _ => continue,
        };
        shown.push(Shown { kind, error: value.angle - truth, budget: value.budget.clone() });
        if let (CellName::Limit(end), Some(stands)) = (cell.name, &cell.stands) {
            // Far from zero at either end: its size tells it.
            let truth = bench.tail_pitch(stands.blade.index(), &end.direction()).abs();
            let error = stands.angle.abs() - truth;
            shown.push(Shown { kind: Kind::TailPitch, error, budget: stands.budget.clone() });
        }
    }
    shown
}

/// How often the truth lay inside.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    pub inside: usize,
    pub of: usize,
    expanded: Vec<f64>,
    squares: f64,
    ratios: f64,
}

impl Tally {
    /// Counts a value that is off by so much, with what made it uncertain.
    pub fn add(&mut self, error: Angle, budget: &Budget) {
        let (error, all) = (error.degrees(), budget.expanded());
        self.of += 1;
        self.inside += usize::from(error.abs() <= all.expanded.degrees());
        self.expanded.push(all.expanded.degrees());
        self.squares += error * error;
        self.ratios += (error / all.standard.degrees()).powi(2);
    }

    /// The share inside, percent.
    pub fn share(&self) -> f64 {
        100.0 * self.inside as f64 / self.of as f64
    }

    /// Standard deviation of that share by chance alone, at a true 95 %, percent.
    pub fn chance(&self) -> f64 {
        100.0 * (0.95 * 0.05 / self.of as f64).sqrt()
    }

    /// The U of the middle value, degrees.
    pub fn median_expanded(&self) -> f64 {
        median_of(self.expanded.iter().copied()).unwrap_or(f64::NAN)
    }

    /// Root mean square of the errors, degrees.
    pub fn rms(&self) -> f64 {
        (self.squares / self.of as f64).sqrt()
    }

    /// Root mean square of error over standard uncertainty: 1 where the uncertainty is that of the errors.
    pub fn rms_ratio(&self) -> f64 {
        (self.ratios / self.of as f64).sqrt()
    }
}

/// Counts, each budget first changed as asked.
pub fn tally(shown: &[Shown], change: impl Fn(&Budget) -> Budget) -> BTreeMap<Kind, Tally> {
    let mut tallies: BTreeMap<Kind, Tally> = BTreeMap::new();
    for one in shown {
        tallies.entry(one.kind).or_default().add(one.error, &change(&one.budget));
    }
    tallies
}

/// The budget with every component that was assumed, not measured, half as large.
pub fn halved(budget: &Budget) -> Budget {
    Budget::new(budget.contributions().iter().map(|contribution| {
        let by = if contribution.assumed { 0.5 } else { 1.0 };
        Contribution { effects: contribution.effects.iter().map(|&e| e * by).collect(), ..contribution.clone() }
    }))
}

/// The head as its owner describes it.
pub fn described(scenario: &clinoblade::rig::Scenario) -> Head {
    let mut text = Head::template("Workshop trainer");
    if scenario.head.rotation == clinoblade::rig::Rotation::Anticlockwise {
        text = text.replace("rotation = \"clockwise\"", "rotation = \"anticlockwise\"");
    }
    text = text.replace("blades = 2\n\n# Phase", &format!("blades = {}\n\n# Phase", scenario.head.blades));
    Head::from_toml(&text).unwrap()
}

/// A deflection by its words.
pub fn deflection(words: &str) -> Deflection {
    words.parse().unwrap()
}
