//! A sheet on paper: printed by a browser without a window, counted, read, and put where a person can look at it.

use crate::place::kept;
use clinoblade::units::Angle;
use clinoblade::words::with_uncertainty;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Where the sheets of a run are put, to be looked at.
pub fn sheets() -> PathBuf {
    kept("sheet")
}

/// What came out of the printer.
pub struct Printed {
    pub pages: usize,
    /// As it lies on the page.
    pub text: String,
}

fn answer(program: &str, arguments: &[&str]) -> String {
    let output = Command::new(program).args(arguments).output();
    let output = output.unwrap_or_else(|error| panic!("the tests need {program} (Debian: poppler-utils): {error}"));
    assert!(output.status.success(), "{program}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// Prints a page; the PDF is put beside it, with a picture of each of its pages.
pub fn print(html: &Path) -> Printed {
    let pdf = html.with_extension("pdf");
    let profile = tempfile::tempdir().unwrap();
    let browser = Command::new("chromium")
        .args(["--headless=new", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .arg(format!("--print-to-pdf={}", pdf.display()))
        .arg(format!("file://{}", html.display()))
        .output()
        .expect("the tests need chromium");
    assert!(browser.status.success(), "{}", String::from_utf8_lossy(&browser.stderr));
    let name = pdf.to_str().unwrap();
    answer("pdftoppm", &["-r", "100", "-png", name, html.with_extension("").to_str().unwrap()]);
    let told = answer("pdfinfo", &[name]);
    let line = told.lines().find(|line| line.starts_with("Pages:")).unwrap_or_else(|| panic!("no pages in {told}"));
    let size = told.lines().find(|line| line.starts_with("Page size:")).unwrap();
    assert!(size.contains("A4"), "{size}");
    Printed {
        pages: line.split_whitespace().nth(1).unwrap().parse().unwrap(),
        text: answer("pdftotext", &["-layout", name, "-"]),
    }
}

/// A PDF that a browser made.
#[derive(Debug)]
pub struct Paper {
    pub pages: usize,
    /// As the tool names it.
    pub size: String,
    pub text: String,
}

/// What a PDF holds; a picture of each of its pages is put beside it.
pub fn of_pdf(pdf: &Path) -> Paper {
    let name = pdf.to_str().unwrap();
    answer("pdftoppm", &["-r", "100", "-png", name, pdf.with_extension("").to_str().unwrap()]);
    let told = answer("pdfinfo", &[name]);
    let line = |of: &str| told.lines().find(|line| line.starts_with(of)).unwrap_or_else(|| panic!("no {of} in {told}"));
    Paper {
        pages: line("Pages:").split_whitespace().nth(1).unwrap().parse().unwrap(),
        size: line("Page size:").to_owned(),
        text: answer("pdftotext", &["-layout", name, "-"]),
    }
}

/// One or two pages, and on them every cell of the record with its value, its uncertainty and its verdict.
pub fn hold(printed: &Printed, record: &Value) {
    assert!((1..=2).contains(&printed.pages), "{} pages:\n{}", printed.pages, printed.text);
    let cells = record["cells"].as_array().unwrap();
    for cell in cells {
        let (name, verdict) = (cell["cell"].as_str().unwrap(), cell["verdict"].as_str().unwrap().replace('_', " "));
        // An end of the tail is judged by the pitch at which the blade stands.
        let (value, of) = match &cell["stands"] {
            Value::Null => (&cell["value_deg"], cell),
            stands => (&stands["pitch_deg"], stands),
        };
        let value = value.as_f64().zip(of["expanded_uncertainty_deg"].as_f64());
        let value = value.map_or_else(String::new, |(value, u)| {
            with_uncertainty(Angle::from_degrees(value), Angle::from_degrees(u))
        });
        assert!(
            shows(&printed.text, name, &value, &verdict),
            "{name}, {value}, {verdict}, is not on paper:\n{}",
            printed.text
        );
    }
}

/// Whether the first verdict after the cell's name on one of its lines is this one, with the value between them.
fn shows(paper: &str, name: &str, value: &str, verdict: &str) -> bool {
    const VERDICTS: [&str; 7] = ["inside", "outside", "undecided", "in question", "bound", "stale", "missing"];
    paper.lines().any(|line| {
        let after = line.match_indices(name).map(|(at, _)| &line[at + name.len()..]);
        let words = |rest: &str| {
            let words = rest.split_whitespace().collect::<Vec<_>>().join(" ");
            let first = VERDICTS.iter().filter_map(|verdict| Some((words.find(verdict)?, (*verdict).to_owned())));
            let (ends, verdict) = first.min_by_key(|(ends, _)| *ends)?;
            Some((words[..ends].to_owned(), verdict))
        };
        let mut found = after.filter_map(words);
        found.any(|(between, word)| word == verdict && between.contains(value))
    })
}
