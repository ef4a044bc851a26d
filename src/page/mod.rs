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

mod act;
mod assets;
mod feed;
mod guard;

pub use guard::Pairing;

use crate::bench::conductor::Conductor;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::routing::{get, post};
use std::net::SocketAddr;
use std::sync::Arc;
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, mpsc, oneshot};

/// No act is longer.
const LONGEST_BODY: usize = 4096;
/// Onlookers at once.
const MOST_FEEDS: usize = 64;

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
        Self { conductor, hands, pairing, port: address.port(), feeds: Arc::new(Semaphore::new(MOST_FEEDS)) }
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
            .layer(DefaultBodyLimit::max(LONGEST_BODY))
            .layer(axum::middleware::from_fn_with_state(self.clone(), guard::guard))
            .with_state(self)
    }
}

/// Serves the page until the listener fails.
///
/// # Errors
/// When the listener fails.
pub async fn serve(listener: TcpListener, page: Page) -> std::io::Result<()> {
    axum::serve(listener, page.router()).await
}
