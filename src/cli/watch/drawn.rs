//! What the terminal shows: the next step, the angle in large figures, its target and steadiness, and a list: the sheet or
//! the order of the steps.

use super::band::band;
use super::figures::large;
use super::list::{details, rows};
use super::view::{List, View};
use super::wrap::wrapped;
use crate::bench::conductor::{LinkState, Live, Sheet, Target};
use crate::guide::Phase;
use crate::words;
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

pub(super) const BOLD: Style = Style::new().add_modifier(Modifier::BOLD);
pub(super) const FAINT: Style = Style::new().add_modifier(Modifier::DIM);

/// In less than this nothing can be read.
const LEAST: (u16, u16) = (78, 20);
/// From this size on the figure is drawn twice as large.
const ROOMY: (u16, u16) = (96, 32);
/// Large figures and small ones take so much room: columns, rows.
const LARGE: (u16, u16) = (58, 8);
const SMALL: (u16, u16) = (30, 4);

/// Draws the session; `refused` says why the last key did nothing.
pub(super) fn draw(frame: &mut Frame<'_>, sheet: &Sheet, live: Option<&Live>, view: &View, refused: Option<&str>) {
    let area = frame.area();
    if area.width < LEAST.0 || area.height < LEAST.1 {
        frame.render_widget(too_small(area), area);
        return;
    }
    let step = step_lines(sheet, refused, usize::from(area.width));
    let (_, figure) = figure_room(area);
    let said = details(sheet, view, usize::from(area.width));
    let [at_setup, at_step, at_figure, at_band, at_title, at_list, at_said, at_keys] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(u16::try_from(step.len()).unwrap_or(9).min(9) + 1),
        Constraint::Length(figure),
        Constraint::Length(2),
        Constraint::Length(1),
        Constraint::Min(2),
        Constraint::Length(u16::try_from(said.len()).unwrap_or(3).min(3)),
        Constraint::Length(2),
    ])
    .areas(area);
    let recorded = words::setup::setup_line(sheet.setup.number, &sheet.setup.head);
    frame.render_widget(Paragraph::new(recorded).style(FAINT), at_setup);
    frame.render_widget(Paragraph::new(step), at_step);
    draw_figure(frame, at_figure, sheet, live);
    draw_band(frame, at_band, sheet, live);
    frame.render_widget(Paragraph::new(title(sheet, view, at_title.width)).style(FAINT), at_title);
    frame.render_widget(Paragraph::new(rows(sheet, view, usize::from(at_list.height))), at_list);
    frame.render_widget(Paragraph::new(said), at_said);
    frame.render_widget(Paragraph::new(keys(sheet, view)), at_keys);
}

fn too_small(area: Rect) -> Paragraph<'static> {
    let words = words::watch::too_small((area.width, area.height), LEAST);
    let lines = wrapped(&words, usize::from(area.width));
    Paragraph::new(lines.into_iter().map(Line::raw).collect::<Vec<_>>())
}

/// The sentence, what helps with it, and the ways out of it.
fn step_lines(sheet: &Sheet, refused: Option<&str>, width: usize) -> Vec<Line<'static>> {
    let step = &sheet.step;
    // What is read over a bad line is not to be trusted: that comes first.
    let warning = if sheet.link.state == LinkState::Reading { sheet.link.said.as_str() } else { "" };
    let mut lines = styled(warning, width, BOLD);
    lines.extend(styled(&step.sentence, width, BOLD));
    match refused.or(step.why.as_deref()) {
        Some(why) => lines.extend(styled(why, width, Style::new())),
        None => lines.extend(styled(&step.detail, width, FAINT)),
    }
    if let Some((n, caution)) = sheet.cautions.iter().enumerate().find(|(_, line)| !line.acknowledged) {
        let text = format!("{} of {}: {}", n + 1, sheet.cautions.len(), caution.text);
        lines.push(Line::default());
        lines.extend(keyed("space", &text, width));
        return lines;
    }
    for (choice, n) in step.choices.iter().zip(1..) {
        let key = choice.key.map_or_else(|| n.to_string(), |key| key.to_string());
        lines.extend(keyed(&key, &choice.label, width));
    }
    lines
}

fn styled(text: &str, width: usize, style: Style) -> Vec<Line<'static>> {
    wrapped(text, width).into_iter().map(|line| Line::styled(line, style)).collect()
}

/// A text with its key before it; what does not fit goes under the text.
fn keyed(key: &str, text: &str, width: usize) -> Vec<Line<'static>> {
    let key = format!("[{key}] ");
    let indent = " ".repeat(key.chars().count());
    let lines = wrapped(text, width.saturating_sub(indent.len()));
    let lead = |at: usize| if at == 0 { Span::styled(key.clone(), BOLD) } else { Span::raw(indent.clone()) };
    lines.into_iter().enumerate().map(|(at, line)| Line::from(vec![lead(at), Span::raw(line)])).collect()
}

const fn figure_room(area: Rect) -> (u16, u16) {
    if area.width >= ROOMY.0 && area.height >= ROOMY.1 { LARGE } else { SMALL }
}

/// The angle, and beside it what is wanted and how still the blade is.
fn draw_figure(frame: &mut Frame<'_>, area: Rect, sheet: &Sheet, live: Option<&Live>) {
    let (columns, rows) = if area.height >= LARGE.1 { LARGE } else { SMALL };
    let [figure, beside] = Layout::horizontal([Constraint::Length(columns), Constraint::Min(10)]).areas(area);
    let angle = live.and_then(|live| live.angle_deg).filter(|angle| angle.is_finite());
    let text = angle.map_or_else(|| "  --.--".to_owned(), |angle| format!("{angle:+7.2}"));
    frame.render_widget(Paragraph::new(large(&text, rows != LARGE.1)), figure);
    let width = usize::from(beside.width);
    let mut lines = vec![Line::raw(wanted(sheet))];
    match live.and_then(|live| live.said.as_deref()) {
        // Why there is no angle matters more than what is wanted.
        Some(said) => lines = wrapped(said, width).into_iter().map(Line::raw).collect(),
        None => lines.extend(live_words(sheet, live).into_iter().map(Line::raw)),
    }
    lines.push(hold(live, width));
    frame.render_widget(Paragraph::new(lines), beside);
}

fn wanted(sheet: &Sheet) -> String {
    match sheet.section.target {
        Some(Target::Band { value_deg, tolerance_deg }) => words::watch::wanted(value_deg, Some(tolerance_deg)),
        Some(Target::AtMost { value_deg }) => words::watch::wanted(value_deg, None),
        None => String::new(),
    }
}

/// Two lines: how far and how sure; how still.
fn live_words(sheet: &Sheet, live: Option<&Live>) -> [String; 2] {
    let Some(live) = live else {
        let why = if sheet.link.state == LinkState::Reading { "" } else { sheet.link.said.as_str() };
        return [words::watch::NO_READING.to_owned(), why.to_owned()];
    };
    let sharp = live.scatter_deg.map(|scatter| format!("{}   ", words::reading::scatter(scatter))).unwrap_or_default();
    let travel = live.travel_deg.map(|travel| format!("travel {travel:+.2}°")).unwrap_or_default();
    let still = if live.buzz {
        words::watch::BUZZING.to_owned()
    } else if live.moving {
        words::watch::MOVING.to_owned()
    } else {
        words::watch::still_for(live.still_s)
    };
    [format!("{sharp}{travel}"), still]
}

/// How much of the hold has passed.
fn hold(live: Option<&Live>, width: usize) -> Line<'static> {
    let columns = width.saturating_sub(2).min(30);
    let share = live.map_or(0.0, |live| live.hold.clamp(0.0, 1.0));
    let filled = (share * columns as f64).round() as usize;
    Line::from(vec![Span::styled("■".repeat(filled), BOLD), Span::styled("□".repeat(columns - filled), FAINT)])
}

fn draw_band(frame: &mut Frame<'_>, area: Rect, sheet: &Sheet, live: Option<&Live>) {
    let angle = live.and_then(|live| live.angle_deg).filter(|angle| angle.is_finite());
    let Some([pointer, scale]) = band(&sheet.section, angle, usize::from(area.width)) else { return };
    frame.render_widget(Paragraph::new(vec![Line::styled(pointer, BOLD), Line::raw(scale)]), area);
}

/// The name of the list between two rules.
fn title(sheet: &Sheet, view: &View, width: u16) -> String {
    let name = if view.list == List::Sheet { words::watch::SHEET } else { words::watch::ORDER };
    let step = if sheet.step.number > 0 && sheet.step.phase != Phase::Done {
        format!(" step {} of {} ──", sheet.step.number, sheet.step.of)
    } else {
        String::new()
    };
    let begun = format!("── {name} ");
    let read = sensors(sheet) + &words::watch::waiting(sheet.waiting);
    let taken: usize = [&begun, &read, &step].map(|part| part.chars().count()).iter().sum();
    format!("{begun}{}{read}{step}", "─".repeat(usize::from(width).saturating_sub(taken)))
}

/// Of several sensors: which is read, and whose line is broken.
fn sensors(sheet: &Sheet) -> String {
    let Some(read) = sheet.sensors.iter().find(|line| line.read) else { return String::new() };
    let broken: Vec<&str> = sheet.sensors.iter().filter(|line| !line.up).map(|line| line.carrier.as_str()).collect();
    words::watch::sensors(&read.carrier, &broken)
}

/// The keys, in the words of the page.
fn keys(sheet: &Sheet, view: &View) -> Vec<Line<'static>> {
    if sheet.cautions.iter().any(|line| !line.acknowledged) {
        return vec![legend(&[("space", "marks the line"), ("q", "ends")])];
    }
    let hands = if sheet.armed { "hands-free off" } else { "hands-free on" };
    let first =
        [("a", hands), ("c", "capture now"), ("b", "bound"), ("u", words::watch::LAST_WAS_WRONG), ("s", "skip")];
    let other = if view.list == List::Sheet { "order" } else { "the sheet" };
    let lists = [("o", other), ("↑↓", "choose")];
    let deeds: &[(&str, &str)] = match view.list {
        List::Sheet => &[("r", "redo")],
        List::Order => &[("g", "go to"), ("e", "earlier"), ("l", "later")],
    };
    let ends = [("f", "finish"), ("q", "ends")];
    vec![legend(&first), legend(&[&lists[..], deeds, &ends[..]].concat())]
}

fn legend(keys: &[(&str, &str)]) -> Line<'static> {
    let mut spans = Vec::new();
    for (key, what) in keys {
        if !spans.is_empty() {
            spans.push(Span::styled(" · ", FAINT));
        }
        spans.push(Span::styled((*key).to_owned(), BOLD));
        spans.push(Span::styled(format!(" {what}"), FAINT));
    }
    Line::from(spans)
}
