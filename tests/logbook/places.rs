//! Where the logbook may lie: in the user's data directory, under any name, behind a link.

use clinoblade::logbook::{Location, Logbook, NewSetup};
use std::fs;
use std::path::{Path, PathBuf};
use support::logbook::{capture_entry, head, open};
use support::place::child;

/// Opens the user's own logbook and prints where it is. Not a test: the tests start it with a home of its own.
#[tokio::test]
#[ignore = "the child of the other tests"]
async fn child_with_its_own_home() {
    let logbook = Logbook::open(&Location::Own).await.unwrap();
    let number = logbook.new_setup(NewSetup::of(head("Trainer"))).await.unwrap().number;
    println!("own logbook |{}| setup {number}", logbook.place());
    logbook.close().await;
}

fn own_logbook(variable: &str, value: &Path) -> (PathBuf, u32) {
    let output =
        child("places::child_with_its_own_home").env_remove("XDG_DATA_HOME").env(variable, value).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let (path, rest) = text.split_once("own logbook |").unwrap().1.split_once('|').unwrap();
    let number = rest.trim_start_matches(" setup ").split_whitespace().next().unwrap().parse().unwrap();
    (path.into(), number)
}

/// The folders of the XDG Base Directory Specification 0.8: $XDG_DATA_HOME, else ~/.local/share.
#[cfg(target_os = "linux")]
#[test]
fn without_a_name_the_logbook_lies_in_the_users_data_directory() {
    let home = tempfile::tempdir().unwrap();
    let real = fs::canonicalize(home.path()).unwrap();
    let data = home.path().join("a b/data");
    for number in 1..=2 {
        let expected = real.join("a b/data/clinoblade/logbook.sqlite");
        assert_eq!(own_logbook("XDG_DATA_HOME", &data), (expected, number));
    }
    let expected = real.join(".local/share/clinoblade/logbook.sqlite");
    assert_eq!(own_logbook("HOME", home.path()), (expected, 1));
}

/// What is written there is the person's own, also where an earlier logbook was open to all.
#[cfg(unix)]
#[test]
fn nobody_else_may_look_into_the_users_own_logbook() {
    use std::os::unix::fs::PermissionsExt;
    let home = tempfile::tempdir().unwrap();
    let data = home.path().join("data");
    for open in [false, true] {
        let (path, _) = own_logbook("XDG_DATA_HOME", &data);
        let folder = path.parent().unwrap();
        let mode = |place: &Path| fs::metadata(place).unwrap().permissions().mode() & 0o777;
        assert_eq!((mode(folder), mode(&path)), (0o700, 0o600), "was open: {open}");
        fs::set_permissions(folder, fs::Permissions::from_mode(0o755)).unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o644)).unwrap();
    }
    // Named by the person, it is as the person keeps it.
    let named = home.path().join("club.sqlite");
    fs::write(&named, b"").unwrap();
    fs::set_permissions(&named, fs::Permissions::from_mode(0o664)).unwrap();
    tokio::runtime::Runtime::new().unwrap().block_on(async { open(&named).await.close().await });
    assert_eq!(fs::metadata(&named).unwrap().permissions().mode() & 0o777, 0o664);
}

/// No name is taken for anything but a name, also while the log stands beside the file.
#[tokio::test]
async fn any_name_will_do() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["file:x?mode=memory", ":memory:", "50% & more #2.sqlite", "Prüfstand ☂.sqlite", "a'b\"c;d"] {
        let path = folder.path().join(name);
        let first = open(&path).await;
        first.new_setup(NewSetup::of(head("Trainer"))).await.unwrap();
        first.append(1, &capture_entry("elevator up"), None).await.unwrap();
        assert_eq!(first.path(), Some(&*fs::canonicalize(&path).unwrap()));
        // The first is still open, so what it wrote is in its log alone.
        let second = open(&path).await;
        assert_eq!(second.setup_with_entries(1).await.unwrap().entries.len(), 1, "{name}");
        first.close().await;
        second.close().await;
        let third = open(&path).await;
        assert_eq!(third.setup_with_entries(1).await.unwrap().entries.len(), 1, "{name}");
        third.close().await;
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 5);
}

#[cfg(unix)]
#[tokio::test]
async fn a_link_leads_to_the_file_it_names() {
    let folder = tempfile::tempdir().unwrap();
    let (file, link) = (folder.path().join("club.sqlite"), folder.path().join("link.sqlite"));
    open(&file).await.new_setup(NewSetup::of(head("Trainer"))).await.unwrap();
    std::os::unix::fs::symlink(&file, &link).unwrap();
    let logbook = open(&link).await;
    assert_eq!(logbook.setup(1).await.unwrap().head.name, "Trainer");
    assert_eq!(logbook.path(), Some(&*fs::canonicalize(&file).unwrap()));
}
