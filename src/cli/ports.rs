//! `ports`: which serial ports are there, and why one cannot be opened.

use super::{CliError, Outcome, Output};
use crate::stream::ports;
use crate::words::sensor_commands as words;

/// Lists.
pub(super) async fn run(output: &Output) -> Result<Outcome, CliError> {
    let found = tokio::task::spawn_blocking(ports::list).await.unwrap_or_default();
    output.answer(&serde_json::json!({ "ports": found }), &words::ports(&found))?;
    Ok(Outcome::Done)
}
