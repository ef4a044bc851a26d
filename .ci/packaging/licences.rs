//! The licences of what the program is linked with: the texts that each crate was published with, taken from its unpacked
//! source, each different text once. A crate that was published without a text is listed with the SPDX name of its licence
//! and its authors. The standard library is linked too; the compiler brings its licences.

use crate::packages::{Package, linked};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What is on in a package and off by default.
pub const FEATURES: &str = "shared-logbook";

/// The licences of the crates, in one file.
pub const CRATES: &str = "licences-of-crates.txt";

/// The licences of the standard library, as the compiler brings them.
pub const STANDARD_LIBRARY: &str = "licences-of-the-standard-library.html";

/// How a file begins that holds a licence or what goes with one, in small letters.
const BEGINNINGS: [&str; 6] = ["licen", "copying", "copyright", "notice", "unlicense", "patents"];

/// What was found.
#[derive(Debug)]
pub struct Collected {
    /// How many crates are listed.
    pub crates: usize,
    /// Those that were published without a text.
    pub without_text: Vec<String>,
}

/// Collects the licences into a folder.
///
/// # Errors
/// When cargo or the compiler cannot say what is linked, a file cannot be read or written, or a crate names no licence at all.
pub fn write(project: &Path, folder: &Path) -> Result<Collected, String> {
    let linked = linked(project, FEATURES)?;
    let (text, without_text) = list(&linked)?;
    fs::create_dir_all(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    let path = folder.join(CRATES);
    fs::write(&path, text).map_err(|error| format!("{}: {error}", path.display()))?;
    let standard = standard_library()?;
    let path = folder.join(STANDARD_LIBRARY);
    fs::write(&path, standard).map_err(|error| format!("{}: {error}", path.display()))?;
    Ok(Collected { crates: linked.len(), without_text })
}

/// The list of the crates, then the texts by number; and which crates have none.
///
/// # Errors
/// When a file cannot be read, or a crate names no licence at all.
pub fn list(linked: &[Package]) -> Result<(String, Vec<String>), String> {
    let mut texts: BTreeMap<String, usize> = BTreeMap::new();
    let mut in_order: Vec<String> = Vec::new();
    let (mut crates, mut without) = (String::new(), Vec::new());
    for package in linked {
        let Package { name, version, .. } = package;
        let licence = package.licence.as_deref().or(package.licence_file.as_deref());
        let licence = licence.ok_or_else(|| format!("{name} {version} names no licence"))?;
        let mut numbers: Vec<usize> = Vec::new();
        for text in texts_of(package)? {
            let known = in_order.len() + 1;
            let number = *texts.entry(same(&text)).or_insert(known);
            if number == known {
                in_order.push(text);
            }
            if !numbers.contains(&number) {
                numbers.push(number);
            }
        }
        let numbered = if numbers.is_empty() {
            without.push(format!("{name} {version}"));
            let authors = package.authors.join(", ");
            format!("published without a text; by {}", if authors.is_empty() { "authors not named" } else { &authors })
        } else {
            let numbers: Vec<String> = numbers.iter().map(usize::to_string).collect();
            format!("text {}", numbers.join(", "))
        };
        // Writing into memory does not fail.
        let _ = writeln!(
            crates,
            "{name} {version}\n    {licence}: {numbered}\n    source: https://crates.io/crates/{name}/{version}"
        );
    }
    let mut page = format!(
        "The program is linked with {} crates, which others wrote, used as they were published. Each is listed with its licence as\n\
         an SPDX expression (https://spdx.org/licenses/) and with the texts that it was published with, which follow by number.\n\n{crates}",
        linked.len()
    );
    for (index, text) in in_order.iter().enumerate() {
        let _ = write!(page, "\n==== text {} ====\n\n{}\n", index + 1, text.trim_end());
    }
    Ok((page, without))
}

/// By what two texts are the same: their words, whatever the lines.
fn same(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The texts in a crate's folder, and in a folder of licences in it.
fn texts_of(package: &Package) -> Result<Vec<String>, String> {
    let mut names = Vec::new();
    for entry in entries(&package.folder)? {
        let is_named = package.licence_file.as_deref().is_some_and(|file| package.folder.join(file) == entry);
        let name = entry.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
        if !is_named && (!BEGINNINGS.iter().any(|begin| name.starts_with(begin)) || name.ends_with(".rs")) {
            continue;
        }
        if entry.is_dir() {
            names.extend(entries(&entry)?.into_iter().filter(|path| path.is_file()));
        } else {
            names.push(entry);
        }
    }
    let mut texts = Vec::new();
    for path in names {
        let bytes = fs::read(&path).map_err(|error| format!("{}: {error}", path.display()))?;
        let text = String::from_utf8_lossy(&bytes).replace('\r', "");
        if !text.trim().is_empty() {
            texts.push(text);
        }
    }
    Ok(texts)
}

fn entries(folder: &Path) -> Result<Vec<PathBuf>, String> {
    let wrong = |error: std::io::Error| format!("{}: {error}", folder.display());
    let found = fs::read_dir(folder).map_err(wrong)?.map(|entry| entry.map(|entry| entry.path()).map_err(wrong));
    let mut found: Vec<_> = found.collect::<Result<_, _>>()?;
    found.sort();
    Ok(found)
}

/// The licences of the standard library, which lie beside the compiler.
fn standard_library() -> Result<Vec<u8>, String> {
    let output =
        Command::new("rustc").args(["--print", "sysroot"]).output().map_err(|error| format!("rustc: {error}"))?;
    let sysroot = String::from_utf8_lossy(&output.stdout);
    let path = Path::new(sysroot.trim()).join("share/doc/rust/COPYRIGHT-library.html");
    fs::read(&path).map_err(|error| format!("{}: {error}", path.display()))
}
