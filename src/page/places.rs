//! What the places show, and what is done there besides captures.

use super::Page;
use super::act::said;
use super::assets::{drawn, media_type};
use crate::bench::{Deed, SetupHandle, WorkshopError, sheet as sheet_of};
use crate::record::{CellName, Verdict};
use crate::report::pictures;
use crate::report::setup_sheet::Bar;
use crate::words::{self, Face, Say};
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use serde::{Deserialize, Serialize};

/// Why something was not done, in words and as a value.
fn refused(error: &WorkshopError) -> Response {
    let status = match error.kind() {
        "no_setup" | "no_helicopter" | "no_logbook" => StatusCode::NOT_FOUND,
        _ => StatusCode::CONFLICT,
    };
    let refusal = serde_json::json!({ "kind": error.kind(), "facts": error.facts() });
    (status, Json(serde_json::json!({ "said": error.say(Face::Page), "refusal": refusal }))).into_response()
}

fn answer<T: Serialize>(answer: Result<T, WorkshopError>) -> Response {
    match answer {
        Ok(answer) => Json(answer).into_response(),
        Err(error) => refused(&error),
    }
}

/// The start.
pub(super) async fn state(State(page): State<Page>) -> Response {
    answer(page.workshop.state().await)
}

/// Which helicopter.
#[derive(Debug, Deserialize)]
pub(super) struct Named {
    name: Option<String>,
}

/// A form.
pub(super) async fn head(State(page): State<Page>, Query(named): Query<Named>) -> Response {
    answer(page.workshop.form(named.name.as_deref()).await)
}

/// Which cell of which setup.
#[derive(Debug, Deserialize)]
pub(super) struct OfCell {
    setup: u32,
    cell: Option<CellName>,
}

/// What can have been turned.
pub(super) async fn turnables(State(page): State<Page>, Query(of): Query<OfCell>) -> Response {
    answer(page.workshop.turnables(of.setup, of.cell).await)
}

/// What is searched for.
#[derive(Debug, Deserialize)]
pub(super) struct Search {
    #[serde(default)]
    search: String,
}

/// The logbook.
pub(super) async fn setups(State(page): State<Page>, Query(search): Query<Search>) -> Response {
    answer(page.workshop.setups(&search.search).await)
}

/// Two setups.
#[derive(Debug, Deserialize)]
pub(super) struct Two {
    first: u32,
    second: u32,
}

/// Compares.
pub(super) async fn compare(State(page): State<Page>, Query(two): Query<Two>) -> Response {
    answer(page.workshop.compare(two.first, two.second).await)
}

/// A head, and one of its cells.
#[derive(Debug, Deserialize)]
pub(super) struct OfHead {
    head: String,
    cell: Option<CellName>,
}

/// A head over its setups.
pub(super) async fn history(State(page): State<Page>, Query(of): Query<OfHead>) -> Response {
    match page.workshop.history(&of.head).await {
        Ok(history) => Json(history.document(&of.head)).into_response(),
        Err(error) => refused(&error),
    }
}

/// The chart of one of its cells.
pub(super) async fn history_picture(State(page): State<Page>, Query(of): Query<OfHead>) -> Response {
    match page.workshop.history(&of.head).await {
        Ok(history) => match history.cells.iter().find(|cell| Some(cell.cell) == of.cell) {
            Some(cell) => drawn(&pictures::history(cell).svg()),
            None => StatusCode::NOT_FOUND.into_response(),
        },
        Err(error) => refused(&error),
    }
}

/// How a tumble stands.
pub(super) async fn tumble(State(page): State<Page>) -> Response {
    Json(page.workshop.tumbling().await).into_response()
}

/// Does something besides captures.
pub(super) async fn deed(State(page): State<Page>, body: Bytes) -> Response {
    let deed: Deed = match serde_json::from_slice(&body) {
        Ok(deed) => deed,
        Err(error) => return said(StatusCode::BAD_REQUEST, &words::page::not_understood(&error.to_string())),
    };
    answer(page.workshop.deed(deed).await)
}

/// Takes a document in.
pub(super) async fn import(State(page): State<Page>, body: Bytes) -> Response {
    answer(page.workshop.import(&body).await)
}

/// A file to keep.
fn file(name: &str, bytes: impl IntoResponse) -> Response {
    let kept = format!("attachment; filename=\"{name}\"");
    ([(header::CONTENT_TYPE, media_type(name)), (header::CONTENT_DISPOSITION, kept)], bytes).into_response()
}

/// A setup as a document.
pub(super) async fn export(State(page): State<Page>, Path(name): Path<String>) -> Response {
    let Some(number) = name.strip_suffix(".json").and_then(|number| number.parse().ok()) else {
        return StatusCode::NOT_FOUND.into_response();
    };
    match page.workshop.export(number).await {
        Ok(document) => match serde_json::to_string_pretty(&document) {
            Ok(text) => file(&format!("setup-{number}.json"), text),
            Err(_) => StatusCode::INTERNAL_SERVER_ERROR.into_response(),
        },
        Err(error) => refused(&error),
    }
}

/// The whole logbook.
pub(super) async fn backup(State(page): State<Page>) -> Response {
    match page.workshop.backup().await {
        Ok(bytes) => file("clinoblade-logbook.sqlite", bytes),
        Err(error) => refused(&error),
    }
}

/// Which part of a sheet.
#[derive(Debug, Deserialize)]
pub(super) struct Part {
    #[serde(default)]
    card: bool,
    #[serde(default)]
    letter: bool,
}

/// The sheet: to print with a bar above it that is not printed, or as a file to keep.
pub(super) async fn sheet(State(page): State<Page>, Path(name): Path<String>, Query(part): Query<Part>) -> Response {
    let (number, ending) =
        name.split_once('.').map_or((name.as_str(), None), |(number, ending)| (number, Some(ending)));
    let Ok(number) = number.parse::<u32>() else { return StatusCode::NOT_FOUND.into_response() };
    let open = match page.workshop.setup(number).await {
        Ok(open) => open,
        Err(error) => return refused(&error),
    };
    let sheet = match sheet_of(&open, None).await {
        Ok(sheet) => sheet,
        Err(error) => return refused(&error.into()),
    };
    let failed = || StatusCode::INTERNAL_SERVER_ERROR.into_response();
    match ending {
        Some("txt") => file(&format!("setup-{number}.txt"), sheet.to_string()),
        Some("html") => match sheet.html() {
            Ok(html) => file(&format!("setup-{number}.html"), html),
            Err(_) => failed(),
        },
        Some("json") => Json(sheet).into_response(),
        Some(_) => StatusCode::NOT_FOUND.into_response(),
        None => match sheet.with_bar(bar(&open, &part)) {
            Ok(html) => ([(header::CONTENT_SECURITY_POLICY, SHEET_POLICY)], Html(html)).into_response(),
            Err(_) => failed(),
        },
    }
}

/// A sheet has its style in it, and no script but the one that prints.
const SHEET_POLICY: &str = include_str!("assets/sheet.policy").trim_ascii_end();

/// What stands above a sheet on the screen.
fn bar(open: &SetupHandle, part: &Part) -> Bar {
    let record = open.record();
    let owed = || record.cells.iter().filter(|cell| cell.is_owed() || cell.verdict.is_captured());
    let count = |of: fn(&Verdict) -> bool| owed().filter(|cell| of(&cell.verdict)).count();
    let outside = count(|verdict| matches!(verdict, Verdict::Outside));
    let undecided = count(|verdict| matches!(verdict, Verdict::Undecided { .. } | Verdict::InQuestion { .. }));
    let missing = owed()
        .filter(|cell| cell.left_out.is_none() && matches!(cell.verdict, Verdict::Missing | Verdict::Stale { .. }));
    let (head, entries) = (&open.setup().head, open.entries());
    let todo = record.cells.iter().find_map(|cell| crate::record::remedy(head, entries, &record, cell));
    Bar {
        number: open.setup().number,
        verdict: words::workshop::headline(outside, undecided, missing.count(), record.good),
        todo: todo.map(|advice| advice.say(Face::Page)),
        closed: open.setup().closed_at.is_some(),
        card: part.card,
        letter: part.letter,
    }
}
