//! The terminal as a screen: keys in, drawings out.

use super::drawn::draw;
use super::view::{List, Nothing, View};
use super::whole::Screen;
use crate::bench::conductor::{Conductor, Sheet};
use crate::cli::CliError;
use crate::cli::signals::{Pause, Pauses, Signals};
use crate::guide::Act;
use crate::words::{Face, Say};
use crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::mpsc;

/// The screen is drawn no more often.
const BETWEEN_DRAWINGS: Duration = Duration::from_millis(66);
/// How long a refusal stands.
const REFUSAL: Duration = Duration::from_secs(6);

/// What a key does.
#[derive(Debug, PartialEq)]
enum Press {
    Do(Act),
    /// Only the view changes.
    Look,
    /// Nothing, for this reason.
    Refuse(Nothing),
    /// The program stops for a while.
    Stop,
    End,
}

/// Shows the session until q, Escape or Ctrl-C, or until a signal ends it.
pub(super) async fn show(conductor: Conductor, signals: &mut Signals) -> Result<(), CliError> {
    let mut pauses = Pauses::new()?;
    let mut screen = Screen::enter().map_err(CliError::Print)?;
    let (mut sheets, mut lives) = (conductor.sheet(), conductor.live());
    let (mut keys, mut view) = (keys(), View::default());
    let mut refused: Option<(String, tokio::time::Instant)> = None;
    let mut tick = tokio::time::interval(BETWEEN_DRAWINGS);
    loop {
        tokio::select! {
            _ = tick.tick() => {}
            () = signals.next() => return Ok(()),
            pause = pauses.next() => {
                match pause {
                    Pause::Stop => {
                        super::whole::restore();
                        Pauses::stop();
                    }
                    Pause::GoOn => screen.anew().map_err(CliError::Print)?,
                }
                continue;
            }
            key = keys.recv() => {
                // A terminal without keys is gone.
                let Some(key) = key else { return Ok(()) };
                let sheet = sheets.borrow().clone();
                let refusal = match press(key, &sheet, &mut view) {
                    Some(Press::End) => return Ok(()),
                    Some(Press::Stop) => {
                        Pauses::ask();
                        None
                    }
                    Some(Press::Do(act)) => conductor.act(act).await.err().map(|refusal| refusal.say(Face::Page)),
                    Some(Press::Refuse(why)) => Some(why.said()),
                    Some(Press::Look) | None => None,
                };
                refused = refusal.map(|said| (said, tokio::time::Instant::now()));
                continue;
            }
        }
        refused = refused.filter(|(_, at)| at.elapsed() < REFUSAL);
        let (sheet, live) = (sheets.borrow_and_update().clone(), lives.borrow_and_update().clone());
        let said = refused.as_ref().map(|(said, _)| said.as_str());
        let stands = screen.draw(|frame| draw(frame, &sheet, live.as_ref(), &view, said)).map_err(CliError::Print)?;
        if !stands {
            return Err(CliError::Panicked);
        }
    }
}

/// Keys as they are pressed; read in a thread of its own, which ends with the program.
fn keys() -> mpsc::Receiver<KeyEvent> {
    let (pressed, keys) = mpsc::channel(16);
    std::thread::spawn(move || {
        while let Ok(event) = crossterm::event::read() {
            if let Event::Key(key) = event
                && key.kind == KeyEventKind::Press
                && pressed.blocking_send(key).is_err()
            {
                return;
            }
        }
    });
    keys
}

/// What a key does now. A choice of the step comes before everything else.
fn press(key: KeyEvent, sheet: &Arc<Sheet>, view: &mut View) -> Option<Press> {
    let letter = match key.code {
        KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => return Some(Press::End),
        KeyCode::Char('z') if key.modifiers.contains(KeyModifiers::CONTROL) => return Some(Press::Stop),
        KeyCode::Esc => return Some(if view.let_go() { Press::Look } else { Press::End }),
        KeyCode::Up | KeyCode::Down => {
            view.step(sheet, key.code == KeyCode::Down);
            return Some(Press::Look);
        }
        // A clicker sends these, as on the page.
        KeyCode::PageDown => 'c',
        KeyCode::PageUp => 'u',
        KeyCode::Enter | KeyCode::Char(' ') => ' ',
        KeyCode::Char(letter) => letter.to_ascii_lowercase(),
        _ => return None,
    };
    if letter != 'f' {
        view.goes_on();
    }
    if let Some(line) = sheet.cautions.iter().position(|line| !line.acknowledged) {
        return match letter {
            ' ' | 'c' => Some(Press::Do(Act::Acknowledge { line })),
            'q' => Some(Press::End),
            _ => None,
        };
    }
    let numbered = letter.to_digit(10).and_then(|n| sheet.step.choices.get(n.checked_sub(1)? as usize));
    let named = sheet.step.choices.iter().find(|choice| choice.key == Some(letter));
    if let Some(choice) = numbered.or(named) {
        return Some(Press::Do(choice.act));
    }
    on_the_list(letter, sheet, view).or_else(|| at_the_step(letter, sheet, view))
}

/// The keys of the list below the figure.
fn on_the_list(letter: char, sheet: &Sheet, view: &mut View) -> Option<Press> {
    let act = match (letter, view.list) {
        ('o', _) => {
            view.turn_over();
            return Some(Press::Look);
        }
        ('r', List::Sheet) | ('g', List::Order) => view.redo(sheet),
        ('e', List::Order) => view.move_by_one(sheet, false),
        ('l', List::Order) => view.move_by_one(sheet, true),
        _ => return None,
    };
    Some(act.map_or_else(Press::Refuse, Press::Do))
}

/// The keys of the step at hand.
fn at_the_step(letter: char, sheet: &Sheet, view: &mut View) -> Option<Press> {
    let answer = |n: usize| sheet.step.choices.get(n).map(|choice| Press::Do(choice.act));
    Some(match letter {
        'q' => Press::End,
        'a' if sheet.armed => Press::Do(Act::Disarm),
        'a' => Press::Do(Act::Arm),
        'c' | ' ' => Press::Do(Act::Confirm),
        'b' => Press::Do(Act::Bound),
        's' => Press::Do(Act::Skip),
        'u' => Press::Do(Act::Undo),
        'y' => return answer(0),
        'n' => return answer(1),
        'f' => view.finish(sheet).map_or_else(Press::Refuse, Press::Do),
        _ => return None,
    })
}
