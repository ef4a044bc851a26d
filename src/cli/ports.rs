//! `ports`: which serial ports are there, why one cannot be opened, and from which built-in one nothing comes.

use super::source::LISTEN;
use super::{CliError, Outcome, Output};
use crate::stream::Profile;
use crate::stream::ports::{self, PortReport};
use crate::words::sensor_commands as words;
use serde::Serialize;

#[derive(Serialize)]
struct Listed {
    #[serde(flatten)]
    port: PortReport,
    /// Whether nothing came from it; not known of a USB port, which is not opened: that restarts many a sensor.
    silent: Option<bool>,
}

/// Lists, and listens to the built-in ports that may be opened.
pub(super) async fn run(output: &Output) -> Result<Outcome, CliError> {
    let found = tokio::task::spawn_blocking(ports::list).await.unwrap_or_default();
    let listening: Vec<_> = found
        .into_iter()
        .map(|port| {
            tokio::task::spawn_blocking(move || {
                let listens = port.usb.is_none() && port.obstacle.is_none();
                let silent = listens.then(|| !ports::hears(&port.path, Profile::sentence().baud(), LISTEN));
                Listed { port, silent }
            })
        })
        .collect();
    let mut listed = Vec::new();
    for port in listening {
        listed.extend(port.await);
    }
    let told: Vec<(&PortReport, bool)> = listed.iter().map(|one| (&one.port, one.silent == Some(true))).collect();
    output.answer(&serde_json::json!({ "ports": listed }), &words::ports(&told))?;
    Ok(Outcome::Done)
}
