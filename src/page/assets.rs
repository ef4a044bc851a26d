//! The page's own files, built in.

use super::Page;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};

const SVG: &str = "image/svg+xml";

const PAGE: &str = include_str!("assets/index.html");

/// Name and content of every file.
const FILES: [(&str, &[u8]); 19] = [
    ("aloud.js", include_bytes!("assets/aloud.js")),
    ("cells.js", include_bytes!("assets/cells.js")),
    ("draw.js", include_bytes!("assets/draw.js")),
    ("favicon.svg", include_bytes!("assets/favicon.svg")),
    ("feed.js", include_bytes!("assets/feed.js")),
    ("figures.js", include_bytes!("assets/figures.js")),
    ("glide.js", include_bytes!("assets/glide.js")),
    ("hands.js", include_bytes!("assets/hands.js")),
    ("keys.js", include_bytes!("assets/keys.js")),
    ("main.js", include_bytes!("assets/main.js")),
    ("margin.js", include_bytes!("assets/margin.js")),
    ("plan.js", include_bytes!("assets/plan.js")),
    ("reading.js", include_bytes!("assets/reading.js")),
    ("section.js", include_bytes!("assets/section.js")),
    ("sheet.css", include_bytes!("assets/sheet.css")),
    ("step.js", include_bytes!("assets/step.js")),
    ("tailplan.js", include_bytes!("assets/tailplan.js")),
    ("trace.js", include_bytes!("assets/trace.js")),
    ("voice.js", include_bytes!("assets/voice.js")),
];

/// The page itself.
pub(super) async fn page() -> Html<&'static str> {
    Html(PAGE)
}

/// One of its files.
pub(super) async fn asset(Path(name): Path<String>) -> Response {
    match FILES.iter().find(|(known, _)| *known == name) {
        Some((_, content)) => ([(header::CONTENT_TYPE, media_type(&name))], *content).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// Media type of a file, by the ending of its name.
fn media_type(name: &str) -> &'static str {
    match name.rsplit_once('.') {
        Some((_, "css")) => "text/css; charset=utf-8",
        Some((_, "svg")) => SVG,
        _ => "text/javascript; charset=utf-8",
    }
}

/// A picture of the setup.
pub(super) async fn picture(State(page): State<Page>, Path(file): Path<String>) -> Response {
    match file.strip_suffix(".svg").and_then(|name| page.conductor.picture(name)) {
        Some(svg) => ([(header::CONTENT_TYPE, SVG)], svg).into_response(),
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
            assert!(name == "index.html" || FILES.iter().any(|(known, _)| *known == name), "{name}");
        }
    }
}
