//! Writes a file whole or not at all: when the disk is full, no partial file stays.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

/// Writes a new file and syncs it. Fails if it exists.
pub(super) fn new(path: &Path, text: &str) -> io::Result<()> {
    let file = File::create_new(path)?;
    fill(file, path, text)
}

/// Replaces a file; the earlier one stays until the new one is whole.
pub(super) fn over(path: &Path, text: &str) -> io::Result<()> {
    // A symbolic link is followed; a device or pipe is written directly.
    let place = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    if fs::metadata(&place).is_ok_and(|found| !found.is_file()) {
        return fs::write(place, text);
    }
    let mut name = place.file_name().unwrap_or_default().to_owned();
    name.push(format!(".{}.part", std::process::id()));
    let beside = place.with_file_name(name);
    fill(File::create(&beside)?, &beside, text)?;
    fs::rename(&beside, &place).inspect_err(|_| {
        let _ = fs::remove_file(&beside);
    })
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
        over(&path, "first").unwrap();
        over(&path, "second").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "second");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        assert_eq!(new(&path, "third").unwrap_err().kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(fs::read_to_string(&path).unwrap(), "second");
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_device_takes_what_it_is_given_and_stays_one() {
        over(Path::new("/dev/null"), "anything").unwrap();
        assert!(over(Path::new("/dev/full"), "anything").is_err());
        assert!(!fs::metadata("/dev/null").unwrap().is_file());
    }
}
