//! What waits on this bench for a shared logbook goes there by itself, as soon as it can.

use crate::logbook::Logbook;
use crate::words::logbook::waits;
use crate::words::{Face, Say};
use std::time::Duration;
use tokio::sync::watch;
use tokio::task::JoinSet;
use tokio::time::{MissedTickBehavior, interval};

/// How often it is tried.
const AGAIN: Duration = Duration::from_secs(3);

/// What waits.
#[derive(Debug, Clone, Default, PartialEq)]
struct Waiting {
    entries: usize,
    /// Why some of it cannot arrive as things stand.
    refused: Option<String>,
}

/// Tries for as long as it is held. It has a task of its own: a server that does not answer holds nobody back.
pub(super) struct OutboxWorker {
    waiting: watch::Receiver<Waiting>,
    _trying: JoinSet<()>,
}

impl OutboxWorker {
    /// For this logbook; one in a file has nothing that waits.
    pub fn of(logbook: &Logbook) -> Self {
        let (told, waiting) = watch::channel(Waiting { entries: waiting(logbook), refused: None });
        let mut trying = JoinSet::new();
        if logbook.is_shared() {
            trying.spawn(deliver(logbook.clone(), told));
        }
        Self { waiting, _trying: trying }
    }

    /// What is said of so many entries that wait, and why some of them cannot arrive as things stand; none where none waits.
    pub fn said(&self, entries: usize) -> Option<String> {
        let refused = self.waiting.borrow().refused.clone();
        waits(entries).map(|said| [Some(said), refused].into_iter().flatten().collect::<Vec<_>>().join(" "))
    }

    /// Returns when another number of entries waits than before, or for another reason.
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

async fn deliver(logbook: Logbook, told: watch::Sender<Waiting>) {
    let mut again = interval(AGAIN);
    again.set_missed_tick_behavior(MissedTickBehavior::Delay);
    loop {
        again.tick().await;
        let mut now = Waiting::default();
        if waiting(&logbook) > 0 {
            match logbook.deliver().await {
                Ok(delivery) => now.refused = delivery.refused.first().map(|refused| refused.say(Face::Page)),
                Err(error) => tracing::info!("{error}"),
            }
        }
        now.entries = waiting(&logbook);
        told.send_if_modified(|before| {
            let is_other = *before != now;
            *before = now;
            is_other
        });
    }
}
