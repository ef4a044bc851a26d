//! The database underneath: opened with care, written to one transaction at a time.
//!
//! Write-ahead log with `synchronous = FULL`: a commit that has returned is on the disk, whatever ends the program or
//! the machine a moment later. Every write begins with `BEGIN IMMEDIATE`, so two programs that write at once wait for
//! each other instead of numbering twice.

use super::inspect::{APPLICATION_ID, Found, inspect};
use super::{Location, LogbookError, migrations};
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{AssertSqlSafe, Sqlite, Transaction};
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How long a write waits for another program to finish its own.
const PATIENCE: Duration = Duration::from_secs(5);

/// Connections kept at most: one that writes, and a few that read beside it.
const CONNECTIONS: u32 = 4;

/// The layout that the file says it has.
const LAYOUT: &str = "PRAGMA user_version";

/// An opened logbook file.
#[derive(Debug, Clone)]
pub(super) struct Store {
    pool: SqlitePool,
    path: PathBuf,
}

impl Store {
    /// Opens the logbook at `location`, and makes a new one where there is none.
    pub async fn open(location: &Location) -> Result<Self, LogbookError> {
        let path = place(location)?;
        let found = inspect(&path).await?;
        let pool = connect(&path, found).await?;
        let store = Self { pool, path };
        store.migrate().await?;
        Ok(store)
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// For reading.
    pub const fn pool(&self) -> &SqlitePool {
        &self.pool
    }

    /// Begins a write: no other program writes until it is committed or dropped.
    pub async fn begin(&self) -> Result<Transaction<'static, Sqlite>, LogbookError> {
        self.ask(self.pool.begin_with("BEGIN IMMEDIATE")).await
    }

    /// Ends a write: once this has returned, it is on the disk.
    pub async fn commit(&self, write: Transaction<'static, Sqlite>) -> Result<(), LogbookError> {
        self.ask(write.commit()).await
    }

    /// Waits for what the database answers; what goes wrong is said in our words.
    pub async fn ask<T>(&self, answer: impl Future<Output = Result<T, sqlx::Error>>) -> Result<T, LogbookError> {
        answer.await.map_err(|error| LogbookError::from_sqlx(&self.path, error))
    }

    /// Writes back what the log holds, and closes.
    pub async fn close(&self) {
        self.pool.close().await;
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
            return Err(LogbookError::Newer { path: self.path.clone(), found, known: migrations::NEWEST });
        }
        if found < migrations::NEWEST {
            let steps = migrations::sqlite();
            self.ask(async { Ok(steps.run_direct(None, &mut *write, false).await?) }).await?;
            let marks =
                format!("PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {};", migrations::NEWEST);
            self.ask(sqlx::raw_sql(AssertSqlSafe(marks)).execute(&mut *write)).await?;
        }
        self.commit(write).await
    }
}

/// The file to open, with its folder present and every link in its name followed.
fn place(location: &Location) -> Result<PathBuf, LogbookError> {
    let named = location.path()?;
    let path = std::path::absolute(&named).map_err(|error| LogbookError::from_io(&named, error))?;
    let (Some(folder), Some(name)) = (path.parent(), path.file_name()) else {
        return Err(LogbookError::IsFolder(path));
    };
    if *location == Location::Own {
        fs::create_dir_all(folder).map_err(|error| LogbookError::from_io(&path, error))?;
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

async fn connect(path: &Path, found: Found) -> Result<SqlitePool, LogbookError> {
    let options = SqliteConnectOptions::new()
        .filename(path)
        .create_if_missing(found == Found::Nothing)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .foreign_keys(true)
        .busy_timeout(PATIENCE);
    let begun = Instant::now();
    loop {
        let pool = SqlitePoolOptions::new().max_connections(CONNECTIONS).connect_with(options.clone()).await;
        match pool.map_err(|error| LogbookError::from_sqlx(path, error)) {
            // Two programs that make the same logbook at once: turning the write-ahead log on cannot be waited for.
            Err(LogbookError::Busy(_)) if begun.elapsed() < PATIENCE => {
                tokio::time::sleep(Duration::from_millis(10)).await;
            }
            result => return result,
        }
    }
}
