//! The page's own files, built in.

use super::Page;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};

const PAGE: &str = include_str!("assets/index.html");

/// Name, type and content of every file.
const FILES: [(&str, &str, &[u8]); 19] = [
    ("aloud.js", "text/javascript; charset=utf-8", include_bytes!("assets/aloud.js")),
    ("cells.js", "text/javascript; charset=utf-8", include_bytes!("assets/cells.js")),
    ("draw.js", "text/javascript; charset=utf-8", include_bytes!("assets/draw.js")),
    ("favicon.svg", "image/svg+xml", include_bytes!("assets/favicon.svg")),
    ("feed.js", "text/javascript; charset=utf-8", include_bytes!("assets/feed.js")),
    ("figures.js", "text/javascript; charset=utf-8", include_bytes!("assets/figures.js")),
    ("glide.js", "text/javascript; charset=utf-8", include_bytes!("assets/glide.js")),
    ("hands.js", "text/javascript; charset=utf-8", include_bytes!("assets/hands.js")),
    ("keys.js", "text/javascript; charset=utf-8", include_bytes!("assets/keys.js")),
    ("main.js", "text/javascript; charset=utf-8", include_bytes!("assets/main.js")),
    ("margin.js", "text/javascript; charset=utf-8", include_bytes!("assets/margin.js")),
    ("plan.js", "text/javascript; charset=utf-8", include_bytes!("assets/plan.js")),
    ("reading.js", "text/javascript; charset=utf-8", include_bytes!("assets/reading.js")),
    ("section.js", "text/javascript; charset=utf-8", include_bytes!("assets/section.js")),
    ("sheet.css", "text/css; charset=utf-8", include_bytes!("assets/sheet.css")),
    ("step.js", "text/javascript; charset=utf-8", include_bytes!("assets/step.js")),
    ("tailplan.js", "text/javascript; charset=utf-8", include_bytes!("assets/tailplan.js")),
    ("trace.js", "text/javascript; charset=utf-8", include_bytes!("assets/trace.js")),
    ("voice.js", "text/javascript; charset=utf-8", include_bytes!("assets/voice.js")),
];

/// The page itself.
pub(super) async fn page() -> Html<&'static str> {
    Html(PAGE)
}

/// One of its files.
pub(super) async fn asset(Path(name): Path<String>) -> Response {
    match FILES.iter().find(|(known, ..)| *known == name) {
        Some((_, kind, content)) => ([(header::CONTENT_TYPE, *kind)], *content).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// A picture of the setup.
pub(super) async fn picture(State(page): State<Page>, Path(file): Path<String>) -> Response {
    match file.strip_suffix(".svg").and_then(|name| page.conductor.picture(name)) {
        Some(svg) => ([(header::CONTENT_TYPE, "image/svg+xml")], svg).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_of_the_page_is_served() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/assets");
        for entry in std::fs::read_dir(folder).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            assert!(name == "index.html" || FILES.iter().any(|(known, ..)| *known == name), "{name}");
        }
    }
}
