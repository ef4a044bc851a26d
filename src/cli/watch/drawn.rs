//! What the terminal shows: the next step, the angle in large figures, its target and steadiness, and the sheet.

use crate::bench::conductor::{CellState, LinkState, Live, Sheet, Target};
use crate::guide::Phase;
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Gauge, Paragraph, Wrap};
use tui_big_text::{BigText, PixelSize};

const BOLD: Style = Style::new().add_modifier(Modifier::BOLD);
const FAINT: Style = Style::new().add_modifier(Modifier::DIM);

/// Draws the session.
pub(super) fn draw(frame: &mut Frame<'_>, sheet: &Sheet, live: Option<&Live>, refused: Option<&str>) {
    let area = frame.area();
    let [step, figure, still, cells, foot] = Layout::vertical([
        Constraint::Length(step_height(sheet)),
        Constraint::Length(if area.height > 24 { 8 } else { 4 }),
        Constraint::Length(2),
        Constraint::Min(3),
        Constraint::Length(1),
    ])
    .areas(area);
    draw_step(frame, step, sheet, refused);
    draw_figure(frame, figure, live);
    draw_still(frame, still, sheet, live);
    frame.render_widget(Paragraph::new(cell_lines(sheet)), cells);
    frame.render_widget(Paragraph::new(foot_line(sheet)).style(FAINT), foot);
}

fn step_height(sheet: &Sheet) -> u16 {
    let answers = if sheet.step.phase == Phase::Cautions { 1 } else { sheet.step.choices.len() };
    u16::try_from(4 + answers).unwrap_or(8).min(9)
}

fn draw_step(frame: &mut Frame<'_>, area: Rect, sheet: &Sheet, refused: Option<&str>) {
    let step = &sheet.step;
    let mut lines = vec![Line::styled(step.sentence.clone(), BOLD)];
    match refused.or(step.why.as_deref()) {
        Some(why) => lines.push(Line::raw(why.to_owned())),
        None => lines.push(Line::styled(step.detail.clone(), FAINT)),
    }
    if let Some((n, caution)) = sheet.cautions.iter().enumerate().find(|(_, line)| !line.acknowledged) {
        let number = format!("{} of {}: ", n + 1, sheet.cautions.len());
        lines.push(Line::from(vec![
            Span::styled("[space] ", BOLD),
            Span::raw(number),
            Span::raw(caution.text.clone()),
        ]));
    } else {
        lines.extend(step.choices.iter().zip(1..).map(|(choice, n)| {
            let key = choice.key.map_or_else(|| format!("[{n}] "), |key| format!("[{key}] "));
            Line::from(vec![Span::styled(key, BOLD), Span::raw(choice.label.clone())])
        }));
    }
    frame.render_widget(Paragraph::new(lines).wrap(Wrap { trim: true }), area);
}

fn draw_figure(frame: &mut Frame<'_>, area: Rect, live: Option<&Live>) {
    let angle = live.and_then(|live| live.angle_deg).filter(|angle| angle.is_finite());
    let text = angle.map_or_else(|| "  --.--".to_owned(), |angle| format!("{angle:+7.2}"));
    let size = if area.height >= 8 { PixelSize::Full } else { PixelSize::Quadrant };
    frame.render_widget(BigText::builder().pixel_size(size).lines(vec![text.into()]).build(), area);
}

fn draw_still(frame: &mut Frame<'_>, area: Rect, sheet: &Sheet, live: Option<&Live>) {
    let [words, bar] = Layout::vertical([Constraint::Length(1), Constraint::Length(1)]).areas(area);
    let target = match sheet.section.target {
        Some(Target::Band { value_deg, tolerance_deg }) => format!("wanted {value_deg} ± {tolerance_deg}°   "),
        Some(Target::AtMost { value_deg }) => format!("wanted at most {value_deg}°   "),
        None => String::new(),
    };
    let live_words = match live {
        None => "no reading".to_owned(),
        Some(Live { said: Some(said), .. }) => said.clone(),
        Some(live) => {
            let travel = live.travel_deg.map(|travel| format!("travel {travel:+.2}°   ")).unwrap_or_default();
            let sharp = live.expanded_deg.map(|u| format!("± {u:.2}°   ")).unwrap_or_default();
            let still = if live.moving { "moving".to_owned() } else { format!("still for {:.1} s", live.still_s) };
            let buzz = if live.buzz { "   a servo buzzes" } else { "" };
            format!("{travel}{sharp}{still}{buzz}")
        }
    };
    frame.render_widget(Paragraph::new(format!("{target}{live_words}")), words);
    let hold = live.map_or(0.0, |live| live.hold.clamp(0.0, 1.0));
    frame.render_widget(Gauge::default().ratio(hold).label(""), bar);
}

fn cell_lines(sheet: &Sheet) -> Vec<Line<'static>> {
    let line = |cell: &crate::bench::conductor::Cell| {
        let value = match (cell.value_deg, cell.expanded_deg) {
            (Some(value), Some(expanded)) => format!("{value:+.2} ± {expanded:.2}°"),
            _ => "-".to_owned(),
        };
        let now = if cell.state == CellState::Now { ">" } else { " " };
        let text = format!("{now} {} {:<16} {value:<16} {:<14} {}", cell.mark, cell.cell, cell.target, cell.verdict);
        if cell.state == CellState::Now { Line::styled(text, BOLD) } else { Line::raw(text) }
    };
    sheet.cells.iter().map(line).collect()
}

fn foot_line(sheet: &Sheet) -> String {
    if sheet.link.state == LinkState::Reading {
        let hands = if sheet.armed { "a stops the sequence" } else { "a starts the sequence" };
        format!("{hands} · c takes it now · b bound · s skip · u the last one again · q ends")
    } else {
        sheet.link.said.clone()
    }
}
