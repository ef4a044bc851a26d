//! The signals that ask the program to end (interrupt (Ctrl-C), terminate, hang-up, quit), and those that stop it for a while
//! and let it go on.

use super::CliError;

/// The signals that ask a program to end.
#[cfg(unix)]
pub(super) struct Signals(Vec<tokio::signal::unix::Signal>);

#[cfg(unix)]
impl Signals {
    /// Starts to listen: a signal that arrives before [`Self::next`] is called is kept.
    pub(super) fn new() -> Result<Self, CliError> {
        use tokio::signal::unix::{SignalKind, signal};
        let always = [SignalKind::interrupt(), SignalKind::terminate()];
        // Under `nohup` it is wanted that these end nothing.
        let unless_ignored = [SignalKind::hangup(), SignalKind::quit()].into_iter().filter(|kind| !is_ignored(*kind));
        let signals = always.into_iter().chain(unless_ignored).map(signal);
        signals.collect::<Result<_, _>>().map(Self).map_err(CliError::Runtime)
    }

    /// Waits until the program is asked to end.
    pub(super) async fn next(&mut self) {
        std::future::poll_fn(|context| {
            let asked = self.0.iter_mut().any(|signal| signal.poll_recv(context).is_ready());
            if asked { std::task::Poll::Ready(()) } else { std::task::Poll::Pending }
        })
        .await;
    }
}

/// Whether whoever started the program lets it ignore this signal; where the system does not tell, it does not.
#[cfg(unix)]
fn is_ignored(kind: tokio::signal::unix::SignalKind) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let mask = mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).unwrap_or(0);
    let bit = kind.as_raw_value() - 1;
    (0..64).contains(&bit) && mask >> bit & 1 == 1
}

/// The signals that stop the program for a while (Ctrl-Z) and let it go on.
#[cfg(unix)]
pub(super) struct Pauses {
    stop: tokio::signal::unix::Signal,
    go_on: tokio::signal::unix::Signal,
}

/// What becomes of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pause {
    /// It is asked to stop for a while.
    Stop,
    /// It goes on.
    GoOn,
}

#[cfg(unix)]
impl Pauses {
    /// Starts to listen. From then on the program has to stop itself, by [`Self::stop`].
    pub(super) fn new() -> Result<Self, CliError> {
        use rustix::process::Signal;
        use tokio::signal::unix::{SignalKind, signal};
        let listen = |which: Signal| signal(SignalKind::from_raw(which.as_raw())).map_err(CliError::Runtime);
        Ok(Self { stop: listen(Signal::TSTP)?, go_on: listen(Signal::CONT)? })
    }

    /// Waits for the next of them.
    pub(super) async fn next(&mut self) -> Pause {
        tokio::select! {
            _ = self.stop.recv() => Pause::Stop,
            _ = self.go_on.recv() => Pause::GoOn,
        }
    }

    /// Stops the program until it is told to go on.
    pub(super) fn stop() {
        // If it cannot be stopped, it goes on.
        let _ = rustix::process::kill_process(rustix::process::getpid(), rustix::process::Signal::STOP);
    }

    /// Asks everything that was started together with this program to stop, as Ctrl-Z does where the terminal sees to it.
    pub(super) fn ask() {
        let _ = rustix::process::kill_current_process_group(rustix::process::Signal::TSTP);
    }
}

/// A system without such signals.
#[cfg(not(unix))]
pub(super) struct Pauses;

#[cfg(not(unix))]
impl Pauses {
    pub(super) fn new() -> Result<Self, CliError> {
        Ok(Self)
    }

    pub(super) async fn next(&mut self) -> Pause {
        std::future::pending().await
    }

    pub(super) fn stop() {}

    pub(super) fn ask() {}
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
