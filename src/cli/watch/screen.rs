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
    let numbered = letter.to_digit(10).and_then(|n| sheet.step.choices.get(n.checked_sub(1)? as usize));
    let named = sheet.step.choices.iter().find(|choice| choice.key == Some(letter));
    let chosen = numbered.or(named).map(|choice| choice.act);
    let finishes = letter == 'f' || chosen == Some(Act::Finish);
    if !finishes {
        view.goes_on();
    }
    if let Some(line) = sheet.cautions.iter().position(|line| !line.acknowledged) {
        return match letter {
            ' ' | 'c' => Some(Press::Do(Act::Acknowledge { line })),
            'q' => Some(Press::End),
            _ => None,
        };
    }
    match chosen {
        // What is open is named before the setup is closed, at its end as before.
        Some(Act::Finish) => return Some(view.finish(sheet).map_or_else(Press::Refuse, Press::Do)),
        Some(act) => return Some(Press::Do(act)),
        None => {}
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::watch::view::Nothing;
    use serde_json::{Value, json};

    /// A sheet at this phase of the job with these cells.
    fn sheet(phase: &str, cells: &[Value]) -> Arc<Sheet> {
        let finish = json!({ "act": { "do": "finish" }, "label": "Finish this setup", "key": "f" });
        let sheet = json!({
            "version": 1, "demo": false, "armed": false, "voice": false, "tones": false, "cautions": [], "sensors": [],
            "setup": {
                "number": 4, "head": "Workshop trainer", "reason": "", "measured_by": null, "rotation": "clockwise",
                "main_blades": 2, "tail_blades": 2,
            },
            "link": { "state": "reading", "said": "", "source": "bench", "rate_hz": null, "lost": 0, "damaged": 0 },
            "step": {
                "state": phase, "instruction": { "kind": "start" }, "sentence": "", "hint": null, "detail": "", "cell": null,
                "number": 1, "of": 1, "choices": if phase == "done" { vec![finish] } else { Vec::new() }, "hold_s": 1.5,
                "why": null,
            },
            "plan": {
                "blade": "A", "clip_blade": "A", "clip": "forward", "station_deg": null, "leading_edge": null, "rotor": "main",
                "turn": null, "cable_turns": 0.0,
            },
            "section": {
                "rotor": "main", "target": null, "from_deg": null, "sign": null, "leading_edge": null, "said": "",
            },
            "cells": cells, "order": [], "pictures": [], "complete": true, "good": true, "finished": false,
        });
        Arc::new(serde_json::from_value(sheet).unwrap())
    }

    fn cell(name: &str, verdict: &str, owed: bool, left_out: bool) -> Value {
        json!({
            "cell": name, "name": [name, ""], "target": "", "value_deg": null, "expanded_deg": null, "verdict": verdict,
            "mark": "", "consequence": "", "question": null, "remarks": [], "history": [], "state": "left", "advice": null,
            "owed": owed, "left_out": left_out.then_some("no tail"),
        })
    }

    fn key(letter: char, sheet: &Arc<Sheet>, view: &mut View) -> Option<Press> {
        press(KeyEvent::from(KeyCode::Char(letter)), sheet, view)
    }

    fn asked(pressed: Option<Press>) -> crate::words::watch::Unfinished {
        match pressed {
            Some(Press::Refuse(Nothing::Unfinished(unfinished))) => unfinished,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn what_is_open_is_named_before_the_setup_is_closed_at_its_end_too() {
        let cells = [
            cell("blade A zero", "inside", true, false),
            cell("blade B zero", "missing", true, false),
            cell("rudder left", "missing", false, true),
            cell("elevator up", "outside", true, false),
            cell("elevator down", "undecided", true, false),
        ];
        for phase in ["done", "move"] {
            let sheet = sheet(phase, &cells);
            for letter in if phase == "done" { vec!['f', '1'] } else { vec!['f'] } {
                let mut view = View::default();
                let open = asked(key(letter, &sheet, &mut view));
                assert_eq!(
                    (open.missing, open.left_out),
                    (vec!["blade B zero".to_owned()], vec!["rudder left".to_owned()])
                );
                assert_eq!(
                    (open.outside, open.undecided),
                    (vec!["elevator up".to_owned()], vec!["elevator down".to_owned()])
                );
                assert_eq!(key(letter, &sheet, &mut view), Some(Press::Do(Act::Finish)), "{phase}: a second press");
                // Another key in between, and it is asked again.
                let mut view = View::default();
                asked(key(letter, &sheet, &mut view));
                key('o', &sheet, &mut view);
                asked(key(letter, &sheet, &mut view));
            }
        }
    }

    #[test]
    fn at_its_end_a_setup_with_nothing_open_is_closed_at_once() {
        let sheet =
            sheet("done", &[cell("blade A zero", "inside", true, false), cell("elevator up", "bound", true, false)]);
        assert_eq!(key('f', &sheet, &mut View::default()), Some(Press::Do(Act::Finish)));
    }
}
