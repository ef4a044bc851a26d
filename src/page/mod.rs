//! The browser page over the running session: what the conductor publishes goes out as server-sent events, what people do
//! comes in as one kind of request.
//!
//! | request | answer |
//! | --- | --- |
//! | `GET /`, `GET /assets/NAME` | the page |
//! | `GET /feed` | events `sheet`, `trace`, `live`, `cue`; a new connection begins with the whole sheet |
//! | `GET /pictures/NAME.svg` | a picture of the setup |
//! | `POST /act` | 204, or 409 with the reason in words |
//! | `GET /pair?token=…` | the cookie, once, where the page is not on loopback |
//! | `POST /rig` | the simulated head alone: a line for the simulated hands |
//!
//! Nothing is changed by a `GET` but pairing. The file `guard.rs` says who is let in.

use clinoblade_bench as bench;
use clinoblade_guide as guide;
use clinoblade_words as words;

mod act;
mod assets;
mod door;
mod feed;
mod guard;
mod unread;

pub use guard::Pairing;

use crate::bench::conductor::Conductor;
use axum::Router;
use axum::routing::{get, post};
use door::{Door, Visitor};
use hyper::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, mpsc, oneshot};
use tokio::task::JoinSet;
use unread::Unread;

/// Largest accepted request body, in bytes.
const LONGEST_BODY: usize = 4096;
/// Onlookers at once.
const MOST_FEEDS: usize = 64;
/// Known connections at once: onlookers, and what they ask for besides.
const MOST_CONNECTIONS: usize = 256;
/// Connections at once that have not asked properly yet, or are not paired.
const MOST_UNKNOWN: usize = 256;
/// How long a connection may take to send the head of a request, and then its body; after that it is closed, so that idle
/// connections do not keep their places.
const PATIENCE: Duration = Duration::from_secs(10);
/// How long a client may read nothing of what it is sent; after that it is disconnected, so that a sleeping phone or a page
/// that was left does not keep its place.
const UNREAD: Duration = Duration::from_secs(30);

/// A line for the simulated hands, and the place for what the head answers.
pub type HandLine = (String, oneshot::Sender<Result<String, String>>);

/// What the page is served over.
#[derive(Debug, Clone)]
pub struct Page {
    conductor: Conductor,
    hands: Option<mpsc::Sender<HandLine>>,
    pairing: Option<Arc<Pairing>>,
    port: u16,
    feeds: Arc<Semaphore>,
    unread: Duration,
}

impl Page {
    /// A page over this session, at this address. `hands` move the simulated head, where it is one; `pairing` is asked for
    /// on every address that is not loopback.
    #[must_use]
    pub fn new(
        conductor: Conductor,
        address: SocketAddr,
        hands: Option<mpsc::Sender<HandLine>>,
        pairing: Option<Arc<Pairing>>,
    ) -> Self {
        let feeds = Arc::new(Semaphore::new(MOST_FEEDS));
        Self { conductor, hands, pairing, port: address.port(), feeds, unread: UNREAD }
    }

    /// With another patience for those who read nothing of what they are sent.
    #[must_use]
    pub fn with_patience(self, unread: Duration) -> Self {
        Self { unread, ..self }
    }

    /// Everything it answers.
    fn router(self) -> Router {
        Router::new()
            .route("/", get(assets::page))
            .route("/assets/{name}", get(assets::asset))
            .route("/feed", get(feed::feed))
            .route("/act", post(act::act))
            .route("/rig", post(act::rig))
            .route("/pictures/{name}", get(assets::picture))
            .route("/pair", get(guard::pair))
            .layer(axum::middleware::from_fn_with_state(self.clone(), guard::guard))
            .with_state(self)
    }
}

/// Serves the page for as long as it is asked to. However many connect and say nothing, or too slowly, or read nothing, the
/// others are answered.
pub async fn serve(listener: TcpListener, page: Page) {
    let door = Arc::new(Door::new());
    let unread = page.unread;
    let answers = TowerToHyperService::new(page.router());
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new()).header_read_timeout(PATIENCE);
    // Whoever still looks on when it ends holds the session no longer.
    let mut connections = JoinSet::new();
    for number in 0.. {
        door.has_room().await;
        let connection = match listener.accept().await {
            Ok((connection, _)) => connection,
            // One that broke off at once, or too many open files for a moment: the next may do better.
            Err(_) => {
                door.makes_room().await;
                continue;
            }
        };
        // An event is small, and is not kept back until there are more of them.
        let _ = connection.set_nodelay(true);
        let (answers, visitor) = (answers.clone(), Arc::new(Visitor::new(&door, number)));
        let answered = service_fn(move |mut request: Request<Incoming>| {
            request.extensions_mut().insert(Arc::clone(&visitor));
            answers.call(request)
        });
        let served = http.serve_connection(TokioIo::new(Unread::new(connection, unread)), answered);
        while connections.try_join_next().is_some() {}
        door.spawn(number, &mut connections, async move {
            // How it ends is the matter of whoever asked.
            let _ = served.await;
        });
    }
}
