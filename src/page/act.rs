//! What people do.

use super::Page;
use crate::bench::conductor::Refusal;
use crate::guide::Act;
use crate::words::{self, Face, Say};
use axum::Json;
use axum::body::Bytes;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use tokio::sync::oneshot;

/// An answer in words.
pub(super) fn said(status: StatusCode, words: &str) -> Response {
    (status, Json(serde_json::json!({ "said": words }))).into_response()
}

/// Why an act was not taken, in words and as a value.
fn refused(refusal: &Refusal) -> Response {
    let kind = match refusal {
        Refusal::Guide(refusal) => serde_json::json!(refusal),
        Refusal::NotKept(_) => serde_json::json!({ "kind": "not_kept" }),
        Refusal::Deed(_) => serde_json::json!({ "kind": "not_done" }),
        Refusal::Ended => serde_json::json!({ "kind": "ended" }),
    };
    (StatusCode::CONFLICT, Json(serde_json::json!({ "said": refusal.say(Face::Page), "refusal": kind })))
        .into_response()
}

/// Does something.
pub(super) async fn act(State(page): State<Page>, body: Bytes) -> Response {
    let act: Act = match serde_json::from_slice(&body) {
        Ok(act) => act,
        Err(error) => return said(StatusCode::BAD_REQUEST, &words::page::not_understood(&error.to_string())),
    };
    let Some(conductor) = page.workshop.conductor() else {
        return said(StatusCode::CONFLICT, words::workshop::NOTHING_ON_THE_BENCH);
    };
    match conductor.act(act).await {
        Ok(()) => StatusCode::NO_CONTENT.into_response(),
        Err(refusal) => refused(&refusal),
    }
}

/// What the simulated hands do for the page: they move what a person moves, and never end the head or wait.
const HANDS: [&str; 8] = ["stick", "head", "clip", "tail", "cable", "tilt", "unplug", "replug"];

/// A line for the simulated hands.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    line: String,
}

/// Moves the simulated hands; there are none at a real helicopter.
pub(super) async fn rig(State(page): State<Page>, body: Bytes) -> Response {
    let Some(hands) = page.workshop.hands().await else { return StatusCode::NOT_FOUND.into_response() };
    let Ok(Line { line }) = serde_json::from_slice(&body) else {
        return said(StatusCode::BAD_REQUEST, words::page::HANDS_DO_NOT_UNDERSTAND);
    };
    let word = line.split_whitespace().next().unwrap_or_default();
    if !HANDS.contains(&word) {
        return said(StatusCode::BAD_REQUEST, words::page::HANDS_DO_NOT);
    }
    let (reply, answer) = oneshot::channel();
    if hands.send((line, reply)).await.is_err() {
        return said(StatusCode::CONFLICT, words::page::HEAD_ENDED);
    }
    match answer.await {
        Ok(Ok(_)) => StatusCode::NO_CONTENT.into_response(),
        Ok(Err(words)) => said(StatusCode::CONFLICT, &words),
        Err(_) => said(StatusCode::CONFLICT, words::page::HEAD_ENDED),
    }
}
