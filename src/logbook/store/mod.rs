//! The database underneath: opened with care, written to one transaction at a time.
//!
//! Two engines, one way to ask: [`Store`] and [`Write`] take a [`Query`] and know which engine it goes to.

mod file;
mod query;
#[cfg(not(feature = "shared"))]
#[path = "absent.rs"]
mod shared;
#[cfg(feature = "shared")]
mod shared;

pub(super) use query::{Query, Row};
pub(super) use shared::{Address, address};

use super::{Location, LogbookError};
use file::FileStore;
use query::sqlite;
use shared::{SharedStore, SharedWrite};
use std::fmt;
use std::path::{Path, PathBuf};

/// Where a store is: what its errors speak of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Site {
    /// A file.
    File(PathBuf),
    /// A server.
    #[cfg_attr(not(feature = "shared"), expect(dead_code, reason = "only a shared store makes one"))]
    Server(Address),
}

impl Site {
    /// What the database says, in our words.
    fn error(&self, error: sqlx::Error) -> LogbookError {
        match self {
            Self::File(path) => LogbookError::from_sqlx(path, error),
            Self::Server(address) => LogbookError::from_postgres(address, error),
        }
    }
}

impl fmt::Display for Site {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(path) => write!(f, "{}", path.display()),
            Self::Server(address) => write!(f, "{address}"),
        }
    }
}

/// An opened logbook.
#[derive(Debug, Clone)]
pub(super) enum Store {
    /// A file of its own.
    File(FileStore),
    /// A server that several benches share.
    Shared(SharedStore),
}

impl Store {
    /// Opens the logbook at `location`, and makes a new one where there is none.
    pub async fn open(location: &Location) -> Result<Self, LogbookError> {
        match location {
            Location::Own | Location::File(_) => Ok(Self::File(FileStore::open(location).await?)),
            Location::Shared(url) => SharedStore::open(url).await.map(Self::Shared),
        }
    }

    /// Where it is.
    pub fn site(&self) -> Site {
        match self {
            Self::File(store) => Site::File(store.path().to_owned()),
            Self::Shared(store) => store.site(),
        }
    }

    /// The file, of a logbook that is one.
    pub fn path(&self) -> Option<&Path> {
        match self {
            Self::File(store) => Some(store.path()),
            Self::Shared(_) => None,
        }
    }

    /// The row that answers a query, if one does.
    pub async fn row<T: Row>(&self, query: Query) -> Result<Option<T>, LogbookError> {
        let answer = match self {
            Self::File(store) => sqlite::row(query, store.pool()).await,
            Self::Shared(store) => store.row(query).await,
        };
        answer.map_err(|error| self.site().error(error))
    }

    /// All rows that answer a query.
    pub async fn rows<T: Row>(&self, query: Query) -> Result<Vec<T>, LogbookError> {
        let answer = match self {
            Self::File(store) => sqlite::rows(query, store.pool()).await,
            Self::Shared(store) => store.rows(query).await,
        };
        answer.map_err(|error| self.site().error(error))
    }

    /// Begins a write. What it changes first, nobody else changes until it is committed or dropped.
    pub async fn begin(&self) -> Result<Write, LogbookError> {
        let transaction = match self {
            Self::File(store) => Transaction::File(store.begin().await?, store.clone()),
            Self::Shared(store) => Transaction::Shared(store.begin().await?),
        };
        Ok(Write { transaction, site: self.site() })
    }

    /// Writes back what is left to write, and closes.
    pub async fn close(&self) {
        match self {
            Self::File(store) => store.close().await,
            Self::Shared(store) => store.close().await,
        }
    }
}

enum Transaction {
    File(sqlx::Transaction<'static, sqlx::Sqlite>, FileStore),
    Shared(SharedWrite),
}

/// A write that has begun; dropped before it is committed, it leaves nothing.
pub(super) struct Write {
    transaction: Transaction,
    site: Site,
}

impl Write {
    /// Changes something; says how many rows.
    pub async fn execute(&mut self, query: Query) -> Result<u64, LogbookError> {
        let done = match &mut self.transaction {
            Transaction::File(write, _) => sqlite::execute(query, &mut **write).await,
            Transaction::Shared(write) => write.execute(query).await,
        };
        done.map_err(|error| self.site.error(error))
    }

    /// The row that answers a query, if one does.
    pub async fn row<T: Row>(&mut self, query: Query) -> Result<Option<T>, LogbookError> {
        let answer = match &mut self.transaction {
            Transaction::File(write, _) => sqlite::row(query, &mut **write).await,
            Transaction::Shared(write) => write.row(query).await,
        };
        answer.map_err(|error| self.site.error(error))
    }

    /// All rows that answer a query.
    pub async fn rows<T: Row>(&mut self, query: Query) -> Result<Vec<T>, LogbookError> {
        let answer = match &mut self.transaction {
            Transaction::File(write, _) => sqlite::rows(query, &mut **write).await,
            Transaction::Shared(write) => write.rows(query).await,
        };
        answer.map_err(|error| self.site.error(error))
    }

    /// Ends it: once this has returned, it is on the disk.
    pub async fn commit(self) -> Result<(), LogbookError> {
        match self.transaction {
            Transaction::File(write, store) => store.commit(write).await,
            Transaction::Shared(write) => write.commit().await.map_err(|error| self.site.error(error)),
        }
    }
}
