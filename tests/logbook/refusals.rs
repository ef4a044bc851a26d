//! A file that is not a logbook this version can use is refused in plain words and left byte for byte as it was.

use clinoblade::logbook::{Location, Logbook, LogbookError, SavedDefault};
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{AssertSqlSafe, ConnectOptions, Connection};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A folder with one logbook in it, closed.
async fn folder_with_logbook() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("club.sqlite");
    let logbook = Logbook::open(&Location::from(path.as_path())).await.unwrap();
    // Something to damage: many pages, not just the empty tables.
    logbook.save(SavedDefault::Source, Some(&"workshop ".repeat(8000))).await.unwrap();
    logbook.close().await;
    (folder, path)
}

async fn direct(path: &Path) -> SqliteConnection {
    SqliteConnectOptions::new().filename(path).create_if_missing(true).connect().await.unwrap()
}

async fn change(path: &Path, sql: &str) {
    let mut connection = direct(path).await;
    sqlx::raw_sql(AssertSqlSafe(sql.to_owned())).execute(&mut connection).await.unwrap();
    connection.close().await.unwrap();
}

/// Every file of a folder with all its bytes.
fn everything_in(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    files.map(|path| (path.clone(), fs::read(path).unwrap())).collect()
}

/// Opens what must be refused, and holds that nothing in the folder has changed, appeared or gone.
async fn refusal(path: &Path) -> LogbookError {
    let before = everything_in(path.parent().unwrap());
    let refusal = Logbook::open(&Location::from(path)).await.expect_err("this must be refused");
    let after = everything_in(path.parent().unwrap());
    assert_eq!(before.keys().collect::<Vec<_>>(), after.keys().collect::<Vec<_>>(), "{refusal}");
    assert!(before == after, "a byte was changed: {refusal}");
    refusal
}

#[tokio::test]
async fn a_file_of_a_newer_version() {
    let (_folder, path) = folder_with_logbook().await;
    change(&path, "PRAGMA user_version = 99").await;
    let refusal = refusal(&path).await;
    assert!(matches!(refusal, LogbookError::Newer { found: 99, .. }), "{refusal}");
}

#[tokio::test]
async fn a_file_with_a_step_that_is_not_known_here() {
    let (_folder, path) = folder_with_logbook().await;
    change(
        &path,
        "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time) VALUES (98, 'later', 1, x'00', 0)",
    )
    .await;
    assert!(matches!(refusal(&path).await, LogbookError::Newer { found: 98, .. }));
}

/// The files as a program leaves them that is killed right after `sql`: what it wrote stands in the log alone.
async fn killed_after(sql: &str) -> (TempDir, PathBuf) {
    let (folder, path) = folder_with_logbook().await;
    let mut connection = direct(&path).await;
    sqlx::raw_sql(AssertSqlSafe(sql.to_owned())).execute(&mut connection).await.unwrap();
    let killed = tempfile::tempdir().unwrap();
    for (file, bytes) in everything_in(folder.path()) {
        fs::write(killed.path().join(file.file_name().unwrap()), bytes).unwrap();
    }
    connection.close().await.unwrap();
    assert_eq!(everything_in(killed.path()).len(), 3, "the file, its log and the log's index");
    let path = killed.path().join("club.sqlite");
    (killed, path)
}

#[tokio::test]
async fn a_newer_file_whose_last_commit_is_still_in_its_log() {
    let (_folder, path) = killed_after("PRAGMA user_version = 99").await;
    assert!(matches!(refusal(&path).await, LogbookError::Newer { found: 99, .. }));
}

#[tokio::test]
async fn a_damaged_file_with_a_log_beside_it() {
    let (_folder, path) = killed_after("INSERT INTO saved_defaults (name, value) VALUES ('head', 'Trainer')").await;
    let mut bytes = fs::read(&path).unwrap();
    let middle = bytes.len() / 2 / 4096 * 4096;
    bytes[middle..middle + 16].fill(0xA5);
    fs::write(&path, bytes).unwrap();
    assert!(matches!(refusal(&path).await, LogbookError::Damaged { .. }));
}

/// What a kill leaves is no damage: the next program goes on with it.
#[tokio::test]
async fn a_log_left_by_a_kill_is_no_reason_to_refuse() {
    let (_folder, path) = killed_after("UPDATE saved_defaults SET value = 'bench adapter'").await;
    let logbook = Logbook::open(&Location::from(path.as_path())).await.unwrap();
    assert_eq!(logbook.saved(SavedDefault::Source).await.unwrap().as_deref(), Some("bench adapter"));
}

#[tokio::test]
async fn a_database_of_another_program() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("stock.sqlite");
    change(&path, "CREATE TABLE parts (name TEXT); INSERT INTO parts VALUES ('ball link')").await;
    assert!(matches!(refusal(&path).await, LogbookError::NotALogbook(_)));
    change(&path, "PRAGMA application_id = 7").await;
    assert!(matches!(refusal(&path).await, LogbookError::NotALogbook(_)));
}

#[tokio::test]
async fn a_file_that_is_no_database() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notes.txt");
    for text in ["x", "elevator up 11.9\n", &"rudder left\n".repeat(1000)] {
        fs::write(&path, text).unwrap();
        assert!(matches!(refusal(&path).await, LogbookError::NotALogbook(_)));
    }
}

#[tokio::test]
async fn a_logbook_that_is_cut_short() {
    let (_folder, path) = folder_with_logbook().await;
    let whole = fs::read(&path).unwrap();
    assert!(whole.len() > 40_000);
    for length in [whole.len() - 1, whole.len() / 2, 5000, 4096, 512, 100, 99, 20] {
        fs::write(&path, &whole[..length]).unwrap();
        let refusal = refusal(&path).await;
        assert!(matches!(refusal, LogbookError::Damaged { .. } | LogbookError::NotALogbook(_)), "{length}: {refusal}");
    }
}

/// Sixteen bytes overwritten at every page in turn: no such file may be changed, and whatever damages the structure of
/// the file is refused. (Damage to nothing but the text of a value cannot be seen from outside.)
#[tokio::test]
async fn a_logbook_with_a_damaged_page() {
    let (_folder, path) = folder_with_logbook().await;
    let whole = fs::read(&path).unwrap();
    for page in 0..whole.len() / 4096 {
        let mut bytes = whole.clone();
        bytes[page * 4096..page * 4096 + 16].fill(0xA5);
        fs::write(&path, &bytes).unwrap();
        let refusal = refusal(&path).await;
        assert!(matches!(refusal, LogbookError::Damaged { .. } | LogbookError::NotALogbook(_)), "{page}: {refusal}");
    }
}

#[tokio::test]
async fn a_log_without_its_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("club.sqlite");
    let log = [&0x377F_0682_u32.to_be_bytes()[..], &[7; 5000]].concat();
    fs::write(folder.path().join("club.sqlite-wal"), log).unwrap();
    assert!(matches!(refusal(&path).await, LogbookError::Damaged { .. }));
    fs::write(&path, []).unwrap();
    assert!(matches!(refusal(&path).await, LogbookError::Damaged { .. }));
}

#[tokio::test]
async fn a_folder_and_a_file_in_no_folder() {
    let folder = tempfile::tempdir().unwrap();
    let refusal_of_folder = Logbook::open(&Location::from(folder.path())).await.unwrap_err();
    assert!(matches!(refusal_of_folder, LogbookError::IsFolder(_)), "{refusal_of_folder}");
    let nowhere = folder.path().join("attic/club.sqlite");
    assert!(matches!(Logbook::open(&Location::from(nowhere.as_path())).await, Err(LogbookError::NoFolder(_))));
    assert!(everything_in(folder.path()).is_empty());
}

#[cfg(target_os = "linux")]
#[tokio::test]
async fn a_folder_that_cannot_be_written() {
    // Not even the superuser makes a file here.
    let refusal = Logbook::open(&Location::from(Path::new("/sys/kernel/club.sqlite"))).await.unwrap_err();
    assert!(matches!(refusal, LogbookError::NotWritable(_)), "{refusal:?}");
}

/// An empty file is what a program leaves that was ended while it began a new logbook.
#[tokio::test]
async fn an_empty_file_is_no_reason_to_refuse() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("club.sqlite");
    fs::write(&path, []).unwrap();
    let logbook = Logbook::open(&Location::from(path.as_path())).await.unwrap();
    logbook.save(SavedDefault::Profile, Some("sentence")).await.unwrap();
    assert_eq!(logbook.saved(SavedDefault::Profile).await.unwrap().as_deref(), Some("sentence"));
    logbook.close().await;
}

#[tokio::test]
async fn a_closed_logbook_is_one_file() {
    let (folder, path) = folder_with_logbook().await;
    assert_eq!(everything_in(folder.path()).keys().collect::<Vec<_>>(), [&path]);
    let logbook = Logbook::open(&Location::from(path.as_path())).await.unwrap();
    logbook.save(SavedDefault::Source, None).await.unwrap();
    assert_eq!(logbook.saved(SavedDefault::Source).await.unwrap(), None);
}
