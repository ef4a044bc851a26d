//! Who stands at the door: connections that have not asked properly yet have places of their own, so that however many of them
//! say nothing, or too slowly, they do not hold up those that are known.

use super::{MOST_CONNECTIONS, MOST_UNKNOWN};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::task::{AbortHandle, JoinSet};
use tokio::time::Instant;

/// So long an unknown connection has for its request, however many others come: much longer than a request is on its way.
const MOMENT: Duration = Duration::from_millis(200);

/// All connections of a page.
#[derive(Debug)]
pub(super) struct Door {
    /// Those that are not known yet, the oldest first.
    unknown: Mutex<VecDeque<Unknown>>,
    /// Places of those that are.
    known: Arc<Semaphore>,
}

#[derive(Debug)]
struct Unknown {
    number: u64,
    since: Instant,
    task: AbortHandle,
}

impl Door {
    pub fn new() -> Self {
        Self { unknown: Mutex::default(), known: Arc::new(Semaphore::new(MOST_CONNECTIONS)) }
    }

    fn unknown(&self) -> MutexGuard<'_, VecDeque<Unknown>> {
        self.unknown.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits until another connection can stand at the door: if it is full, the one that has said nothing for the longest is
    /// hung up, but not before its moment is over.
    pub async fn has_room(&self) {
        loop {
            let Some(left) = self.until_room(MOST_UNKNOWN) else { return };
            tokio::time::sleep(left).await;
        }
    }

    /// The same where the system has no more files: whoever is not known makes room.
    pub async fn makes_room(&self) {
        // Where nobody is to be hung up, a known one may end.
        let left = self.until_room(1).unwrap_or(Duration::ZERO);
        tokio::time::sleep(left.max(Duration::from_millis(5))).await;
    }

    /// Hangs the oldest up if there are so many; how long its moment still lasts if it is too early for that.
    fn until_room(&self, most: usize) -> Option<Duration> {
        let mut unknown = self.unknown();
        let oldest = unknown.front().filter(|_| unknown.len() >= most)?;
        let left = MOMENT.saturating_sub(oldest.since.elapsed());
        if left > Duration::ZERO {
            return Some(left);
        }
        if let Some(oldest) = unknown.pop_front() {
            oldest.task.abort();
        }
        None
    }

    /// Serves a connection, unknown at first, among the others.
    pub fn spawn(&self, number: u64, connections: &mut JoinSet<()>, served: impl Future<Output = ()> + Send + 'static) {
        // Held meanwhile, so that it does not become known before it is among the unknown.
        let mut unknown = self.unknown();
        let task = connections.spawn(served);
        unknown.push_back(Unknown { number, since: Instant::now(), task });
    }

    fn forget(&self, number: u64) {
        self.unknown().retain(|other| other.number != number);
    }
}

/// One connection.
#[derive(Debug)]
pub(super) struct Visitor {
    door: Arc<Door>,
    number: u64,
    place: Mutex<Option<OwnedSemaphorePermit>>,
}

impl Visitor {
    pub fn new(door: &Arc<Door>, number: u64) -> Self {
        Self { door: Arc::clone(door), number, place: Mutex::default() }
    }

    /// From now on it is known: it keeps its place until it ends. Waits for one if there is none.
    pub async fn is_known(&self) {
        if self.has_place() {
            return;
        }
        // The places are never closed.
        let Ok(place) = Arc::clone(&self.door.known).acquire_owned().await else { return };
        *self.place.lock().unwrap_or_else(PoisonError::into_inner) = Some(place);
        self.door.forget(self.number);
    }

    fn has_place(&self) -> bool {
        self.place.lock().unwrap_or_else(PoisonError::into_inner).is_some()
    }
}

impl Drop for Visitor {
    fn drop(&mut self) {
        self.door.forget(self.number);
    }
}
