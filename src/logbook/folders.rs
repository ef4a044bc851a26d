//! Folders that are on the disk once they are made. A name, of a file or of a folder, is there only once the folder that
//! holds it was brought to the disk; so every folder that gets a new name in it is brought there.

use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io;
use std::path::Path;

/// Makes a folder, with those above it that are missing: on Unix nobody else may look into them.
pub(super) fn make(folder: &Path) -> io::Result<()> {
    make_with(folder, keep_names)
}

fn make_with(folder: &Path, keep_names: impl FnMut(&Path) -> io::Result<()>) -> io::Result<()> {
    let missing: Vec<&Path> = folder.ancestors().take_while(|folder| !folder.exists()).collect();
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, FOLDER_MODE);
    builder.create(folder)?;
    missing.iter().rev().filter_map(|made| made.parent()).try_for_each(keep_names)
}

/// Who may do what with a folder and a file of the person's own: only the person.
#[cfg(unix)]
const FOLDER_MODE: u32 = 0o700;
#[cfg(unix)]
const FILE_MODE: u32 = 0o600;

/// Takes a folder or a file that was there from everybody but its owner. One that belongs to somebody else stays as it is.
pub(super) fn keep_private(place: &Path) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let found = match fs::metadata(place) {
            Ok(found) => found,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
            Err(error) => return Err(error),
        };
        let own = if found.is_dir() { FOLDER_MODE } else { FILE_MODE };
        if found.permissions().mode() & 0o077 != 0 {
            match fs::set_permissions(place, fs::Permissions::from_mode(own)) {
                Err(error) if error.kind() == io::ErrorKind::PermissionDenied => {}
                done => done?,
            }
        }
    }
    #[cfg(not(unix))]
    let _ = place;
    Ok(())
}

/// Begins a file that only the person may read, in place of what was there.
pub(super) fn create(place: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, FILE_MODE);
    options.open(place)
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

    #[cfg(unix)]
    #[test]
    fn what_is_made_is_the_persons_own_and_what_was_there_becomes_it() {
        use std::os::unix::fs::PermissionsExt;
        let mode = |place: &Path| fs::metadata(place).unwrap().permissions().mode() & 0o777;
        let home = tempfile::tempdir().unwrap();
        let (folder, file) = (home.path().join("data/clinoblade"), home.path().join("data/clinoblade/entry"));
        make(&folder).unwrap();
        create(&file).unwrap();
        assert_eq!([mode(&folder), mode(&home.path().join("data")), mode(&file)], [0o700, 0o700, 0o600]);
        for (place, open, closed) in [(&folder, 0o755, 0o700), (&file, 0o644, 0o600), (&file, 0o400, 0o400)] {
            fs::set_permissions(place, fs::Permissions::from_mode(open)).unwrap();
            keep_private(place).unwrap();
            assert_eq!(mode(place), closed, "{}", place.display());
        }
        keep_private(&home.path().join("nothing")).unwrap();
    }

    #[test]
    fn a_folder_that_cannot_be_kept_is_an_error() {
        let home = tempfile::tempdir().unwrap();
        let failing = |_: &Path| Err(io::Error::from(io::ErrorKind::StorageFull));
        assert_eq!(make_with(&home.path().join("data"), failing).unwrap_err().kind(), io::ErrorKind::StorageFull);
    }
}
