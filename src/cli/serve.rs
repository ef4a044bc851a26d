//! Serves the bench page: its address, the browser, and the pairing of other devices.

use super::signals::Signals;
use super::{CliError, Output};
use crate::bench::Workshop;
use crate::page::{Page, Pairing, serve};
use crate::words::cli;
use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;
use std::net::{IpAddr, SocketAddr};
use std::process::{Command, Stdio};
use std::sync::Arc;
use tokio::net::TcpListener;
use tokio::sync::watch;

/// Default address.
const USUAL: &str = "127.0.0.1:8650";

/// Options of the commands that serve the page.
#[derive(Debug, Clone, clap::Args)]
pub(super) struct ServeArgs {
    /// Serve the page at this address, for a phone or tablet; each device is paired
    #[arg(long, value_name = "HOST:PORT")]
    pub listen: Option<String>,

    /// Do not open the browser
    #[arg(long)]
    pub no_open: bool,
}

/// Serves the page until a signal ends it; `place` is where the browser is opened.
pub(super) async fn run(
    args: &ServeArgs,
    workshop: &Arc<Workshop>,
    place: &str,
    signals: &mut Signals,
    output: &Output,
) -> Result<(), CliError> {
    let listener = listen(args.listen.as_deref()).await?;
    let address = listener.local_addr().map_err(|source| no_listener(USUAL, &source))?;
    let reached = reached(address);
    let pairing = (!address.ip().is_loopback()).then(Pairing::new);
    let (pairing, shown) = pairing.map_or((None, None), |(pairing, shown)| (Some(Arc::new(pairing)), Some(shown)));
    let url = cli::url(reached, "");
    if output.is_json() {
        output.line(&serde_json::json!({ "url": url, "paired": pairing.is_some() }).to_string())?;
    }
    output.say(&cli::page_at(&url));
    if pairing.is_none() && !args.no_open {
        open(&cli::url(reached, place), output);
    }
    let page = Page::over(workshop.clone(), address, pairing);
    tokio::select! {
        () = workshop.tend() => {}
        () = serve(listener, page) => {}
        () = show_codes(shown, reached, output) => {}
        () = signals.next() => {}
    }
    Ok(())
}

async fn listen(wanted: Option<&str>) -> Result<TcpListener, CliError> {
    match wanted {
        Some(address) => TcpListener::bind(address).await.map_err(|source| no_listener(address, &source)),
        // Another bench page may be open already: then any free port will do.
        None => match TcpListener::bind(USUAL).await {
            Ok(listener) => Ok(listener),
            Err(_) => TcpListener::bind("127.0.0.1:0").await.map_err(|source| no_listener(USUAL, &source)),
        },
    }
}

fn no_listener(address: &str, source: &std::io::Error) -> CliError {
    CliError::Use(cli::page_not_served(address, source))
}

/// The address to type on another device; of a wildcard address that of this machine.
fn reached(address: SocketAddr) -> SocketAddr {
    if !address.ip().is_unspecified() {
        return address;
    }
    SocketAddr::new(own_address().unwrap_or(address.ip()), address.port())
}

/// This machine's address on its network. Nothing is sent.
fn own_address() -> Option<IpAddr> {
    let socket = std::net::UdpSocket::bind("0.0.0.0:0").ok()?;
    // An address for documentation (RFC 5737): connecting a UDP socket only picks the route.
    socket.connect("192.0.2.1:9").ok()?;
    socket.local_addr().ok().map(|address| address.ip()).filter(|ip| !ip.is_unspecified())
}

/// Shows the pairing code, and a new one after each use.
async fn show_codes(shown: Option<watch::Receiver<String>>, reached: SocketAddr, output: &Output) {
    let Some(mut shown) = shown else { return std::future::pending().await };
    loop {
        let token = shown.borrow_and_update().clone();
        let url = cli::url(reached, &format!("pair?token={token}"));
        if let Ok(code) = QrCode::new(url.as_bytes()) {
            output.say(&code.render::<Dense1x2>().quiet_zone(true).build());
        }
        output.say(&cli::pair(&url));
        if shown.changed().await.is_err() {
            return std::future::pending().await;
        }
    }
}

/// Opens the browser, or says that there is none.
fn open(url: &str, output: &Output) {
    let opener = if cfg!(target_os = "macos") { "open" } else { "xdg-open" };
    let opened = if cfg!(windows) {
        Command::new("explorer").arg(url).spawn()
    } else {
        Command::new(opener).arg(url).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn()
    };
    if opened.is_err() {
        output.say(cli::NO_BROWSER);
    }
}
