//! A logbook on a PostgreSQL server, which several benches share.
//!
//! Everything that [`super::FileStore`] promises holds here too: a write waits for the one before it, so nothing is
//! numbered twice, and once it is committed the server has it on its disk. What is different is the line between: it
//! can break at any moment, also between a commit and its answer. Writes are therefore made so that they can be tried
//! again (see `Logbook::append`).

use super::{Ask, Query, Row, Site};
use crate::certificate::distrust;
use crate::{BadUrl, Damage, LogbookError, migrations};
use sqlx::Postgres;
use sqlx::migrate::Migrator;
use sqlx::pool::PoolConnection;
use sqlx::postgres::{PgConnectOptions, PgConnection, PgPool, PgPoolOptions, PgSslMode};
use std::io;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::net::TcpStream;
use tokio::time::error::Elapsed;
use tokio::time::timeout;

/// How long a server may take to answer.
const PATIENCE: Duration = Duration::from_secs(5);

/// The same inside a write, which sends what was measured over a line that may be slow, and for what may be much to send back.
const LONG: Duration = Duration::from_secs(15);
const MUCH: Duration = Duration::from_secs(60);

/// How long a write waits for another bench to finish its own: a little less, so that the one is told from the other.
const LOCK: Duration = Duration::from_millis(4500);

/// For how long a server that did not answer is not asked again.
const SILENCE: Duration = Duration::from_secs(8);

/// Connections that write at most.
const WRITERS: u32 = 4;

/// One write after the other, as in a file; readers are not held up.
const ONE_AT_A_TIME: &str = "BEGIN; LOCK TABLE counters IN EXCLUSIVE MODE";

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
        (sqlx::Error::Tls(_), _) => LogbookError::ServerNotEncrypted { server, source },
        (sqlx::Error::Io(_) | sqlx::Error::PoolTimedOut | sqlx::Error::Protocol(_), _) => {
            LogbookError::ServerOutOfReach { server, source }
        }
        // Shut down, crashed, starting up; or closed because this end was silent for too long.
        (_, "57P01" | "57P02" | "57P03" | "25P03") => LogbookError::ServerOutOfReach { server, source },
        (_, "55P03") => LogbookError::Busy(Site::Server(server)),
        // No right, no such database, one that is closed, no more connections, a copy that only reads.
        (_, "42501" | "3D000" | "55000" | "53300" | "25006") => LogbookError::ServerRefuses { server, source },
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
    options: PgConnectOptions,
    server: String,
    line: Arc<LineState>,
}

/// What is known of the line to the server.
#[derive(Debug, Default)]
struct LineState {
    /// The tables are those of this version.
    prepared: AtomicBool,
    /// Nobody has answered: until then nobody is asked again.
    silent_until: Mutex<Option<Instant>>,
}

impl SharedStore {
    /// A logbook that nobody has asked for yet.
    pub fn unopened(url: &str) -> Result<Self, LogbookError> {
        let options = options(url)?;
        let server = address_of(&options);
        let pool = PgPoolOptions::new().acquire_timeout(PATIENCE);
        let reading = pool.clone().max_connections(1).connect_lazy_with(options.clone());
        let writing = pool.max_connections(WRITERS).connect_lazy_with(options.clone());
        Ok(Self { reading, writing, options, server, line: Arc::default() })
    }

    /// Reaches the server, and lays out the tables where there are none.
    pub async fn reach(&self) -> Result<(), LogbookError> {
        self.connection(&self.reading).await.map(drop)
    }

    /// Which server.
    pub fn site(&self) -> Site {
        Site::Server(self.server.clone())
    }

    /// What the line or the server says.
    fn error(&self, fault: sqlx::Error) -> LogbookError {
        error(&self.server, fault)
    }

    /// Nobody answers. Each question would wait as long again.
    fn silent(&self) -> LogbookError {
        *self.line.silent_until.lock().unwrap_or_else(PoisonError::into_inner) = Some(Instant::now() + SILENCE);
        self.error(io::Error::from(io::ErrorKind::TimedOut).into())
    }

    /// A connection to a server that answers, with the tables of this version.
    async fn connection(&self, pool: &PgPool) -> Result<PoolConnection<Postgres>, LogbookError> {
        let silent = *self.line.silent_until.lock().unwrap_or_else(PoisonError::into_inner);
        if silent.is_some_and(|until| Instant::now() < until) {
            return Err(self.error(io::Error::from(io::ErrorKind::TimedOut).into()));
        }
        let connecting = async {
            // A pool tries again and again where nobody listens, and does not say so.
            if pool.num_idle() == 0 {
                listens(&self.options).await?;
            }
            pool.acquire().await
        };
        let mut connection = match timeout(PATIENCE, connecting).await {
            Ok(Ok(connection)) => connection,
            Err(_) | Ok(Err(sqlx::Error::PoolTimedOut)) => return Err(self.silent()),
            Ok(Err(fault)) => return Err(self.error(fault)),
        };
        if !self.line.prepared.load(Ordering::Acquire) {
            prepare(&mut connection, &self.server).await?;
            self.line.prepared.store(true, Ordering::Release);
        }
        Ok(connection)
    }

    /// The row that answers a query, if one does.
    pub async fn row<T: Row>(&self, query: Query) -> Result<Option<T>, LogbookError> {
        let mut connection = self.connection(&self.reading).await?;
        let answer = timeout(PATIENCE, (*connection).row(query)).await;
        self.answered(connection, answer)
    }

    /// All rows that answer a query.
    pub async fn rows<T: Row>(&self, query: Query) -> Result<Vec<T>, LogbookError> {
        let mut connection = self.connection(&self.reading).await?;
        let answer = timeout(MUCH, (*connection).rows(query)).await;
        self.answered(connection, answer)
    }

    /// A connection whose answer has not come is given up: the answer to another question might come on it.
    fn answered<T>(
        &self,
        connection: PoolConnection<Postgres>,
        answer: Result<Result<T, sqlx::Error>, Elapsed>,
    ) -> Result<T, LogbookError> {
        match answer {
            Ok(answer) => answer.map_err(|fault| self.error(fault)),
            Err(_) => {
                drop(connection.detach());
                Err(self.silent())
            }
        }
    }

    /// Begins a write: no other bench writes until it is committed or dropped.
    pub async fn begin(&self) -> Result<SharedWrite, LogbookError> {
        let connection = self.connection(&self.writing).await?;
        let mut write = SharedWrite { store: self.clone(), connection: Some(connection) };
        write
            .ask(PATIENCE, async |connection| sqlx::raw_sql(ONE_AT_A_TIME).execute(connection).await.map(drop))
            .await?;
        Ok(write)
    }

    /// Hangs up.
    pub async fn close(&self) {
        let closing = async { tokio::join!(self.reading.close(), self.writing.close()) };
        let _ = timeout(PATIENCE, closing).await;
    }
}

/// A write that has begun.
#[derive(Debug)]
pub struct SharedWrite {
    store: SharedStore,
    /// None once it has ended.
    connection: Option<PoolConnection<Postgres>>,
}

impl SharedWrite {
    /// Asks the server, and gives the connection up if it does not answer.
    async fn ask<T>(
        &mut self,
        patience: Duration,
        question: impl AsyncFnOnce(&mut PgConnection) -> Result<T, sqlx::Error>,
    ) -> Result<T, LogbookError> {
        let Some(connection) = &mut self.connection else { return Err(self.store.silent()) };
        match timeout(patience, question(connection)).await {
            Ok(answer) => answer.map_err(|fault| self.store.error(fault)),
            Err(_) => {
                drop(self.connection.take().map(PoolConnection::detach));
                Err(self.store.silent())
            }
        }
    }

    /// Changes something; says how many rows.
    pub async fn execute(&mut self, query: Query) -> Result<u64, LogbookError> {
        self.ask(LONG, async |connection| connection.execute(query).await).await
    }

    /// The row that answers a query, if one does.
    pub async fn row<T: Row>(&mut self, query: Query) -> Result<Option<T>, LogbookError> {
        self.ask(LONG, async |connection| connection.row(query).await).await
    }

    /// All rows that answer a query.
    pub async fn rows<T: Row>(&mut self, query: Query) -> Result<Vec<T>, LogbookError> {
        self.ask(MUCH, async |connection| connection.rows(query).await).await
    }

    /// Commits it: it is on the server's disk then.
    pub async fn commit(mut self) -> Result<(), LogbookError> {
        self.ask(LONG, async |connection| sqlx::raw_sql("COMMIT").execute(connection).await.map(drop)).await?;
        // Only what was committed goes back to be used again.
        drop(self.connection.take());
        Ok(())
    }
}

impl Drop for SharedWrite {
    /// The server takes back what was not committed when the line is cut.
    fn drop(&mut self) {
        drop(self.connection.take().map(PoolConnection::detach));
    }
}

/// What a URL says, with the line that it asks for. To another machine the line is encrypted unless the URL rules that out; then
/// no password goes over it.
fn options(url: &str) -> Result<PgConnectOptions, LogbookError> {
    if has_loose_password(url) {
        return Err(LogbookError::BadUrl(BadUrl::Password));
    }
    password_files()?;
    let options =
        PgConnectOptions::from_str(url).map_err(|fault| LogbookError::BadUrl(BadUrl::Other(fault.to_string())))?;
    let options = match options.get_ssl_mode() {
        _ if is_near(&options) => options,
        PgSslMode::Disable => options.password(""),
        PgSslMode::Allow | PgSslMode::Prefer => options.ssl_mode(PgSslMode::Require),
        _ => options,
    };
    let lock = LOCK.as_millis().to_string();
    Ok(options.application_name("clinoblade").options([
        ("synchronous_commit", "on"),
        ("lock_timeout", lock.as_str()),
        // A bench whose line broke in the middle of a write must not hold up the others.
        ("idle_in_transaction_session_timeout", "10000"),
    ]))
}

/// The most bytes of a password file or a certificate.
const MOST_BYTES: u64 = 1 << 20;

/// What the driver will read to its end has one: password file, certificates, key.
fn password_files() -> Result<(), LogbookError> {
    let named = ["PGPASSFILE", "PGSSLROOTCERT", "PGSSLCERT", "PGSSLKEY"].into_iter().filter_map(std::env::var_os);
    let usual = std::env::home_dir().map(|home| home.join(".pgpass"));
    named.map(PathBuf::from).chain(usual).try_for_each(|path| has_an_end(&path))
}

fn has_an_end(path: &Path) -> Result<(), LogbookError> {
    match std::fs::metadata(path) {
        Ok(found) if !found.is_file() || found.len() > MOST_BYTES => {
            Err(LogbookError::PasswordFile { path: path.to_owned(), most: MOST_BYTES })
        }
        // A file that is not there is the driver's matter.
        _ => Ok(()),
    }
}

/// A `/`, `?` or `#` ends the place of a password: what follows would be taken for something else, and printed.
fn has_loose_password(url: &str) -> bool {
    let rest = url.split_once(':').map_or(url, |(_, rest)| rest.trim_start_matches('/'));
    let end = rest.find(['/', '?', '#']).unwrap_or(rest.len());
    let (authority, behind) = rest.split_at(end);
    // Behind a `=`, an `@` stands in a value.
    let behind = behind.split('=').next().unwrap_or_default();
    !authority.contains('@') && behind.contains('@')
}

/// Whether the server is on this machine, so that nobody is between.
fn is_near(options: &PgConnectOptions) -> bool {
    let host = options.get_host();
    let address = host.trim_start_matches('[').trim_end_matches(']').parse::<IpAddr>();
    let is_loopback = address.map_or(host == "localhost", |address| address.is_loopback());
    is_loopback || options.get_socket().is_some() || host.starts_with('/')
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn off_this_machine_the_line_is_encrypted() {
        let mode = |url: &str| options(url).unwrap().get_ssl_mode();
        for near in ["localhost", "127.0.0.1", "[::1]", "%2Frun%2Fpostgresql"] {
            assert!(matches!(mode(&format!("postgres://bench:secret@{near}/book")), PgSslMode::Prefer), "{near}");
        }
        for far in ["workshop", "192.0.2.7", "[2001:db8::7]", "localhost.invalid"] {
            let url = format!("postgres://bench:secret@{far}/book");
            assert!(matches!(mode(&url), PgSslMode::Require), "{far}");
            assert!(matches!(mode(&format!("{url}?sslmode=prefer")), PgSslMode::Require), "{far}");
            assert!(matches!(mode(&format!("{url}?sslmode=verify-full")), PgSslMode::VerifyFull), "{far}");
            let open = options(&format!("{url}?sslmode=disable")).unwrap();
            assert!(matches!(open.get_ssl_mode(), PgSslMode::Disable));
            assert!(!format!("{open:?}").contains("secret"), "no password for an open line: {far}");
        }
    }

    #[test]
    fn a_password_that_ends_its_place_is_said_and_not_repeated() {
        for url in ["postgres://u:12/34@h/book", "postgres://u:12#34@h/book", "postgres://u:12?34@h/book"] {
            let refusal = address(url).unwrap_err();
            assert!(matches!(refusal, LogbookError::BadUrl(BadUrl::Password)), "{url}: {refusal:?}");
        }
        for url in ["postgres://u:12%2F34@h/book", "postgres://h/book?user=u@club", "postgres://u@h/book?user=u@club"] {
            assert_eq!(address(url).unwrap(), "postgres://h:5432/book");
        }
    }
}
