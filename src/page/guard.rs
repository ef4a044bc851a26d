//! Who is let in.
//!
//! A page on loopback answers to this machine; a page of another site, open in the same browser, must not move anything,
//! and a name that somebody lets point at this machine must not read anything. So: there is one `Host` (RFC 9112, 3.2), and
//! it must be an address (or `localhost`) with our own port; whatever is changed must come from our own `Origin`, as JSON,
//! with a header that no foreign form can set. On any other address nothing at all answers without the cookie that pairing
//! gives, once for each token. Tokens are compared in constant time.

use super::act::said;
use super::door::Visitor;
use super::unpaired::{accepts_a_page, pairing_page, unpaired};
use super::{IMPORT, LONGEST_BODY, LONGEST_DOCUMENT, PATIENCE, Page};
use crate::words;
use axum::body::{Body, to_bytes};
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::watch;
use uuid::Uuid;

const COOKIE: &str = "clinoblade";
/// A header of our own: a form of another site cannot set it.
const OURS: &str = "x-clinoblade";

const HEADERS: [(HeaderName, &str); 5] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' data:; \
         base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (header::X_FRAME_OPTIONS, "DENY"),
];

/// Lets devices in, one with each token.
#[derive(Debug)]
pub struct Pairing {
    token: Mutex<String>,
    cookie: String,
    shown: watch::Sender<String>,
}

impl Pairing {
    /// With a first token; whoever shows it watches for the next.
    #[must_use]
    pub fn new() -> (Self, watch::Receiver<String>) {
        let token = secret();
        let (shown, watcher) = watch::channel(token.clone());
        (Self { token: Mutex::new(token), cookie: secret(), shown }, watcher)
    }

    /// Takes a token: each one once.
    fn takes(&self, token: &str) -> bool {
        let mut ours = self.token.lock().unwrap_or_else(PoisonError::into_inner);
        if !same(token, &ours) {
            return false;
        }
        *ours = secret();
        self.shown.send_replace(ours.clone());
        true
    }

    fn knows(&self, headers: &HeaderMap) -> bool {
        let cookies = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
        let mut ours = cookies.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
        ours.any(|(name, value)| name == COOKIE && same(value, &self.cookie))
    }
}

/// 244 random bits that nobody can guess: two random identifiers (RFC 9562, 5.4).
fn secret() -> String {
    format!("{}{}", Uuid::new_v4().simple(), Uuid::new_v4().simple())
}

/// Whether two texts are the same, in a time that depends on their lengths alone.
fn same(one: &str, other: &str) -> bool {
    let differing = one.bytes().zip(other.bytes()).fold(0, |sum, (a, b)| sum | (a ^ b));
    one.len() == other.len() && std::hint::black_box(differing) == 0
}

/// Stands before everything.
pub(super) async fn guard(State(page): State<Page>, request: Request, next: Next) -> Response {
    let mut response = match refusal(&page, &request) {
        Some(refusal) => refusal,
        None => {
            if page.pairing.as_ref().is_none_or(|pairing| pairing.knows(request.headers()))
                && let Some(visitor) = request.extensions().get::<Arc<Visitor>>().cloned()
            {
                visitor.is_known().await;
            }
            match gathered(request).await {
                Ok(request) => next.run(request).await,
                Err(refusal) => refusal,
            }
        }
    };
    let own_policy = response.headers().contains_key(header::CONTENT_SECURITY_POLICY);
    for (name, value) in HEADERS {
        // A sheet brings a stricter one along, in which its own style has its place.
        if !(own_policy && name == header::CONTENT_SECURITY_POLICY) {
            response.headers_mut().insert(name, HeaderValue::from_static(value));
        }
    }
    response
}

/// A request with its body, which comes whole, in time, and is no longer than any act.
async fn gathered(request: Request) -> Result<Request, Response> {
    let (parts, body) = request.into_parts();
    let longest = if parts.uri.path() == IMPORT { LONGEST_DOCUMENT } else { LONGEST_BODY };
    match tokio::time::timeout(PATIENCE, to_bytes(body, longest)).await {
        Ok(Ok(bytes)) => Ok(Request::from_parts(parts, Body::from(bytes))),
        Ok(Err(_)) => Err(said(StatusCode::PAYLOAD_TOO_LARGE, words::page::TOO_LONG)),
        Err(_) => Err(said(StatusCode::REQUEST_TIMEOUT, words::page::TOO_SLOW)),
    }
}

fn refusal(page: &Page, request: &Request) -> Option<Response> {
    let headers = request.headers();
    let mut hosts = headers.get_all(header::HOST).iter();
    let (Some(host), None) = (hosts.next(), hosts.next()) else {
        return Some(said(StatusCode::BAD_REQUEST, words::page::ONE_HOST));
    };
    let Some(host) = host.to_str().ok().filter(|host| is_ours(host, page.port)) else {
        return Some(said(StatusCode::FORBIDDEN, words::page::WRONG_ADDRESS));
    };
    let pairs = request.uri().path() == "/pair" && request.method() == Method::GET;
    if let Some(pairing) = page.pairing.as_ref().filter(|_| !pairs)
        && !pairing.knows(headers)
    {
        return Some(unpaired(headers));
    }
    if matches!(*request.method(), Method::GET | Method::HEAD) {
        return None;
    }
    let text = |name: &str| headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let from_here = text("origin") == format!("http://{host}");
    let json = text("content-type").split(';').next() == Some("application/json");
    if from_here && json && text(OURS) == "1" {
        None
    } else {
        Some(said(StatusCode::FORBIDDEN, words::page::NOT_FROM_HERE))
    }
}

/// An address, or `localhost`, with our own port; a browser leaves out that of its scheme.
fn is_ours(host: &str, port: u16) -> bool {
    let with_port = host.rsplit_once(':').filter(|_| !host.ends_with(']'));
    let (name, at) = with_port.unwrap_or((host, "80"));
    let name = name.trim_start_matches('[').trim_end_matches(']');
    at == port.to_string() && (name == "localhost" || name.parse::<IpAddr>().is_ok())
}

#[derive(Debug, Deserialize)]
pub(super) struct Token {
    token: String,
}

/// Gives a device its cookie, once for each token.
pub(super) async fn pair(
    State(page): State<Page>,
    headers: HeaderMap,
    token: Result<Query<Token>, QueryRejection>,
) -> Response {
    let Some(pairing) = &page.pairing else { return to_the_page(None) };
    match token {
        Ok(Query(Token { token })) if pairing.takes(&token) => to_the_page(Some(&pairing.cookie)),
        _ if accepts_a_page(&headers) => pairing_page(words::page::CODE_USED),
        _ => said(StatusCode::UNAUTHORIZED, words::page::CODE_USED),
    }
}

fn to_the_page(cookie: Option<&str>) -> Response {
    let mut response = (StatusCode::SEE_OTHER, [(header::LOCATION, "/")]).into_response();
    let line = cookie.map(|cookie| format!("{COOKIE}={cookie}; HttpOnly; SameSite=Strict; Path=/"));
    if let Some(value) = line.and_then(|line| HeaderValue::from_str(&line).ok()) {
        response.headers_mut().insert(header::SET_COOKIE, value);
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_points_here_is_none_of_ours() {
        for host in ["127.0.0.1:8650", "localhost:8650", "[::1]:8650", "192.168.1.20:8650"] {
            assert!(is_ours(host, 8650), "{host}");
        }
        for host in ["evil.example:8650", "127.0.0.1", "127.0.0.1:80", "localhost.evil.example:8650", "", ":8650"] {
            assert!(!is_ours(host, 8650), "{host}");
        }
        for host in ["127.0.0.1", "127.0.0.1:80", "localhost", "[::1]", "[::1]:80", "192.168.1.20"] {
            assert!(is_ours(host, 80) && !is_ours(host, 8650), "{host}");
        }
        for host in ["evil.example", "127.0.0.1:", "127.0.0.1:8650", "[::1]:8650", "[]", ""] {
            assert!(!is_ours(host, 80), "{host}");
        }
    }

    #[test]
    fn a_token_lets_in_once_and_the_next_one_is_shown() {
        let (pairing, mut shown) = Pairing::new();
        let first = shown.borrow_and_update().clone();
        assert!(!pairing.takes("") && !pairing.takes(&first[1..]));
        assert!(pairing.takes(&first));
        assert!(!pairing.takes(&first), "each one once");
        assert!(shown.has_changed().unwrap());
        let second = shown.borrow_and_update().clone();
        assert!(first != second && pairing.takes(&second));
    }
}
