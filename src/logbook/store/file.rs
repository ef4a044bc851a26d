//! A logbook in a file: SQLite, opened with care, written to one transaction at a time.
//!
//! Write-ahead log with `synchronous = FULL`: a commit that has returned is on the disk, whatever ends the program or
//! the machine a moment later. Every write begins with `BEGIN IMMEDIATE`, so two programs that write at once wait for
//! each other instead of numbering twice.

use super::Site;
use crate::inspect::{APPLICATION_ID, Found, beside, inspect};
use crate::{BrokenLog, Location, LogbookError, folders, log, migrations};
use sqlx::migrate::Migrator;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{AssertSqlSafe, ConnectOptions, Connection, Sqlite, Transaction};
use std::fs;
#[cfg(unix)]
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How long a write waits for another program to finish its own.
const PATIENCE: Duration = Duration::from_secs(5);

/// Connections kept at most: one that writes, and a few that read beside it.
const CONNECTIONS: u32 = 4;

/// The layout that the file says it has.
const LAYOUT: &str = "PRAGMA user_version";

/// Its tables, step by step.
const STEPS: migrations::Steps = migrations::steps!("../migrations/sqlite/");

/// Its tables, ready to be laid out.
pub fn steps() -> Migrator {
    migrations::ready(STEPS)
}

/// An opened logbook file.
#[derive(Debug, Clone)]
pub struct FileStore {
    pool: SqlitePool,
    path: PathBuf,
    same: Same,
    broken_log: Option<Arc<BrokenLog>>,
}

impl FileStore {
    /// Opens the logbook at `location`, and makes a new one where there is none.
    pub async fn open(location: &Location) -> Result<Self, LogbookError> {
        let path = place(location)?;
        let found = inspect(&path).await?;
        let broken_log = log::copy_if_broken(&path).await?.map(Arc::new);
        let pool = connect(&path, found).await?;
        if broken_log.is_some() {
            // What is whole of the log goes into the file; the rest is in the copy, and is not found a second time.
            let _ = sqlx::raw_sql("PRAGMA wal_checkpoint(TRUNCATE)").execute(&pool).await;
        }
        if *location == Location::Own {
            keep_private(location, &path)?;
        }
        let same = Same::at(&path).ok_or_else(|| LogbookError::Gone(path.clone()))?;
        let store = Self { pool, path, same, broken_log };
        store.migrate().await?;
        Ok(store)
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What was wrong with its log when it was opened.
    pub fn broken_log(&self) -> Option<&BrokenLog> {
        self.broken_log.as_deref()
    }

    /// Where it is.
    pub fn site(&self) -> Site {
        self.path.as_path().into()
    }

    /// For reading.
    pub const fn pool(&self) -> &SqlitePool {
        &self.pool
    }

    /// What the database says.
    pub fn error(&self, error: sqlx::Error) -> LogbookError {
        result_code::error(&self.path, error)
    }

    /// Begins a write: no other program writes until it is committed or dropped.
    pub async fn begin(&self) -> Result<Transaction<'static, Sqlite>, LogbookError> {
        self.is_there()?;
        self.ask(self.pool.begin_with("BEGIN IMMEDIATE")).await
    }

    /// Commits a write: it is on the disk then, in the file that has this name.
    pub async fn commit(&self, write: Transaction<'static, Sqlite>) -> Result<(), LogbookError> {
        self.ask(write.commit()).await?;
        self.is_there()
    }

    /// A file that was removed can be written to for as long as somebody has it open, and is gone after that.
    fn is_there(&self) -> Result<(), LogbookError> {
        if Same::at(&self.path) == Some(self.same) { Ok(()) } else { Err(LogbookError::Gone(self.path.clone())) }
    }

    /// Waits for what the database answers.
    async fn ask<T>(&self, answer: impl Future<Output = Result<T, sqlx::Error>>) -> Result<T, LogbookError> {
        answer.await.map_err(|error| self.error(error))
    }

    /// Writes back what the log holds, and closes.
    pub async fn close(&self) {
        self.pool.close().await;
        // Connections that close at the same moment take each other for one that stays, and none of them tidies up.
        if beside(&self.path, "-wal").exists()
            && let Ok(last) = options(&self.path).connect().await
        {
            let _ = last.close().await;
        }
    }

    /// Brings the file to the newest layout: all steps together, or none.
    async fn migrate(&self) -> Result<(), LogbookError> {
        let found: i64 = self.ask(sqlx::query_scalar(LAYOUT).fetch_one(&self.pool)).await?;
        if found == migrations::NEWEST {
            return Ok(());
        }
        let mut write = self.begin().await?;
        // Another program may have been faster, and may even be newer.
        let found: i64 = self.ask(sqlx::query_scalar(LAYOUT).fetch_one(&mut *write)).await?;
        if found > migrations::NEWEST {
            return Err(LogbookError::Newer { site: self.site(), found, known: migrations::NEWEST });
        }
        if found < migrations::NEWEST {
            self.ask(async { Ok(steps().run_direct(None, &mut *write, false).await?) }).await?;
            let marks =
                format!("PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {};", migrations::NEWEST);
            self.ask(sqlx::raw_sql(AssertSqlSafe(marks)).execute(&mut *write)).await?;
        }
        self.ask(write.commit()).await
    }
}

/// SQLite's result codes, as far as they are told apart here (<https://www.sqlite.org/rescode.html>).
pub mod result_code {
    use super::{LogbookError, Path};
    use crate::Damage;

    pub const PERM: i32 = 3;
    pub const BUSY: i32 = 5;
    pub const LOCKED: i32 = 6;
    pub const READONLY: i32 = 8;
    const CORRUPT: i32 = 11;
    const FULL: i32 = 13;
    pub const CANTOPEN: i32 = 14;
    const NOTADB: i32 = 26;

    /// The log's index could not be made larger: what a full disk looks like while a file is opened.
    const IOERR_SHMSIZE: i32 = 4874;

    /// The result code of an error: the primary one, save where an extended one says more.
    pub fn of(error: &sqlx::Error) -> Option<i32> {
        match error.as_database_error()?.code()?.parse().ok()? {
            IOERR_SHMSIZE => Some(FULL),
            extended => Some(extended & 0xFF),
        }
    }

    /// What the database says about a file.
    pub fn error(path: &Path, source: sqlx::Error) -> LogbookError {
        match of(&source) {
            _ if matches!(source, sqlx::Error::PoolTimedOut) => LogbookError::Busy(path.into()),
            Some(BUSY | LOCKED) => LogbookError::Busy(path.into()),
            Some(FULL) => LogbookError::Full(path.to_owned()),
            Some(READONLY | PERM | CANTOPEN) => LogbookError::NotWritable(path.to_owned()),
            Some(CORRUPT) => LogbookError::damaged(path, Damage::Database(source.to_string())),
            Some(NOTADB) => LogbookError::NotALogbook(path.to_owned()),
            _ => LogbookError::Failed { site: path.into(), source },
        }
    }
}

/// By what a file is known that keeps its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Same {
    #[cfg(unix)]
    device_and_number: (u64, u64),
}

impl Same {
    /// The file that has this name now, if one does.
    fn at(path: &Path) -> Option<Self> {
        let found = fs::metadata(path).ok().filter(fs::Metadata::is_file)?;
        #[cfg(unix)]
        let same = |found: fs::Metadata| Self { device_and_number: (found.dev(), found.ino()) };
        // Elsewhere a file that is open cannot be removed.
        #[cfg(not(unix))]
        let same = |_: fs::Metadata| Self {};
        Some(same(found))
    }
}

/// The file to open, with its folder present and every link in its name followed.
fn place(location: &Location) -> Result<PathBuf, LogbookError> {
    let Some(named) = location.path()? else { return Err(LogbookError::NoName) };
    let path = std::path::absolute(&named).map_err(|error| LogbookError::from_io(&named, error))?;
    let (Some(folder), Some(name)) = (path.parent(), path.file_name()) else {
        return Err(LogbookError::IsFolder(path));
    };
    if *location == Location::Own {
        folders::make(folder).map_err(|error| LogbookError::from_io(&path, error))?;
    }
    let place = match (fs::canonicalize(&path), fs::canonicalize(folder)) {
        (Ok(place), _) => place,
        (Err(_), Ok(folder)) => folder.join(name),
        (Err(_), Err(error)) if error.kind() == std::io::ErrorKind::NotFound => {
            return Err(LogbookError::NoFolder(folder.to_owned()));
        }
        (Err(_), Err(error)) => return Err(LogbookError::from_io(&path, error)),
    };
    if place.to_str().is_none() { Err(LogbookError::NotUnicode(place)) } else { Ok(place) }
}

/// The person's own logbook is nobody else's to read: its folder, and its files. One that a link leads to is where the person
/// put it, and stays as it is.
fn keep_private(location: &Location, path: &Path) -> Result<(), LogbookError> {
    let named = location.path()?.and_then(|named| fs::canonicalize(named.parent()?).ok());
    let Some(folder) = named.filter(|folder| path.parent() == Some(folder)) else { return Ok(()) };
    let files = ["", "-wal", "-shm"].map(|ending| beside(path, ending));
    let mut places = std::iter::once(folder).chain(files);
    places.try_for_each(|place| folders::keep_private(&place)).map_err(|error| LogbookError::from_io(path, error))
}

fn options(path: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(path)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .foreign_keys(true)
        .busy_timeout(PATIENCE)
}

/// A full disk makes SQLite roll back by itself, of which sqlx takes no notice: the connection then counts as being in
/// a transaction for good, and is exchanged for a new one.
fn pool_options() -> SqlitePoolOptions {
    SqlitePoolOptions::new()
        .max_connections(CONNECTIONS)
        .before_acquire(|connection, _| Box::pin(async move { Ok(!connection.is_in_transaction()) }))
}

async fn connect(path: &Path, found: Found) -> Result<SqlitePool, LogbookError> {
    let options = options(path).create_if_missing(found == Found::Nothing);
    let begun = Instant::now();
    loop {
        let pool = pool_options().connect_with(options.clone()).await;
        match pool.map_err(|error| result_code::error(path, error)) {
            // Two programs that make the same logbook at once: turning the write-ahead log on cannot be waited for.
            Err(LogbookError::Busy(_)) if begun.elapsed() < PATIENCE => {
                tokio::time::sleep(Duration::from_millis(10)).await;
            }
            // A later connection must not make a file anew that was removed meanwhile.
            Ok(pool) => {
                pool.set_connect_options(options.create_if_missing(false));
                return Ok(pool);
            }
            Err(error) => return Err(error),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Store;
    use super::*;
    use crate::{Logbook, SavedDefault};

    async fn pragma(store: &FileStore, name: &str) -> String {
        let sql = format!("SELECT CAST({name} AS TEXT) FROM pragma_{name}");
        let name = sqlx::query_scalar(AssertSqlSafe(sql)).fetch_one(store.pool()).await;
        name.unwrap()
    }

    async fn new_store() -> (tempfile::TempDir, FileStore) {
        let folder = tempfile::tempdir().unwrap();
        let store = FileStore::open(&Location::File(folder.path().join("club.sqlite"))).await.unwrap();
        (folder, store)
    }

    #[tokio::test]
    async fn every_commit_reaches_the_disk() {
        let (_folder, store) = new_store().await;
        assert_eq!(pragma(&store, "journal_mode").await, "wal");
        assert_eq!(pragma(&store, "synchronous").await, "2", "FULL");
        assert_eq!(pragma(&store, "foreign_keys").await, "1");
        assert_eq!(pragma(&store, "application_id").await, APPLICATION_ID.to_string());
        assert_eq!(pragma(&store, "user_version").await, migrations::NEWEST.to_string());
    }

    /// A file that holds a setup under the first layout, as an earlier version left it.
    #[tokio::test]
    async fn a_file_of_the_first_layout_is_brought_up_and_loses_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("club.sqlite");
        let pool = connect(&path, Found::Nothing).await.unwrap();
        let first: Vec<_> = steps().iter().take(1).cloned().collect();
        let mut connection = pool.acquire().await.unwrap();
        let steps = sqlx::migrate::Migrator::with_migrations(first);
        steps.run_direct(None, &mut *connection, false).await.unwrap();
        let marks = format!("PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = 1;");
        sqlx::raw_sql(AssertSqlSafe(marks)).execute(&mut *connection).await.unwrap();
        let setup = "INSERT INTO setups (number, uid, head, reason, begun_at, changed_at, document)
                     VALUES (1, 'one', 'Trainer', 'new links', 5, 6, '{}')";
        sqlx::raw_sql(setup).execute(&mut *connection).await.unwrap();
        drop(connection);
        pool.close().await;

        let store = FileStore::open(&Location::File(path)).await.unwrap();
        assert_eq!(pragma(&store, "user_version").await, migrations::NEWEST.to_string());
        let logbook = Logbook::of(Store::File(store));
        let setups = logbook.setups(None, 9).await.unwrap();
        assert_eq!((setups.len(), setups[0].reason.as_str(), setups[0].imported_at), (1, "new links", None));
    }

    /// The database says "full" for a file that may not grow just as for a disk that has no room.
    #[tokio::test]
    async fn a_full_disk_is_said_and_loses_nothing() {
        let (_folder, mut store) = new_store().await;
        // One connection, since the limit holds for that connection alone.
        let one = pool_options().max_connections(1).connect_with(options(store.path()));
        store.pool = one.await.unwrap();
        let logbook = Logbook::of(Store::File(store.clone()));
        logbook.save(SavedDefault::Profile, Some("sentence")).await.unwrap();
        // As few pages as there are now.
        sqlx::raw_sql("PRAGMA max_page_count = 1").execute(store.pool()).await.unwrap();
        let much = "x".repeat(100_000);
        let refusal = logbook.save(SavedDefault::Profile, Some(&much)).await.unwrap_err();
        assert!(matches!(refusal, LogbookError::Full(_)), "{refusal:?}");
        assert_eq!(logbook.saved(SavedDefault::Profile).await.unwrap().as_deref(), Some("sentence"));
        // Once there is room, the next try is recorded.
        logbook.save(SavedDefault::Profile, Some(&much)).await.unwrap();
        assert_eq!(logbook.saved(SavedDefault::Profile).await.unwrap().as_deref(), Some(much.as_str()));
    }

    #[tokio::test]
    async fn a_logbook_that_another_program_holds_is_waited_for_and_then_said() {
        let (_folder, store) = new_store().await;
        let other = FileStore::open(&Location::File(store.path().to_owned())).await.unwrap();
        let held = other.begin().await.unwrap();
        let waited = Instant::now();
        let refusal = store.begin().await.unwrap_err();
        assert!(matches!(refusal, LogbookError::Busy(_)), "{refusal}");
        assert!(waited.elapsed() >= PATIENCE, "{:?}", waited.elapsed());
        drop(held);
        store.begin().await.unwrap();
    }

    #[tokio::test]
    async fn a_write_that_is_dropped_leaves_nothing() {
        let (_folder, store) = new_store().await;
        let mut write = store.begin().await.unwrap();
        sqlx::raw_sql("UPDATE counters SET setups = 7").execute(&mut *write).await.unwrap();
        drop(write);
        let setups: i64 = sqlx::query_scalar("SELECT setups FROM counters").fetch_one(store.pool()).await.unwrap();
        assert_eq!(setups, 0);
    }
}
