//! The browser page over the running session: what the conductor publishes goes out as server-sent events, what people do
//! comes in as one kind of request.
//!
//! | request | answer |
//! | --- | --- |
//! | `GET /` | the start: sensor, helicopters, the open setup |
//! | `GET /setup`, `/setup/N` | the setup on the bench |
//! | `GET /helicopter`, `/logbook`, `/compare/A/B`, `/history`, `/sensor` | further places |
//! | `GET /sheet/N`, `/sheet/N.html`, `/sheet/N.txt`, `/sheet/N.json` | the sheet: to print, to keep |
//! | `GET /assets/NAME` | the page's own files |
//! | `GET /feed` | events `sheet`, `trace`, `live`, `cue`; a new connection begins with the whole sheet; `idle` while no setup is on the bench |
//! | `GET /api/…` | what a place shows, as JSON |
//! | `GET /pictures/NAME.svg`, `/history.svg` | pictures |
//! | `GET /export/N.json`, `/backup.sqlite` | files to keep |
//! | `POST /act` | 204, or 409 with the reason in words |
//! | `POST /do` | what is done besides captures: 200 with what came of it, or 409 with the reason in words |
//! | `POST /import` | a document that was exported |
//! | `GET /pair?token=…` | the cookie, once, where the page is not on loopback |
//! | `POST /rig` | the simulated head alone: a line for the simulated hands |
//!
//! Nothing is changed by a `GET` but pairing. The file `guard.rs` says who is let in.

use clinoblade_bench as bench;
use clinoblade_guide as guide;
use clinoblade_record as record;
use clinoblade_report as report;
use clinoblade_words as words;

mod act;
mod assets;
mod door;
mod feed;
mod guard;
mod places;
mod unpaired;
mod unread;

pub use bench::HandLine;
pub use guard::Pairing;

use crate::bench::Workshop;
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
use tokio::sync::{Semaphore, mpsc};
use tokio::task::JoinSet;
use unread::Unread;

/// Largest accepted request body, in bytes.
const LONGEST_BODY: usize = 4096;
/// Where an exported document is taken in: the only request whose body may be longer.
const IMPORT: &str = "/import";
/// Largest accepted document, in bytes.
const LONGEST_DOCUMENT: usize = 64 * 1024 * 1024;
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

/// What the page is served over.
#[derive(Debug, Clone)]
pub struct Page {
    workshop: Arc<Workshop>,
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
        Self::over(Workshop::over(conductor, hands), address, pairing)
    }

    /// A page over this workshop, at this address.
    #[must_use]
    pub fn over(workshop: Arc<Workshop>, address: SocketAddr, pairing: Option<Arc<Pairing>>) -> Self {
        let feeds = Arc::new(Semaphore::new(MOST_FEEDS));
        Self { workshop, pairing, port: address.port(), feeds, unread: UNREAD }
    }

    /// With another patience for those who read nothing of what they are sent.
    #[must_use]
    pub fn with_patience(self, unread: Duration) -> Self {
        Self { unread, ..self }
    }

    /// Everything it answers.
    fn router(self) -> Router {
        Router::new()
            .route("/", get(assets::start))
            .route("/setup", get(assets::setup))
            .route("/setup/{number}", get(assets::setup))
            .route("/helicopter", get(assets::helicopter))
            .route("/logbook", get(assets::logbook))
            .route("/compare/{first}/{second}", get(assets::compare))
            .route("/history", get(assets::history))
            .route("/sensor", get(assets::sensor))
            .route("/favicon.ico", get(assets::icon))
            .route("/sheet/{file}", get(places::sheet))
            .route("/export/{file}", get(places::export))
            .route("/backup.sqlite", get(places::backup))
            .route("/history.svg", get(places::history_picture))
            .route("/api/state", get(places::state))
            .route("/api/head", get(places::head))
            .route("/api/turnables", get(places::turnables))
            .route("/api/setups", get(places::setups))
            .route("/api/compare", get(places::compare))
            .route("/api/history", get(places::history))
            .route("/api/tumble", get(places::tumble))
            .route("/do", post(places::deed))
            .route(IMPORT, post(places::import))
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
