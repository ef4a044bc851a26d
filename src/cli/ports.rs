//! `ports`: which serial ports are there, and why one cannot be opened.

use super::{CliError, Outcome, Output};
use crate::stream::ports;

/// Lists.
pub(super) async fn run(output: &Output) -> Result<Outcome, CliError> {
    let found = tokio::task::spawn_blocking(ports::list).await.unwrap_or_default();
    let text = if found.is_empty() {
        "no serial port is present: plug the sensor in, or name a pseudo-terminal or another device with --port"
            .to_owned()
    } else {
        found.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    };
    output.answer(&serde_json::json!({ "ports": found }), &text)?;
    Ok(Outcome::Done)
}
