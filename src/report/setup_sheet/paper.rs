//! What of a sheet goes on paper: every cell, and of the rest as much as two pages hold.
//!
//! A short record has its notes beside its cells. A long one has its cells in two columns and the notes below, in small type.
//! Whatever is left out says so and where it is: in the sheet's own document.

use super::{Row, SetupSheet};
use crate::record::Verdict;
use crate::words::sheet::{CANNOT_SAY, DO_NOT_RAISE, ELSEWHERE, NOT_AS_WANTED};

/// More cells than this, or more notes, make a record long.
const SHORT_ROWS: usize = 14;
const SHORT_NOTES: usize = 2200;

/// Letters that a list may have, and one line of it.
const NOTES: usize = 2000;
const LIST: usize = 600;
const LINE: usize = 120;
const TITLE: usize = 60;
/// What the shortest line takes of a list.
const LEAST: usize = 35;
/// So many cells are told one by one on the card; more are named in one line.
const ON_CARD: usize = 4;

/// The sheet as it is printed.
pub(super) struct Paper {
    /// The sheet, its lists shortened.
    pub sheet: SetupSheet,
    /// Its cells in columns: one with the notes beside them, or two without.
    pub columns: Vec<Vec<Row>>,
    /// The notes, where they are not beside the cells.
    pub to_know: Vec<String>,
}

impl Paper {
    pub fn new(sheet: &SetupSheet) -> Self {
        let letters: usize = sheet.rows.iter().flat_map(|row| &row.notes).map(|note| cost(note)).sum();
        let long = sheet.rows.len() > SHORT_ROWS || letters > SHORT_NOTES;
        let half = if long { sheet.rows.len().div_ceil(2) } else { sheet.rows.len() };
        let columns = sheet.rows.chunks(half.max(1)).map(<[Row]>::to_vec).collect();
        let to_know = if long { first(&notes(&sheet.rows), NOTES) } else { Vec::new() };
        Self { sheet: shortened(sheet, long), columns, to_know }
    }

    pub fn is_long(&self) -> bool {
        self.columns.len() > 1
    }
}

fn shortened(sheet: &SetupSheet, long: bool) -> SetupSheet {
    let mut short = sheet.clone();
    short.head = clipped(&sheet.head, TITLE);
    for (_, value) in &mut short.facts {
        *value = clipped(value, LINE);
    }
    short.turned = last(&sheet.turned, LIST);
    short.questions = if long { Vec::new() } else { first(&sheet.questions, LIST) };
    for list in [&mut short.symmetry, &mut short.once_more, &mut short.not_measured, &mut short.card.suggests] {
        *list = first(list, LIST);
    }
    for cell in &mut short.card.unknown {
        *cell = clipped(cell, LINE);
    }
    short.card.outside = in_one_line(&sheet.card.outside, &sheet.rows, |v| *v == Verdict::Outside, NOT_AS_WANTED);
    short.card.undecided = in_one_line(
        &sheet.card.undecided,
        &sheet.rows,
        |v| matches!(v, Verdict::Undecided { .. } | Verdict::InQuestion { .. }),
        CANNOT_SAY,
    );
    short.card.bound = in_one_line(&sheet.card.bound, &sheet.rows, |v| *v == Verdict::Bound, DO_NOT_RAISE);
    short
}

/// The notes of all cells: of those first that are not as they should be.
fn notes(rows: &[Row]) -> Vec<String> {
    let good =
        |row: &&Row| row.verdict == Verdict::Inside || matches!(row.verdict, Verdict::Stale { .. } | Verdict::Missing);
    let (good, amiss): (Vec<&Row>, Vec<&Row>) = rows.iter().partition(good);
    amiss.into_iter().chain(good).flat_map(|row| row.named_notes.clone()).collect()
}

/// Told one by one where they are few, else by name: no cell is left out.
fn in_one_line(told: &[String], rows: &[Row], verdict: fn(&Verdict) -> bool, say: &str) -> Vec<String> {
    if told.len() <= ON_CARD {
        return told.to_vec();
    }
    let names: Vec<&str> = rows.iter().filter(|row| verdict(&row.verdict)).map(|row| row.line.cell.as_str()).collect();
    vec![format!("{}: {say}", names.join(", "))]
}

fn cost(line: &str) -> usize {
    line.chars().count().max(LEAST)
}

fn clipped(line: &str, letters: usize) -> String {
    match line.char_indices().nth(letters) {
        Some((end, _)) => format!("{}… (whole {ELSEWHERE})", line[..end].trim_end()),
        None => line.to_owned(),
    }
}

/// The first lines, as many as the letters allow, and how many are elsewhere.
fn first(lines: &[String], letters: usize) -> Vec<String> {
    let mut fit: Vec<String> = fitting(lines.iter(), letters);
    let more = lines.len() - fit.len();
    if more > 0 {
        fit.push(format!("and {more} more {ELSEWHERE}"));
    }
    fit
}

/// The last lines, as many as the letters allow, after how many are elsewhere.
fn last(lines: &[String], letters: usize) -> Vec<String> {
    let mut fit: Vec<String> = fitting(lines.iter().rev(), letters);
    let more = lines.len() - fit.len();
    if more > 0 {
        fit.push(format!("{more} earlier {ELSEWHERE}, then:"));
    }
    fit.reverse();
    fit
}

fn fitting<'a>(lines: impl Iterator<Item = &'a String>, letters: usize) -> Vec<String> {
    let mut used = 0;
    let fits = |line: &String| {
        used += cost(line);
        used <= letters
    };
    lines.map(|line| clipped(line, LINE)).take_while(fits).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(count: usize) -> Vec<String> {
        (1..=count).map(|k| format!("link B +{k} half-turns, as advised, in line {k}")).collect()
    }

    #[test]
    fn what_fits_is_left_as_it_is_and_what_does_not_is_counted() {
        assert_eq!(first(&lines(5), LIST), lines(5));
        assert_eq!(last(&lines(5), LIST), lines(5));
        let (begun, ended) = (first(&lines(60), LIST), last(&lines(60), LIST));
        assert_eq!(begun.len(), ended.len());
        let shown = begun.len() - 1;
        assert!((10..30).contains(&shown), "{shown}");
        assert_eq!(begun[shown], format!("and {} more {ELSEWHERE}", 60 - shown));
        assert_eq!(ended[0], format!("{} earlier {ELSEWHERE}, then:", 60 - shown));
        assert_eq!((&begun[0], &ended[shown]), (&lines(60)[0], &lines(60)[59]));
    }

    #[test]
    fn one_endless_line_is_cut_where_it_says_so() {
        let cut = clipped(&"ä".repeat(400), LINE);
        assert!(cut.starts_with(&"ä".repeat(LINE)) && cut.ends_with(&format!("… (whole {ELSEWHERE})")), "{cut}");
    }
}
