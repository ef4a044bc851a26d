//! A logbook on a PostgreSQL server, which several benches share.
//!
//! Everything that [`super::FileStore`] promises holds here too: a write waits for the one before it, so nothing is
//! numbered twice, and once it is committed the server has it on its disk. What is different is the line between: it
//! can break at any moment, also between a commit and its answer. Writes are therefore made so that they can be tried
//! again (see `Logbook::append`).

use super::Site;
use super::query::{Query, Row, postgres};
use crate::{LogbookError, migrations};
use sqlx::postgres::{PgConnectOptions, PgConnection, PgPool, PgPoolOptions};
use sqlx::{Postgres, Transaction};
use std::fmt;
use std::io;
use std::str::FromStr;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::time::timeout;

/// How long a server may take to answer, and how long a write waits for another bench to finish its own.
const PATIENCE: Duration = Duration::from_secs(5);

/// Connections that write at most.
const WRITERS: u32 = 4;

/// One write after the other, as in a file; readers are not held up.
const ONE_AT_A_TIME: &str = "LOCK TABLE counters IN EXCLUSIVE MODE";

/// Which server, without its password.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Address(String);

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Address {
    fn of(options: &PgConnectOptions) -> Self {
        let database = options.get_database().unwrap_or_else(|| options.get_username());
        Self(format!("postgres://{}:{}/{database}", options.get_host(), options.get_port()))
    }
}

/// The server that a URL names, as people are shown it.
pub(crate) fn address(url: &str) -> Result<String, LogbookError> {
    Ok(Address::of(&options(url)?).to_string())
}

/// An opened logbook on a server.
#[derive(Debug, Clone)]
pub(crate) struct SharedStore {
    /// One connection, because connecting takes as long as many answers: a pool that may have more opens another one while the
    /// first is still on its way back.
    reading: PgPool,
    /// Connected at the first write.
    writing: PgPool,
    address: Address,
}

impl SharedStore {
    /// Opens the logbook, and lays out its tables where there are none.
    pub async fn open(url: &str) -> Result<Self, LogbookError> {
        let options = options(url)?;
        let address = Address::of(&options);
        let failed = |error| LogbookError::from_postgres(&address, error);
        // A pool tries again and again where nobody listens, and does not say so.
        listens(&options).await.map_err(|error| failed(error.into()))?;
        let pool = PgPoolOptions::new().acquire_timeout(PATIENCE);
        let reading = pool.clone().max_connections(1).connect_with(options.clone()).await.map_err(failed)?;
        let mut connection = reading.acquire().await.map_err(failed)?;
        prepare(&mut connection, &address).await?;
        drop(connection);
        let writing = pool.max_connections(WRITERS).connect_lazy_with(options);
        Ok(Self { reading, writing, address })
    }

    /// Which server.
    pub fn site(&self) -> Site {
        Site::Server(self.address.clone())
    }

    /// The row that answers a query, if one does.
    pub async fn row<T: Row>(&self, query: Query) -> Result<Option<T>, sqlx::Error> {
        postgres::row(query, &self.reading).await
    }

    /// All rows that answer a query.
    pub async fn rows<T: Row>(&self, query: Query) -> Result<Vec<T>, sqlx::Error> {
        postgres::rows(query, &self.reading).await
    }

    /// Begins a write: no other bench writes until it is committed or dropped.
    pub async fn begin(&self) -> Result<SharedWrite, LogbookError> {
        let begun = async {
            let mut write = self.writing.begin().await?;
            sqlx::raw_sql(ONE_AT_A_TIME).execute(&mut *write).await?;
            Ok(SharedWrite(write))
        };
        begun.await.map_err(|error| LogbookError::from_postgres(&self.address, error))
    }

    /// Hangs up.
    pub async fn close(&self) {
        tokio::join!(self.reading.close(), self.writing.close());
    }
}

/// A write that has begun.
pub(crate) struct SharedWrite(Transaction<'static, Postgres>);

impl SharedWrite {
    /// Changes something; says how many rows.
    pub async fn execute(&mut self, query: Query) -> Result<u64, sqlx::Error> {
        postgres::execute(query, &mut *self.0).await
    }

    /// The row that answers a query, if one does.
    pub async fn row<T: Row>(&mut self, query: Query) -> Result<Option<T>, sqlx::Error> {
        postgres::row(query, &mut *self.0).await
    }

    /// All rows that answer a query.
    pub async fn rows<T: Row>(&mut self, query: Query) -> Result<Vec<T>, sqlx::Error> {
        postgres::rows(query, &mut *self.0).await
    }

    /// Ends it: once this has returned, the server has it on its disk.
    pub async fn commit(self) -> Result<(), sqlx::Error> {
        self.0.commit().await
    }
}

fn options(url: &str) -> Result<PgConnectOptions, LogbookError> {
    let options = PgConnectOptions::from_str(url).map_err(|error| LogbookError::BadUrl(error.to_string()))?;
    let milliseconds = PATIENCE.as_millis().to_string();
    Ok(options.application_name("clinoblade").options([
        ("synchronous_commit", "on"),
        ("lock_timeout", milliseconds.as_str()),
        // A bench whose line broke in the middle of a write must not hold up the others.
        ("idle_in_transaction_session_timeout", "10000"),
    ]))
}

/// Whether anybody listens there.
async fn listens(options: &PgConnectOptions) -> io::Result<()> {
    if options.get_socket().is_some() || options.get_host().starts_with('/') {
        return Ok(());
    }
    let connected = timeout(PATIENCE, TcpStream::connect((options.get_host(), options.get_port()))).await;
    connected.unwrap_or_else(|_| Err(io::ErrorKind::TimedOut.into())).map(drop)
}

/// Brings the tables to the newest layout.
async fn prepare(connection: &mut PgConnection, address: &Address) -> Result<(), LogbookError> {
    let failed = |error| LogbookError::from_postgres(address, error);
    let found = layout(&mut *connection).await.map_err(failed)?;
    if found > migrations::NEWEST {
        let known = migrations::NEWEST;
        return Err(LogbookError::ServerNewer { address: address.to_string(), found, known });
    }
    if found < migrations::NEWEST {
        // The steps take a lock of their own: two benches that begin a logbook at once wait for each other.
        migrations::postgres().run_direct(None, &mut *connection, false).await.map_err(|error| failed(error.into()))?;
    }
    Ok(())
}

/// The layout of the tables; 0 where there are none.
async fn layout(connection: &mut PgConnection) -> Result<i64, sqlx::Error> {
    let known: bool =
        sqlx::query_scalar("SELECT to_regclass('_sqlx_migrations') IS NOT NULL").fetch_one(&mut *connection).await?;
    if !known {
        return Ok(0);
    }
    let newest: Option<i64> =
        sqlx::query_scalar("SELECT max(version) FROM _sqlx_migrations WHERE success").fetch_one(connection).await?;
    Ok(newest.unwrap_or(0))
}
