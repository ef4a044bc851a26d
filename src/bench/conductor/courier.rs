//! What waits on this bench for a shared logbook goes there by itself, as soon as it can.

use crate::logbook::Logbook;
use std::time::Duration;
use tokio::sync::watch;
use tokio::task::JoinSet;
use tokio::time::{MissedTickBehavior, interval};

/// How often it is tried.
const AGAIN: Duration = Duration::from_secs(3);

/// Tries for as long as it is held. It has a task of its own: a server that does not answer holds nobody back.
pub(super) struct Courier {
    waiting: watch::Receiver<usize>,
    _trying: JoinSet<()>,
}

impl Courier {
    /// For this logbook; one in a file has nothing that waits.
    pub fn of(logbook: &Logbook) -> Self {
        let (count, waiting) = watch::channel(waiting(logbook));
        let mut trying = JoinSet::new();
        if logbook.is_shared() {
            trying.spawn(deliver(logbook.clone(), count));
        }
        Self { waiting, _trying: trying }
    }

    /// Returns when another number of entries waits than before.
    pub async fn changed(&mut self) {
        if self.waiting.changed().await.is_err() {
            std::future::pending().await
        }
    }
}

/// How many entries wait, as the sheet shows it; where that cannot be read, whoever records the next one is told.
pub(super) fn waiting(logbook: &Logbook) -> usize {
    logbook.waiting().unwrap_or_default()
}

async fn deliver(logbook: Logbook, count: watch::Sender<usize>) {
    let mut again = interval(AGAIN);
    again.set_missed_tick_behavior(MissedTickBehavior::Delay);
    loop {
        again.tick().await;
        if waiting(&logbook) > 0
            && let Err(error) = logbook.deliver().await
        {
            tracing::info!("{error}");
        }
        let now = waiting(&logbook);
        count.send_if_modified(|before| std::mem::replace(before, now) != now);
    }
}
