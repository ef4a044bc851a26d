//! The signals that ask the program to end: interrupt (Ctrl-C) and terminate.

use super::CliError;

/// The signals that ask a program to end.
#[cfg(unix)]
pub(super) struct Signals {
    interrupt: tokio::signal::unix::Signal,
    terminate: tokio::signal::unix::Signal,
}

#[cfg(unix)]
impl Signals {
    /// Starts to listen: a signal that arrives before [`Self::next`] is called is kept.
    pub(super) fn new() -> Result<Self, CliError> {
        use tokio::signal::unix::{SignalKind, signal};
        Ok(Self {
            interrupt: signal(SignalKind::interrupt()).map_err(CliError::Runtime)?,
            terminate: signal(SignalKind::terminate()).map_err(CliError::Runtime)?,
        })
    }

    /// Waits until the program is asked to end.
    pub(super) async fn next(&mut self) {
        tokio::select! {
            _ = self.interrupt.recv() => {}
            _ = self.terminate.recv() => {}
        }
    }
}

/// The signal that asks a program to end.
#[cfg(not(unix))]
pub(super) struct Signals;

#[cfg(not(unix))]
impl Signals {
    /// Starts to listen: a signal that arrives before [`Self::next`] is called is kept.
    pub(super) fn new() -> Result<Self, CliError> {
        Ok(Self)
    }

    /// Waits until the program is asked to end.
    pub(super) async fn next(&mut self) {
        // Without a handler the system ends the program.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    }
}
