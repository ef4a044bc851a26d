//! What the record says of heads whose fault is known, and of heads that are right.
//!
//! Each head, sensor and hand is drawn at random; the same heads go through every class. The person does the guided job:
//! the zeros in the order of the plan, each axis' ends with the neutrals before and after them, the tail with both leading edges,
//! every axis once more. The truth is the simulated head's.

mod bench;
mod cells;
mod faults;
mod values;
mod world;

pub use bench::Bench;
pub use faults::{Class, FAULTS, RIGHT};
pub use values::{Shown, What, values};
pub use world::World;

use clinoblade::record::{Advice, Cell, CellFinding, CellName, LimitRecord, Undecided, Verdict, remedy};
use clinoblade::rig::noise::Random;
use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What one head came out as.
#[derive(Debug, Clone)]
pub struct Outcome {
    pub seed: u64,
    /// Every owed cell is there, and every cell is as it should be.
    pub is_green: bool,
    /// The word of the verdict that is worst among the cells that are to show it.
    pub shown: &'static str,
    /// What is said against it, in one word each; nothing of a right head.
    pub against: Vec<String>,
    /// Every value that is shown, and how far it is off.
    pub values: Vec<Shown>,
    /// The cells that are to show it, or whose verdict is none of a right head, in a line each.
    pub cells: Vec<String>,
}

impl Outcome {
    /// Whether a cell that is to show the fault says anything but that all is as it should be.
    pub fn is_found(&self) -> bool {
        !matches!(self.shown, "inside" | "bound" | "no cell")
    }
}

/// Heads of one draw.
pub fn worlds(seed: u64, heads: usize) -> Vec<World> {
    parallel(heads, |head| World::right(seed.wrapping_mul(1_000_003).wrapping_add(head as u64)))
}

/// The bench after the job of one head of a class.
pub fn done(class: &Class, world: &World) -> Bench {
    let mixed = class.name.bytes().fold(world.seed, |mixed, byte| mixed.rotate_left(7) ^ u64::from(byte));
    let mut random = Random::new(mixed);
    let mut world = world.clone();
    (class.make)(&mut world, &mut random);
    let mut bench = Bench::new(&world);
    (class.act)(&mut bench, &mut random);
    bench
}

/// All heads through one class.
pub fn outcomes(class: &Class, worlds: &[World], is_right: bool) -> Vec<Outcome> {
    parallel(worlds.len(), |head| {
        let bench = done(class, &worlds[head]);
        let record = bench.record();
        let shows = |cell: &&Cell| (!is_right && (class.shows)(cell.name)) || !cell.verdict.is_good();
        Outcome {
            seed: worlds[head].seed,
            cells: record.cells.iter().filter(shows).map(line).collect(),
            is_green: record.good && record.complete,
            shown: shown(&record, class.shows),
            against: if is_right { against(&bench, &record) } else { Vec::new() },
            values: values(&bench, &record),
        }
    })
}

/// The verdict that says most against a head first.
const WORST_FIRST: [&str; 9] =
    ["outside", "in question", "asked", "stale", "missing", "goes further", "undecided", "bound", "inside"];

/// One word for a cell; of one that is asked about, that it is; of a bound one whose stick is not known to stop there, that it goes on.
fn word(cell: &Cell) -> &'static str {
    let asked = cell.question.is_some() || matches!(cell.verdict, Verdict::Undecided { by: Undecided::Questioned });
    match (&cell.verdict, &cell.consequence) {
        _ if asked => "asked",
        (Verdict::Bound, Some(CellFinding::BackedOff { .. } | CellFinding::StickGoesFurther { .. })) => "goes further",
        (verdict, _) => verdict.word(),
    }
}

/// What a cell says, for whoever looks into a head.
fn line(cell: &Cell) -> String {
    let judged = cell.judged().map_or_else(String::new, |(value, expanded)| {
        format!(" {:.2} ± {:.2} of {}", value.degrees(), expanded.degrees(), cell.target)
    });
    format!("{}: {}{judged}", cell.name, word(cell))
}

fn shown(record: &LimitRecord, shows: fn(CellName) -> bool) -> &'static str {
    let words = || record.cells.iter().filter(|cell| shows(cell.name)).map(word);
    WORST_FIRST.into_iter().find(|worst| words().any(|word| word == *worst)).unwrap_or("no cell")
}

/// Everything that says of a right head that it is not.
fn against(bench: &Bench, record: &LimitRecord) -> Vec<String> {
    let mut against = Vec::new();
    for cell in &record.cells {
        let word = word(cell);
        if matches!(word, "outside" | "in question" | "asked" | "stale") || (word == "missing" && cell.is_owed()) {
            against.push(format!("{} {word}", cell.name));
        }
        if cell.verdict.is_good() {
            continue;
        }
        match remedy(&bench.head, &bench.entries, record, cell) {
            Some(Advice::Links(_)) => against.push(format!("{} links", cell.name)),
            Some(Advice::LevelPlate(_)) => against.push(format!("{} servo links", cell.name)),
            // A plate that is said not to stand level stands in its cell.
            _ => {}
        }
    }
    against
}

/// How often each of these was said, the most frequent first.
pub fn counted<T: Ord + Clone>(of: impl Iterator<Item = T>) -> Vec<(T, usize)> {
    let mut counts: BTreeMap<T, usize> = BTreeMap::new();
    for one in of {
        *counts.entry(one).or_default() += 1;
    }
    let mut counts: Vec<(T, usize)> = counts.into_iter().collect();
    counts.sort_by_key(|count| std::cmp::Reverse(count.1));
    counts
}

/// Shared out among the cores; in order.
fn parallel<T: Send>(count: usize, of: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let (next, all) = (AtomicUsize::new(0), Mutex::new(BTreeMap::new()));
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    if index >= count {
                        return;
                    }
                    let made = of(index);
                    all.lock().unwrap().insert(index, made);
                }
            });
        }
    });
    all.into_inner().unwrap().into_values().collect()
}
