//! The list below the figure: the cells, or the order of the steps, and what is to be said of the line that is chosen.

use super::drawn::{BOLD, FAINT};
use super::view::{List, View};
use super::wrap::wrapped;
use crate::bench::conductor::{Cell, CellState, OrderLine, OrderState, Sheet};
use crate::units::Angle;
use crate::words;
use crate::words::table::Row;
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;

const CHOSEN: Style = Style::new().add_modifier(Modifier::REVERSED);

/// The lines that fit, so that the chosen one, else the one at hand, is among them.
pub(super) fn rows(sheet: &Sheet, view: &View, height: usize) -> Vec<Line<'static>> {
    let (texts, now): (Vec<String>, Option<usize>) = match view.list {
        List::Sheet => (sheet.cells.iter().map(cell).collect(), view.now(sheet)),
        List::Order => (sheet.order.iter().zip(1..).map(|(line, n)| order(line, n)).collect(), view.now(sheet)),
    };
    let chosen = view.chosen(sheet);
    let seen = window(texts.len(), height, chosen.or(now));
    let style = |at: usize| match at {
        at if Some(at) == chosen => CHOSEN,
        at if Some(at) == now => BOLD,
        _ => Style::new(),
    };
    let (first, last) = (seen.start, seen.end);
    let more = |at: usize| {
        if at == first && first > 0 {
            "↑"
        } else if at + 1 == last && last < texts.len() {
            "↓"
        } else {
            " "
        }
    };
    seen.map(|at| Line::styled(format!("{}{}", more(at), texts[at]), style(at))).collect()
}

/// So many of all lines, with this one as near to the middle as can be.
fn window(all: usize, height: usize, wanted: Option<usize>) -> std::ops::Range<usize> {
    let height = height.min(all);
    let start = wanted.unwrap_or(0).saturating_sub(height / 2).min(all - height);
    start..start + height
}

fn cell(cell: &Cell) -> String {
    let angles = cell.value_deg.zip(cell.expanded_deg);
    let value = angles.map(|(value, expanded)| (Angle::from_degrees(value), Angle::from_degrees(expanded)));
    let mark = cell.mark.chars().next().unwrap_or(' ');
    let now = if cell.state == CellState::Now { ">" } else { " " };
    format!("{now} {}", Row::new(&cell.cell.to_string(), value, &cell.target, cell.verdict.word(), mark).line())
}

fn order(line: &OrderLine, number: usize) -> String {
    let (now, state) = match line.state {
        OrderState::Now => (">", "now"),
        OrderState::Captured => (" ", "captured"),
        OrderState::Later => (" ", ""),
        OrderState::Skipped => (" ", "skipped"),
    };
    format!("{now} {number:>2} {:<28} {state}", line.label)
}

/// What is to be said of the chosen cell: what it asks, what follows from it, what to turn, what it was before.
pub(super) fn details(sheet: &Sheet, view: &View, width: usize) -> Vec<Line<'static>> {
    let Some(cell) = view.chosen(sheet).filter(|_| view.list == List::Sheet).map(|at| &sheet.cells[at]) else {
        return Vec::new();
    };
    let mut said: Vec<&str> = cell.question.iter().map(String::as_str).collect();
    said.extend(cell.advice.as_deref());
    said.push(&cell.consequence);
    said.extend(cell.remarks.iter().map(String::as_str));
    let mut text = said.join(" ");
    if !cell.history.is_empty() {
        let line = |line: &crate::bench::conductor::HistoryLine| {
            format!("{} {:+.2}°{}", line.at, line.angle_deg, if line.withdrawn { words::watch::TAKEN_BACK } else { "" })
        };
        let before: Vec<String> = cell.history.iter().map(line).collect();
        text = format!("Read before: {}. {text}", before.join(" · "));
    }
    wrapped(&text, width).into_iter().map(|line| Line::styled(line, FAINT)).collect()
}

#[cfg(test)]
mod tests {
    use super::window;

    #[test]
    fn the_line_at_hand_is_always_among_those_that_are_seen() {
        for all in 0..30 {
            for height in 1..12 {
                for wanted in 0..all {
                    let seen = window(all, height, Some(wanted));
                    assert!(seen.contains(&wanted) && seen.len() == height.min(all) && seen.end <= all, "{seen:?}");
                }
            }
        }
        assert_eq!(window(10, 4, None), 0..4);
    }
}
