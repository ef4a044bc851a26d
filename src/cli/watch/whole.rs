//! The whole terminal as a screen, and back: however the program ends, the terminal is as it was before.

use super::super::terminal;
use crossterm::cursor::Show;
use crossterm::style::ResetColor;
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::backend::CrosstermBackend;
use ratatui::layout::Rect;
use ratatui::{Frame, Terminal, TerminalOptions, Viewport};
use std::io::{self, Stdout};
use std::mem::ManuallyDrop;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError, TryLockError};
use std::time::{Duration, Instant};

/// No more of a terminal is drawn on, whatever size it says it has: columns, rows.
const MOST: (u16, u16) = (400, 160);
/// How long a part of the program that failed waits for a drawing to be finished.
const FINISHED_WITHIN: Duration = Duration::from_millis(200);

/// Whether the screen stands.
static STANDS: AtomicBool = AtomicBool::new(false);
/// Held while something is drawn, so that nothing is drawn on what has been restored.
static DRAWING: Mutex<()> = Mutex::new(());
/// Held while the terminal is given back.
static GIVING_BACK: Mutex<()> = Mutex::new(());

/// The terminal while it is a screen; restored when this is dropped.
#[derive(Debug)]
pub(in crate::cli) struct Screen {
    /// What it does at its end is done here, and where the terminal is gone that is no failure.
    terminal: ManuallyDrop<Terminal<CrosstermBackend<Stdout>>>,
    area: Rect,
}

impl Screen {
    /// Takes the terminal.
    pub fn enter() -> io::Result<Self> {
        let area = area()?;
        let terminal = blank(area)?;
        // Whatever fails half-way, all of it is taken back.
        let screen = Self { terminal, area };
        screen.raise()?;
        Ok(screen)
    }

    /// Draws, if the screen still stands; false if it was taken away.
    pub fn draw(&mut self, drawing: impl FnOnce(&mut Frame<'_>)) -> io::Result<bool> {
        let _drawing = DRAWING.lock().unwrap_or_else(PoisonError::into_inner);
        if !STANDS.load(Ordering::Acquire) {
            return Ok(false);
        }
        let area = area()?;
        if area != self.area {
            self.area = area;
            self.terminal = blank(area)?;
            crossterm::queue!(io::stdout(), Clear(ClearType::All))?;
        }
        self.terminal.draw(drawing)?;
        Ok(true)
    }

    /// Takes the terminal once more: something else may have been on it.
    pub fn anew(&mut self) -> io::Result<()> {
        // What is raw already is not made raw again, even where another program has changed that.
        let _ = disable_raw_mode();
        self.raise()?;
        self.terminal = blank(self.area)?;
        crossterm::execute!(io::stdout(), Clear(ClearType::All))
    }

    #[allow(clippy::unused_self, reason = "of a screen")]
    fn raise(&self) -> io::Result<()> {
        terminal::hold();
        STANDS.store(true, Ordering::Release);
        enable_raw_mode()?;
        crossterm::execute!(io::stdout(), EnterAlternateScreen)
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        restore();
    }
}

/// A terminal of which nothing is known but that it is blank. Its own way of clearing would ask where the cursor stands, and not
/// every terminal answers.
fn blank(area: Rect) -> io::Result<ManuallyDrop<Terminal<CrosstermBackend<Stdout>>>> {
    let options = TerminalOptions { viewport: Viewport::Fixed(area) };
    Terminal::with_options(CrosstermBackend::new(io::stdout()), options).map(ManuallyDrop::new)
}

/// What is drawn on: the terminal, within bounds.
fn area() -> io::Result<Rect> {
    let (columns, rows) = crossterm::terminal::size()?;
    Ok(Rect::new(0, 0, columns.clamp(1, MOST.0), rows.clamp(1, MOST.1)))
}

/// Gives the terminal back as it was, where it was taken: raw mode, screen, cursor, colours. Called from anywhere, even by the
/// part of the program that fails while it draws.
pub(in crate::cli) fn restore() {
    // Whoever comes second waits until it is done: the program may end after that.
    let _alone = GIVING_BACK.lock().unwrap_or_else(PoisonError::into_inner);
    if !STANDS.swap(false, Ordering::AcqRel) {
        return;
    }
    let deadline = Instant::now() + FINISHED_WITHIN;
    // If it is not finished, whoever draws is the one that failed.
    while matches!(DRAWING.try_lock(), Err(TryLockError::WouldBlock)) && Instant::now() < deadline {
        std::thread::sleep(Duration::from_millis(5));
    }
    // The terminal may be gone.
    let _ = crossterm::execute!(io::stdout(), ResetColor, LeaveAlternateScreen, Show);
    let _ = disable_raw_mode();
    terminal::let_go();
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use crate::cli::terminal::report_failures;
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use rustix::termios::tcgetattr;
    use std::fs::File;
    use std::io::Read;
    use std::process::{Command, Stdio};

    const TAKES: &str = "\x1b[?1049h";
    const GIVES: &str = "\x1b[?1049l";

    /// A program in whose task something fails while the screen is drawn; in a process of its own.
    #[test]
    #[ignore = "own process"]
    fn task_fails() {
        report_failures(restore);
        let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap();
        let mut screen = Screen::enter().unwrap();
        assert!(screen.draw(|frame| frame.render_widget("drawn", frame.area())).unwrap());
        terminal::say("said meanwhile");
        runtime.spawn(async { panic!("a \x1b[31mnumber") });
        let deadline = Instant::now() + Duration::from_secs(60);
        while screen.draw(|frame| frame.render_widget("drawn", frame.area())).unwrap() {
            assert!(Instant::now() < deadline, "it draws on");
        }
    }

    /// The same in the drawing itself.
    #[test]
    #[ignore = "own process"]
    fn drawing_fails() {
        report_failures(restore);
        let mut screen = Screen::enter().unwrap();
        screen.draw(|_| panic!("a \x1b[31mnumber")).unwrap();
    }

    #[test]
    fn a_part_that_fails_leaves_the_terminal_as_it_was() {
        for (test, said) in [("task_fails", true), ("drawing_fails", false)] {
            let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
            grantpt(&master).unwrap();
            unlockpt(&master).unwrap();
            let path = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
            let line = File::options().read(true).write(true).open(path).unwrap();
            let modes = || tcgetattr(&line).map(|now| (now.local_modes, now.output_modes)).unwrap();
            let before = modes();
            let end = || Stdio::from(line.try_clone().unwrap());
            let mut child = Command::new(std::env::current_exe().unwrap())
                .args([
                    &format!("{}::{test}", module_path!().split_once("::").unwrap().1),
                    "--exact",
                    "--ignored",
                    "--nocapture",
                ])
                .stdin(end())
                .stdout(end())
                .stderr(end())
                .spawn()
                .unwrap();
            let (sender, came) = std::sync::mpsc::channel();
            let mut from = File::from(master.try_clone().unwrap());
            std::thread::spawn(move || {
                let mut bytes = [0; 4096];
                while let Ok(read @ 1..) = from.read(&mut bytes) {
                    if sender.send(bytes[..read].to_vec()).is_err() {
                        return;
                    }
                }
            });
            child.wait().unwrap();
            let mut bytes = Vec::new();
            while let Ok(more) = came.recv_timeout(Duration::from_millis(300)) {
                bytes.extend(more);
            }
            let seen = String::from_utf8_lossy(&bytes);
            let (drawn, after) = seen.split_once(GIVES).unwrap_or_else(|| panic!("{test}: {}", seen.escape_debug()));
            assert!(drawn.contains(TAKES), "{}", seen.escape_debug());
            assert_eq!(modes(), before, "{test}");
            assert!(after.contains("\x1b[?25h"), "the cursor: {}", after.escape_debug());
            assert!(!after.contains(TAKES) && !after.contains("drawn"), "{test}: {}", after.escape_debug());
            assert!(after.contains("fault of") && after.contains("a <U+001B>[31mnumber"), "{}", after.escape_debug());
            assert!(!drawn.contains("said") && after.contains("said meanwhile") == said, "{}", seen.escape_debug());
        }
    }
}
