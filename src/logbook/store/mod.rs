//! The database underneath: opened with care, written to one transaction at a time.
//!
//! Two engines, one way to ask: [`Store`] and [`Write`] take a [`Query`] and know which engine it goes to. Another engine is
//! a file beside this one with a store that does what [`FileStore`] does, its name wherever both stand below, and its tables
//! in `migrations/`.

mod file;
mod query;
#[cfg(feature = "shared")]
mod shared;

pub use file::{FileStore, result_code, steps};
pub use query::Query;

use crate::{BrokenLog, Location, LogbookError};
use query::Value;
#[cfg(feature = "shared")]
use shared::{SharedStore, SharedWrite};
#[cfg(feature = "shared")]
use sqlx::postgres::{PgConnection, PgRow, Postgres};
use sqlx::sqlite::{Sqlite, SqliteConnection, SqliteRow};
use sqlx::{FromRow, Transaction};
use std::fmt;
use std::path::{Path, PathBuf};

/// Where a logbook is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Site {
    /// A file.
    File(PathBuf),
    /// A server, without its password.
    Server(String),
}

impl From<&Path> for Site {
    fn from(path: &Path) -> Self {
        Self::File(path.to_owned())
    }
}

impl fmt::Display for Site {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(path) => write!(f, "{}", path.display()),
            Self::Server(server) => f.write_str(server),
        }
    }
}

/// Whether a logbook can be named by a URL of this scheme.
pub fn serves(scheme: &str) -> bool {
    matches!(scheme, "postgres" | "postgresql")
}

/// The server that a URL names, without its password.
#[cfg(feature = "shared")]
pub fn address(url: &str) -> Result<String, LogbookError> {
    shared::address(url)
}

/// None: the error says how to get a program that knows servers.
#[cfg(not(feature = "shared"))]
pub const fn address(_: &str) -> Result<String, LogbookError> {
    Err(LogbookError::SharedNotBuilt)
}

/// An opened logbook.
#[derive(Debug, Clone)]
// A logbook has one, wherever it lies.
#[allow(clippy::large_enum_variant)]
pub enum Store {
    /// A file of its own.
    File(FileStore),
    /// A server that several benches share.
    #[cfg(feature = "shared")]
    Shared(SharedStore),
}

/// A transaction with the store that it is of.
// One at a time.
#[allow(clippy::large_enum_variant)]
enum Begun {
    File(FileStore, Transaction<'static, Sqlite>),
    #[cfg(feature = "shared")]
    Shared(SharedWrite),
}

/// A row that comes out of either engine; a tuple of numbers, texts and bytes is one.
#[cfg(feature = "shared")]
pub trait Row: for<'r> FromRow<'r, SqliteRow> + for<'r> FromRow<'r, PgRow> + Send + Unpin {}

#[cfg(feature = "shared")]
impl<T> Row for T where T: for<'r> FromRow<'r, SqliteRow> + for<'r> FromRow<'r, PgRow> + Send + Unpin {}

/// A row; a tuple of numbers, texts and bytes is one.
#[cfg(not(feature = "shared"))]
pub trait Row: for<'r> FromRow<'r, SqliteRow> + Send + Unpin {}

#[cfg(not(feature = "shared"))]
impl<T> Row for T where T: for<'r> FromRow<'r, SqliteRow> + Send + Unpin {}

/// A connection that can be asked.
trait Ask {
    async fn execute(&mut self, query: Query) -> Result<u64, sqlx::Error>;
    async fn row<T: Row>(&mut self, query: Query) -> Result<Option<T>, sqlx::Error>;
    async fn rows<T: Row>(&mut self, query: Query) -> Result<Vec<T>, sqlx::Error>;
}

macro_rules! asked {
    ($engine:ident: $connection:ty) => {
        impl Ask for $connection {
            async fn execute(&mut self, query: Query) -> Result<u64, sqlx::Error> {
                let done = bound!(sqlx::query::<$engine>(query.sql), query.values).execute(self).await?;
                Ok(done.rows_affected())
            }

            async fn row<T: Row>(&mut self, query: Query) -> Result<Option<T>, sqlx::Error> {
                bound!(sqlx::query_as::<$engine, T>(query.sql), query.values).fetch_optional(self).await
            }

            async fn rows<T: Row>(&mut self, query: Query) -> Result<Vec<T>, sqlx::Error> {
                bound!(sqlx::query_as::<$engine, T>(query.sql), query.values).fetch_all(self).await
            }
        }
    };
}

macro_rules! bound {
    ($query:expr, $values:expr) => {
        $values.into_iter().fold($query, |query, value| match value {
            Value::Whole(number) => query.bind(number),
            Value::Text(text) => query.bind(text),
            Value::Bytes(bytes) => query.bind(bytes),
        })
    };
}

asked!(Sqlite: SqliteConnection);
#[cfg(feature = "shared")]
asked!(Postgres: PgConnection);

impl Store {
    /// Opens the logbook at `location`, and makes a new one where there is none.
    pub async fn open(location: &Location) -> Result<Self, LogbookError> {
        match location {
            Location::Own | Location::File(_) => Ok(Self::File(FileStore::open(location).await?)),
            Location::Shared(url) => {
                let store = Self::unopened(url)?;
                store.reach().await?;
                Ok(store)
            }
        }
    }

    /// A shared logbook that nobody has asked for yet.
    #[cfg(feature = "shared")]
    pub fn unopened(url: &str) -> Result<Self, LogbookError> {
        SharedStore::unopened(url).map(Self::Shared)
    }

    /// None: the error says how to get a program that knows servers.
    #[cfg(not(feature = "shared"))]
    pub const fn unopened(_: &str) -> Result<Self, LogbookError> {
        Err(LogbookError::SharedNotBuilt)
    }

    /// Reaches the server of a shared logbook; a file is there.
    pub async fn reach(&self) -> Result<(), LogbookError> {
        match self {
            Self::File(_) => Ok(()),
            #[cfg(feature = "shared")]
            Self::Shared(store) => store.reach().await,
        }
    }

    /// Where it is.
    pub fn site(&self) -> Site {
        match self {
            Self::File(store) => store.site(),
            #[cfg(feature = "shared")]
            Self::Shared(store) => store.site(),
        }
    }

    /// The file, of a logbook that is one.
    pub fn path(&self) -> Option<&Path> {
        match self {
            Self::File(store) => Some(store.path()),
            #[cfg(feature = "shared")]
            Self::Shared(_) => None,
        }
    }

    /// What was wrong with the log of a file when it was opened.
    pub fn broken_log(&self) -> Option<&BrokenLog> {
        match self {
            Self::File(store) => store.broken_log(),
            #[cfg(feature = "shared")]
            Self::Shared(_) => None,
        }
    }

    /// The row that answers a query, if one does.
    pub async fn row<T: Row>(&self, query: Query) -> Result<Option<T>, LogbookError> {
        match self {
            Self::File(store) => {
                let answer = async { store.pool().acquire().await?.row(query).await };
                answer.await.map_err(|error| store.error(error))
            }
            #[cfg(feature = "shared")]
            Self::Shared(store) => store.row(query).await,
        }
    }

    /// All rows that answer a query.
    pub async fn rows<T: Row>(&self, query: Query) -> Result<Vec<T>, LogbookError> {
        match self {
            Self::File(store) => {
                let answer = async { store.pool().acquire().await?.rows(query).await };
                answer.await.map_err(|error| store.error(error))
            }
            #[cfg(feature = "shared")]
            Self::Shared(store) => store.rows(query).await,
        }
    }

    /// Begins a write. What it changes first, nobody else changes until it is committed or dropped.
    pub async fn begin(&self) -> Result<Write, LogbookError> {
        Ok(Write(match self {
            Self::File(store) => Begun::File(store.clone(), store.begin().await?),
            #[cfg(feature = "shared")]
            Self::Shared(store) => Begun::Shared(store.begin().await?),
        }))
    }

    /// Writes back what is left to write, and closes.
    pub async fn close(&self) {
        match self {
            Self::File(store) => store.close().await,
            #[cfg(feature = "shared")]
            Self::Shared(store) => store.close().await,
        }
    }
}

/// A write that has begun; dropped before it is committed, it leaves nothing.
pub struct Write(Begun);

impl Write {
    /// Changes something; says how many rows.
    pub async fn execute(&mut self, query: Query) -> Result<u64, LogbookError> {
        match &mut self.0 {
            Begun::File(store, write) => write.execute(query).await.map_err(|error| store.error(error)),
            #[cfg(feature = "shared")]
            Begun::Shared(write) => write.execute(query).await,
        }
    }

    /// The row that answers a query, if one does.
    pub async fn row<T: Row>(&mut self, query: Query) -> Result<Option<T>, LogbookError> {
        match &mut self.0 {
            Begun::File(store, write) => write.row(query).await.map_err(|error| store.error(error)),
            #[cfg(feature = "shared")]
            Begun::Shared(write) => write.row(query).await,
        }
    }

    /// All rows that answer a query.
    pub async fn rows<T: Row>(&mut self, query: Query) -> Result<Vec<T>, LogbookError> {
        match &mut self.0 {
            Begun::File(store, write) => write.rows(query).await.map_err(|error| store.error(error)),
            #[cfg(feature = "shared")]
            Begun::Shared(write) => write.rows(query).await,
        }
    }

    /// Ends it: once this has returned, it is on the disk.
    pub async fn commit(self) -> Result<(), LogbookError> {
        match self.0 {
            Begun::File(store, write) => store.commit(write).await,
            #[cfg(feature = "shared")]
            Begun::Shared(write) => write.commit().await,
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::migrations::NEWEST;

    #[test]
    fn the_steps_are_numbered_one_after_the_other() {
        let all = [
            super::steps(),
            #[cfg(feature = "shared")]
            super::shared::steps(),
        ];
        for steps in all {
            let numbers: Vec<i64> = steps.iter().map(|step| step.version).collect();
            assert_eq!(numbers, (1..=NEWEST).collect::<Vec<_>>());
        }
    }
}
