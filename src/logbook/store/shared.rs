//! A logbook on a PostgreSQL server, which several benches share.
//!
//! Everything that [`super::FileStore`] promises holds here too: a write waits for the one before it, so nothing is
//! numbered twice, and once it is committed the server has it on its disk. What is different is the line between: it
//! can break at any moment, also between a commit and its answer. Writes are therefore made so that they can be tried
//! again (see `Logbook::append`).

use super::Site;
use crate::certificate::distrust;
use crate::{Damage, LogbookError, migrations};
use sqlx::migrate::Migrator;
use sqlx::postgres::{PgConnectOptions, PgConnection, PgPool, PgPoolOptions};
use sqlx::{Postgres, Transaction};
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

/// Its tables, step by step: those of a file.
const STEPS: migrations::Steps = migrations::steps!("../migrations/postgres/");

/// The server that a URL names, without its password.
pub fn address(url: &str) -> Result<String, LogbookError> {
    Ok(address_of(&options(url)?))
}

/// Its tables, ready to be laid out.
pub fn steps() -> Migrator {
    migrations::ready(STEPS)
}

fn address_of(options: &PgConnectOptions) -> String {
    let database = options.get_database().unwrap_or_else(|| options.get_username());
    let server = format!("{}:{}", options.get_host(), options.get_port());
    ["postgres:", "", &server, database].join("/")
}

/// What the line to a server says, or the server itself. Its codes are those of SQL
/// (<https://www.postgresql.org/docs/current/errcodes-appendix.html>).
fn error(server: &str, source: sqlx::Error) -> LogbookError {
    let server = server.to_owned();
    let code = source.as_database_error().and_then(|error| error.code()).unwrap_or_default().into_owned();
    if let Some(why) = distrust(&source) {
        return LogbookError::ServerNotTrusted { server, why, source };
    }
    match (&source, code.as_str()) {
        (sqlx::Error::Migrate(_), _) => {
            LogbookError::Damaged { site: Site::Server(server), damage: Damage::Database(source.to_string()) }
        }
        (sqlx::Error::Io(_) | sqlx::Error::Tls(_) | sqlx::Error::PoolTimedOut | sqlx::Error::Protocol(_), _) => {
            LogbookError::ServerOutOfReach { server, source }
        }
        // Shut down, crashed, starting up; or closed because this end was silent for too long.
        (_, "57P01" | "57P02" | "57P03" | "25P03") => LogbookError::ServerOutOfReach { server, source },
        (_, "55P03") => LogbookError::Busy(Site::Server(server)),
        (_, "42501" | "3D000") => LogbookError::ServerRefuses { server, source },
        (_, code) if code.starts_with("08") => LogbookError::ServerOutOfReach { server, source },
        (_, code) if code.starts_with("28") => LogbookError::ServerRefuses { server, source },
        _ => LogbookError::Failed { site: Site::Server(server), source },
    }
}

/// An opened logbook on a server.
#[derive(Debug, Clone)]
pub struct SharedStore {
    /// One connection, because connecting takes as long as many answers: a pool that may have more opens another one while the
    /// first is still on its way back.
    reading: PgPool,
    /// Connected at the first write.
    writing: PgPool,
    server: String,
}

impl SharedStore {
    /// Opens the logbook, and lays out its tables where there are none.
    pub async fn open(url: &str) -> Result<Self, LogbookError> {
        let options = options(url)?;
        let server = address_of(&options);
        let failed = |fault| error(&server, fault);
        // A pool tries again and again where nobody listens, and does not say so.
        listens(&options).await.map_err(|fault| failed(fault.into()))?;
        let pool = PgPoolOptions::new().acquire_timeout(PATIENCE);
        let reading = pool.clone().max_connections(1).connect_with(options.clone()).await.map_err(failed)?;
        let mut connection = reading.acquire().await.map_err(failed)?;
        prepare(&mut connection, &server).await?;
        drop(connection);
        let writing = pool.max_connections(WRITERS).connect_lazy_with(options);
        Ok(Self { reading, writing, server })
    }

    /// Which server.
    pub fn site(&self) -> Site {
        Site::Server(self.server.clone())
    }

    /// For reading.
    pub const fn pool(&self) -> &PgPool {
        &self.reading
    }

    /// What the line or the server says.
    pub fn error(&self, fault: sqlx::Error) -> LogbookError {
        error(&self.server, fault)
    }

    /// Begins a write: no other bench writes until it is committed or dropped.
    pub async fn begin(&self) -> Result<Transaction<'static, Postgres>, LogbookError> {
        let begun = async {
            let mut write = self.writing.begin().await?;
            sqlx::raw_sql(ONE_AT_A_TIME).execute(&mut *write).await?;
            Ok(write)
        };
        begun.await.map_err(|fault| self.error(fault))
    }

    /// Commits a write: it is on the server's disk then.
    pub async fn commit(&self, write: Transaction<'static, Postgres>) -> Result<(), LogbookError> {
        write.commit().await.map_err(|fault| self.error(fault))
    }

    /// Hangs up.
    pub async fn close(&self) {
        tokio::join!(self.reading.close(), self.writing.close());
    }
}

fn options(url: &str) -> Result<PgConnectOptions, LogbookError> {
    let options = PgConnectOptions::from_str(url).map_err(|fault| LogbookError::BadUrl(fault.to_string()))?;
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
async fn prepare(connection: &mut PgConnection, server: &str) -> Result<(), LogbookError> {
    let failed = |fault| error(server, fault);
    let found = layout(&mut *connection).await.map_err(failed)?;
    if found > migrations::NEWEST {
        return Err(LogbookError::Newer { site: Site::Server(server.to_owned()), found, known: migrations::NEWEST });
    }
    if found < migrations::NEWEST {
        // The steps take a lock of their own: two benches that begin a logbook at once wait for each other.
        steps().run_direct(None, &mut *connection, false).await.map_err(|fault| failed(fault.into()))?;
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
