//! The events that an onlooker gets. However slow or asleep it is, it holds nothing up: of sheet and live reading the newest
//! counts, cues may be missed, and whoever connects again begins with the whole sheet.

use super::Page;
use super::act::said;
use crate::bench::conductor::{Conductor, Cue, Live, Sheet};
use crate::words;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use serde::Serialize;
use std::collections::VecDeque;
use std::convert::Infallible;
use std::sync::Arc;
use tokio::sync::{OwnedSemaphorePermit, broadcast, watch};

/// Begins an onlooker's events.
pub(super) async fn feed(State(page): State<Page>) -> Response {
    let Ok(place) = Arc::clone(&page.feeds).try_acquire_owned() else {
        return said(StatusCode::SERVICE_UNAVAILABLE, words::page::TOO_MANY_PAGES);
    };
    let onlookers = page.workshop.watch();
    let Some(conductor) = page.workshop.conductor() else {
        return idle(onlookers, place);
    };
    let onlooker = Onlooker::new(&conductor, place);
    drop(conductor);
    let events = stream::unfold(onlooker, |mut onlooker| async move {
        let event = onlooker.next().await?;
        Some((Ok::<Event, Infallible>(event), onlooker))
    });
    Sse::new(events).keep_alive(KeepAlive::default()).into_response()
}

/// Says that no setup is on the bench, and ends when one is: whoever looks on connects again and begins with its sheet.
fn idle(onlookers: watch::Receiver<Option<Conductor>>, place: OwnedSemaphorePermit) -> Response {
    let events = stream::unfold((onlookers, place, false), |(mut onlookers, place, told)| async move {
        if told {
            // Until there is one, or the workshop is gone.
            let _ = onlookers.wait_for(Option::is_some).await;
            return None;
        }
        let event = Event::default().event("idle").data("{}");
        Some((Ok::<Event, Infallible>(event), (onlookers, place, true)))
    });
    Sse::new(events).keep_alive(KeepAlive::default()).into_response()
}

struct Onlooker {
    sheet: watch::Receiver<Arc<Sheet>>,
    live: watch::Receiver<Option<Live>>,
    cues: broadcast::Receiver<Cue>,
    first: VecDeque<Event>,
    id: u64,
    _place: OwnedSemaphorePermit,
}

impl Onlooker {
    fn new(conductor: &Conductor, place: OwnedSemaphorePermit) -> Self {
        let mut onlooker = Self {
            sheet: conductor.sheet(),
            live: conductor.live(),
            cues: conductor.cues(),
            first: VecDeque::new(),
            id: 0,
            _place: place,
        };
        let sheet = onlooker.sheet.borrow_and_update().clone();
        let whole = onlooker.event("sheet", &*sheet);
        let trace = onlooker.event("trace", &conductor.trace());
        onlooker.first.extend(whole.into_iter().chain(trace));
        onlooker
    }

    /// The next event; none when the session is over.
    async fn next(&mut self) -> Option<Event> {
        if let Some(event) = self.first.pop_front() {
            return Some(event);
        }
        loop {
            let event = tokio::select! {
                changed = self.sheet.changed() => {
                    changed.ok()?;
                    let sheet = self.sheet.borrow_and_update().clone();
                    self.event("sheet", &*sheet)
                }
                cue = self.cues.recv() => match cue {
                    Ok(cue) => self.event("cue", &cue),
                    // Missed cues are not made up for: the sheet says what counts.
                    Err(_) => None,
                },
                // The conductor publishes at the pace of an eye already; what is not fetched in time is overtaken.
                changed = self.live.changed() => {
                    changed.ok()?;
                    let live = self.live.borrow_and_update().clone();
                    live.and_then(|live| self.event("live", &live))
                }
            };
            if event.is_some() {
                return event;
            }
        }
    }

    fn event(&mut self, name: &str, content: &impl Serialize) -> Option<Event> {
        self.id += 1;
        // Numbers, words and lists alone: there is nothing in it that JSON cannot hold.
        Event::default().event(name).id(self.id.to_string()).json_data(content).ok()
    }
}
