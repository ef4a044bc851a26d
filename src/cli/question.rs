//! Questions at the terminal. If nobody can answer, the answer is no.

use super::Output;
use std::io::{BufRead, IsTerminal};

/// Whether somebody is there to answer.
pub(super) fn can_ask(output: &Output) -> bool {
    !output.is_json() && std::io::stdin().is_terminal()
}

/// Asks, and waits for a line. `y` or `yes` is yes; anything else, and the end of input, is no.
pub(super) async fn yes(matter: &str, question: &str, output: &Output) -> bool {
    if !can_ask(output) {
        return false;
    }
    output.say(matter);
    output.say(&format!("{question} [y/N]"));
    matches!(line().await.as_deref().map(str::trim), Some("y" | "Y" | "yes"))
}

/// The next line of standard input; none at its end.
pub(super) async fn line() -> Option<String> {
    let read = tokio::task::spawn_blocking(|| {
        let mut line = String::new();
        std::io::stdin().lock().read_line(&mut line).map(|bytes| (bytes > 0).then_some(line))
    });
    read.await.ok()?.ok()?
}
