//! The one writer of standard output and standard error. What comes from elsewhere reaches a terminal as letters only: the
//! control codes that are written stand in this file, in clap's styles and in the screen of `watch`.

use crate::words::{errors, one_line, visible, visible_json};
use std::io::{self, IsTerminal, Write};
use std::panic::PanicHookInfo;
use std::sync::{Mutex, PoisonError};

/// Prints lines on standard output.
pub(super) fn print(text: &str) -> io::Result<()> {
    put(&visible(text))
}

/// Prints a JSON document, or part of one, on standard output.
pub(super) fn print_document(document: &str) -> io::Result<()> {
    put(&visible_json(document))
}

fn put(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(out, "{text}").and_then(|()| out.flush())
}

/// Writes the line of standard output anew where the cursor stands; the next one takes its place.
pub(super) fn overwrite(line: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    write!(out, "\r{}\x1b[K", one_line(line)).and_then(|()| out.flush())
}

/// Writes the line of standard error anew.
pub(super) fn overwrite_said(line: &str) {
    tell(&format!("\r\x1b[2K{}", one_line(line)));
}

/// Prints lines on standard error: a step, a hint, a caution, the log.
pub(super) fn say(text: &str) {
    tell(&format!("{}\n", visible(text)));
}

/// The same with a first word in our own style, where the terminal has styles.
pub(super) fn say_with(style: &str, first: &str, text: &str) {
    if is_styled() {
        tell(&format!("{style}{first}\x1b[0m {}\n", visible(text)));
    } else {
        tell(&format!("{first} {}\n", visible(text)));
    }
}

/// Whether standard error is a terminal whose person has not declined colours (`NO_COLOR`, not empty).
pub(super) fn is_styled() -> bool {
    let declined = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|terminal| terminal == "dumb");
    io::stderr().is_terminal() && !dumb && !declined("NO_COLOR")
}

/// What is to be said while a screen stands on the terminal, in which it would be lost.
static HELD: Mutex<Option<String>> = Mutex::new(None);

fn tell(bytes: &str) {
    if let Some(held) = HELD.lock().unwrap_or_else(PoisonError::into_inner).as_mut() {
        held.push_str(bytes);
        return;
    }
    // A closed standard error must not end the measurement.
    let _ = io::stderr().write_all(bytes.as_bytes());
}

/// Holds back what is said from now on, if it goes to a terminal.
pub(super) fn hold() {
    if io::stderr().is_terminal() {
        HELD.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert_default();
    }
}

/// Says what was held back, and from now on everything at once.
pub(super) fn let_go() {
    let held = HELD.lock().unwrap_or_else(PoisonError::into_inner).take();
    if let Some(held) = held.filter(|held| !held.is_empty()) {
        let _ = io::stderr().write_all(held.as_bytes());
    }
}

/// From now on a part of the program that fails says so here, the terminal as it was before: `restore` sees to that.
pub(super) fn report_failures(restore: fn()) {
    std::panic::set_hook(Box::new(move |failure| {
        // Held back while a screen stands, it is said as soon as the terminal is given back.
        report(failure);
        restore();
    }));
}

fn report(failure: &PanicHookInfo<'_>) {
    let thread = std::thread::current();
    say(&errors::panicked(thread.name().unwrap_or("?"), failure));
    let trace = std::backtrace::Backtrace::capture();
    if trace.status() == std::backtrace::BacktraceStatus::Captured {
        say(&trace.to_string());
    }
}
