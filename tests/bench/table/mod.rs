//! The rows, and which of them are wanted.

mod bound;
mod chain;
mod decode;
mod efficiency;
mod grown;
mod latency;
mod line;
mod logbook;
mod peer;
mod quantiles;
mod recorded;
mod repeated;
mod share;
mod size;
mod solve;
mod start;
mod wire;
mod workshop;

use line::Line;

/// Names a row, and measures it.
struct Row {
    name: &'static str,
    measure: fn(Size, &mut Told),
}

const ROWS: [Row; 9] = [
    Row { name: "decode", measure: decode::measure },
    Row { name: "chain", measure: chain::measure },
    Row { name: "latency", measure: latency::measure },
    Row { name: "share", measure: share::measure },
    Row { name: "efficiency", measure: efficiency::measure },
    Row { name: "solve", measure: solve::measure },
    Row { name: "logbook", measure: logbook::measure },
    Row { name: "start", measure: start::measure },
    Row { name: "size", measure: size::measure },
];

/// How much is measured.
#[derive(Clone, Copy, PartialEq)]
enum Size {
    Full,
    Quick,
}

impl Size {
    fn or<T>(self, full: T, quick: T) -> T {
        if self == Self::Full { full } else { quick }
    }
}

/// Prints each line as it is measured, and remembers whether a goal was missed.
#[derive(Default)]
struct Told {
    missed: usize,
}

impl Told {
    fn tell(&mut self, line: &Line) {
        println!("{line}");
        self.missed += usize::from(line.is_missed());
    }
}

/// The exit code.
pub fn main() -> i32 {
    let (rows, size) = asked();
    let mut told = Told::default();
    println!("{}", machine());
    println!("{}", Line::HEADING);
    for row in rows {
        (row.measure)(size, &mut told);
    }
    match told.missed {
        0 => println!("every goal holds"),
        missed => println!("{missed} missed"),
    }
    i32::from(told.missed > 0)
}

fn asked() -> (Vec<&'static Row>, Size) {
    let (mut names, mut size) = (Vec::new(), Size::Full);
    for argument in std::env::args().skip(1) {
        match argument.as_str() {
            // Given by cargo itself.
            "--bench" => {}
            "--quick" => size = Size::Quick,
            name if ROWS.iter().any(|row| row.name == name) => names.push(argument),
            _ => {
                let known: Vec<&str> = ROWS.iter().map(|row| row.name).collect();
                eprintln!("usage: cargo bench --bench table -- [--quick] [ROW]...\nrows: {}", known.join(" "));
                std::process::exit(2);
            }
        }
    }
    (ROWS.iter().filter(|row| names.is_empty() || names.iter().any(|name| name == row.name)).collect(), size)
}

/// What it is measured on.
fn machine() -> String {
    let cores = std::thread::available_parallelism().map_or(0, usize::from);
    let text = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let model = text.lines().find_map(|line| line.strip_prefix("model name")?.split_once(": "));
    format!("{cores} cores, {}", model.map_or("unknown", |(_, model)| model))
}
