//! The page's own files, built in.

use super::Page;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};

const SVG: &str = "image/svg+xml";

const START: &str = include_str!("assets/start.html");
const SETUP: &str = include_str!("assets/index.html");
const HELICOPTER: &str = include_str!("assets/helicopter.html");
const LOGBOOK: &str = include_str!("assets/logbook.html");
const COMPARE: &str = include_str!("assets/compare.html");
const HISTORY: &str = include_str!("assets/history.html");
const SENSOR: &str = include_str!("assets/sensor.html");

/// Name and content of every file.
const FILES: [(&str, &[u8]); 30] = [
    ("aloud.js", include_bytes!("assets/aloud.js")),
    ("cells.js", include_bytes!("assets/cells.js")),
    ("compare.js", include_bytes!("assets/compare.js")),
    ("draw.js", include_bytes!("assets/draw.js")),
    ("favicon.svg", include_bytes!("assets/favicon.svg")),
    ("feed.js", include_bytes!("assets/feed.js")),
    ("figures.js", include_bytes!("assets/figures.js")),
    ("glide.js", include_bytes!("assets/glide.js")),
    ("hands.js", include_bytes!("assets/hands.js")),
    ("helicopter.js", include_bytes!("assets/helicopter.js")),
    ("history.js", include_bytes!("assets/history.js")),
    ("keys.js", include_bytes!("assets/keys.js")),
    ("logbook.js", include_bytes!("assets/logbook.js")),
    ("main.js", include_bytes!("assets/main.js")),
    ("margin.js", include_bytes!("assets/margin.js")),
    ("place.css", include_bytes!("assets/place.css")),
    ("place.js", include_bytes!("assets/place.js")),
    ("plan.js", include_bytes!("assets/plan.js")),
    ("print.js", include_bytes!("assets/print.js")),
    ("reading.js", include_bytes!("assets/reading.js")),
    ("room.js", include_bytes!("assets/room.js")),
    ("section.js", include_bytes!("assets/section.js")),
    ("sensor.js", include_bytes!("assets/sensor.js")),
    ("sheet.css", include_bytes!("assets/sheet.css")),
    ("start.js", include_bytes!("assets/start.js")),
    ("step.js", include_bytes!("assets/step.js")),
    ("tailplan.js", include_bytes!("assets/tailplan.js")),
    ("trace.js", include_bytes!("assets/trace.js")),
    ("turned.js", include_bytes!("assets/turned.js")),
    ("voice.js", include_bytes!("assets/voice.js")),
];

/// The start.
pub(super) async fn start() -> Html<&'static str> {
    Html(START)
}

/// The setup on the bench.
pub(super) async fn setup() -> Html<&'static str> {
    Html(SETUP)
}

/// A helicopter's form.
pub(super) async fn helicopter() -> Html<&'static str> {
    Html(HELICOPTER)
}

/// The logbook.
pub(super) async fn logbook() -> Html<&'static str> {
    Html(LOGBOOK)
}

/// Two setups beside each other.
pub(super) async fn compare() -> Html<&'static str> {
    Html(COMPARE)
}

/// A helicopter over its setups.
pub(super) async fn history() -> Html<&'static str> {
    Html(HISTORY)
}

/// The sensor.
pub(super) async fn sensor() -> Html<&'static str> {
    Html(SENSOR)
}

/// The icon, where a browser asks for it by its old name.
pub(super) async fn icon() -> Response {
    ([(header::CONTENT_TYPE, SVG)], include_bytes!("assets/favicon.svg")).into_response()
}

/// One of its files.
pub(super) async fn asset(Path(name): Path<String>) -> Response {
    match FILES.iter().find(|(known, _)| *known == name) {
        Some((_, content)) => ([(header::CONTENT_TYPE, media_type(&name))], *content).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// Media type of a file, by the ending of its name.
pub(super) fn media_type(name: &str) -> String {
    let text = match name.rsplit_once('.') {
        Some((_, "svg")) => return SVG.to_owned(),
        Some((_, "json")) => return "application/json".to_owned(),
        Some((_, "sqlite")) => return "application/vnd.sqlite3".to_owned(),
        Some((_, "css")) => "css",
        Some((_, "html")) => "html",
        Some((_, "txt")) => "plain",
        _ => "javascript",
    };
    format!("text/{text}; charset=utf-8")
}

/// A picture of the setup.
pub(super) async fn picture(State(page): State<Page>, Path(file): Path<String>) -> Response {
    let conductor = page.workshop.conductor();
    match file.strip_suffix(".svg").and_then(|name| conductor?.picture(name)) {
        Some(svg) => drawn(&svg),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// A picture that follows the browser into the dark.
pub(super) fn drawn(svg: &str) -> Response {
    ([(header::CONTENT_TYPE, SVG)], crate::report::plot::in_the_dark(svg)).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_of_the_page_is_served() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/assets");
        for entry in std::fs::read_dir(folder).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            assert!(
                name.ends_with(".html") || name.ends_with(".policy") || FILES.iter().any(|(known, _)| *known == name),
                "{name}"
            );
        }
    }
}
