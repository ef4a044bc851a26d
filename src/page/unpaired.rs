//! What a device gets that is not paired yet.

use super::act::said;
use crate::words;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};

/// A person gets a page with a field for the code; a program the reason.
pub(super) fn unpaired(headers: &HeaderMap) -> Response {
    if accepts_a_page(headers) {
        return pairing_page(words::page::PAIR_FIRST);
    }
    said(StatusCode::UNAUTHORIZED, words::page::PAIR_FIRST)
}

/// Whether a page is asked for.
pub(super) fn accepts_a_page(headers: &HeaderMap) -> bool {
    let mut accepted = headers.get_all(header::ACCEPT).iter().filter_map(|value| value.to_str().ok());
    accepted.any(|accepts| accepts.contains("text/html"))
}

/// The page with a field for the code.
pub(super) fn pairing_page(why: &str) -> Response {
    let page = include_str!("assets/pair.html").replace("{why}", why);
    let policy = include_str!("assets/pair.policy").trim_ascii_end();
    let policy = [(header::CONTENT_SECURITY_POLICY, policy)];
    (StatusCode::UNAUTHORIZED, policy, axum::response::Html(page)).into_response()
}
