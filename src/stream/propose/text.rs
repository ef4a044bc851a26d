//! A profile for a sensor that prints lines nobody has described: which column or label is what, by how its numbers go.
//!
//! A counter goes up by one a line, a clock by about the same each time. The axes are named so, or are the three neighbouring
//! numbers whose squares sum up to the same gravity in every line. What cannot be told is left for the person to say.

use super::{FEWEST, Known, MOST, Proposal, ProposeError, rounded};
use crate::codec::{ColumnsLayout, LabelledLayout, MOST_COLUMNS};
use crate::identify::counts_per_g_of;
use crate::profile::{Format, Profile};
use crate::stats::robust::median_of;
use crate::units::Hertz;
use std::num::NonZeroU8;

/// One row of numbers with the names of its places: labels, or none of columns.
struct Table {
    labels: Vec<Option<String>>,
    /// Column by column.
    columns: Vec<Vec<f64>>,
    /// Of how many lines it was made.
    rows: usize,
}

/// Looks at lines that came in so many seconds; none where they are no lines of numbers.
pub(super) fn propose(bytes: &[u8], seconds: Option<f64>, known: &Known) -> Option<Result<Proposal, ProposeError>> {
    Table::read(bytes).map(|table| described(&table, seconds, known))
}

fn described(table: &Table, seconds: Option<f64>, known: &Known) -> Result<Proposal, ProposeError> {
    let place = |name: &Option<String>| name.as_ref().map(|name| table.place(name)).transpose();
    let counter = place(&known.counter)?.or_else(|| table.find(&["n", "seq", "count", "counter", "i"], is_counter));
    let clock = |values: &[f64]| is_clock(values);
    let time = match place(&known.time)? {
        Some(time) => Some(time),
        None => table
            .find(&["t", "time", "ts", "ms", "us", "millis", "micros", "timestamp"], clock)
            .filter(|t| Some(*t) != counter),
    };
    let temperature = place(&known.temperature)?.or_else(|| table.named(&["temp", "temperature", "celsius", "tc"]));
    let taken: Vec<usize> = [counter, time, temperature].into_iter().flatten().collect();
    let axes = match &known.axes {
        Some([x, y, z]) => [table.place(x)?, table.place(y)?, table.place(z)?],
        None => table.axes(&taken).ok_or(ProposeError::NoAxes)?,
    };
    let period = seconds.map(|seconds| seconds / table.rows.max(1) as f64);
    let micros_per_tick = time.map(|at| known.micros_per_tick.unwrap_or_else(|| table.tick(at, period)));
    let format = table.format(axes, time.zip(micros_per_tick), counter, temperature)?;
    let norm = table.norm(axes).0;
    let (counts_per_g, gravity_fits) = match known.counts_per_g {
        Some(counts) => (counts, (norm / counts - 1.0).abs() < 0.25),
        None => counts_per_g_of(norm),
    };
    let rate = match (time, micros_per_tick) {
        (Some(at), Some(tick)) => {
            table.columns.get(at).and_then(|values| median_of(steps(values))).map(|step| 1e6 / (step * f64::from(tick)))
        }
        _ => period.map(|period| 1.0 / period),
    };
    // To two figures: it is a nominal rate.
    let rate = rate.filter(|rate| *rate > 0.0 && *rate <= 10_000.0).map(|rate| Hertz::new(rounded(rate)));
    let profile = Profile { format, counts_per_g, rate, ..Profile::columns() };
    Ok(Proposal { profile, places: table.places(), gravity_fits, doubts: Vec::new() })
}

impl Table {
    fn read(bytes: &[u8]) -> Option<Self> {
        let text = String::from_utf8_lossy(bytes);
        let mut lines: Vec<&str> = text.split('\n').skip(1).map(str::trim).filter(|line| !line.is_empty()).collect();
        lines.pop();
        let rows: Vec<Vec<(Option<String>, f64)>> = lines.iter().filter_map(|line| row(line)).collect();
        let shape = |row: &[(Option<String>, f64)]| row.iter().map(|(label, _)| label.clone()).collect::<Vec<_>>();
        let middle = shape(rows.get(rows.len() / 2)?);
        let alike: Vec<_> = rows.into_iter().filter(|row| shape(row) == middle).collect();
        let enough = alike.len() >= FEWEST && alike.len() as f64 >= MOST * lines.len() as f64;
        let width = middle.len();
        if !enough || width < 3 || width > usize::from(MOST_COLUMNS) {
            return None;
        }
        let column = |at: usize| alike.iter().filter_map(|row| row.get(at).map(|(_, value)| *value)).collect();
        Some(Self { labels: middle, columns: (0..width).map(column).collect(), rows: lines.len() })
    }

    fn name(&self, at: usize) -> String {
        self.labels.get(at).cloned().flatten().unwrap_or_else(|| (at + 1).to_string())
    }

    fn places(&self) -> Vec<(String, f64)> {
        let last = |values: &Vec<f64>| values.last().copied().unwrap_or_default();
        self.columns.iter().enumerate().map(|(at, values)| (self.name(at), last(values))).collect()
    }

    fn place(&self, name: &str) -> Result<usize, ProposeError> {
        let at = (0..self.columns.len()).find(|at| self.name(*at).eq_ignore_ascii_case(name.trim()));
        let places = || (0..self.columns.len()).map(|at| self.name(at)).collect();
        at.ok_or_else(|| ProposeError::NoPlace { name: name.to_owned(), places: places() })
    }

    fn named(&self, names: &[&str]) -> Option<usize> {
        self.labels.iter().position(|label| {
            label.as_ref().is_some_and(|label| names.iter().any(|name| label.eq_ignore_ascii_case(name)))
        })
    }

    /// By its name, else, in columns, by how it goes.
    fn find(&self, names: &[&str], goes: impl Fn(&[f64]) -> bool) -> Option<usize> {
        self.named(names).filter(|at| self.columns.get(*at).is_some_and(|values| goes(values))).or_else(|| {
            self.columns.iter().position(|values| goes(values)).filter(|_| self.labels.iter().all(Option::is_none))
        })
    }

    /// The axes by their names, else the neighbours whose length is the steadiest.
    fn axes(&self, taken: &[usize]) -> Option<[usize; 3]> {
        let free: Vec<usize> = (0..self.columns.len()).filter(|at| !taken.contains(at)).collect();
        self.axes_by_name(&free).or_else(|| {
            let triples = free.windows(3).filter_map(|three| <[usize; 3]>::try_from(three).ok());
            let spread = |axes: &[usize; 3]| {
                let (norm, spread) = self.norm(*axes);
                let gravity = counts_per_g_of(norm).1;
                (!gravity, spread / norm.max(f64::MIN_POSITIVE))
            };
            triples.min_by(|a, b| {
                let (a, b) = (spread(a), spread(b));
                a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
            })
        })
    }

    /// Three labels that differ in one letter alone, which is x, y and z.
    fn axes_by_name(&self, free: &[usize]) -> Option<[usize; 3]> {
        let lower = |at: usize| self.labels.get(at).cloned().flatten().map(|label| label.to_ascii_lowercase());
        free.iter().find_map(|x| {
            let label = lower(*x)?;
            label.match_indices('x').find_map(|(at, _)| {
                let with = |letter: &str| {
                    format!("{}{letter}{}", label.get(..at).unwrap_or(""), label.get(at + 1..).unwrap_or(""))
                };
                let find = |letter: &str| free.iter().copied().find(|at| lower(*at) == Some(with(letter)));
                Some([*x, find("y")?, find("z")?])
            })
        })
    }

    /// The median length of the force, and how far half of the lines stray from it.
    fn norm(&self, axes: [usize; 3]) -> (f64, f64) {
        let value =
            |at: usize, row: usize| self.columns.get(at).and_then(|values| values.get(row)).copied().unwrap_or(0.0);
        let rows = self.columns.first().map_or(0, Vec::len);
        let length = |row: usize| axes.iter().map(|at| value(*at, row).powi(2)).sum::<f64>().sqrt();
        let norm = median_of((0..rows).map(length)).unwrap_or(0.0);
        (norm, median_of((0..rows).map(|row| (length(row) - norm).abs())).unwrap_or(0.0))
    }

    /// Microseconds in one unit of the clock: what makes its step nearest to the period, else what a step usually is.
    fn tick(&self, at: usize, period: Option<f64>) -> u32 {
        let values = self.columns.get(at).map(Vec::as_slice).unwrap_or_default();
        let step = median_of(steps(values)).unwrap_or(1.0).max(f64::MIN_POSITIVE);
        // Without a watch: fractions are seconds, and a sensor sends 2 to 1000 samples a second.
        let micros = period.map_or(
            if step < 1.0 {
                step * 1e6
            } else if step < 500.0 {
                step * 1e3
            } else {
                step
            },
            |p| p * 1e6,
        );
        let off = |tick: u32| (step * f64::from(tick) / micros).ln().abs();
        [1, 1000, 1_000_000].into_iter().min_by(|a, b| off(*a).total_cmp(&off(*b))).unwrap_or(1)
    }

    fn format(
        &self,
        axes: [usize; 3],
        time: Option<(usize, u32)>,
        counter: Option<usize>,
        temperature: Option<usize>,
    ) -> Result<Format, ProposeError> {
        let mut all: Vec<usize> =
            axes.into_iter().chain(time.map(|(at, _)| at)).chain(counter).chain(temperature).collect();
        all.sort_unstable();
        if let Some(pair) = all.windows(2).find(|pair| pair.first() == pair.last()) {
            return Err(ProposeError::Twice(self.name(pair.first().copied().unwrap_or(0))));
        }
        let micros_per_tick = time.map_or(1, |(_, tick)| tick);
        let time = time.map(|(at, _)| at);
        if self.labels.iter().all(Option::is_none) {
            let column = |at: usize| u8::try_from(at + 1).ok().and_then(NonZeroU8::new).unwrap_or(NonZeroU8::MIN);
            let layout = ColumnsLayout {
                axes: axes.map(column),
                time: time.map(column),
                micros_per_tick,
                counter: counter.map(column),
                temperature: temperature.map(column),
            };
            return Ok(Format::Columns(layout));
        }
        let label = |at: usize| self.name(at);
        Ok(Format::Labelled(LabelledLayout {
            axes: axes.map(label),
            time: time.map(label),
            micros_per_tick,
            counter: counter.map(label),
            temperature: temperature.map(label),
        }))
    }
}

/// The numbers of one line, each with its label if it has one; none if anything else is in it.
fn row(line: &str) -> Option<Vec<(Option<String>, f64)>> {
    let number = |text: &str| text.parse::<f64>().ok().filter(|value| value.is_finite());
    let mut parts = line.split([',', ';', '\t', ' ']).filter(|part| !part.is_empty());
    let mut found = Vec::new();
    while let Some(part) = parts.next() {
        match part.split_once([':', '=']) {
            Some((label, "")) => found.push((Some(label.to_owned()), number(parts.next()?)?)),
            Some((label, value)) => found.push((Some(label.to_owned()), number(value)?)),
            None => found.push((None, number(part)?)),
        }
    }
    let labelled = found.iter().filter(|(label, _)| label.is_some()).count();
    (labelled == 0 || labelled == found.len()).then_some(found)
}

fn steps(values: &[f64]) -> impl Iterator<Item = f64> {
    values.windows(2).filter_map(|pair| Some(pair.last()? - pair.first()?))
}

fn share(values: &[f64], is: impl Fn(f64) -> bool) -> f64 {
    let count = values.len().saturating_sub(1).max(1) as f64;
    steps(values).filter(|step| is(*step)).count() as f64 / count
}

fn is_counter(values: &[f64]) -> bool {
    share(values, |step| step == 1.0) >= MOST
}

fn is_clock(values: &[f64]) -> bool {
    let Some(step) = median_of(steps(values)).filter(|step| *step > 0.0 && *step != 1.0) else { return false };
    share(values, |each| (each / step - 1.0).abs() <= 0.5) >= MOST
}
