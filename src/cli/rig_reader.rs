//! The simulated head as bytes inside the program: what `--rig SCENARIO.toml` reads.

use super::{CliError, read_scenario};
use crate::rig::{Rig, RigError};
use crate::units::Seconds;
use std::path::Path;
use tokio::io::{AsyncRead, AsyncWriteExt, DuplexStream};

/// How much of the simulation is sent at a time.
const STEP: Seconds = Seconds::new(0.05);

/// Bytes that may wait to be read: a fraction of a second, so that the simulation never runs far ahead.
const AHEAD: usize = 16 * 1024;

/// Reads a scenario and simulates it as fast as it is read.
///
/// # Errors
/// When the file cannot be read or describes no scenario.
pub(super) fn open(path: &Path) -> Result<impl AsyncRead + Send + Unpin + 'static, CliError> {
    let wrong = |error: RigError| CliError::about(path.display(), &error);
    let rig = Rig::new(read_scenario(path)?).map_err(wrong)?;
    let (ours, theirs) = tokio::io::duplex(AHEAD);
    tokio::spawn(simulate(rig, ours));
    Ok(theirs)
}

async fn simulate(mut rig: Rig, mut out: DuplexStream) {
    let mut bytes = Vec::new();
    // Unplugged or ended it is silent for good, and the stream ends.
    while rig.is_plugged() && !rig.has_quit() {
        bytes.clear();
        rig.advance(rig.now() + STEP, &mut bytes);
        // Nobody reads any more: the simulation has done its work.
        if out.write_all(&bytes).await.is_err() {
            return;
        }
    }
}
