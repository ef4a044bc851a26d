//! Writes a file whole or not at all: when the disk is full, no partial file stays. What is there already is replaced only
//! by a file of its own kind.

use crate::words::errors;
use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::Path;

/// Writes a new file and syncs it.
///
/// # Errors
/// When it exists, or cannot be written.
pub fn new(path: &Path, text: &str) -> io::Result<()> {
    let file = File::create_new(path)?;
    fill(file, path, text)
}

/// Replaces a file; the earlier one stays until the new one is whole, and for good where it is of another kind.
///
/// # Errors
/// When a file of another kind is there, or it cannot be written.
pub fn over(path: &Path, text: &str) -> io::Result<()> {
    // A symbolic link is followed; a device or pipe is written directly.
    let place = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    if fs::metadata(&place).is_ok_and(|found| !found.is_file()) {
        return fs::write(place, text);
    }
    if !may_go(&place, text)? {
        return Err(io::Error::new(io::ErrorKind::AlreadyExists, errors::ANOTHER_KIND));
    }
    let mut name = place.file_name().unwrap_or_default().to_owned();
    name.push(format!(".{}.part", std::process::id()));
    let beside = place.with_file_name(name);
    fill(File::create(&beside)?, &beside, text)?;
    fs::rename(&beside, &place).inspect_err(|_| {
        let _ = fs::remove_file(&beside);
    })
}

/// So much of a file says of what kind it is.
const BEGINNING: u64 = 512;

/// Whether nothing is there, an empty file, or one that begins as the new one does.
fn may_go(place: &Path, text: &str) -> io::Result<bool> {
    let mut begins = Vec::new();
    match File::open(place) {
        Ok(file) => file.take(BEGINNING).read_to_end(&mut begins)?,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(true),
        Err(error) => return Err(error),
    };
    Ok(begins.is_empty() || kind(&begins) == kind(text.as_bytes()))
}

/// What files of one kind have in common: the first tag of a picture or a page, the first name of a document, the first word
/// of a text.
fn kind(begins: &[u8]) -> Vec<u8> {
    let begins = begins.trim_ascii_start();
    match begins.first() {
        Some(b'{') => {
            begins.iter().copied().take_while(|&byte| byte != b':').filter(|byte| !byte.is_ascii_whitespace()).collect()
        }
        _ => begins
            .iter()
            .map(u8::to_ascii_lowercase)
            .take_while(|byte| !byte.is_ascii_whitespace() && *byte != b'>')
            .collect(),
    }
}

fn fill(mut file: File, path: &Path, text: &str) -> io::Result<()> {
    file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).inspect_err(|_| {
        let _ = fs::remove_file(path);
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_earlier_file_is_replaced_whole_and_nothing_stays_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sheet.html");
        over(&path, "<!doctype html>first").unwrap();
        over(&path, "<!DOCTYPE html>second").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "<!DOCTYPE html>second");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        assert_eq!(new(&path, "third").unwrap_err().kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(fs::read_to_string(&path).unwrap(), "<!DOCTYPE html>second");
    }

    #[test]
    fn only_a_file_of_the_same_kind_or_an_empty_one_is_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        let replaced = |there: &[u8], by: &str| {
            fs::write(&path, there).unwrap();
            let written = over(&path, by);
            let now = fs::read(&path).unwrap();
            assert_eq!(now, if written.is_ok() { by.as_bytes() } else { there });
            assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
            written.is_ok()
        };
        let (picture, truth) = ("<svg xmlns='x'>now</svg>", "{\n  \"clock_s\": 2\n}");
        assert!(replaced(b"<svg width='3'>before</svg>", picture) && replaced(b"{\"clock_s\":1}", truth));
        assert!(replaced(b"", picture));
        for there in [&b"SQLite format 3\0\x10"[..], b"{\"format\": 1}", b"<!doctype html>", b"a note"] {
            assert!(!replaced(there, picture) && !replaced(there, truth), "{there:?}");
        }
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_device_takes_what_it_is_given_and_stays_one() {
        over(Path::new("/dev/null"), "anything").unwrap();
        assert!(over(Path::new("/dev/full"), "anything").is_err());
        assert!(!fs::metadata("/dev/null").unwrap().is_file());
    }
}
