//! The program's log, on standard error: how grave it is, and what happened. Where in the program it happened is said only
//! with `-vv`.

use super::terminal;
use std::fmt::{Debug, Write};
use tracing::field::{Field, Visit};
use tracing::{Event, Level, Subscriber};
use tracing_subscriber::filter::{LevelFilter, Targets};
use tracing_subscriber::layer::{Context, Layer, SubscriberExt};
use tracing_subscriber::util::SubscriberInitExt;

/// Starts the log: warnings, with `-v` information, with `-vv` details.
pub(super) fn start(verbose: u8) {
    let level = match verbose {
        0 => LevelFilter::WARN,
        1 => LevelFilter::INFO,
        _ => LevelFilter::DEBUG,
    };
    let asked = std::env::var("RUST_LOG").ok().and_then(|text| text.parse::<Targets>().ok());
    let targets = asked.unwrap_or_else(|| Targets::new().with_target("clinoblade", level));
    let lines = Lines { places: verbose > 1 }.with_filter(targets);
    // A second start (in tests) keeps the first log.
    let _ = tracing_subscriber::registry().with(lines).try_init();
}

/// Prints each event as a line.
struct Lines {
    /// Whether the part of the program is named.
    places: bool,
}

impl<S: Subscriber> Layer<S> for Lines {
    fn on_event(&self, event: &Event<'_>, _: Context<'_, S>) {
        let (level, style) = match *event.metadata().level() {
            Level::ERROR => ("error:", "\x1b[31m"),
            Level::WARN => ("warning:", "\x1b[33m"),
            Level::INFO => ("info:", "\x1b[32m"),
            Level::DEBUG | Level::TRACE => ("debug:", "\x1b[34m"),
        };
        let mut text = Text(String::new());
        if self.places {
            text.0 = format!("{}: ", event.metadata().target());
        }
        event.record(&mut text);
        terminal::say_with(style, level, &text.0);
    }
}

/// The message of an event, and its fields after it.
struct Text(String);

impl Visit for Text {
    fn record_debug(&mut self, field: &Field, value: &dyn Debug) {
        // Writing to a String cannot fail.
        let _ = match field.name() {
            "message" => write!(self.0, "{value:?}"),
            name => write!(self.0, " {name}={value:?}"),
        };
    }
}
