//! Folders that are on the disk once they are made. A name, of a file or of a folder, is there only once the folder that
//! holds it was brought to the disk; so every folder that gets a new name in it is brought there.

use std::fs;
use std::io;
use std::path::Path;

/// Makes a folder, with those above it that are missing.
pub(super) fn make(folder: &Path) -> io::Result<()> {
    make_with(folder, keep_names)
}

fn make_with(folder: &Path, keep_names: impl FnMut(&Path) -> io::Result<()>) -> io::Result<()> {
    let missing: Vec<&Path> = folder.ancestors().take_while(|folder| !folder.exists()).collect();
    fs::create_dir_all(folder)?;
    missing.iter().rev().filter_map(|made| made.parent()).try_for_each(keep_names)
}

/// Brings to the disk which names a folder holds.
pub(super) fn keep_names(folder: &Path) -> io::Result<()> {
    // The parent of a name without a folder is the one that the program works in.
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    #[cfg(unix)]
    fs::File::open(folder)?.sync_all()?;
    #[cfg(not(unix))]
    let _ = folder;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What would be lost with the power: a folder whose name was not kept, with all that is in it.
    #[test]
    fn the_names_of_all_new_folders_are_kept_from_the_uppermost_down() {
        let home = tempfile::tempdir().unwrap();
        let (data, waiting) = (home.path().join("data"), home.path().join("data/waiting"));
        let folder = waiting.join("of a server");
        let mut kept = Vec::new();
        let mut keep = |folder: &Path| {
            keep_names(folder)?;
            kept.push(folder.to_owned());
            Ok(())
        };
        make_with(&folder, &mut keep).unwrap();
        make_with(&folder, &mut keep).unwrap();
        assert!(folder.is_dir());
        assert_eq!(kept, [home.path().to_owned(), data, waiting], "each once, and none that was there");
    }

    #[test]
    fn a_folder_that_cannot_be_kept_is_an_error() {
        let home = tempfile::tempdir().unwrap();
        let failing = |_: &Path| Err(io::Error::from(io::ErrorKind::StorageFull));
        assert_eq!(make_with(&home.path().join("data"), failing).unwrap_err().kind(), io::ErrorKind::StorageFull);
    }
}
